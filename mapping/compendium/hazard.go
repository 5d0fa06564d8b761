package compendium

import (
	"slices"
	"strings"
)

// Hazard is one row of the hazardous-drug list. Rows with table "none" are
// names that were looked at and are not listed (removed or never added).
type Hazard struct {
	Name, Table, ManufacturerHandling, Class, ReproductiveOnly string
	RxNorm, ATC, Standing, Source                              string
	// Waste is the code of a federally listed waste (40 CFR 261.33, as in the
	// slides of EPA Region 2), "" where the drug is not listed there. States
	// may be stricter.
	Waste string
}

// Listing is the answer for one drug.
type Listing struct {
	Listed         string // yes no unassessed
	Table          string // 1, 2, unknown; "" when not listed
	Antineoplastic string // yes no unknown
	Edition        string
	Standing       string
	Source         string
	ClosedTransfer string // required by-policy no unassessed
	Waste          string // code of federally listed waste, or ""
	Says           string
}

// Antineoplastic reports whether the row's class is an antineoplastic one.
func (h Hazard) Antineoplastic() bool {
	return strings.Contains(strings.ToLower(h.Class), "antineoplastic")
}

const notSafe = `: a pharmacist assesses it; it is not "not hazardous"`

// Hazard assesses a drug by each of its codes, names and ingredients; the
// strictest row counts. Absence from the list is never "not hazardous": only
// a reviewed row in the drug table says no, and only for a drug that was on
// the market when the list's review ended.
//
// Closed transfer follows USP <800> as restated by its publisher's notices:
// required for giving an antineoplastic of Table 1 where the dosage form
// allows (an infusion does); for every other listed drug the site's signed
// assessment of risk decides.
func (t *Tables) Hazard(a Asked) Listing {
	rows := t.hazardRows(a)
	for _, row := range rows {
		if row.Table != "none" {
			return t.listed(row)
		}
	}
	drug, why := t.Find(a)
	if why == "" {
		if i, ok := t.notAssessed(drug, a); ok {
			return t.unassessed("it holds "+i.String()+", which is in neither the hazardous list nor the reviewed drug table"+notSafe, "", "")
		}
	}
	switch {
	case why == "" && drug.Hazard != nil && drug.Hazard.Listed == "no" && drug.Hazard.ApprovedBy > t.ReviewedUntil:
		return t.unassessed("newer than the review behind the list, which ends with "+t.ReviewedUntil+notSafe, drug.Hazard.Standing, drug.Hazard.Reason)
	case why == "" && drug.Hazard != nil && drug.Hazard.Listed == "no":
		l := Listing{Listed: "no", Antineoplastic: antineoplastic(drug), Edition: drug.Hazard.Edition,
			Standing: drug.Hazard.Standing, Source: drug.Hazard.Reason, ClosedTransfer: "no"}
		if drug.Hazard.Reviewer == "" {
			l.Says = "the review is this program's; a pharmacist confirms it by signing the table of drugs"
		}
		return l
	case len(rows) > 0 && rows[0].Standing == Memory:
		// A memory may add a safeguard and never takes one away.
		return t.unassessed("remembered as not listed, and no source was read"+notSafe, rows[0].Standing, rows[0].Source)
	case len(rows) > 0 && t.only(a, rows[0]):
		l := Listing{Listed: "no", Antineoplastic: "no", Edition: t.HazardEdition, Standing: rows[0].Standing,
			Source: rows[0].Source, ClosedTransfer: "no"}
		if rows[0].Antineoplastic() {
			l.Antineoplastic = "yes"
		}
		return l
	}
	return t.unassessed("in neither the hazardous list nor the reviewed drug table"+notSafe, "", "")
}

