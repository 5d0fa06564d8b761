package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/finding"
)

// everyday are usual orders of adults of 70 kg, 68 of whom are ideal, with
// kidneys that work: drug, dose, unit and hours, and what the order says by
// weight. Common practice, no source, beside the labels of the table.
var everyday = []struct{ drug, dose, unit, hours, perKg string }{
	{"acyclovir", "350", "mg", "8", "5"}, {"acyclovir", "700", "mg", "8", "10"}, {"amikacin", "1050", "mg", "24", "15"}, {"amikacin", "525", "mg", "12", "7.5"},
	{"amphotericin b liposomal", "200", "mg", "24", "3"}, {"amphotericin b liposomal", "350", "mg", "24", "5"}, {"ampicillin", "2", "g", "4", ""},
	{"ampicillin", "1", "g", "6", ""}, {"ampicillin-sulbactam", "3", "g", "6", ""}, {"ampicillin-sulbactam", "1.5", "g", "6", ""}, {"anidulafungin", "100", "mg", "24", ""},
	{"anidulafungin", "200", "mg", "24", ""}, {"aztreonam", "2", "g", "8", ""}, {"caspofungin", "50", "mg", "24", ""}, {"caspofungin", "70", "mg", "24", ""},
	{"cefazolin", "2", "g", "8", ""}, {"cefazolin", "1", "g", "8", ""}, {"cefazolin", "6", "g", "24", ""}, {"cefepime", "2", "g", "8", ""}, {"cefepime", "1", "g", "12", ""},
	{"cefoxitin", "2", "g", "6", ""}, {"ceftaroline fosamil", "600", "mg", "12", ""}, {"ceftaroline fosamil", "600", "mg", "8", ""}, {"ceftazidime", "2", "g", "8", ""},
	{"ceftazidime", "1", "g", "8", ""}, {"ceftriaxone", "2", "g", "24", ""}, {"ceftriaxone", "1", "g", "24", ""}, {"ceftriaxone", "2", "g", "12", ""},
	{"cidofovir", "350", "mg", "168", "5"}, {"clindamycin", "600", "mg", "8", ""}, {"clindamycin", "900", "mg", "8", ""}, {"dalbavancin", "1500", "mg", "168", ""},
	{"dalbavancin", "1000", "mg", "168", ""}, {"dalbavancin", "500", "mg", "168", ""}, {"daptomycin", "420", "mg", "24", "6"}, {"daptomycin", "550", "mg", "24", "8"},
	{"daptomycin", "700", "mg", "24", "10"}, {"daptomycin", "280", "mg", "24", "4"}, {"doxycycline", "100", "mg", "12", ""}, {"ertapenem", "1", "g", "24", ""},
	{"fluconazole", "400", "mg", "24", ""}, {"fluconazole", "200", "mg", "24", ""}, {"fluconazole", "800", "mg", "24", ""}, {"foscarnet", "6300", "mg", "12", "90"},
	{"foscarnet", "6300", "mg", "24", "90"}, {"ganciclovir", "350", "mg", "12", "5"}, {"ganciclovir", "350", "mg", "24", "5"}, {"gentamicin", "80", "mg", "8", ""},
	{"gentamicin", "350", "mg", "24", "5"}, {"gentamicin", "500", "mg", "24", "7"}, {"imipenem-cilastatin", "500", "mg", "6", ""}, {"infliximab", "350", "mg", "1344", "5"},
	{"infliximab", "400", "mg", "1344", ""}, {"iron sucrose", "200", "mg", "72", ""}, {"iron sucrose", "100", "mg", "48", ""}, {"iron sucrose", "300", "mg", "336", ""},
	{"ketorolac", "15", "mg", "6", ""}, {"ketorolac", "30", "mg", "6", ""}, {"linezolid", "600", "mg", "12", ""}, {"magnesium sulfate", "2", "g", "24", ""},
	{"meropenem", "1", "g", "8", ""}, {"meropenem", "2", "g", "8", ""}, {"meropenem", "500", "mg", "6", ""}, {"methylprednisolone sodium succinate", "1", "g", "24", ""},
	{"methylprednisolone sodium succinate", "40", "mg", "24", ""}, {"metronidazole", "500", "mg", "8", ""}, {"metronidazole", "1", "g", "24", ""},
	{"micafungin", "100", "mg", "24", ""}, {"micafungin", "150", "mg", "24", ""}, {"micafungin", "50", "mg", "24", ""}, {"nafcillin", "2", "g", "4", ""}, {"nafcillin", "12", "g", "24", ""},
	{"ondansetron", "8", "mg", "8", ""}, {"ondansetron", "4", "mg", "8", ""}, {"ondansetron", "16", "mg", "24", ""}, {"oxacillin", "2", "g", "4", ""}, {"pantoprazole", "40", "mg", "24", ""},
	{"pantoprazole", "40", "mg", "12", ""}, {"penicillin g potassium", "4", "10*6.[USP'U]", "4", ""}, {"penicillin g potassium", "24", "10*6.[USP'U]", "24", ""},
	{"piperacillin-tazobactam", "3.375", "g", "6", ""}, {"piperacillin-tazobactam", "4.5", "g", "8", ""}, {"piperacillin-tazobactam", "3.375", "g", "8", ""},
	{"telavancin", "700", "mg", "24", "10"}, {"tigecycline", "50", "mg", "12", ""}, {"tigecycline", "100", "mg", "24", ""}, {"tobramycin", "80", "mg", "8", ""},
	{"tobramycin", "500", "mg", "24", "7"}, {"vancomycin", "1", "g", "12", ""}, {"vancomycin", "1250", "mg", "12", ""}, {"vancomycin", "1750", "mg", "24", ""},
	{"vancomycin", "750", "mg", "12", ""}, {"vancomycin", "500", "mg", "6", ""}, {"vancomycin", "1500", "mg", "12", ""}, {"voriconazole", "280", "mg", "12", "4"}, {"voriconazole", "400", "mg", "12", "6"},
	{"furosemide", "40", "mg", "12", ""}, {"furosemide", "20", "mg", "24", ""}, {"furosemide", "80", "mg", "12", ""}, {"immune globulin intravenous (human)", "30", "g", "672", ""},
	{"immune globulin intravenous (human)", "70", "g", "504", ""}, {"immune globulin intravenous (human)", "25", "g", "672", ""}, {"deferoxamine", "2", "g", "24", ""},
}

