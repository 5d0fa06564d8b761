package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// chronicKinds are kinds of therapy that go on until somebody decides
// otherwise (common practice, no source). An opioid is not among them: how
// long it runs is always asked.
var chronicKinds = []string{"nutrition", "inotrope", "prostacyclin", "immune-globulin"}

func chronic(f Facts) bool {
	return slices.ContainsFunc(chronicKinds, f.drug().Is)
}

func hasEnd(o order.Order) bool {
	return o.Course.Single || !o.Course.End.Absent() || o.Course.Count > 0 || o.Course.Length != nil
}

// endMissing: row a2. Chronic therapy needs a review date instead.
func endMissing(f Facts) []finding.Finding {
	o := f.order()
	if hasEnd(o) || chronic(f) {
		return nil
	}
	return here(below(o.Place, "dosageInstruction.timing.repeat.bounds"), "no coded end, count or period", "the end of the course as data, not as words")
}

func noEnd(f Facts) bool { return !hasEnd(f.order()) }

// endMissingReview: row a2 for chronic therapy. A review is a request or an
// appointment of that name whose day has not passed.
func endMissingReview(f Facts) []finding.Finding {
	o := f.order()
	if hasEnd(o) || !chronic(f) || slices.ContainsFunc(f.kase().Services, func(s order.Service) bool { return reviews(f, s) }) {
		return nil
	}
	return here(below(o.Place, "dosageInstruction.timing.repeat.bounds"), "no end, and no review of the therapy on a day to come",
		"the day on which the prescriber decides whether it goes on, as a request or an appointment to review")
}

func reviews(f Facts, s order.Service) bool {
	words := strings.ToLower(s.Code.Name())
	if ended[s.Status] || !strings.Contains(words, "review") && !strings.Contains(words, "reassess") {
		return false
	}
	if len(s.Basis) > 0 && !forThis(f, s.Basis) {
		return false
	}
	return slices.ContainsFunc(append(slices.Clone(s.When), s.From), func(at order.Instant) bool {
		end := at.Time
		if at.DateOnly {
			end = end.AddDate(0, 0, 1)
		}
		return !at.Absent() && end.After(f.now())
	})
}

// oneDaySeconds: up to a day the total is the dose of a day.
var oneDaySeconds = quantity.Int(24 * 3600)

func antineoplastic(f Facts) bool {
	return f.hazard().Antineoplastic == "yes" || f.drug().Is("antineoplastic")
}

// overADay: it runs more than 24 hours, or nobody says how long.
func overADay(f Facts) bool {
	seconds, _, known := runSeconds(f)
	return !known || oneDaySeconds.Less(seconds)
}

// totalOnly: row d2, one dose that runs more than 24 hours and no dose per
// day beside it. A drug rate by the hour is no dose per day: totals have been
// given as one day's dose with the hourly rate in the order.
func totalOnly(f Facts) []finding.Finding {
	o := f.order()
	seconds, t, known := runSeconds(f)
	if !known || !antineoplastic(f) || !overADay(f) || perDayStated(o) {
		return nil
	}
	place := o.Place
	total := "a total"
	expected := "the dose in 24 hours and the number of hours, beside the total"
	if q, ok := f.quantities()["dose"]; ok && !q.Unit.IsZero() {
		place, total = q.Place, notation.Quantity(q.Value, q.Unit)
		if !q.Disputed {
			day := q.Value.Mul(oneDaySeconds).Quo(seconds)
			expected = notation.About(day, q.Unit, 3) + " in 24 hours, for " + notation.Quantity(t.Value, t.Unit) + ", beside the total"
		}
	}
	return here(place, total+" over "+notation.Quantity(t.Value, t.Unit)+", and no dose in 24 hours", expected)
}

// perDayStated: somebody wrote the dose of a day, as a number or in words.
func perDayStated(o order.Order) bool {
	return slices.ContainsFunc(o.Stated, func(s order.Stated) bool {
		return s.Witness != order.Computed && (strings.HasPrefix(s.Name, "dailyDose") || s.Name == "drugRate" && strings.HasSuffix(s.Quantity.Unit.Code(), "/d"))
	}) || slices.ContainsFunc(o.Readings, func(r order.Reading) bool { return strings.HasPrefix(r.Field, "dailyDose") })
}

// totalUnknown: a drug without a row may be an antineoplastic, and without a
// time nobody can tell a total from the dose of a day.
func totalUnknown(f Facts) []Fact {
	_, _, known := runSeconds(f)
	switch {
	case !antineoplastic(f) && !f.Has(DrugRow):
		return []Fact{DrugRow}
	case antineoplastic(f) && !known:
		return []Fact{RunTime}
	}
	return nil
}