// notAssessed is the first ingredient of a mixture that neither its own row
// nor the row of the mixture answers for.
func (t *Tables) notAssessed(d Drug, a Asked) (Item, bool) {
	if len(d.Mixture) == 0 {
		return Item{}, false
	}
	for _, i := range t.actives(a) {
		belongs := slices.ContainsFunc(d.Mixture, i.is) || len(i.Names) > 0 && !slices.ContainsFunc(i.Names, func(n string) bool {
			return !slices.ContainsFunc(d.Additives, func(own string) bool { return phrase(own) == phrase(n) })
		})
		if !belongs && t.Hazard(Asked{Item: i}).Listed != "no" {
			return i, true
		}
	}
	return Item{}, false
}

// only reports whether every name of the order is that of the row and there
// is no other active ingredient: a name that was taken from the list says
// nothing about what stands beside it.
func (t *Tables) only(a Asked, row Hazard) bool {
	items := append([]Item{a.Item}, t.actives(a)...)
	return len(items) < 3 && !slices.ContainsFunc(items, func(i Item) bool {
		return slices.ContainsFunc(i.Names, func(n string) bool { return substance(n) != phrase(row.Name) })
	})
}

func (t *Tables) listed(row Hazard) Listing {
	l := Listing{Listed: "yes", Table: row.Table, Antineoplastic: "no", Edition: t.HazardEdition,
		Standing: row.Standing, Source: row.Source, ClosedTransfer: "by-policy", Waste: row.Waste}
	if row.Antineoplastic() {
		l.Antineoplastic = "yes"
	}
	switch {
	case row.Table == "1" && row.Antineoplastic():
		l.ClosedTransfer = "required"
	case row.Table == "unknown":
		l.Says = "sources disagree about the table: handled as hazardous until a pharmacist has read the list"
	}
	return l
}

func (t *Tables) unassessed(says, standing, source string) Listing {
	return Listing{Listed: "unassessed", Antineoplastic: "unknown", Edition: t.HazardEdition, Standing: standing, Source: source,
		ClosedTransfer: "unassessed", Says: says}
}

func antineoplastic(d Drug) string {
	if d.Is("antineoplastic") {
		return "yes"
	}
	return "no"
}

// severity orders rows: the one that asks for most comes first.
func (h Hazard) severity() int {
	switch {
	case h.Table == "1" && h.Antineoplastic():
		return 0
	case h.Table == "1":
		return 1
	case h.Table == "unknown":
		return 2
	case h.Table == "2":
		return 3
	case h.Standing == Memory:
		return 4
	}
	return 5
}

// hazardRows are the rows of the list that any code, name or ingredient
// points at, the strictest first. Ingredients called inactive count, and so
// does a listed name inside a longer text: "methotrexate sodium".
func (t *Tables) hazardRows(a Asked) []Hazard {
	var at []int
	for _, item := range slices.Concat([]Item{a.Item}, a.Ingredients, a.Inactive) {
		at = append(at, t.hazardsOf(item)...)
	}
	at = once(at)
	out := make([]Hazard, 0, len(at))
	for _, i := range at {
		out = append(out, t.Hazards[i])
	}
	slices.SortStableFunc(out, func(x, y Hazard) int { return x.severity() - y.severity() })
	return out
}

// hazardsOf are the rows that one item points at, by its codes, its names,
// and the names of the drug row it points at.
func (t *Tables) hazardsOf(i Item) []int {
	var at []int
	for _, c := range i.RxNorm {
		if row, ok := t.hazardByCode[c]; ok {
			at = append(at, row)
		}
	}
	for _, c := range i.ATC {
		at = append(at, t.hazardByATC[c]...)
	}
	names := slices.Clone(i.Names)
	rows, _ := t.rows(i)
	for _, r := range rows { // what the drug's row is called, the list may call too
		names = append(names, t.Drugs[r].names()...)
	}
	for _, n := range names {
		if row, ok := t.hazardByName[Fold(n)]; ok {
			at = append(at, row)
		}
		for _, p := range phrasesIn(n, t.hazardPhrases) {
			at = append(at, t.hazardPhrases[p])
		}
	}
	return at
}
