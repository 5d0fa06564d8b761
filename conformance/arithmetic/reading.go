package arithmetic

import (
	"fmt"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/quantity"
)

// The readings: other meanings of one field under which every relation
// closes. A reading turns a block into a question, never into silence.
const (
	ReadVial     = "strength-of-the-vial"
	ReadDiluent  = "volume-of-the-diluent"
	ReadOverfill = "overfill"
	ReadRemains  = "part-left-in-the-container"
	ReadCourse   = "time-of-the-course"
	ReadTopStep  = "rate-of-the-top-step"
	ReadWeight   = "dose-on-another-weight"
)

// A container holds up to 10 % more than its label, and a bag that is changed
// by the clock may run for as little as half of it (design study, section 5).
var (
	mostOverfill = quantity.Ratio(110, 100)
	mostLeft     = quantity.Int(2)
)

// reading is one meaning that closes everything: the claim it is about, what
// the number would then be, and the question to ask.
type reading struct {
	name     string
	claim    int
	low      quantity.Number // what the field would have to say, base units; 0: nothing
	question string
}

// readings lists the meanings under which all failed checks hold.
func readings(list []claim, failed []check, u Usual, rounding slack) []reading {
	var out []reading
	for i, c := range list {
		switch c.at {
		case concentration:
			out = append(out, vialStrength(list, failed, i, u)...)
		case volume:
			out = append(out, containerVolume(list, failed, i, u, rounding)...)
		case duration:
			out = append(out, courseTime(list, failed, i)...)
		case rate:
			if !u.TopStep.Absent() && inEvery(failed, i) && c.among([]quantity.Quantity{u.TopStep}) {
				out = append(out, reading{name: ReadTopStep, claim: i, question: "Is the rate that of the top step only? The order has steps."})
			}
		case dosingWeight:
			out = append(out, otherWeight(list, failed, i, u, rounding)...)
		}
	}
	return append(out, remains(list, failed, rounding)...)
}

// excused: no reading stands beside a slip by a factor. That a number is ten
// times another is better evidence than that it might mean something else.
func excused(found []explanation) bool {
	for _, e := range found {
		switch e.slip.name {
		case Tenfold, Thousandfold, DayAsHour, MinutesAsHours:
			return false
		}
	}
	return true
}

func inEvery(failed []check, i int) bool {
	for _, c := range failed {
		if c.set&(1<<i) == 0 || c.isPair() {
			return false
		}
	}
	return true
}

// closes: every failed check holds once claim i lies between low and high.
func closes(list []claim, failed []check, i int, low, high quantity.Number, rounding slack) bool {
	if !inEvery(failed, i) {
		return false
	}
	for _, c := range failed {
		least, most := c.needs(list, i, rounding)
		if most.Less(low) || high.Less(least) {
			return false
		}
	}
	return true
}

func find(list []claim, at int) (claim, bool) {
	for _, c := range list {
		if c.at == at {
			return c, true
		}
	}
	return claim{}, false
}

// vialStrength: the strength stated is that of a vial of the drug, and what
// is drawn from it fits into the container.
func vialStrength(list []claim, failed []check, i int, u Usual) []reading {
	c := list[i]
	d, ok := find(list, dose)
	v, okV := find(list, volume)
	if !ok || !okV || !inEvery(failed, i) || !c.among(u.Concentrations) {
		return nil
	}
	if v.high.Less(d.value().Quo(c.value())) {
		return nil
	}
	unit := c.first().Quantity.Unit
	return []reading{{name: ReadVial, claim: i, low: d.value().Quo(v.value()),
		question: fmt.Sprintf("Is %s the strength of the vial? The finished container would then be %s.", show(c.value(), unit), show(d.value().Quo(v.value()), unit))}}
}

// among: the claim is one of the known strengths.
func (c claim) among(known []quantity.Quantity) bool {
	for _, k := range known {
		low, high := k.Base()
		if !high.Less(c.low) && !c.high.Less(low) {
			return true
		}
	}
	return false
}

