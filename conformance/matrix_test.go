package conformance_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/testdata/orders"
)

const matrixFile = "../testdata/orders/matrix.txt"

// Every rule against the seven scenarios: a rule that answers nothing
// anywhere shows at once, and so does one that changed its answer.
// WEIR_UPDATE=1 writes the file anew.
func TestTheMatrixOfRulesAndScenarios(t *testing.T) {
	signs := map[verification.Kind]string{verification.NotApplicable: ".", verification.NotEffective: "-", verification.Indeterminate: "?", verification.Pass: "o", verification.Found: "X"}
	var bases []orders.Fixture
	for _, f := range orders.All() {
		if f.Base == "" {
			bases = append(bases, f)
		}
	}
	require.GreaterOrEqual(t, len(bases), 7)
	answers := map[finding.Code][]string{}
	var codes []finding.Code
	for i, f := range bases {
		all := conformance.Outcomes(f.Document, reference(t, f.StandingLock), f.Now, finding.Stage(f.Stage))
		require.NotEmpty(t, all, f.Name)
		for _, outcomes := range all {
			for _, o := range outcomes {
				if answers[o.Code] == nil {
					codes = append(codes, o.Code)
					answers[o.Code] = make([]string, len(bases))
				}
				answers[o.Code][i] += signs[o.Kind]
			}
		}
	}
	var b strings.Builder
	b.WriteString("# What every rule answers for each scenario, a letter for each order of it.\n# X finding, o pass, ? a fact or a table row is missing, - its stage has not come, . not applicable\n")
	fmt.Fprintf(&b, "%-46s", "")
	for _, f := range bases {
		fmt.Fprintf(&b, "%-4s", strings.ToUpper(f.Name[:2]))
	}
	b.WriteString("\n")
	for _, c := range codes {
		line := fmt.Sprintf("%-46s", c)
		for _, a := range answers[c] {
			line += fmt.Sprintf("%-4s", a)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	assert.Len(t, codes, len(verification.Rules()), "every rule is asked")
	if os.Getenv("WEIR_UPDATE") != "" {
		require.NoError(t, os.WriteFile(matrixFile, []byte(b.String()), 0o644))
	}
	want, err := os.ReadFile(matrixFile)
	require.NoError(t, err)
	assert.Equal(t, string(want), b.String())
}
