package reconciliation_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/testdata/orders"
)

// reference is what the invented pharmacy judges by, every table signed.
var reference = sync.OnceValue(func() policy.Reference {
	file, err := os.ReadFile("../../testdata/orders/policy-lanternlight.yaml")
	if err != nil {
		panic(err)
	}
	p, err := policy.Load(file)
	if err != nil {
		panic(err)
	}
	ref := policy.Reference{Tables: compendium.Embedded(), Policy: p, Zones: schedule.LoadZones()}
	s, err := policy.NewSignature("J. Example", "pharmacist", "EX 000000", "2026-09-01", ref.Hashes())
	if err != nil {
		panic(err)
	}
	ref.Signatures = policy.Signatures{s}
	return ref
})

func at(t testing.TB, text string) time.Time {
	x, err := time.Parse(time.RFC3339, text)
	require.NoError(t, err)
	return x
}

// side reads and judges a document at a clock.
func side(t testing.TB, document []byte, now time.Time) reconciliation.Side {
	doc, faults := element.Read(document, element.Limit{})
	require.Empty(t, faults)
	cases, faults := r4.ReadCases(doc, now)
	require.Empty(t, faults)
	require.Len(t, cases, 1)
	return judged(cases[0], now)
}

func judged(c order.Case, now time.Time) reconciliation.Side {
	return reconciliation.Side{Case: c, Sheets: conformance.JudgeCase(c, reference(), now, finding.Release)}
}

// base is a case of the shared orders.
func base(t testing.TB, name string) orders.Fixture {
	f, err := orders.Load(name)
	require.NoError(t, err)
	return f
}

// with is a case of the shared orders with elements changed, as in a variant.
func with(t testing.TB, name string, edits ...string) []byte {
	f, err := orders.Variant("test", "base: "+name+"\nwhy: a test\nsource: by hand\nexpect verdict block\n"+strings.Join(edits, "\n"))
	require.NoError(t, err)
	return f.Document
}

func night(now time.Time) reconciliation.Night {
	return reconciliation.Night{Now: now, Reference: reference()}
}

// codes are the findings of a result, with their number where there are more.
func codes(r reconciliation.Result) []string {
	out := []string{}
	for _, f := range r.Findings {
		out = append(out, string(f.Code))
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func tasks(r reconciliation.Result) []string {
	out := []string{}
	for _, x := range r.Tasks {
		out = append(out, x.Code)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// says are the findings as a person reads them.
func says(r reconciliation.Result, code finding.Code) string {
	var out []string
	for _, f := range r.Findings {
		if f.Code == code {
			out = append(out, f.Observed+" | "+f.Expected)
		}
	}
	return strings.Join(out, "\n")
}

func the(t testing.TB, list []reconciliation.Result, key string) reconciliation.Result {
	for _, r := range list {
		if strings.HasSuffix(r.Key, key) {
			return r
		}
	}
	require.Failf(t, "no such order", "%s of %d", key, len(list))
	return reconciliation.Result{}
}

// sound asserts what every result must keep: the same answer again, words
// without error-prone designations, a task with a row and a role, no finding
// without what was seen and what is right, and nothing of the patient in what
// may be logged.
func sound(t testing.TB, list []reconciliation.Result) {
	t.Helper()
	for _, r := range list {
		for _, f := range r.Findings {
			assert.True(t, strings.HasPrefix(string(f.Code), "nightly-"), f.Code)
			assert.NotEmpty(t, f.Observed, f.Code)
			assert.NotEmpty(t, f.Expected, f.Code)
			assert.NotEmpty(t, f.Place.Expression, f.Code)
			assert.Empty(t, f.Detail)
			for _, text := range []string{f.Observed, f.Expected} {
				assert.Empty(t, notation.Scan(text), text)
			}
		}
		for _, x := range r.Tasks {
			assert.NotContains(t, x.Title, "without a row")
			assert.False(t, x.Due.IsZero(), x.Code)
			assert.Empty(t, notation.Scan(x.Says), x.Says)
		}
		for i := range r.Tasks[min(1, len(r.Tasks)):] {
			assert.False(t, r.Tasks[i+1].Due.Before(r.Tasks[i].Due), "tasks by due time")
		}
	}
}

// compare runs the comparison and asserts what always holds.
func compare(t testing.TB, before, after reconciliation.Side, held reconciliation.Held, n reconciliation.Night) []reconciliation.Result {
	t.Helper()
	list := reconciliation.Compare(before, after, held, n)
	sound(t, list)
	assert.Equal(t, fmt.Sprint(list), fmt.Sprint(reconciliation.Compare(before, after, held, n)), "the same answer again")
	return list
}
