package slips_test

import (
	"math"
	"math/big"
	"math/rand/v2"
	"strings"

	"weir.example/weir/mapping/order"
)

// written is one number as somebody wrote it.
type written struct {
	name, digits, unit string
	half               *big.Rat // half the writer's rounding step, counted plainly
	witness            order.Witness
	place              string
}

func (w written) value() *big.Rat { return times(rat(w.digits), worth(w.unit)) }

// plan is everything that is decided before any number is written. The same
// plan can be written again with another weight.
type plan struct {
	drug             *drug
	years            float64
	weight, area     *big.Rat // kg, m²
	perSize          *big.Rat // of the drug's list: dose, dose per size or amount per time
	volume, strength *big.Rat // nil when worked out
	hours            *big.Rat // nil when worked out
	every            int64
	days, count      int64
	pump             int
	coins            uint64  // which of two usual units each number is written in
	miss             float64 // −1 … 1: how far a careless ward's weight is off
}

func pick[T any](r *rand.Rand, from []T) T { return from[r.IntN(len(from))] }

// body draws a patient: age in years, weight and body surface.
func body(r *rand.Rand, child bool) (years float64, weight, area *big.Rat) {
	kg, cm := 0.0, 0.0
	if child {
		years = 0.1 + 16*r.Float64()
		kg = usualWeight(years) * math.Exp(0.16*max(-2.2, min(2.2, r.NormFloat64())))
		cm = 75 + 6*years
	} else {
		years = 18 + 70*r.Float64()
		kg = max(38, min(175, usualWeight(years)*math.Exp(0.22*r.NormFloat64())))
		cm = max(145, min(200, 170+9*r.NormFloat64()))
	}
	step := rat("0.1")
	if kg < 10 {
		step = rat("0.01")
	}
	weight = nearest(new(big.Rat).SetFloat64(kg), step)
	return years, weight, nearest(new(big.Rat).SetFloat64(math.Sqrt(cm*kg/3600)), rat("0.01"))
}

// usualWeight is a middle weight of the age in kg (an invented curve).
func usualWeight(years float64) float64 {
	switch {
	case years < 1:
		return 3.6 + 6.2*years
	case years < 18:
		return 7.5 + 2.3*years + 0.07*years*years
	}
	return 78
}

func draw(r *rand.Rand) plan {
	n, k := r.IntN(100), kinds[0].kind
	for _, row := range kinds {
		if k = row.kind; n < row.share {
			break
		}
		n -= row.share
	}
	p := plan{drug: pick(r, drugsOf[k]), pump: r.IntN(2), coins: r.Uint64(), miss: 2*r.Float64() - 1}
	d := p.drug
	p.years, p.weight, p.area = body(r, k == perKgChild || k == dripPerKg && r.IntN(5) == 0)
	if len(d.doses) > 0 {
		p.perSize = rat(pick(r, d.doses))
	}
	if !d.drawn {
		p.volume = rat(pick(r, d.volumes))
	}
	if len(d.strengths) > 0 {
		p.strength = rat(pick(r, d.strengths))
	}
	if len(d.minutes) > 0 {
		p.hours = over(rat(pick(r, d.minutes)), whole(60))
	}
	if len(d.every) > 0 {
		p.every = pick(r, d.every)
	}
	if len(d.days) > 0 {
		p.days = pick(r, d.days)
	}
	if len(d.counts) > 0 {
		p.count = pick(r, d.counts)
	}
	p.unusual(r)
	return p
}

// unusual: one order in 25 has a number outside what the drug's table calls
// usual, as real orders have.
func (p *plan) unusual(r *rand.Rand) {
	if r.IntN(25) != 0 {
		return
	}
	switch r.IntN(3) {
	case 0:
		if p.perSize != nil && p.drug.kind != wholeDay {
			p.perSize = times(p.perSize, big.NewRat(3, 2))
		}
	case 1:
		if p.hours != nil && p.drug.kind != wholeDay && p.drug.kind != perArea {
			step := big.NewRat(1, 12)
			if !less(p.hours, whole(2)) {
				step = big.NewRat(1, 2)
			}
			p.hours = upTo(times(p.hours, big.NewRat(8, 5)), step)
		}
	case 2:
		if p.volume != nil {
			p.volume = times(p.volume, whole(2))
		}
	}
}

// coin is the plan's fixed choice number i.
func (p plan) coin(i int) bool { return p.coins>>i&1 == 1 }

// pen collects what is written.
type pen struct {
	plan plan
	ward ward
	out  []written
}

// put writes x, counted plainly, in a unit, rounded to a step of that unit
// (nil: as it is), and returns what was really written.
func (p *pen) put(name string, x *big.Rat, unit string, step *big.Rat) *big.Rat {
	in := over(x, worth(unit))
	if step != nil {
		in = nearest(in, step)
	} else {
		step = whole(0)
	}
	w := written{name: name, digits: digitsOf(in), unit: unit, half: times(halved(step), worth(unit)), witness: order.Coded, place: "coded:" + name}
	if name == "rate" && p.plan.coin(20) && p.plan.coin(21) && !strings.Contains(w.digits, ".") && p.plan.pump == 1 {
		w.digits += ".0" // as a pump shows it
	}
	p.out = append(p.out, w)
	return times(in, worth(unit))
}

// three writes x to three significant digits.
func (p *pen) three(name string, x *big.Rat, unit string) *big.Rat {
	return p.put(name, x, unit, lastOf(over(x, worth(unit)), 3))
}

// amountUnit is how an amount is written: 2 g or 2000 mg.
func (p *pen) amountUnit(x *big.Rat, coin int) string {
	if p.plan.drug.unit == "mg" && p.plan.coin(coin) && !less(x, whole(1000)) && nearest(x, whole(100)).Cmp(x) == 0 {
		return "g"
	}
	return p.plan.drug.unit
}

// time writes minutes, from four hours on hours.
func (p *pen) time(name string, hours, step *big.Rat) *big.Rat {
	halves := times(hours, whole(2))
	inHours := !less(hours, whole(4)) || halves.IsInt() && !less(hours, whole(1)) && p.plan.coin(3)
	unit := "min"
	if inHours {
		unit = "h"
	}
	if step != nil {
		step = over(step, worth(unit))
	}
	return p.put(name, hours, unit, step)
}

func find(list []written, name string) (written, bool) {
	for _, w := range list {
		if w.name == name && w.witness == order.Coded {
			return w, true
		}
	}
	return written{}, false
}
