package verification

import (
	"fmt"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// weights are the body weights of the case, newest first.
func weights(f Facts) []order.Measurement {
	var out []order.Measurement
	for _, m := range f.kase().Measurements {
		if m.Name == "weight" && !m.Quantity.Absent() {
			out = append(out, m)
		}
	}
	return out
}

// The patterns of a slip in a weight, newest over previous: 2 to 2.4 and 9 to
// 11, and the other way 0.42 to 0.5 and 0.09 to 0.11 with their inverses.
var slipBands = []struct {
	low, high quantity.Number
	pattern   string
}{
	{quantity.Int(2), quantity.MustNumber("2.4"), pounds},
	{quantity.Ratio(5, 12), quantity.MustNumber("0.5"), pounds},
	{quantity.Int(9), quantity.Int(11), decimal},
	{quantity.MustNumber("0.09"), quantity.Ratio(1, 9), decimal},
}

const (
	pounds  = "pounds and kilograms exchanged"
	decimal = "the decimal point moved"
)

// slipPattern names the slip that the ratio of two weights looks like, ""
// for none.
func slipPattern(ratio quantity.Number) string {
	for _, b := range slipBands {
		if !ratio.Less(b.low) && !b.high.Less(ratio) {
			return b.pattern
		}
	}
	return ""
}

func weightImplausible(f Facts) []finding.Finding {
	list := weights(f)
	if len(list) < 2 {
		return nil
	}
	newest, previous := list[0], list[1]
	in, err := newest.Quantity.In(previous.Quantity.Unit)
	if err != nil || previous.Quantity.Low.Sign() <= 0 || in.Low.Sign() <= 0 {
		return nil
	}
	ratio := in.Low.Quo(previous.Quantity.Low)
	pattern := slipPattern(ratio)
	if pattern == "" {
		return nil
	}
	show := func(m order.Measurement) string {
		return notation.Code(m.Quantity.Low.Decimal(), m.Quantity.Unit.Code())
	}
	x := here(newest.Place, show(newest)+", before that "+show(previous)+": "+ratio.Significant(3)+" times, as when "+pattern, "a weight measured again, with its unit")
	if inKg, err := quantity.Point(newest.Quantity.Low, quantity.MustUnit("[lb_av]")).In(quantity.MustUnit("kg")); err == nil && quantity.Int(1).Less(ratio) && pattern == pounds {
		x[0].Remedy = "Weigh again. " + newest.Quantity.Low.Decimal() + " pounds would be " + notation.Code(inKg.Low.Significant(3), "kg") + "."
	}
	x[0].Evidence = []string{previous.Place.Expression}
	return x
}

func weightStale(f Facts) []finding.Finding {
	list := weights(f)
	if len(list) == 0 || len(weightImplausible(f)) > 0 {
		return nil
	}
	p, years := f.policy(), f.years()
	most := p.Dose.AdultWeightDays
	switch {
	case years >= 0 && years < 2:
		most = p.Dose.InfantWeightDays
	case years >= 0 && years < p.Records.AdultYears:
		most = p.Dose.ChildWeightDays
	}
	m := list[0]
	if m.At.Time.IsZero() {
		return here(m.Place, "a weight without a date", fmt.Sprintf("a weight not older than %d days at this age", most))
	}
	if days := int(f.now().Sub(m.At.Time).Hours()) / 24; days > most {
		return here(m.Place, fmt.Sprintf("weight %d days old", days), fmt.Sprintf("a weight not older than %d days at this age", most))
	}
	if len(list) > 1 {
		in, err := m.Quantity.In(list[1].Quantity.Unit)
		if err == nil && list[1].Quantity.Low.Sign() > 0 {
			change := in.Low.Quo(list[1].Quantity.Low).Sub(quantity.Int(1))
			if p.Dose.WeightChange.Less(change.Abs()) {
				return here(m.Place, "weight changed by "+change.Mul(quantity.Int(100)).Places(0)+" % since the one before", "the prescriber's word on which weight to dose on")
			}
		}
	}
	return nil
}

// carriedSlip: a weight in pounds taken as kilograms, and a dose worked out
// from it. Dose and weight agree with each other, so only the earlier weight
// tells; the weight is settled first, and the dose it gives is shown.
func carriedSlip(f Facts) []finding.Finding {
	list := weights(f)
	dose, okD := stateIn(f.order(), order.Coded, "dose")
	perKg, okP := stateIn(f.order(), order.Coded, "dosePerKg")
	if !okP {
		perKg, okP = stateIn(f.order(), order.Text, "dosePerKg")
	}
	if !okD || !okP || len(list) < 2 || len(weightImplausible(f)) == 0 {
		return nil
	}
	kg := quantity.MustUnit("kg")
	newest, err1 := list[0].Quantity.In(kg)
	truly, err2 := quantity.Point(list[0].Quantity.Low, quantity.MustUnit("[lb_av]")).In(kg)
	previous, err3 := list[1].Quantity.In(kg)
	if err1 != nil || err2 != nil || err3 != nil || !previous.Low.Less(newest.Low) {
		return nil
	}
	each, _ := perKg.Quantity.Base() // mass per mass of the body: both count grams
	stated, _ := dose.Quantity.Base()
	gram := quantity.Int(1000)
	worked, right := each.Mul(newest.Low).Mul(gram), each.Mul(truly.Low).Mul(gram)
	off := stated.Quo(worked).Sub(quantity.Int(1)).Abs()
	if f.policy().Dose.BasisHold.Less(off) {
		return nil
	}
	show := func(grams quantity.Number) string {
		return notation.Code(dose.Quantity.Unit.FromBase(grams).Significant(4), dose.Quantity.Unit.Code())
	}
	x := here(dose.Place, show(stated)+", worked out from "+notation.Code(newest.Low.Decimal(), "kg"),
		show(right)+" on "+notation.Code(truly.Low.Significant(4), "kg")+", if the weight was read in pounds")
	x[0].Evidence = []string{list[0].Place.Expression, list[1].Place.Expression}
	x[0].Detail = "signature pounds-as-kilograms on dosingWeight, carried into dose"
	return x
}
