package slips_test

import "math/big"

// The rounding model: who rounds what, to which step, in which order. Every
// number is worked out of numbers that were already rounded by the one
// before, as on a ward, so that roundings run down the chain.
//
//	weight          nurse        0.1 kg; a baby under 10 kg 0.01 kg
//	surface         pharmacist   0.01 m²
//	dose per kg, per m², drip    prescriber, a round number of the drug's list
//	dose            pharmacist   the drug's step, a finer one when the step would move it by more than a tenth
//	container       pharmacy     a size of the list; a volume drawn from stock 0.1 mL
//	concentration   label        as known, else dose ÷ volume to 3 digits
//	time            prescriber   a time of the list; from a fastest rate up to the next 15 min
//	pump rate       nurse        the pump's step, 0.1 or 1 mL/h (0.1 below 10), a finer pump when the step
//	                             would move it by more than 3 %: beyond that the patient really gets another dose
//	amount per time pharmacist   as ordered, else 3 digits
//	hang time       nurse        container ÷ pump rate, to 5 min, from 4 h on 0.1 h
//	dose of a day   pharmacist   dose × doses, exactly; of a running infusion 24 h × rate to 3 digits
//	interval, doses, days        exact
//
// Left out, because their numbers do not obey the products when correct and
// are judged by readings of their own: overfill, the drug's volume not in
// the container's, residual volumes, tapers and steps, doses at a cap, doses
// by ideal weight.
type ward struct {
	name       string
	doseStep   *big.Rat      // of the drug's step
	weightMiss float64       // the weight written is another one than was used, up to this part
	weightStep string        // kg; "" for the fine scale
	rateMoves  *big.Rat      // a step that moves the rate by more is not used
	times      [][2]string   // planned times and hang times: from h, step in h
	hang       [][2]string   // hang times
	pumps      [][][2]string // kinds of pump, drawn for each order: from mL/h, step; the first that fits
}

var careful = ward{
	name: "careful", doseStep: whole(1), rateMoves: rat("0.03"),
	hang:  [][2]string{{"4", "0.1"}, {"0", "1/12"}},
	pumps: [][][2]string{{{"10", "1"}, {"0", "0.1"}}, {{"0", "0.1"}}},
}

// careless: times said to 15 or 30 min, rates to 5 or 10 mL/h, the weight of
// another day, doses rounded twice as coarsely as the drug's table says.
var careless = ward{
	name: "careless", doseStep: whole(2), weightMiss: 0.04, weightStep: "1", rateMoves: rat("0.05"),
	times: [][2]string{{"3", "0.5"}, {"0.75", "0.25"}, {"0", "1/12"}},
	hang:  [][2]string{{"3", "0.5"}, {"0.75", "0.25"}, {"0", "1/12"}},
	pumps: [][][2]string{{{"200", "10"}, {"50", "5"}, {"10", "1"}, {"0", "0.1"}}},
}

// stepFor picks the step of a table whose first column x reaches.
func stepFor(x *big.Rat, table [][2]string) *big.Rat {
	for _, row := range table {
		if !less(x, rat(row[0])) {
			return rat(row[1])
		}
	}
	panic("no step")
}

// moves reports whether rounding to the step moves x by more than part.
func moves(x, step, part *big.Rat) bool {
	r := nearest(x, step)
	return r.Sign() == 0 || less(times(x, part), distance(r, x))
}

// doseRounded is the pharmacist's dose with the step used.
func (w ward) doseRounded(x, known *big.Rat) (dose, step *big.Rat) {
	step = times(known, w.doseStep)
	for moves(x, step, rat("0.1")) {
		step = halved(step)
	}
	return nearest(x, step), step
}

// rateRounded is the rate the nurse sets, with the step used.
func (w ward) rateRounded(x *big.Rat, pump int) (rate, step *big.Rat) {
	step = stepFor(x, w.pumps[pump%len(w.pumps)])
	for moves(x, step, w.rateMoves) {
		if less(rat("1"), step) {
			step = whole(1)
		} else {
			step = over(step, whole(10))
		}
	}
	return nearest(x, step), step
}

// timeSaid is a planned time as this ward says it.
func (w ward) timeSaid(hours *big.Rat) *big.Rat {
	if w.times == nil {
		return hours
	}
	return nearest(hours, stepFor(hours, w.times))
}

// hangTime is how long the container lasts, as this ward says it.
func (w ward) hangTime(volume, rate *big.Rat) (hours, step *big.Rat) {
	x := over(volume, rate)
	step = stepFor(x, w.hang)
	for moves(x, step, rat("0.1")) {
		step = halved(step)
	}
	return nearest(x, step), step
}
