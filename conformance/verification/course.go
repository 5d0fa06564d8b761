package verification

import (
	"fmt"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// infusionOverlaps: one dose would still run when the next begins. Equal
// times are a continuous infusion.
func infusionOverlaps(f Facts) []finding.Finding {
	t, i := f.quantities()["duration"], f.quantities()["interval"]
	if !i.Unit.ToBase(i.High).Less(t.Unit.ToBase(t.Low)) {
		return nil
	}
	return here(t.Place, "each infusion takes "+notation.Quantity(t.Value, t.Unit)+" and the next begins every "+notation.Quantity(i.Value, i.Unit),
		"an infusion time no longer than the interval")
}

// repeats: both how long and how often are known.
func repeats(f Facts) bool {
	t, okT := f.quantities()["duration"]
	i, okI := f.quantities()["interval"]
	return okT && okI && !t.Unit.IsZero() && !i.Unit.IsZero()
}

// courseEnded: the course is complete and no dose of it is left for home.
func courseEnded(f Facts) []finding.Finding {
	p := f.plan()
	end := p.CourseEnd
	switch {
	case end.IsZero(), len(p.HomeDoses) > 0:
		return nil
	case end.After(f.now()) && p.FirstHomeDose.IsZero():
		return nil // why it cannot be planned is said elsewhere
	}
	return here(f.order().TimingPlace, "the course ended "+notation.Instant(end, "")+": no dose is left for home", "an end after the first home dose, or no delivery")
}

func asNeeded(f Facts) []finding.Finding {
	for _, d := range f.order().Directions {
		if d.AsNeeded {
			return here(d.Place, "given as needed", "how many doses are to be at home, and when one is given")
		}
	}
	if t := f.order().Timing; t.Ranged() {
		return here(f.order().TimingPlace, "how often is a range: "+rangeOfTiming(t), "one interval; or how many doses are to be at home, and who decides when one is given")
	}
	return nil
}

// rangeOfTiming is how often, as the order leaves it open.
func rangeOfTiming(t schedule.Timing) string {
	doses, out := max(t.Frequency, 1), "one dose"
	switch {
	case t.FrequencyMax > doses:
		out = fmt.Sprintf("%d to %d doses", doses, t.FrequencyMax)
	case doses > 1:
		out = fmt.Sprintf("%d doses", doses)
	}
	period := func(q quantity.Quantity) string { return notation.Code(q.Low.Decimal(), q.Unit.Code()) }
	switch {
	case t.Period.Absent():
		return out
	case t.PeriodMax.Absent():
		return out + " every " + period(t.Period)
	}
	return out + " every " + period(t.Period) + " to " + period(t.PeriodMax)
}

// statedWeight is the weight the order says it reckons with.
func statedWeight(o order.Order) (order.Stated, bool) {
	for _, s := range o.Stated {
		if s.Name == "dosingWeight" && (s.Witness == order.Coded || s.Witness == order.Text) {
			return s, true
		}
	}
	return order.Stated{}, false
}

// againstStated compares the newest measured weight with the one the order
// reckons with: ratio of the order's to the measured one.
func againstStated(f Facts) (stated order.Stated, ratio quantity.Number, ok bool) {
	s, known := statedWeight(f.order())
	list := weights(f)
	if !known || len(list) == 0 {
		return s, ratio, false
	}
	mine, err1 := s.Quantity.In(quantity.MustUnit("kg"))
	measured, err2 := list[0].Quantity.In(quantity.MustUnit("kg"))
	if err1 != nil || err2 != nil || measured.Low.Sign() <= 0 || mine.Low.Sign() <= 0 {
		return s, ratio, false
	}
	return s, mine.Middle().Quo(measured.Low), true
}

// statedWeightSlip: the order reckons with a weight that is the measured one
// in pounds, or with the decimal point moved.
func statedWeightSlip(f Facts) []finding.Finding {
	s, ratio, ok := againstStated(f)
	if !ok {
		return nil
	}
	pattern := slipPattern(ratio)
	if pattern == "" {
		return nil
	}
	m := weights(f)[0]
	x := here(s.Place, "the order reckons with "+notation.Code(s.Quantity.Middle().Decimal(), s.Quantity.Unit.Code())+", "+ratio.Significant(3)+" times the measured weight, as when "+pattern,
		"the measured weight, "+notation.Code(m.Quantity.Low.Decimal(), m.Quantity.Unit.Code()))
	x[0].Evidence = []string{m.Place.Expression}
	return x
}

// statedWeightStale: the order reckons with a weight that has changed by
// more than the policy allows.
func statedWeightStale(f Facts) []finding.Finding {
	s, ratio, ok := againstStated(f)
	switch f.order().DoseBasis {
	case "ideal-weight", "adjusted-weight":
		return nil // meant to differ from the measured one
	}
	if !ok || len(statedWeightSlip(f)) > 0 || !f.policy().Dose.WeightChange.Less(ratio.Sub(quantity.Int(1)).Abs()) {
		return nil
	}
	m := weights(f)[0]
	return here(s.Place, "the order reckons with "+notation.Code(s.Quantity.Middle().Decimal(), s.Quantity.Unit.Code()),
		"the newest measured weight, "+notation.Code(m.Quantity.Low.Decimal(), m.Quantity.Unit.Code())+", or the prescriber's word")
}
