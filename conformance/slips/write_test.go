package slips_test

import (
	"math"
	"math/big"
	"strconv"
)

// write writes the plan's numbers as a ward does. used is the weight the
// dose was worked out with; said is the weight that stands in the order. It
// returns nothing when nobody would write the plan (a dose above the drug's
// most, which a pharmacist would cap; a container that lasts for weeks).
func (p plan) write(w ward, used, said *big.Rat) []written {
	q := &pen{plan: p, ward: w}
	ok := true
	switch p.drug.kind {
	case fluid:
		q.fluid()
	case dripPerKg, perHour, unitsHour, controlled:
		ok = q.running(used, said)
	case wholeDay:
		q.day()
	default:
		ok = q.pausing(used, said)
	}
	if !ok {
		return nil
	}
	return q.out
}

// saidWeight is the weight this ward writes down.
func (p plan) saidWeight(w ward) *big.Rat {
	if w.weightMiss == 0 {
		return p.weight
	}
	part := new(big.Rat).SetFloat64(1 + w.weightMiss*math.Round(p.miss*100)/100)
	step := rat(w.weightStep)
	if less(p.weight, whole(30)) {
		step = rat("0.1")
	}
	return nearest(times(p.weight, part), step)
}

func (p *pen) weight(said *big.Rat) {
	step := rat("0.1")
	if less(said, whole(10)) {
		step = rat("0.01")
	}
	p.put("dosingWeight", said, "kg", step)
}

// pausing writes doses that are given one after the other.
func (p *pen) pausing(used, said *big.Rat) bool {
	d, n := p.plan.drug, p.plan.perSize
	known := rat(d.step)
	dose, step := n, known
	switch d.kind {
	case perKgAdult, perKgChild:
		dose, step = p.ward.doseRounded(times(n, used), known)
		if less(rat(d.most), dose) {
			return false
		}
		p.put("dosePerKg", n, d.unit+"/kg", nil)
		p.weight(said)
	case perArea:
		dose, step = p.ward.doseRounded(times(n, p.plan.area), known)
		p.put("dosePerArea", n, d.unit+"/m2", nil)
		p.put("bodySurfaceArea", p.plan.area, "m2", rat("0.01"))
	}
	unit := p.amountUnit(dose, 0)
	p.put("dose", dose, unit, nil)
	if d.kind != fixedDose && d.kind != electrolyte {
		p.out[len(p.out)-1].half = halved(step)
	}
	volume := p.plan.volume
	if d.drawn {
		volume = p.put("volume", over(dose, p.plan.strength), "mL", rat("0.1"))
		p.put("concentration", p.plan.strength, d.strengthU, nil)
	} else {
		p.put("volume", volume, "mL", nil)
		p.three("concentration", over(dose, volume), d.unit+"/mL")
	}
	hours := p.plan.hours
	if d.fastest != "" {
		hours = upTo(over(dose, rat(d.fastest)), big.NewRat(1, 4))
		if less(hours, whole(1)) {
			hours = whole(1)
		}
	}
	rate, step := p.ward.rateRounded(over(volume, hours), p.plan.pump)
	p.put("rate", rate, "mL/h", step)
	p.three("drugRate", over(dose, hours), d.unit+"/h")
	p.said(hours)
	p.course(dose)
	return true
}

// said writes a planned time.
func (p *pen) said(hours *big.Rat) {
	step := big.NewRat(1, 12)
	if p.ward.times != nil {
		step = stepFor(hours, p.ward.times)
	}
	p.time("duration", p.ward.timeSaid(hours), nil)
	p.out[len(p.out)-1].half = halved(step)
}

