package verification

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// given24 is what the last 24 hours on record ask of the ordered drug, in
// base units of mass.
type given24 struct {
	low, high quantity.Number
	converted bool
	says      string
	evidence  []string
}

// lastDay is the opioid of the 24 hours up to the last dose on record, which
// is no older than 48 hours (common practice, no source). By vein and under the
// skin count alike (common practice, no source); another route is not compared,
// and one that is not told is asked for. Missing is what keeps it from being
// told.
func lastDay(f Facts) (given24, Fact) {
	var list []order.Administration
	end := time.Time{}
	for _, a := range f.kase().Administrations {
		if namedOpioid(a.Drug.Name()) == "" && !given(a.Drug, f.order().Drug) || a.Start.Absent() {
			continue
		}
		list = append(list, a)
		for _, t := range []time.Time{a.Start.Time, a.End.Time} {
			if end.Before(t) && !f.now().Before(t) {
				end = t
			}
		}
	}
	if len(list) == 0 || 48*time.Hour < f.now().Sub(end) {
		return given24{}, LastDay
	}
	var out given24
	drug := orderedOpioid(f)
	swapLow, swapHigh := ratios(f)
	for _, a := range list {
		amount, counted, missing := inWindow(a, end.Add(-24*time.Hour), end)
		if missing != "" {
			return given24{}, missing
		}
		if !counted {
			continue
		}
		of := namedOpioid(a.Drug.Name())
		if of == "" {
			of = drug
		}
		low, high := amount, amount
		switch {
		case of == drug:
		case of == "morphine" && drug == "hydromorphone":
			low, high, out.converted = amount.Quo(swapHigh), amount.Quo(swapLow), true
		case of == "hydromorphone" && drug == "morphine":
			low, high, out.converted = amount.Mul(swapLow), amount.Mul(swapHigh), true
		default: // no table converts these
			return given24{}, Conversion
		}
		out.low, out.high = out.low.Add(low), out.high.Add(high)
		out.evidence = append(out.evidence, a.Place.Expression)
	}
	if out.low.Sign() <= 0 {
		return given24{}, LastDay
	}
	if out.converted {
		out.says = ", morphine and HYDROmorphone counted " + swapLow.Decimal() + " to " + swapHigh.Decimal() + " to 1"
	}
	return out, ""
}

var oralWords = []string{"oral", "tablet", "tablets", "capsule", "capsules", "patch", "transdermal", "solution", "elixir", "liquid", "suppository"}

// inWindow is what one administration gave between two instants: all of a
// dose, and of a run the part of its time that lies between.
func inWindow(a order.Administration, from, to time.Time) (amount quantity.Number, counted bool, missing Fact) {
	start, stop := a.Start.Time, a.End.Time
	if a.End.Absent() {
		stop = start
	}
	if stop.Before(from) || stop.Equal(from) || to.Before(start) {
		return amount, false, ""
	}
	oral := slices.ContainsFunc(wordsOf(strings.ToLower(a.Drug.Name())), func(w string) bool { return slices.Contains(oralWords, w) })
	switch route := routeOf(a.Route); {
	case oral, route == "" && !a.Route.Absent():
		return amount, false, Conversion
	case route == "":
		return amount, false, Route
	}
	if a.Status == "in-progress" || a.Start.DateOnly || a.End.DateOnly {
		return amount, false, LastDay
	}
	i := slices.IndexFunc(a.Dose, func(s order.Stated) bool { return s.Name == "dose" && s.Quantity.Unit.Dimension() == quantity.Mass })
	if i < 0 {
		return amount, false, LastDay
	}
	_, amount = a.Dose[i].Quantity.Base()
	if start.Before(from) { // it ran into the window
		part := quantity.Ratio(int64(stop.Sub(from)), int64(stop.Sub(start)))
		amount = amount.Mul(part)
	}
	return amount, true, ""
}

// opioidUnknown: what keeps the day from being compared. A patient who never
// had an opioid has no last 24 hours.
func opioidUnknown(f Facts) []Fact {
	var out []Fact
	if _, _, _, _, known := opioidDay(f); !known {
		out = append(out, DailyDose)
	}
	naive, _ := exposure(f)
	if _, missing := lastDay(f); missing != "" && !(naive && missing == LastDay) {
		out = append(out, missing)
	}
	return out
}
