package alertload_test

import (
	"fmt"
	"os"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
)

// reference is what the invented pharmacy judges by, every table signed, its
// lock protocols and formulas in force.
func reference(t testing.TB) policy.Reference {
	file, err := os.ReadFile("../../testdata/orders/policy-lanternlight.yaml")
	require.NoError(t, err)
	p, err := policy.Load(file)
	require.NoError(t, err)
	ref := policy.Reference{Tables: compendium.Embedded(), Policy: p, Zones: schedule.LoadZones()}
	s, err := policy.NewSignature("J. Example", "pharmacist", "EX 000000", "2026-09-01", ref.Hashes())
	require.NoError(t, err)
	ref.Signatures = policy.Signatures{s}
	return ref
}

// judge gives the worksheet of the one infusion of the document.
func judge(t testing.TB, ref policy.Reference, o complete, list []object, at finding.Stage) worksheet.Worksheet {
	j := conformance.Judge(conformance.Input{Document: bundle(list), Now: o.now, Stage: at, Reference: ref})
	require.Empty(t, j.Faults, o.name())
	require.Len(t, j.Worksheets, 1, o.name())
	return j.Worksheets[0]
}

// actionable are the codes a person must act on: block, hold and warn, and
// what could not be checked and holds.
func actionable(w worksheet.Worksheet) []string {
	var out []string
	for _, f := range w.Findings {
		if f.Gate == string(finding.Block) || f.Gate == string(finding.Hold) || f.Gate == string(finding.Warn) {
			out = append(out, f.Code)
		}
	}
	for _, n := range w.NotChecked {
		if n.Gate != "" && n.Gate != string(finding.Note) {
			out = append(out, "not checked: "+n.Code)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

const (
	orders = 2000
	most   = 0.05 // actionable findings per order, over all
)

func TestAlertLoad(t *testing.T) {
	ref := reference(t)
	drugs, found, of := map[string]bool{}, map[string]int{}, map[string]map[string]int{}
	total := 0
	for i := range orders {
		o := draw(i)
		drugs[o.card.name] = true
		for _, code := range actionable(judge(t, ref, o, o.resources(), finding.Release)) {
			total++
			found[code]++
			if of[code] == nil {
				of[code] = map[string]int{}
			}
			of[code][o.card.name]++
		}
	}
	var table []string
	for code, n := range found {
		table = append(table, fmt.Sprintf("%5d %s %v", n, code, of[code]))
	}
	sort.Sort(sort.Reverse(sort.StringSlice(table)))
	t.Logf("%d orders of %d drugs, %d actionable findings, %.4f an order\n%s", orders, len(drugs), total, float64(total)/orders, strings.Join(table, "\n"))
	require.GreaterOrEqual(t, len(drugs), 30)
	assert.LessOrEqual(t, float64(total)/orders, most)
}
