package verification

import (
	"fmt"
	"slices"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// stepSlack is how far the sum of the steps may miss the container: the rates
// of pumps are rounded to whole mL per hour (as for the sum of the steps in
// the arithmetic).
var stepSlack = quantity.Ratio(1, 100)

// wordedSteps are the rates of steps that stand in words only, in mL per hour.
func wordedSteps(o order.Order) []quantity.Number {
	var out []quantity.Number
	for _, r := range o.Readings {
		if r.Field != "step" || r.Role != "rate" {
			continue
		}
		if q, err := quantity.Parse(r.Value, r.Unit, millilitrePerHour.Dimension()); err == nil {
			out = append(out, millilitrePerHour.FromBase(q.Unit.ToBase(q.High)))
		}
	}
	return out
}

// startsSlowly: the table has a first rate for the drug, and the infusion is
// not one that goes on all day at a rate found before.
func startsSlowly(f Facts) bool {
	return !IsContinuous(f.order(), f.quantities()) && len(f.drug().About("infusion_rate_initial", population(f))) > 0
}

// hasSteps leaves a cycle of nutrition to the rule of its own.
func hasSteps(f Facts) bool {
	if cycles(f) {
		return false
	}
	return len(f.order().Steps) > 0 || len(wordedSteps(f.order())) > 0 || startsSlowly(f)
}

// stepFlow is the rate of a step in mL per hour; 0 when it has none.
func stepFlow(s order.Step) quantity.Number {
	if s.Rate == nil {
		return quantity.Number{}
	}
	in, err := s.Rate.Quantity.In(millilitrePerHour)
	if err != nil {
		return quantity.Number{}
	}
	return in.Middle()
}

// stepVolume is what one step gives, in mL: by rate and time, else as stated.
func stepVolume(s order.Step) (quantity.Number, bool) {
	if s.Duration != nil && s.Duration.Quantity.Unit.Dimension() == quantity.Time {
		base := millilitrePerHour.ToBase(stepFlow(s)).Mul(s.Duration.Quantity.Unit.ToBase(s.Duration.Quantity.Middle()))
		return millilitre.FromBase(base), true
	}
	if s.Volume != nil && s.Volume.Quantity.Unit.Dimension() == quantity.Volume {
		return millilitre.FromBase(s.Volume.Quantity.Unit.ToBase(s.Volume.Quantity.Middle())), true
	}
	return quantity.Number{}, false
}

// emptied is what the steps with a time give together, in mL, and whether
// the last one runs until the container is empty. Ok is false when a step
// lacks its rate, or one before the last its time.
func emptied(o order.Order) (sum quantity.Number, open, ok bool) {
	for i, s := range o.Steps {
		if stepFlow(s).Sign() <= 0 {
			return sum, false, false
		}
		v, known := stepVolume(s)
		if !known && i < len(o.Steps)-1 {
			return sum, false, false
		}
		sum, open = sum.Add(v), !known
	}
	return sum, open, len(o.Steps) > 0
}

// rateSteps: row d12.
func rateSteps(f Facts) []finding.Finding {
	return slices.Concat(singleRate(f), stepsDiffer(f), stepsLeave(f))
}

// singleRate: one rate is coded beside steps, and it is not the first: who
// sets it starts too fast.
func singleRate(f Facts) []finding.Finding {
	steps := wordedSteps(f.order())
	for _, s := range f.order().Steps {
		if n := stepFlow(s); n.Sign() > 0 {
			steps = append(steps, n)
		}
	}
	if len(steps) < 2 {
		return nil
	}
	top := slices.MaxFunc(steps, quantity.Number.Cmp)
	first := steps[0]
	if len(f.order().Steps) > 0 {
		first = stepFlow(f.order().Steps[0])
	}
	for _, s := range f.order().Stated {
		in, err := s.Quantity.In(millilitrePerHour)
		if s.Name != "rate" || err != nil || s.Witness != order.Coded && s.Witness != order.PumpSheet {
			continue
		}
		rate := notation.About(in.High, millilitrePerHour, 4)
		switch {
		case !in.High.Less(top):
			return here(s.Place, rate+" as the one rate, which is the top of the steps", "every step with its rate and time, from "+notation.About(first, millilitrePerHour, 4))
		case first.Sign() > 0 && first.Less(in.High):
			return here(s.Place, rate+" as the one rate, and the first step is "+notation.About(first, millilitrePerHour, 4), "every step with its rate and time")
		}
	}
	return nil
}

// stepsDiffer: a step's rate and time do not give its stated volume.
func stepsDiffer(f Facts) []finding.Finding {
	for i, s := range f.order().Steps {
		if s.Duration == nil || s.Volume == nil || stepFlow(s).Sign() <= 0 {
			continue
		}
		given, _ := stepVolume(s)
		s.Duration = nil
		says, ok := stepVolume(s)
		if off := given.Sub(says).Abs(); ok && says.Mul(stepSlack).Less(off) {
			return here(s.Place, fmt.Sprintf("step %d gives %s by its rate and time, and says %s", i+1, notation.About(given, millilitre, 4), notation.About(says, millilitre, 4)),
				"rate, time and volume of the step that agree")
		}
	}
	return nil
}

// holds is what the container holds and what of it stays in the device, in mL.
func holds(f Facts) (volume, stays quantity.Number, ok bool) {
	v, known := f.quantities()["volume"]
	if !known || !v.Stated || v.Value.Sign() <= 0 || v.Unit.Dimension() != quantity.Volume {
		return volume, stays, false
	}
	if r, known := f.quantities()["residual"]; known && r.Unit.Dimension() == quantity.Volume {
		stays = millilitre.FromBase(r.Unit.ToBase(r.Value))
	}
	return millilitre.FromBase(v.Unit.ToBase(v.Value)), stays, true
}

// stepsLeave: the steps do not empty the container, apart from what stays in
// the device.
func stepsLeave(f Facts) []finding.Finding {
	sum, open, ok := emptied(f.order())
	volume, stays, known := holds(f)
	if !ok || !known {
		return nil
	}
	place := f.order().Steps[0].Place
	say := func(n quantity.Number) string { return notation.About(n, millilitre, 4) }
	goal := say(volume)
	if stays.Sign() > 0 {
		goal += " less " + say(stays) + " that stay in the device"
	}
	least, most := volume.Sub(stays).Mul(one.Sub(stepSlack)), volume.Mul(one.Add(stepSlack))
	switch {
	case open && !sum.Less(volume):
		return here(place, "the steps before the last give "+say(sum)+" of "+say(volume)+": the last one is never reached", "steps that reach the last with the container not empty")
	case open:
		return nil
	case sum.Less(least):
		return here(place, "the steps give "+say(sum)+" of "+say(volume)+": "+say(volume.Sub(sum))+" would be left", "steps that give "+goal)
	case most.Less(sum):
		return here(place, "the steps give "+say(sum)+", and the container holds "+say(volume), "steps that give "+goal)
	}
	return nil
}

// slowEnough: one constant rate that is no faster than the first rate of the
// table needs no steps.
func slowEnough(f Facts) bool {
	ways := paces(f, fastEnd)
	for _, x := range f.drug().About("infusion_rate_initial", population(f)) {
		l := limit{Fact: x}
		for _, w := range ways {
			if at, ok := rateIn(f, l)(x.Value.Band, w); ok && at.Less(w.worst) {
				return false
			}
		}
		if _, ok := compared(f, l, ways, rateIn(f, l), above); !ok {
			return false
		}
	}
	return true
}

// stepsUnknown: steps in words only, one constant rate of a drug that starts
// slowly, a step without its rate or time, a container of unknown volume.
func stepsUnknown(f Facts) []Fact {
	if len(f.order().Steps) == 0 {
		if len(wordedSteps(f.order())) == 0 && slowEnough(f) {
			return nil
		}
		return []Fact{Steps}
	}
	sum, _, ok := emptied(f.order())
	if !ok || sum.Sign() <= 0 && len(f.order().Steps) > 1 {
		return []Fact{Steps}
	}
	if _, _, known := holds(f); !known {
		return []Fact{Container}
	}
	return nil
}
