package verification

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// rowNamed is the row of the embedded tables.
func rowNamed(t testing.TB, name string) compendium.Drug {
	d, why := compendium.Embedded().Find(compendium.Named("", name))
	require.Empty(t, why, name)
	return d
}

// usualOrders are one correct order as it is written every day: drug, dose, volume
// in mL, minutes, device ("" for a pump, a nominal rate in mL/h for a
// fixed-flow device, "push" for a push) and line. Doses, volumes and times
// are common practice, no source, beside the labels of the table.
var usualOrders = []struct {
	drug, dose, unit, volume, minutes, device, line string
}{
	{"cefazolin", "2", "g", "100", "30", "200", "picc"},
	{"cefazolin", "2", "g", "20", "5", "push", "picc"},
	{"cefazolin", "1", "g", "50", "30", "100", "midline"},
	{"ceftriaxone", "2", "g", "100", "30", "200", "picc"},
	{"ceftriaxone", "1", "g", "50", "30", "100", "midline"},
	{"cefepime", "2", "g", "100", "30", "200", "picc"},
	{"cefoxitin", "2", "g", "100", "30", "200", "picc"},
	{"ceftazidime", "2", "g", "100", "30", "200", "picc"},
	{"ceftaroline fosamil", "600", "mg", "250", "60", "250", "picc"},
	{"ampicillin", "2", "g", "100", "30", "200", "picc"},
	{"ampicillin-sulbactam", "3", "g", "100", "30", "200", "picc"},
	{"nafcillin", "2", "g", "100", "60", "100", "picc"},
	{"oxacillin", "2", "g", "100", "60", "100", "picc"},
	{"piperacillin-tazobactam", "3.375", "g", "100", "30", "200", "picc"},
	{"piperacillin-tazobactam", "4.5", "g", "100", "240", "", "picc"},
	{"ertapenem", "1", "g", "50", "30", "100", "midline"},
	{"meropenem", "1", "g", "100", "30", "200", "picc"},
	{"meropenem", "1", "g", "20", "5", "push", "picc"},
	{"imipenem-cilastatin", "500", "mg", "100", "30", "200", "picc"},
	{"aztreonam", "2", "g", "100", "60", "100", "picc"},
	{"vancomycin", "1", "g", "250", "120", "", "picc"},
	{"vancomycin", "1250", "mg", "250", "125", "", "picc"},
	{"vancomycin", "1250", "mg", "250", "150", "100", "picc"},
	{"vancomycin", "750", "mg", "150", "90", "100", "picc"},
	{"vancomycin", "500", "mg", "100", "60", "100", "midline"},
	{"daptomycin", "500", "mg", "50", "30", "100", "picc"},
	{"daptomycin", "500", "mg", "10", "2", "push", "picc"},
	{"dalbavancin", "1500", "mg", "500", "30", "", "peripheral"},
	{"telavancin", "750", "mg", "250", "60", "250", "picc"},
	{"linezolid", "600", "mg", "300", "60", "", "picc"},
	{"clindamycin", "900", "mg", "50", "30", "", "midline"},
	{"clindamycin", "600", "mg", "50", "30", "100", "midline"},
	{"metronidazole", "500", "mg", "100", "60", "100", "picc"},
	{"doxycycline", "100", "mg", "250", "60", "250", "picc"},
	{"tigecycline", "50", "mg", "100", "60", "100", "picc"},
	{"gentamicin", "80", "mg", "50", "30", "100", "picc"},
	{"gentamicin", "400", "mg", "100", "60", "100", "picc"},
	{"tobramycin", "400", "mg", "100", "60", "100", "picc"},
	{"amikacin", "1", "g", "100", "60", "100", "picc"},
	{"fluconazole", "400", "mg", "200", "120", "", "picc"},
	{"fluconazole", "200", "mg", "100", "60", "", "picc"},
	{"micafungin", "100", "mg", "100", "60", "100", "picc"},
	{"micafungin", "150", "mg", "100", "60", "100", "midline"},
	{"caspofungin", "50", "mg", "250", "60", "250", "picc"},
	{"anidulafungin", "100", "mg", "130", "90", "", "picc"},
	{"anidulafungin", "200", "mg", "260", "180", "", "picc"},
	{"amphotericin b liposomal", "350", "mg", "250", "120", "", "picc"},
	{"voriconazole", "280", "mg", "100", "120", "", "picc"},
	{"voriconazole", "420", "mg", "100", "120", "", "picc"},
	{"acyclovir", "700", "mg", "100", "60", "100", "picc"},
	{"ganciclovir", "350", "mg", "100", "60", "100", "picc"},
	{"foscarnet", "6300", "mg", "525", "90", "", "midline"},
	{"furosemide", "40", "mg", "4", "2", "push", "peripheral"},
	{"pantoprazole", "40", "mg", "100", "15", "", "peripheral"},
	{"pantoprazole", "40", "mg", "10", "2", "push", "peripheral"},
	{"ondansetron", "8", "mg", "50", "15", "", "peripheral"},
	{"ketorolac", "15", "mg", "1", "1", "push", "peripheral"},
	{"iron sucrose", "200", "mg", "100", "30", "", "peripheral"},
	{"iron sucrose", "300", "mg", "250", "90", "", "peripheral"},
	{"infliximab", "350", "mg", "250", "120", "", "peripheral"},
	{"magnesium sulfate", "2", "g", "100", "60", "", "picc"},
	{"methylprednisolone sodium succinate", "1", "g", "100", "60", "", "peripheral"},
	{"potassium chloride", "20", "mmol", "1000", "240", "", "midline"},
	{"sodium chloride 0.9%", "", "", "1000", "240", "", "peripheral"},
	{"fluorouracil", "4390", "mg", "92", "2760", "2", "port"},
}

