package verification

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// The criteria of acute kidney injury (KDIGO 2012, as quoted by
// bestpractice.bmj.com 3000117): 0.3 mg/dL within 48 hours, or 1.5 times the
// baseline, "known or presumed" to have occurred in 7 days. The baseline is
// the lowest result since the start of the course or of 90 days.
var (
	injuryRise  = quantity.MustNumber("0.3")
	injuryRatio = quantity.MustNumber("1.5")
)

const (
	injuryHours  = 48 * time.Hour
	baselineDays = 90 * 24 * time.Hour
)

// creatinine is one dated result in mg/dL.
type creatinine struct {
	value quantity.Number
	order.Measurement
}

// creatinines are the dated results, newest first, and whether others carry
// no date or no readable unit.
func creatinines(f Facts) (dated []creatinine, unplaced bool) {
	for _, m := range f.kase().Measurements {
		if m.Name != "creatinine" || m.Quantity.Absent() {
			continue
		}
		value, ok := arithmetic.CreatinineMgPerDL(m.Quantity)
		if !ok || value.Sign() <= 0 || m.At.Time.IsZero() {
			unplaced = true
			continue
		}
		dated = append(dated, creatinine{value, m})
	}
	slices.SortStableFunc(dated, func(a, b creatinine) int { return b.At.Time.Compare(a.At.Time) })
	return dated, unplaced
}

// apart is the least time between two results: one with a date alone may be
// of any hour of its day.
func apart(newest, before creatinine) time.Duration {
	d := newest.At.Time.Sub(before.At.Time)
	if before.At.DateOnly {
		d -= 24 * time.Hour
	}
	return max(d, 0)
}

// kidneysWatched: a creatinine tells the kidneys, and they matter to the drug.
func kidneysWatched(f Facts) bool { return kidneysMatter(f) && !onDialysis(f) }

// kidneyInjury: row c5, the newest result against the earlier ones.
func kidneyInjury(f Facts) []finding.Finding {
	list, _ := creatinines(f)
	if len(list) < 2 {
		return nil
	}
	newest, start := list[0], f.order().Course.Start.Time
	var low, recent creatinine
	for _, x := range list[1:] {
		gap := apart(newest, x)
		if gap <= injuryHours && (recent.value.Sign() == 0 || x.value.Less(recent.value)) {
			recent = x
		}
		since := !f.order().Course.Start.Absent() && !x.At.Time.Before(start)
		if (gap <= baselineDays || since) && (low.value.Sign() == 0 || x.value.Less(low.value)) {
			low = x
		}
	}
	show := func(x creatinine) string {
		return notation.Code(x.value.Significant(4), "mg/dL") + " on " + x.At.Time.Format(time.DateOnly)
	}
	observed, from := "", low
	switch {
	case low.value.Sign() > 0 && !newest.value.Less(low.value.Mul(injuryRatio)):
		observed = show(newest) + ": " + newest.value.Quo(low.value).Significant(3) + " times the lowest, " + show(low)
	case recent.value.Sign() > 0 && !newest.value.Sub(recent.value).Less(injuryRise):
		observed, from = show(newest)+", risen by "+notation.Code(newest.value.Sub(recent.value).Significant(3), "mg/dL")+" within 48 hours from "+show(recent), recent
	default:
		return nil
	}
	out := here(newest.Place, observed, "below 1.5 times the lowest since the start or of 90 days, and no rise of "+notation.Code("0.3", "mg/dL")+" within 48 hours; or the prescriber's word on dose and cause")
	out[0].Evidence = []string{from.Place.Expression}
	return out
}

// injuryUnknown: one result alone tells no change, and there may be no
// earlier one: that is said and does not hold the order.
func injuryUnknown(f Facts) []Fact {
	list, unplaced := creatinines(f)
	switch {
	case unplaced:
		return []Fact{CreatinineDate}
	case len(list) == 0:
		return []Fact{Creatinine}
	case len(list) == 1:
		return []Fact{EarlierCreatinine}
	}
	return nil
}

// mayNeedKidneys: false only where a source says that the kidneys change
// nothing and the drug does not harm them.
func mayNeedKidneys(f Facts) bool { return renallyDosed(f) || f.drug().Is("nephrotoxic") }

// onReplacement: row c5. On dialysis no equation of clearance holds, and a
// dose is timed to the sessions. An order that says so is not asked again.
func onReplacement(f Facts) []finding.Finding {
	if !kidneysMatter(f) || timedToSessions(f.order()) {
		return nil
	}
	for _, c := range f.kase().Conditions {
		if onDialysis(Facts{}.With(Case, order.Case{Conditions: []order.Concept{c}})) {
			place := c.Place
			if place.Expression == "" {
				place = f.kase().Patient.Place
			}
			return here(place, "on dialysis, by a condition on record", "the kidney specialist's dose and its time before or after the sessions; no clearance by Cockcroft and Gault counts")
		}
	}
	return nil
}

var (
	sessionWords = append([]string{"session", "sessions"}, dialysisWords...)
	timingWords  = []string{"after", "following", "during", "before", "at", "post", "each", "every"}
)

// timedToSessions: words of the directions set the dose beside a session.
func timedToSessions(o order.Order) bool {
	var texts []string
	for _, d := range o.Directions {
		texts = append(texts, d.Text)
	}
	for _, l := range o.Lines {
		if l.Kind == "dosage-text" || l.Kind == "patient-instruction" {
			texts = append(texts, l.Words)
		}
	}
	return slices.ContainsFunc(texts, func(text string) bool {
		return slices.ContainsFunc(strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return strings.ContainsRune(".;\n", r) }), func(clause string) bool {
			words := wordsOf(clause)
			if slices.ContainsFunc(words, func(w string) bool { return slices.Contains(refusing, w) }) {
				return false
			}
			for i, w := range words { // "after each session", "following dialysis"
				near := words[max(0, i-2):i]
				if slices.Contains(sessionWords, w) && slices.ContainsFunc(near, func(n string) bool { return slices.Contains(timingWords, n) }) {
					return true
				}
			}
			return false
		})
	})
}

// replacementUnknown: on dialysis, and the table says nothing of the kidneys.
func replacementUnknown(f Facts) []Fact {
	if onDialysis(f) && !kidneysMatter(f) {
		return []Fact{TableLimit}
	}
	return nil
}
