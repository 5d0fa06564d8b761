package compendium_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/compendium"
)

// USP's notices: closed transfer is required for giving an antineoplastic of
// Table 1 of the current list; for the rest the site's assessment decides.
// Tables: NIOSH 2024 (2025-103); removals: 89 FR 104163 and others named in
// the rows.
func TestClosedTransferFollowsTableAndClass(t *testing.T) {
	for _, c := range []struct{ says, code, name, listed, table, antineoplastic, closed string }{
		{"antineoplastic of Table 1", "", "fluorouracil", "yes", "1", "yes", "required"},
		{"the same by its code", fluorouracil, "", "yes", "1", "yes", "required"},
		{"the same by a synonym of the drug table", "", "5-Fluorouracil", "yes", "1", "yes", "required"},
		{"Table 1, an antiviral", "", "ganciclovir", "yes", "1", "no", "by-policy"},
		{"Table 1, an antiviral by its code", ganciclovir, "", "yes", "1", "no", "by-policy"},
		{"Table 1, an antiviral", "", "cidofovir", "yes", "1", "no", "by-policy"},
		{"Table 1, an antibacterial", "", "chloramphenicol", "yes", "1", "no", "by-policy"},
		{"Table 1, an immunosuppressant", "", "cyclosporine", "yes", "1", "no", "by-policy"},
		{"Table 1, an immunosuppressant", "", "mycophenolate mofetil", "yes", "1", "no", "by-policy"},
		{"Table 1, a protective agent", "", "dexrazoxane", "yes", "1", "no", "by-policy"},
		{"Table 2, an antifungal", "", "fluconazole", "yes", "2", "no", "by-policy"},
		{"Table 2, an antifungal", "", "voriconazole", "yes", "2", "no", "by-policy"},
		{"Table 2, for bones", "", "zoledronic acid", "yes", "2", "no", "by-policy"},
		{"Table 2, an oxytocic", "", "oxytocin", "yes", "2", "no", "by-policy"},
		{"Table 2, an antiretroviral", "", "zidovudine", "yes", "2", "no", "by-policy"},
		{"Table 2 and antineoplastic: not of Table 1", "", "fulvestrant", "yes", "2", "yes", "by-policy"},
		{"Table 2 and antineoplastic by class", "", "leuprolide", "yes", "2", "yes", "by-policy"},
		{"sources disagree about the table", "", "estradiol", "yes", "unknown", "no", "by-policy"},
		{"removed in 2024, still antineoplastic by its class", "", "pertuzumab", "no", "", "yes", "no"},
		{"removed in 2024", "", "risperidone", "no", "", "no", "no"},
		{"remembered as not listed: nobody assessed it", "", "pentamidine", "unassessed", "", "unknown", "unassessed"},
		{"looked for by a reviewer and not found", "", "cefazolin", "no", "", "no", "no"},
		{"the same by its code", cefazolin, "", "no", "", "no", "no"},
		{"a name nobody assessed", "", "thiamine", "unassessed", "", "unknown", "unassessed"},
		{"a near miss of a listed drug", "", "fluorouracilum", "unassessed", "", "unknown", "unassessed"},
		{"a near miss of a reviewed drug", "", "cefazolinum", "unassessed", "", "unknown", "unassessed"},
		{"a code nobody knows", "999999999", "", "unassessed", "", "unknown", "unassessed"},
		{"nothing at all", "", "", "unassessed", "", "unknown", "unassessed"},
		{"case and blanks", "", "  FLUOROURACIL ", "yes", "1", "yes", "required"},
		{"a safe code with a listed name: the listed one counts", cefazolin, "ganciclovir", "yes", "1", "no", "by-policy"},
		{"a listed code with a safe name: the listed one counts", fluorouracil, "cefazolin", "yes", "1", "yes", "required"},
		{"two drugs that disagree, one of them listed", cefazolin, "fluorouracil", "yes", "1", "yes", "required"},
	} {
		l := compendium.Embedded().Hazard(compendium.Named(c.code, c.name))
		assert.Equal(t, [4]string{c.listed, c.table, c.antineoplastic, c.closed}, [4]string{l.Listed, l.Table, l.Antineoplastic, l.ClosedTransfer}, "%s: %s %s", c.says, c.code, c.name)
		assert.Contains(t, l.Edition, "NIOSH 2024", c.says)
		switch {
		case l.Listed == "unassessed":
			assert.Contains(t, l.Says, `it is not "not hazardous"`, c.says)
		case l.Table == "unknown":
			assert.Contains(t, l.Says, "handled as hazardous", c.says)
		}
		if l.Listed != "unassessed" {
			assert.NotEmpty(t, l.Standing, c.says)
			assert.NotEmpty(t, l.Source, c.says)
		}
	}
}

// Every row of the table, by the rule and not by name.
func TestEveryRowOfTheListIsAnsweredByItsTableAndClass(t *testing.T) {
	tables := compendium.Embedded()
	for _, row := range tables.Hazards {
		l := tables.Hazard(compendium.Named("", row.Name))
		if row.Table == "none" {
			want := map[bool]string{true: "unassessed", false: "no"}[row.Standing == compendium.Memory]
			assert.Equal(t, want, l.Listed, row.Name)
			continue
		}
		assert.Equal(t, "yes", l.Listed, row.Name)
		assert.Equal(t, row.Table, l.Table, row.Name)
		want := "by-policy"
		if row.Table == "1" && strings.Contains(strings.ToLower(row.Class), "antineoplastic") {
			want = "required"
		}
		assert.Equal(t, want, l.ClosedTransfer, row.Name)
		if row.RxNorm != "" {
			assert.Equal(t, l, tables.Hazard(compendium.Named(row.RxNorm)), "%s by its code", row.Name)
		}
	}
}

// The counts are those of the reference list the file was made from.
func TestTheListHasTheRowsOfItsEdition(t *testing.T) {
	byTable, byStanding := map[string]int{}, map[string]int{}
	for _, row := range compendium.Embedded().Hazards {
		byTable[row.Table]++
		byStanding[row.Standing]++
	}
	t.Logf("%d rows: %v; by standing %v", len(compendium.Embedded().Hazards), byTable, byStanding)
	assert.Len(t, compendium.Embedded().Hazards, 245)
	assert.Equal(t, map[string]int{"1": 108, "2": 128, "none": 7, "unknown": 2}, byTable)
	assert.Equal(t, map[string]int{"sourced": 46, "corroborated": 169, "memory": 30}, byStanding)
}

// Federally listed wastes among the rows: 40 CFR 261.33 as in the slides of
// EPA Region 2. Fluorouracil and ganciclovir are not among them.
func TestListedWastesCarryTheirCode(t *testing.T) {
	tables := compendium.Embedded()
	for name, code := range map[string]string{"arsenic trioxide": "P012", "mitomycin": "U010", "chlorambucil": "U035", "melphalan": "U150", "cyclophosphamide": "U058",
		"daunorubicin": "U059", "diethylstilbestrol": "U089", "streptozocin": "U206", "fluorouracil": "", "ganciclovir": ""} {
		assert.Equal(t, code, tables.Hazard(compendium.Named("", name)).Waste, name)
	}
	n := 0
	for _, row := range tables.Hazards {
		if row.Waste != "" {
			n++
		}
	}
	assert.Equal(t, 8, n)
}