// usualWorld is the order for an adult of 70 kg.
func usualWorld(t testing.TB, i int) *world {
	x, w := usualOrders[i], base()
	list := []string{"volume", x.volume, "mL", "duration", x.minutes, "min", "dosingWeight", "70", "kg"}
	if x.dose != "" {
		list = append(list, "dose", x.dose, x.unit)
	}
	figures(list...)(w)
	w.drug = rowNamed(t, x.drug)
	w.order.Drug.Name = w.drug.Name
	w.kase.Access[0].Kind = x.line
	switch x.device {
	case "":
		byPump(w)
	case "push":
		push(w)
	default:
		elastomeric(x.device)(w)
	}
	return w
}

// Correct orders of the commonest drugs at their usual doses, volumes and
// times raise none of these rules, and lack nothing that the hospital would
// have to send.
func TestUsualOrdersRaiseNoRateRule(t *testing.T) {
	drugs := map[string]bool{}
	for i, x := range usualOrders {
		w := usualWorld(t, i)
		drugs[w.drug.Name] = true
		for _, code := range rateRules {
			o := Run([]Rule{ruleOf(t, code)}, w.facts(), "release")[0]
			assert.Empty(t, o.Findings, "%s %s %s in %s mL over %s minutes: %s", x.drug, x.dose, x.unit, x.volume, x.minutes, code)
			for _, m := range o.Missing {
				assert.True(t, m.Ours(), "%s: %s asks for %s", x.drug, code, m)
			}
		}
	}
	assert.GreaterOrEqual(t, len(drugs), 40)
	t.Logf("%d orders of %d drugs", len(usualOrders), len(drugs))
}

// They must also be orders that the rules see: ten times as fast, or as
// strong, most of them are found.
func TestTheSameOrdersTenTimesAsFastAreFound(t *testing.T) {
	found, seen := 0, 0
	for i, x := range usualOrders {
		w := usualWorld(t, i)
		d := quantity.MustNumber(x.minutes).Quo(quantity.Int(10))
		for j, s := range w.order.Stated {
			if s.Name == "duration" {
				w.order.Stated[j].Quantity = quantity.Point(d, quantity.MustUnit("min"))
			}
		}
		w.agreement = arithmetic.Reconcile(w.order.Stated, arithmetic.Usual{})
		w.numbers = w.agreement.Quantities
		has := false
		for _, topic := range []string{"infusion_rate_max", "infusion_duration_min"} {
			yes, _ := limits(w.facts(), topic, "adult")
			has = has || slices.ContainsFunc(yes, func(l limit) bool { return !l.Value.Band.Empty() })
		}
		if !has || x.drug == "ketorolac" { // one minute is four times its least time
			continue
		}
		seen++
		for _, code := range []string{rateRule, shortRule} {
			if o := Run([]Rule{ruleOf(t, codeOf(code))}, w.facts(), "release")[0]; o.Kind == Found {
				found++
				break
			}
		}
	}
	assert.Equal(t, seen, found)
	t.Logf("%d of %d found ten times as fast", found, seen)
}

