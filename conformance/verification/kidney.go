package verification

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/finding"
)

// renallyDosed: false only where a source says that the kidneys change
// nothing. A drug without an entry is not checked, never "not applicable".
func renallyDosed(f Facts) bool {
	noChange := false
	for _, fact := range f.drug().About("renal_dose_adjustment", population(f)) {
		if len(fact.Value.Bands) > 0 && fact.Gates {
			return true
		}
		noChange = noChange || fact.Value.NoChange
	}
	return !noChange
}

// renalTables are the tables of bands that hold for the order, and those that
// may: more than one where the regimen with normal kidneys is not told.
func renalTables(f Facts) (yes, unsure []limit) {
	yes, unsure = limits(f, "renal_dose_adjustment", population(f))
	without := func(l limit) bool { return len(l.Value.Bands) == 0 }
	return slices.DeleteFunc(yes, without), slices.DeleteFunc(unsure, without)
}

// answer is what one table says of the order: nothing, what it asks for, or
// what could not be compared.
type answer struct {
	table   limit
	shown   string // the clearance that asks
	asks    string
	top     bool // its highest band asks: the usual dose, with kidneys that work
	missing []Fact
}

func renal(f Facts) []finding.Finding { found, _ := kidneys(f); return found }
func renalUnknown(f Facts) []Fact     { _, missing := kidneys(f); return missing }

// kidneys compares the order with every table of the drug. One that holds is
// to be kept to. Of those that may hold, an order that keeps to none is found,
// with what each would ask; where it keeps to some, the regimen is asked for:
// nobody can tell which of them holds. With kidneys that work there is nothing
// to ask: it keeps to one of the usual doses.
func kidneys(f Facts) ([]finding.Finding, []Fact) {
	yes, unsure := renalTables(f)
	switch {
	case onDialysis(f):
		return nil, []Fact{Dialysis}
	case len(yes)+len(unsure) == 0:
		return nil, []Fact{TableLimit}
	case !f.Has(Creatinine):
		return nil, []Fact{Creatinine}
	}
	hold, asked := answers(f, yes)
	if len(asked) > 0 {
		return adjust(f, asked), nil
	}
	may, asked := answers(f, unsure)
	if len(hold)+len(may) == 0 {
		return adjust(f, asked), nil
	}
	var missing []Fact
	for _, a := range append(hold, may...) {
		missing = append(missing, a.missing...)
	}
	if slices.ContainsFunc(asked, func(a answer) bool { return !a.top }) {
		missing = append(missing, usual(unsure)...)
	}
	return nil, unique(missing)
}

// answers are those of the tables that ask for nothing, and those that do.
func answers(f Facts, tables []limit) (quiet, asking []answer) {
	for _, t := range tables {
		if a := answerOf(f, t); a.asks == "" {
			quiet = append(quiet, a)
		} else {
			asking = append(asking, a)
		}
	}
	return quiet, asking
}

// answerOf compares the order with one table, at every clearance the patient
// may be judged by, the lowest first: the stricter outcome counts.
func answerOf(f Facts, t limit) answer {
	a := answer{table: t}
	list, missing := clearances(f, t.Value.Clearance)
	if missing != "" {
		a.missing = []Fact{missing}
		return a
	}
	for _, c := range list {
		next := atClearance(f, t, c)
		switch {
		case next.asks == "":
			a.missing = append(a.missing, next.missing...)
		case c.doubt != "":
			a.missing = append(a.missing, c.doubt)
		default:
			return next
		}
	}
	return a
}

// atClearance compares the order with the band of a clearance. Above a table
// nothing changes only where its source says so; the highest band is the
// usual dose, so an order within a daily limit that holds need not keep to it.
func atClearance(f Facts, t limit, c clearance) answer {
	bands, out := t.Value.Bands, answer{table: t, shown: "creatinine clearance " + c.shown()}
	if beyond(bands, c.value) {
		if !t.Value.NoChangeAbove {
			out.missing = []Fact{TableLimit}
		}
		return out
	}
	band, ok := bandFor(bands, c.value)
	if !ok { // the table stops above it: the worst kidneys are the last to pass
		out.shown += ", below every band of the drug table"
		out.asks = "a dose and an interval that the prescriber states for this clearance"
		return out
	}
	out.top = highest(bands, band)
	list, missing := against(f, band, out.top)
	if out.top {
		if len(dailyMaximum(f)) == 0 && len(noDailyLimit(f)) == 0 {
			return out
		}
		out.shown += ", in the highest band of the drug table: what it gives is the usual dose"
	}
	out.asks, out.missing = strings.Join(list, ", "), missing
	return out
}

// usual are the facts that would tell which of several tables holds.
func usual(tables []limit) []Fact {
	var words []string
	var out []Fact
	for _, t := range tables {
		if says := t.regimen(); says != "" {
			words = append(words, says)
			continue
		}
		out = append(out, t.hangsOn()...)
	}
	if len(words) > 0 {
		out = append(out, regimen(strings.Join(words, "; or ")))
	}
	return out
}

// adjust is the finding of the tables that ask for something.
func adjust(f Facts, list []answer) []finding.Finding {
	var advice, standings []string
	gates := false
	for _, a := range list {
		asks := a.asks
		if words := a.table.regimen(); len(list) > 1 && words != "" {
			asks += " (" + words + ")"
		}
		advice, standings = append(advice, asks), append(standings, a.table.Standing)
		gates = gates || a.table.Gates
	}
	out := here(f.creatinine().Place, list[0].shown, strings.Join(advice, "; or "))
	out[0].Standing = weakest(standings)
	if !gates {
		out[0].Detail = LoosenedDetail
	}
	return out
}

// kidneysMatter: the row says that the dose hangs on the kidneys, or that
// the drug can harm them.
func kidneysMatter(f Facts) bool {
	for _, fact := range f.drug().About("renal_dose_adjustment", population(f)) {
		if !fact.Value.NoChange {
			return true
		}
	}
	return f.drug().Is("nephrotoxic")
}

func renalStale(f Facts) []finding.Finding {
	m := f.creatinine()
	fresh := fmt.Sprintf("a creatinine not older than %d days at the first release", f.policy().Dose.CreatinineDays)
	switch {
	case !f.Has(Creatinine):
		return here(f.kase().Patient.Place, "no creatinine on record", fresh)
	case m.At.Time.IsZero():
		return here(m.Place, "a creatinine without a date", fresh)
	}
	days := int(f.now().Sub(m.At.Time).Hours()) / 24
	if days <= f.policy().Dose.CreatinineDays {
		return nil
	}
	return here(m.Place, fmt.Sprintf("creatinine %d days old", days), fresh)
}
