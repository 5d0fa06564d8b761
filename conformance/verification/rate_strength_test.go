package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
)

const (
	strongRule   = "rate-concentration-above-maximum"
	selectedRule = "rate-concentration-above-maximum-selected"
)

func strengthMost(value, unit string) compendium.Fact {
	return mostOf("concentration_max", value, unit)
}

// five and the one of ten are vancomycin's (label).
var (
	five    = lowered("hold", strengthMost("5", "mg/mL"))
	tenEach = strengthMost("10", "mg/mL")
)

// strong is a dose in mg in 100 mL.
func strong(dose string) func(*world) { return figures("dose", dose, "mg", "volume", "100", "mL") }

func through(kind string) func(*world) { return func(w *world) { w.kase.Access[0].Kind = kind } }

func at(site string, f compendium.Fact) compendium.Fact {
	return keyed(f, compendium.Applies{Site: site})
}

var centralFour = func() compendium.Fact {
	f := at("central", strengthMost("4", "mg/mL"))
	f.Topic = "concentration_max_central"
	return f
}()

var rateStrengthFixtures = []fixture{
	{rule: strongRule, name: "above", want: Found, says: "7.01 mg per mL", change: both(limitedBy(strengthMost("7", "mg/mL")), strong("701"))},
	{rule: strongRule, name: "at the limit", want: Pass, change: both(limitedBy(strengthMost("7", "mg/mL")), strong("700"))},
	{rule: strongRule, name: "as stated, above", want: Found, change: both(limitedBy(strengthMost("7", "mg/mL")), figures("concentration", "7.1", "mg/mL"))},
	{rule: strongRule, name: "stated rounded is dose in volume", want: Pass, change: both(limitedBy(strengthMost("4.998", "mg/mL")), figures("dose", "500", "mg", "volume", "100.1", "mL", "concentration", "5", "mg/mL"))},
	{rule: strongRule, name: "a range of doses", want: Found, change: both(limitedBy(strengthMost("7", "mg/mL")), strong("500 to 750"))},
	{rule: strongRule, name: "no strength", want: Indeterminate, missing: Concentration, change: both(limitedBy(strengthMost("7", "mg/mL")), figures("dose", "700", "mg"))},
	{rule: strongRule, name: "in dispute, one of them above", want: Found, change: both(limitedBy(strengthMost("7", "mg/mL")), figures("dose", "7000", "mg", "volume", "100", "mL", "concentration", "7", "mg/mL"))},
	{rule: strongRule, name: "in dispute, none of them above", want: Indeterminate, missing: Concentration, change: both(limitedBy(strengthMost("7", "mg/mL")), figures("dose", "70", "mg", "volume", "100", "mL", "concentration", "7", "mg/mL"))},
	{rule: strongRule, name: "no limit", want: Indeterminate, missing: TableLimit, change: both(limitedBy(), strong("700"))},
	{rule: strongRule, name: "a recommended strength gates nothing", want: Indeterminate, missing: TableLimit, change: both(limitedBy(mostOf("concentration_recommended", "1", "mg/mL")), strong("700"))},
	{rule: strongRule, name: "of a push only, by pump", want: Indeterminate, missing: TableLimit, change: both(limitedBy(keyed(strengthMost("5", "mg/mL"), compendium.Applies{Method: "push"})), strong("700"), byPump)},
	// Central and peripheral apart (micafungin).
	{rule: strongRule, name: "above the limit for a short line", want: Found, says: "1.51", change: both(limitedBy(at("peripheral", strengthMost("1.5", "mg/mL")), centralFour), strong("151"), through("midline"))},
	{rule: strongRule, name: "at it", want: Pass, change: both(limitedBy(at("peripheral", strengthMost("1.5", "mg/mL")), centralFour), strong("150"), through("peripheral"))},
	{rule: strongRule, name: "through a central line", want: Pass, change: both(limitedBy(at("peripheral", strengthMost("1.5", "mg/mL")), centralFour), strong("400"))},
	{rule: strongRule, name: "above the limit for a central line", want: Found, change: both(limitedBy(at("peripheral", strengthMost("1.5", "mg/mL")), centralFour), strong("401"))},
	{rule: strongRule, name: "nobody told the line", want: Indeterminate, missing: Tip, change: both(limitedBy(at("peripheral", strengthMost("1.5", "mg/mL")), centralFour), strong("151"), noAccess)},
	{rule: strongRule, name: "nobody told the line, and it is weak enough for any", want: Indeterminate, missing: TableLimit, change: both(limitedBy(at("peripheral", strengthMost("1.5", "mg/mL")), centralFour), strong("150"), noAccess)},
	// Potassium through a short line, in mmol.
	{rule: strongRule, name: "potassium above 80 meq per litre", want: Found, change: both(limitedBy(at("peripheral", lowered("hold", strengthMost("80", "meq/L")))), figures("concentration", "81", "mmol/L"), through("peripheral"), potassium)},
	{rule: strongRule, name: "potassium at 80", want: Pass, change: both(limitedBy(at("peripheral", lowered("hold", strengthMost("80", "meq/L")))), figures("concentration", "80", "mmol/L"), through("peripheral"), potassium)},
	{rule: strongRule, name: "a child of 33 kg has a limit of its own", want: Found, change: both(child, limitedBy(of("pediatric", keyed(strengthMost("12", "mg/mL"), compendium.Applies{Weight: bandOf("", "33", "kg")}))), figures("dose", "121", "mg", "volume", "10", "mL", "dosingWeight", "16", "kg"))},
	{rule: strongRule, name: "a child within an adult's limit only", want: Indeterminate, missing: TableLimit, change: both(child, limitedBy(strengthMost("7", "mg/mL")), strong("700"))},
	// Vancomycin: above 10 blocks, whatever holds below it.
	{rule: strongRule, name: "12 mg per mL", want: Found, change: both(limitedBy(five, tenEach), strong("1200"))},
	{rule: strongRule, name: "10 mg per mL through a central line is the other rule's", want: Pass, change: both(limitedBy(five, tenEach), strong("1000"))},
	{rule: strongRule, name: "8 mg per mL through a short line", want: Found, change: both(limitedBy(five, tenEach), strong("800"), through("midline"))},
	{rule: strongRule, name: "5 mg per mL through a short line", want: Pass, change: both(limitedBy(five, tenEach), strong("500"), through("midline"))},

	{rule: selectedRule, name: "S2: 5.0 mg per mL", want: Pass, change: both(limitedBy(five, tenEach), vanc("125"))},
	{rule: selectedRule, name: "5.01 mg per mL", want: Found, says: "5.01", change: both(limitedBy(five, tenEach), strong("501"))},
	{rule: selectedRule, name: "10 mg per mL", want: Found, change: both(limitedBy(five, tenEach), strong("1000"))},
	{rule: selectedRule, name: "above 10 the other rule blocks", want: Pass, change: both(limitedBy(five, tenEach), strong("1001"))},
	{rule: selectedRule, name: "nobody told the line", want: Found, change: both(limitedBy(five, tenEach), strong("800"), noAccess)},
	{rule: selectedRule, name: "a drug without such a range", want: NotApplicable, change: both(limitedBy(strengthMost("7", "mg/mL")), strong("800"))},
	{rule: selectedRule, name: "a single limit that holds is no such range", want: NotApplicable, change: both(limitedBy(lowered("hold", strengthMost("7", "mg/mL"))), strong("800"))},
	{rule: selectedRule, name: "no strength", want: Indeterminate, missing: Concentration, change: both(limitedBy(five, tenEach), figures("dose", "700", "mg"))},
}

func TestRateStrengthRules(t *testing.T) { judged(t, rateStrengthFixtures) }

// The range for selected patients blocks through a short line, since no label
// or table allows it there; a limit that only holds keeps its gate.
func TestTheGateOfAStrength(t *testing.T) {
	for _, c := range []struct {
		name   string
		change []func(*world)
		atMost finding.Gate
	}{
		{"12 mg per mL", []func(*world){limitedBy(five, tenEach), strong("1200")}, finding.NoGate},
		{"12 mg per mL, the limits in the other order", []func(*world){limitedBy(tenEach, five), strong("1200")}, finding.NoGate},
		{"8 mg per mL through a midline", []func(*world){limitedBy(five, tenEach), strong("800"), through("midline")}, finding.NoGate},
		{"potassium through a short line", []func(*world){limitedBy(at("peripheral", lowered("hold", strengthMost("80", "meq/L")))), figures("concentration", "120", "mmol/L"), through("peripheral"), potassium}, finding.Hold},
	} {
		o := ask(t, strongRule, c.change...)
		require.Len(t, o.Findings, 1, c.name)
		assert.Equal(t, c.atMost, o.Findings[0].AtMost, c.name)
	}
}
