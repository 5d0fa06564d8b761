package conformance_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/testdata/orders"
)

// Every rule against the scenarios, printed with -v: a rule that says nothing
// anywhere shows at once. What a scenario expects at its own stage stands in
// its case.txt, written by hand: an X where it expects a finding, none where
// it expects none.
func TestTheMatrixOfRulesAndScenarios(t *testing.T) {
	signs := map[verification.Kind]string{verification.NotApplicable: ".", verification.NotEffective: "-", verification.Indeterminate: "?", verification.Pass: "o", verification.Found: "X"}
	answers := map[string][]string{} // code to a letter for each order of each scenario
	var codes []string
	head, compared := fmt.Sprintf("%-46s", ""), 0
	scenarios := slices.DeleteFunc(orders.All(), func(f orders.Fixture) bool { return f.Base != "" })
	require.GreaterOrEqual(t, len(scenarios), 7)
	for i, f := range scenarios {
		head += fmt.Sprintf("%-4s", strings.ToUpper(f.Name[:2]))
		all := conformance.Outcomes(f.Document, reference(t, f.StandingLock), f.Now, finding.Stage(f.Stage))
		require.NotEmpty(t, all, f.Name)
		for _, outcomes := range all {
			for _, o := range outcomes {
				code := string(o.Code)
				if answers[code] == nil {
					codes, answers[code] = append(codes, code), make([]string, len(scenarios))
				}
				answers[code][i] += signs[o.Kind]
			}
		}
		for _, e := range f.At(f.Stage) {
			if answers[e.Code] == nil { // no rule of this version asks it
				continue
			}
			switch e.Kind {
			case "finding":
				compared++
				assert.Contains(t, answers[e.Code][i], "X", "%s: %s", f.Name, e.Code)
			case "no-finding":
				compared++
				assert.NotContains(t, answers[e.Code][i], "X", "%s: %s", f.Name, e.Code)
			}
		}
	}
	assert.Len(t, codes, len(verification.Rules()), "every rule is asked")
	assert.GreaterOrEqual(t, compared, 60)
	lines := []string{"X finding, o pass, ? a fact or a table row is missing, - its stage has not come, . not applicable", head}
	for _, c := range codes {
		line := fmt.Sprintf("%-46s", c)
		for _, a := range answers[c] {
			line += fmt.Sprintf("%-4s", a)
		}
		lines = append(lines, line)
	}
	t.Log("\n" + strings.Join(lines, "\n"))
}