// containerVolume: the volume stated is the diluent before the drug went in,
// or the label of a bag that holds more.
func containerVolume(list []claim, failed []check, i int, u Usual, rounding slack) []reading {
	c := list[i]
	unit := c.first().Quantity.Unit
	var out []reading
	if closes(list, failed, i, c.low, c.high.Mul(mostOverfill), rounding) {
		out = append(out, reading{name: ReadOverfill, claim: i,
			question: fmt.Sprintf("Does the container hold more than the %s on its label? Up to a tenth more is usual.", show(c.value(), unit))})
	}
	d, ok := find(list, dose)
	for _, k := range u.Concentrations {
		strength, _ := k.Base()
		if !ok || strength.Sign() <= 0 {
			continue
		}
		drawn := d.value().Quo(strength)
		if !c.high.Less(drawn) && closes(list, failed, i, c.low, c.high.Add(drawn), rounding) {
			return append(out, reading{name: ReadDiluent, claim: i, low: c.value().Add(drawn),
				question: fmt.Sprintf("Is %s the diluent alone? With the drug drawn from a vial of %s the container holds %s.", show(c.value(), unit),
					show(strength, k.Unit), show(c.value().Add(drawn), unit))})
		}
	}
	return out
}

// courseTime: days or weeks in the field of the infusion time, longer than
// the interval and as long as the course, are the course.
func courseTime(list []claim, failed []check, i int) []reading {
	c := list[i]
	code := c.first().Quantity.Unit.Code()
	every, ok := find(list, interval)
	course, known := find(list, courseLength)
	if !ok || !known || code != "d" && code != "wk" || !every.high.Less(c.low) || !inEvery(failed, i) || c.high.Less(course.low) || course.high.Less(c.low) {
		return nil
	}
	return []reading{{name: ReadCourse, claim: i,
		question: fmt.Sprintf("Is %s the length of the course? One infusion cannot last longer than the time to the next.", show(c.value(), c.first().Quantity.Unit))}}
}

// remains: the pump runs for less than the container holds. The product of
// rate and time, not one number, is then read otherwise.
func remains(list []claim, failed []check, rounding slack) []reading {
	for _, c := range list {
		if c.at == interval || c.at == dosesPerDay || c.at == doseCount {
			return nil // one container is one dose: what stays behind is not given
		}
	}
	at := -1
	for _, c := range failed {
		var q, t, v int8
		for _, i := range c.claims {
			switch list[i].at {
			case rate, duration:
				if list[i].at == rate {
					q = c.power(list, i)
				} else {
					t = c.power(list, i)
				}
			case volume:
				v, at = c.power(list, i), i
			}
		}
		if c.isPair() || q == 0 || q != t || v != -q {
			return nil
		}
		least, most := c.needs(list, at, rounding) // the volume that rate and time empty
		if list[at].high.Less(least) || most.Mul(mostLeft).Less(list[at].low) {
			return nil
		}
	}
	if at < 0 {
		return nil
	}
	low, _ := failed[0].needs(list, at, rounding)
	unit := list[at].first().Quantity.Unit
	return []reading{{name: ReadRemains, claim: at, low: low,
		question: fmt.Sprintf("Is the container changed before it is empty? Rate and time empty %s of its %s.", show(nominal(list, failed[0], at), unit), show(list[at].value(), unit))}}
}

// otherWeight: the dose was worked out on the ideal or adjusted weight.
func otherWeight(list []claim, failed []check, i int, u Usual, rounding slack) []reading {
	c := list[i]
	for _, w := range u.OtherWeights {
		low, high := w.Quantity.Base()
		by := low.Mul(capSize)
		if closes(list, failed, i, low.Sub(by), high.Add(by), rounding) {
			return []reading{{name: ReadWeight, claim: i, low: low,
				question: fmt.Sprintf("Was the dose worked out on the %s of %s, not on %s?", w.Says, show(w.Quantity.Unit.ToBase(w.Quantity.Middle()), w.Quantity.Unit),
					show(c.value(), c.first().Quantity.Unit))}}
		}
	}
	return nil
}

// culprit shows a reading as the outside contract asks.
func (r reading) culprit(list []claim) finding.Culprit {
	c := list[r.claim]
	unit := c.first().Quantity.Unit
	k := finding.Culprit{Name: Names[c.at], Unit: unit.Code(), Signature: NoSignature, Stated: unit.FromBase(c.value()).Decimal(), Reading: r.name,
		Expression: c.first().Place.Expression, Sentence: r.question}
	if r.low.Sign() > 0 {
		k.Consistent = short(unit.FromBase(r.low))
	}
	return k
}
