package compendium

import "strings"

// Hazard is one row of the hazardous-drug list. Rows with table "none" are
// names that were looked at and are not listed (removed or never added).
type Hazard struct {
	Name, Table, ManufacturerHandling, Class, ReproductiveOnly string
	RxNorm, ATC, Standing, Source                              string
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
	Says           string
}

// Antineoplastic reports whether the row's class is an antineoplastic one.
func (h Hazard) Antineoplastic() bool {
	return strings.Contains(strings.ToLower(h.Class), "antineoplastic")
}

// Hazard assesses a drug. Absence from the list is never "not hazardous":
// only a reviewed row in the drug table says no.
//
// Closed transfer follows USP <800> as restated by its publisher's notices:
// required for giving an antineoplastic of Table 1 where the dosage form
// allows (an infusion does); for every other listed drug the site's signed
// assessment of risk decides.
func (t *Tables) Hazard(rxnorm string, names ...string) Listing {
	row, found := t.hazardRow(rxnorm, names...)
	if found && row.Table != "none" {
		l := Listing{Listed: "yes", Table: row.Table, Antineoplastic: "no", Edition: t.HazardEdition,
			Standing: row.Standing, Source: row.Source, ClosedTransfer: "by-policy"}
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
	drug, known := t.Drug(rxnorm, names...)
	switch {
	case known && drug.Hazard != nil && drug.Hazard.Listed == "no":
		return Listing{Listed: "no", Antineoplastic: antineoplastic(drug), Edition: drug.Hazard.Edition,
			Standing: drug.Hazard.Standing, Source: drug.Hazard.Reason, ClosedTransfer: "no"}
	case found && row.Standing == Memory:
		// A memory may add a safeguard and never takes one away.
		return Listing{Listed: "unassessed", Antineoplastic: "unknown", Edition: t.HazardEdition, Standing: row.Standing, Source: row.Source,
			ClosedTransfer: "unassessed", Says: "remembered as not listed, and no source was read: a pharmacist assesses it; it is not \"not hazardous\""}
	case found:
		l := Listing{Listed: "no", Antineoplastic: "no", Edition: t.HazardEdition, Standing: row.Standing,
			Source: row.Source, ClosedTransfer: "no"}
		if row.Antineoplastic() {
			l.Antineoplastic = "yes"
		}
		return l
	}
	return Listing{Listed: "unassessed", Antineoplastic: "unknown", Edition: t.HazardEdition, ClosedTransfer: "unassessed",
		Says: "in neither the hazardous list nor the reviewed drug table: a pharmacist assesses it; it is not \"not hazardous\""}
}

func antineoplastic(d Drug) string {
	if d.Is("antineoplastic") {
		return "yes"
	}
	return "no"
}

func (t *Tables) hazardRow(rxnorm string, names ...string) (Hazard, bool) {
	if i, ok := t.hazardByCode[rxnorm]; ok && rxnorm != "" {
		return t.Hazards[i], true
	}
	if d, ok := t.Drug(rxnorm, names...); ok {
		names = append(names, d.Name)
	}
	for _, n := range names {
		if i, ok := t.hazardByName[Fold(n)]; ok {
			return t.Hazards[i], true
		}
	}
	return Hazard{}, false
}