// course writes how often and how long. A course of long intervals has a
// number of doses and no length in days: from the first to the last dose is
// one interval less.
func (p *pen) course(dose *big.Rat) {
	every := p.plan.every
	if every == 0 {
		return
	}
	unit := "h"
	if every > 48 && p.plan.coin(4) {
		unit = "d"
	}
	p.put("interval", whole(every), unit, nil)
	perDay := big.NewRat(24, every)
	if perDay.IsInt() {
		p.put("dosesPerDay", over(perDay, whole(24)), "/d", nil)
	}
	if dose != nil && every <= 24 {
		day := times(dose, perDay)
		if exact := rat(digitsOf(day)); exact.Cmp(day) == 0 {
			p.put("dailyDose", over(day, whole(24)), p.amountUnit(day, 5)+"/d", nil)
		} else {
			p.three("dailyDose", over(day, whole(24)), p.plan.drug.unit+"/d")
		}
	}
	switch {
	case p.plan.count > 0:
		p.put("doseCount", whole(p.plan.count), "1", nil)
	case p.plan.days > 0:
		unit := "d"
		if p.plan.days%7 == 0 && p.plan.coin(6) {
			unit = "wk"
		}
		p.put("courseLength", whole(24*p.plan.days), unit, nil)
		if n := times(whole(p.plan.days), perDay); n.IsInt() {
			p.put("doseCount", n, "1", nil)
		}
	}
}

// running writes an infusion that never pauses: an amount per time, a known
// concentration, the rate that follows, and a container that lasts from one
// hour to three days (a patient-controlled one to seven); pharmacies make
// no other.
func (p *pen) running(used, said *big.Rat) bool {
	d := p.plan.drug
	amount := times(p.plan.perSize, worth(d.rateUnit))
	strength := times(p.plan.strength, worth(d.strengthU))
	if d.kind == dripPerKg {
		p.put("drugRatePerKg", amount, d.rateUnit, nil)
		p.weight(said)
		amount = times(amount, used)
		p.three("drugRate", amount, d.drugUnit)
	} else {
		unit := d.rateUnit
		if p.plan.coin(7) {
			unit = d.drugUnit
		}
		p.put("drugRate", amount, unit, nil)
	}
	p.put("concentration", strength, d.strengthU, nil)
	rate, step := p.ward.rateRounded(over(amount, strength), p.plan.pump)
	p.put("rate", rate, "mL/h", step)
	p.put("volume", p.plan.volume, "mL", nil)
	p.put("dose", times(strength, p.plan.volume), d.unit, nil)
	lasts, step := p.ward.hangTime(p.plan.volume, rate)
	p.time("duration", over(p.plan.volume, rate), step)
	p.three("dailyDose", amount, d.unit+"/d")
	longest := whole(72)
	if d.kind == controlled {
		longest = whole(168)
	}
	return !less(lasts, whole(1)) && !less(longest, lasts)
}

// day writes a container that is given over the whole day, each day anew.
func (p *pen) day() {
	d, dose, volume, hours := p.plan.drug, p.plan.perSize, p.plan.volume, whole(24)
	p.put("dose", dose, p.amountUnit(dose, 0), nil)
	p.put("volume", volume, "mL", nil)
	p.three("concentration", over(dose, volume), d.unit+"/mL")
	rate, step := p.ward.rateRounded(over(volume, hours), p.plan.pump)
	p.put("rate", rate, "mL/h", step)
	p.three("drugRate", over(dose, hours), d.unit+"/h")
	p.said(hours)
	p.course(dose)
}

// fluid writes a volume with its rate and time; one of the two follows.
func (p *pen) fluid() {
	volume, rate := p.plan.volume, p.plan.perSize
	p.put("volume", volume, "mL", nil)
	if rate != nil {
		set, step := p.ward.rateRounded(rate, p.plan.pump)
		p.put("rate", set, "mL/h", step)
		_, step = p.ward.hangTime(volume, set)
		p.time("duration", over(volume, set), step)
	} else {
		set, step := p.ward.rateRounded(over(volume, p.plan.hours), p.plan.pump)
		p.put("rate", set, "mL/h", step)
		p.said(p.plan.hours)
	}
	p.course(nil)
}

// isWhole: the fields people write only whole numbers in.
func isWhole(name string) bool {
	return name == "dosesPerDay" || name == "doseCount" || name == "courseLength" || name == "interval"
}

func integer(digits string) bool {
	_, err := strconv.ParseInt(digits, 10, 64)
	return err == nil
}
