package slips_test

import (
	"cmp"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// sampleSeed is none of the seeds of the full table: what is tuned on those
// is judged on other orders.
const sampleSeed = 20261

func TestASampleKeepsTheTargets(t *testing.T) {
	if testing.Short() {
		t.Skip("a few seconds")
	}
	r := run{seed: sampleSeed, orders: 500, perSet: 2, carried: 1 << 30}
	result := r.run()
	require.Equal(t, r.orders, result.orders)
	for _, l := range limits {
		value, ok := l.within(result, true)
		n, of := l.of(result)
		assert.True(t, ok, "%s: %.2f %% (%d of %d), target %v %%", l.says, value, n, of, l.percent)
	}
}

// TestFullTable writes RESULT.md. It runs only when asked: WEIR_SLIPS=full,
// WEIR_SLIPS_SEED one or more seeds ("1,2,3").
func TestFullTable(t *testing.T) {
	if os.Getenv("WEIR_SLIPS") != "full" {
		t.Skip("only with WEIR_SLIPS=full")
	}
	var runs []run
	var tallies []*tally
	for _, s := range strings.Split(cmp.Or(os.Getenv("WEIR_SLIPS_SEED"), "1"), ",") {
		seed, err := strconv.ParseUint(strings.TrimSpace(s), 10, 64)
		require.NoError(t, err)
		r := run{seed: seed, orders: 20000, perSet: 2, carried: 5, bare: 4}
		runs, tallies = append(runs, r), append(tallies, r.run())
		for _, l := range limits {
			value, ok := l.within(tallies[len(tallies)-1], false)
			t.Logf("seed %d: %-50s %6.2f %% (target %v %%) %s", seed, l.says, value, l.percent, map[bool]string{true: "", false: "MISSED"}[ok])
		}
		require.NoError(t, os.WriteFile("RESULT.md", []byte(report(runs, tallies)), 0o644)) // after each seed: a run takes minutes
	}
}

// TestExplainWorst prints where the answer is most often wrong, with one
// example each, for whoever tunes the ranking: WEIR_SLIPS=worst,
// WEIR_SLIPS_SEED, WEIR_SLIPS_ORDERS, WEIR_SLIPS_TABLES (none, rough, full),
// WEIR_SLIPS_CHECKS (only orders with at least as many independent checks).
func TestExplainWorst(t *testing.T) {
	if os.Getenv("WEIR_SLIPS") != "worst" {
		t.Skip("only with WEIR_SLIPS=worst")
	}
	seed, err := strconv.ParseUint(cmp.Or(os.Getenv("WEIR_SLIPS_SEED"), "1"), 10, 64)
	require.NoError(t, err)
	orders, err := strconv.Atoi(cmp.Or(os.Getenv("WEIR_SLIPS_ORDERS"), "3000"))
	require.NoError(t, err)
	least, err := strconv.Atoi(cmp.Or(os.Getenv("WEIR_SLIPS_CHECKS"), "0"))
	require.NoError(t, err)
	grade := slices.Index(grades, cmp.Or(os.Getenv("WEIR_SLIPS_TABLES"), "rough"))
	require.GreaterOrEqual(t, grade, 0)
	result := run{seed: seed, orders: orders, perSet: 5, carried: 1 << 30, bare: 1, examples: true, least: least}.run()
	fmt.Print(explainWorst(result, grade))
}

// explainWorst lists the most frequent faults of each sort.
func explainWorst(t *tally, grade int) string {
	var b strings.Builder
	for _, w := range []ward{careful, careless} {
		for _, group := range list("rank 1 wrong", "named wrong", "not listed", "not found", "alarm") {
			rows := rowsOf(t.weak, w, group, grade)
			rows = slices.DeleteFunc(rows, func(k key) bool { return t.weak[k].wrong == 0 })
			slices.SortStableFunc(rows, func(a, b key) int { return cmp.Compare(t.weak[b].wrong, t.weak[a].wrong) })
			total := 0
			for _, k := range rows {
				total += t.weak[k].wrong
			}
			fmt.Fprintf(&b, "\n== %s ward, tables %s: %s, %d times in %d combinations\n", w.name, grades[grade], group, total, len(rows))
			for _, k := range rows[:min(25, len(rows))] {
				n := t.weak[k]
				fmt.Fprintf(&b, "%5d of %5d  %s\n               %s\n", n.wrong, n.cases, k.row, n.example)
			}
		}
	}
	return b.String()
}