var quietCodes = []finding.Code{singleRule, lowRule, choiceRule, "dose-rounding", injuryRule, replacementRule}

// An alarm that is mostly false is not read. Usual orders raise none of these
// rules, and lack nothing that the hospital would have to send.
func TestUsualOrdersRaiseNoDoseRule(t *testing.T) {
	drugs := map[string]bool{}
	for _, x := range everyday {
		w := base()
		list := []string{"dose", x.dose, x.unit, "interval", x.hours, "h", "dosingWeight", "70", "kg"}
		if x.perKg != "" {
			list = append(list, "dosePerKg", x.perKg, "mg/kg")
		}
		if x.hours == "24" && x.dose[0] != '0' && (x.dose == "12" || x.dose == "24" || x.dose == "6") { // runs all day
			list = append(list, "duration", "24", "h")
		}
		figures(list...)(w)
		withNumbers("idealBodyWeight", "68", "kg", "creatinineClearance", "95", "mL/min", "bodySurfaceArea", "1.8", "m2")(w)
		w.drug = rowNamed(t, x.drug)
		w.order.Drug.Name = w.drug.Name
		results("0.9", "24", "0.8", "60", "0.9", "400")(w)
		drugs[w.drug.Name] = true
		for _, code := range quietCodes {
			r := ruleOf(t, code)
			o := Run([]Rule{r}, w.facts(), "release")[0]
			for _, f := range append(o.Findings, o.Due...) {
				t.Errorf("%s %s %s every %s h: %s: %s, %s", x.drug, x.dose, x.unit, x.hours, code, f.Observed, f.Expected)
			}
			for _, m := range o.Missing {
				assert.True(t, m.Ours(), "%s %s: %s asks for %s", x.drug, x.dose, code, m)
			}
		}
	}
	assert.GreaterOrEqual(t, len(drugs), 45)
	t.Logf("%d orders of %d drugs", len(everyday), len(drugs))
}

// They are also orders that the rules see: a tenth of them is found.
func TestATenthOfAUsualOrderIsFoundLow(t *testing.T) {
	found, drugs := 0, map[string]bool{}
	for _, x := range everyday {
		w := base()
		figures("dose", settled(x.dose, x.unit).Value.Mul(settled("0.1", "1").Value).Decimal(), x.unit, "interval", x.hours, "h", "dosingWeight", "70", "kg")(w)
		withNumbers("idealBodyWeight", "68", "kg", "creatinineClearance", "120", "mL/min", "bodySurfaceArea", "1.8", "m2")(w)
		w.drug = rowNamed(t, x.drug)
		w.order.Drug.Name = w.drug.Name
		if o := Run([]Rule{ruleOf(t, lowRule)}, w.facts(), "release")[0]; o.Kind == Found {
			found++
			drugs[w.drug.Name] = true
		} else {
			t.Logf("%s %s %s: %s, missing %v", x.drug, x.dose, x.unit, o.Kind, o.Missing)
		}
	}
	t.Logf("%d of %d orders found, of %d drugs", found, len(everyday), len(drugs))
	assert.GreaterOrEqual(t, len(drugs), 40)
}
