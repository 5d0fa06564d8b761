package conformance_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// The answer to each base case is golden: a page of what is found, planned
// and handed over, and the hash of the FHIR Bundle. The page is the program's
// own; what must and must not stand in it is said by hand in case.txt. A
// change here is read before it is taken: WEIR_UPDATE=1 go test ./conformance
// -run Golden writes the pages anew.
func TestGoldenAnswers(t *testing.T) {
	for _, f := range orders.All() {
		if f.Base != "" {
			continue
		}
		t.Run(f.Name, func(t *testing.T) {
			var page strings.Builder
			fmt.Fprintf(&page, "why: %s\n", strings.Join(strings.Fields(f.Why), " "))
			for _, stage := range f.Stages() {
				j := judge(t, f, stage)
				require.Empty(t, j.Faults)
				for _, w := range j.Worksheets {
					golden(&page, w)
				}
				fmt.Fprintf(&page, "fhir at %s: %s\n", stage, conformance.Hash(r4.WriteBundles(j.Worksheets)))
			}
			file := filepath.Join("testdata", "golden", f.Name+".txt")
			if os.Getenv("WEIR_UPDATE") != "" {
				require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
				require.NoError(t, os.WriteFile(file, []byte(page.String()), 0o644))
			}
			want, err := os.ReadFile(file)
			require.NoError(t, err)
			assert.Equal(t, string(want), page.String())
		})
	}
}

func golden(p *strings.Builder, w worksheet.Worksheet) {
	fmt.Fprintf(p, "\n%s, %s, at %s: %s\n", w.Order.Identifier, w.Order.Drug, w.Stage, w.Verdict)
	for _, f := range w.Findings {
		fmt.Fprintf(p, "%s %s\n  at %s\n  observed: %s\n  expected: %s\n", f.Gate, f.Code, f.Expression, f.Observed, f.Expected)
		for _, c := range f.Culprits {
			fmt.Fprintf(p, "  culprit: %s %s, would be %s %s, %s, named %v\n", c.Name, c.Stated, c.Consistent, c.Unit, c.Signature, c.Named)
		}
	}
	for _, n := range w.NotChecked {
		fmt.Fprintf(p, "%s %s: %s\n", strings.TrimSpace(n.Gate+" not checked"), strings.TrimSpace(n.Code+" "+n.Name), n.Says)
	}
	names := make([]string, 0, len(w.Quantities))
	for name := range w.Quantities {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		q := w.Quantities[name]
		fmt.Fprintf(p, "quantity %s: %s %s", name, q.Value, q.Unit)
		if q.Disputed {
			p.WriteString(" disputed")
		}
		p.WriteString("\n")
	}
	fmt.Fprintf(p, "doses: %d from %s to %s\n", w.Schedule.DoseCount, w.Schedule.FirstHomeDose, w.Schedule.LastDose)
	for _, d := range w.Deliveries {
		fmt.Fprintf(p, "delivery %s: %d units for %s to %s\n", d.Arrival, d.Units, d.FirstDose, d.LastDose)
	}
	for _, k := range w.Kit {
		if k.Delivery == 1 {
			fmt.Fprintf(p, "kit %s: %d\n", k.Item, k.Quantity)
		}
	}
	for _, x := range w.Tasks {
		fmt.Fprintf(p, "task %s %s: %s\n", x.Due, x.Role, x.Code)
	}
}
