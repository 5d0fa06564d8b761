package reconciliation_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// standing is what is wrong in a document of the shared orders itself, so that
// it is found on every night until somebody puts it right: S5 made a bag with
// other magnesium, S7 made two units that pass their time, S2 has units of the
// order that was replaced; the clock of s1-no-line-plan is a month after the
// last result.
var standing = []struct {
	prefix string
	codes  []finding.Code
}{
	{"s1-no-line-plan", []finding.Code{"nightly-lab-due", "nightly-discharge-moved", "nightly-end-passed"}},
	{"s2-vancomycin-kidneys-changed", []finding.Code{"nightly-replaced", "nightly-surplus-at-home"}},
	{"s2-level-", []finding.Code{"nightly-replaced", "nightly-surplus-at-home"}},
	{"s2-replaced-active", []finding.Code{"nightly-replaced", "nightly-surplus-at-home"}},
	{"s5-", []finding.Code{"nightly-compounding-differs"}}, {"p7-plateau-", []finding.Code{"nightly-compounding-differs"}},
	{"s7-dose-tenfold", []finding.Code{"nightly-label-differs", "nightly-beyond-use"}}, {"s7-overfilled", []finding.Code{"nightly-label-differs", "nightly-beyond-use"}},
	{"s7-start-passed", []finding.Code{"nightly-beyond-use", "nightly-discharge-moved"}}, {"s7-", []finding.Code{"nightly-beyond-use"}},
}

func mayStand(name string, code finding.Code) bool {
	for _, s := range standing {
		if strings.HasPrefix(name, s.prefix) {
			return slices.Contains(s.codes, code)
		}
	}
	return false
}

// cases are all shared orders that are read as one patient or more.
func cases(t testing.TB, f orders.Fixture) []order.Case {
	doc, faults := element.Read(f.Document, element.Limit{})
	if len(faults) > 0 {
		return nil
	}
	list, faults := r4.ReadCases(doc, f.Now)
	if len(faults) > 0 {
		return nil
	}
	return list
}

// An unchanged night says nothing but what is wrong in the document itself,
// and nothing that stood already is new.
func TestAnUnchangedNightIsQuiet(t *testing.T) {
	quiet, list := 0, 0
	for _, f := range orders.All() {
		for _, c := range cases(t, f) {
			s := judged(c, f.Now)
			for _, r := range compare(t, s, s, reconciliation.Held{}, night(f.Now)) {
				list++
				assert.Equal(t, reconciliation.Unchanged, r.State)
				held := reconciliation.Held{Orders: map[string]reconciliation.HeldOrder{r.Key: {}}}
				var codes []finding.Code
				for _, x := range r.Findings {
					codes = append(codes, x.Code)
					assert.True(t, mayStand(f.Name, x.Code), "%s %s: %s %s | %s", f.Name, r.Key, x.Code, x.Observed, x.Expected)
				}
				if len(codes) == 0 {
					quiet++
					assert.Empty(t, r.Tasks, f.Name)
				}
				held.Orders[r.Key] = reconciliation.HeldOrder{Standing: codes}
				for _, again := range reconciliation.Compare(s, s, held, night(f.Now)) {
					for _, x := range again.Findings {
						assert.False(t, again.Key == r.Key && x.New, "%s: %s is not new", f.Name, x.Code)
					}
				}
			}
		}
	}
	t.Log(quiet, "of", list, "orders quiet")
	assert.Greater(t, quiet, 140)
}

// stored is a side as a store gives it back: the sheets are their JSON alone.
func stored(t testing.TB, s reconciliation.Side) reconciliation.Side {
	data, err := json.Marshal(s.Sheets)
	require.NoError(t, err)
	s.Sheets = nil
	require.NoError(t, json.Unmarshal(data, &s.Sheets))
	for _, w := range s.Sheets {
		assert.Equal(t, worksheet.References{}, w.Refs)
	}
	return s
}

// told is a result without the places, which name entries of a document.
func told(list []reconciliation.Result) string {
	var out []string
	for _, r := range list {
		line := fmt.Sprint(r.Key, " ", r.State)
		for _, f := range r.Findings {
			line += fmt.Sprint("\n  ", f.Code, " ", f.Observed, " | ", f.Expected)
		}
		for _, x := range r.Tasks {
			line += fmt.Sprint("\n  ", x.Code, " ", x.Due.UTC(), " ", x.Says)
		}
		out = append(out, line)
	}
	return strings.Join(out, "\n")
}