// Every number of the tables that gates one of these rules speaks above it
// and is silent at it, in an order that meets its regimen.
func TestEveryLimitOfTheTablesSpeaksBeyondItself(t *testing.T) {
	tried, drugs := map[string]int{}, map[string]map[string]bool{}
	for _, d := range compendium.Embedded().Drugs {
		for _, x := range d.Facts {
			switch x.Topic {
			case "infusion_rate_max", "infusion_duration_min", "concentration_max", "concentration_max_central":
			default:
				continue
			}
			if !x.Gates || x.Value.Band.Empty() {
				continue
			}
			if drugs[x.Topic] == nil {
				drugs[x.Topic] = map[string]bool{}
			}
			tried[x.Topic]++
			drugs[x.Topic][d.Name] = true
			only := d
			only.Facts = []compendium.Fact{x}
			for _, beyond := range []bool{false, true} {
				w := base()
				meet(t, w, x, beyond)
				w.drug = only
				w.order.Drug.Name = d.Name
				code := map[string]string{"infusion_rate_max": rateRule, "infusion_duration_min": shortRule}[x.Topic]
				if code == "" {
					code = strongRule
				}
				o := Run([]Rule{ruleOf(t, codeOf(code))}, w.facts(), "release")[0]
				assert.Equal(t, beyond, o.Kind == Found, "%s beyond %t: %s, missing %v", x.ID, beyond, o.Kind, o.Missing)
			}
		}
	}
	for topic, n := range tried {
		t.Logf("%s: %d limits of %d drugs", topic, n, len(drugs[topic]))
	}
	assert.GreaterOrEqual(t, len(drugs["infusion_rate_max"]), 14)
	assert.GreaterOrEqual(t, len(drugs["infusion_duration_min"]), 25)
	assert.GreaterOrEqual(t, len(drugs["concentration_max"]), 15)
}

// meet makes an order that meets the first regimen of a limit and lies at it,
// or one part in ten beyond it.
func meet(t testing.TB, w *world, x compendium.Fact, beyond bool) {
	b := x.Value.Band
	at, err := b.Quantity()
	require.NoError(t, err, x.ID)
	name, n := "concentration", at.High
	switch x.Topic {
	case "infusion_duration_min":
		name, n = "duration", at.Low
	case "infusion_rate_max":
		name = "drugRate"
		if bySize(b.Unit) {
			name = "drugRatePerKg"
		}
		if at.Unit.Dimension() == millilitrePerHour.Dimension() {
			name = "rate"
		}
	}
	if beyond && name == "duration" {
		n = n.Mul(quantity.Ratio(10, 11))
	} else if beyond {
		n = n.Mul(quantity.Ratio(11, 10))
	}
	var a compendium.Applies
	if len(x.AppliesTo) > 0 {
		a = x.AppliesTo[0]
	}
	dose := "1"
	unit := "mg"
	if a.Dose != nil {
		q, err := a.Dose.Quantity()
		require.NoError(t, err)
		dose, unit = q.Low.Decimal(), a.Dose.Unit
		if q.Low.Sign() <= 0 {
			dose = q.High.Decimal()
		}
	}
	list := []string{name, n.Decimal(), b.Unit}
	if name == "duration" {
		list = append(list, "dose", dose, unit)
	}
	w.kase.Access[0].Kind = "picc"
	if a.Site == "peripheral" {
		w.kase.Access[0].Kind = "peripheral"
	}
	weight := "70"
	switch x.Population {
	case "pediatric":
		child(w)
		weight = "16"
	case "neonate":
		tenDaysOld(w)
		weight = "3"
	}
	figures(append(list, "dosingWeight", weight, "kg")...)(w)
	if len(a.Indication) > 0 {
		w.order.Indications = []order.Concept{concept(a.Indication[0])}
	}
	switch a.Method {
	case "push":
		push(w)
	case "infusion":
		byPump(w)
	}
}

func codeOf(s string) finding.Code { return finding.Code(s) }

var rateRules = []finding.Code{rateRule, edgeRule, shortRule, pushRule, strongRule, selectedRule, stepRule}
