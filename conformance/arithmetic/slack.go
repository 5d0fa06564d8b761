package arithmetic

import "weir.example/weir/mapping/quantity"

// slack is by how much a relation may miss 1 because somebody rounded a
// number on the way from one of its members to another.
type slack struct {
	dose quantity.Number // dose against dose per kg or m² × size
	pump quantity.Number // ordered drug rate against the time the pump takes
}

// slackOf: a dose is rounded to the drug's step (half of it on each side, at
// least 3 %), and the pump runs at its rate as rounded, so the time that
// follows from it belongs to that rate and not to the drug rate ordered.
func slackOf(list []claim, u Usual) slack {
	s := slack{dose: leastRounding}
	step := quantity.Number{}
	if !u.Rounding.Absent() {
		step, _ = u.Rounding.Base()
	}
	for _, c := range list {
		switch c.at {
		case dose:
			s.dose = quantity.Greatest(s.dose, step.Mul(half).Quo(c.value()))
		case rate:
			s.pump = quantity.Greatest(s.pump, c.high.Quo(c.value()).Sub(quantity.Int(1)))
		}
	}
	s.dose = quantity.Least(s.dose, half)
	return s
}

// widen moves the ends of a relation's product apart by its slack.
func (s slack) widen(r relation, low, high quantity.Number) (quantity.Number, quantity.Number) {
	one := quantity.Int(1)
	if r.sized {
		low, high = low.Mul(one.Sub(s.dose)), high.Mul(one.Add(s.dose))
	}
	if r.weighed {
		low, high = low.Mul(one.Sub(leastRounding)), high.Mul(one.Add(leastRounding))
	}
	if r.paced && s.pump.Sign() > 0 {
		low, high = low.Mul(one.Sub(s.pump)), high.Mul(one.Add(s.pump))
	}
	return low, high
}