// A stored sheet serves as well as one just judged, also for a change.
func TestAStoredSheetServes(t *testing.T) {
	for _, name := range []string{"s1-fixed", "s2-vancomycin-kidneys-changed", "s3-fluorouracil-46h", "s5-nutrition-cycle", "s6-hydration-gravity", "s7-daptomycin-discharge"} {
		f := base(t, name)
		s := side(t, f.Document, f.Now)
		assert.Equal(t, told(reconciliation.Compare(s, s, reconciliation.Held{}, night(f.Now))), told(reconciliation.Compare(stored(t, s), stored(t, s), reconciliation.Held{}, night(f.Now))), name)
	}
	f := base(t, "s1-fixed")
	s := side(t, f.Document, f.Now)
	for _, edits := range [][]string{{"set " + mr + "dosageInstruction[0].timing.repeat.period 12"}, {"set " + med + "amount.numerator.value 50", "set " + med + "ingredient[0].strength.denominator.value 50"}} {
		after := side(t, with(t, "s1-fixed", edits...), f.Now)
		want := told(reconciliation.Compare(s, after, reconciliation.Held{}, night(f.Now)))
		assert.Contains(t, want, "nightly-changed")
		assert.Equal(t, want, told(reconciliation.Compare(stored(t, s), after, reconciliation.Held{}, night(f.Now))))
	}
}

// The order of the resources in the documents, of the records and of the
// tasks does not matter.
func TestTheOrderOfThingsDoesNotMatter(t *testing.T) {
	turn := func(f orders.Fixture, by int) []byte {
		var bundle map[string]json.RawMessage
		require.NoError(t, json.Unmarshal(f.Document, &bundle))
		var entries []json.RawMessage
		require.NoError(t, json.Unmarshal(bundle["entry"], &entries))
		first := 0
		if strings.Contains(string(bundle["type"]), "message") {
			first = 1 // the MessageHeader stays first
		}
		list := slices.Clone(entries[first:])
		slices.Reverse(list)
		by %= len(list)
		list = append(list[by:], list[:by]...)
		data, err := json.Marshal(append(entries[:first:first], list...))
		require.NoError(t, err)
		bundle["entry"] = data
		data, err = json.Marshal(bundle)
		require.NoError(t, err)
		return data
	}
	for _, pair := range [][2]string{{"s1-fixed", "s1-cefazolin-elastomeric"}, {"s2-vancomycin-kidneys", "s2-vancomycin-kidneys-changed"}, {"s7-daptomycin-discharge-planned", "s7-daptomycin-discharge"}, {"s5-nutrition-cycle", "s5-nutrition-cycle"}} {
		old, now := base(t, pair[0]), base(t, pair[1])
		want := told(compare(t, side(t, old.Document, now.Now), side(t, now.Document, now.Now), reconciliation.Held{}, night(now.Now)))
		for _, by := range []int{0, 3, 7} {
			got := told(compare(t, side(t, turn(old, by), now.Now), side(t, turn(now, by+1), now.Now), reconciliation.Held{}, night(now.Now)))
			assert.Equal(t, want, got, "%v turned by %d", pair, by)
		}
	}
	s := newScene(t)
	status("stopped")(t, s)
	s.held.Tasks = []reconciliation.OpenTask{{ID: "a", Code: "deliver", Order: s1Key, Due: s.now.AddDate(0, 0, -1)}, {ID: "b", Code: "refill-call", Order: s1Key, Due: s.now.AddDate(0, 0, -2)}}
	want := told(s.all(t))
	slices.Reverse(s.held.Tasks)
	s.hold(func(h *reconciliation.HeldOrder) { slices.Reverse(h.Records) })
	assert.Equal(t, want, told(s.all(t)))
}

// Nothing given and nothing held: no panic and no answer.
func TestNothingIsNothing(t *testing.T) {
	now := at(t, "2026-11-12T02:00:00-05:00")
	assert.Empty(t, reconciliation.Compare(reconciliation.Side{}, reconciliation.Side{}, reconciliation.Held{}, night(now)))
	s := newScene(t)
	bare := reconciliation.Side{Case: order.Case{Orders: []order.Order{{Key: "bare", Status: "active"}}}}
	for _, pair := range [][2]reconciliation.Side{{bare, bare}, {reconciliation.Side{}, bare}, {bare, {}}} {
		r := reconciliation.Compare(pair[0], pair[1], reconciliation.Held{}, night(s.now))
		assert.Len(t, r, 1)
	}
}

// BenchmarkUnchanged is one order on an unchanged night, both sides as stored.
func BenchmarkUnchanged(b *testing.B) {
	f := base(b, "s1-fixed")
	s := stored(b, side(b, f.Document, f.Now))
	n := night(f.Now)
	b.ReportAllocs()
	for b.Loop() {
		reconciliation.Compare(s, s, reconciliation.Held{}, n)
	}
}
