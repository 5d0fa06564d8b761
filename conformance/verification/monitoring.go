package verification

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// ended are states of a request under which nothing more will be drawn.
var ended = map[string]bool{"completed": true, "revoked": true, "cancelled": true, "entered-in-error": true}

// paused are states in which nobody draws, though the request is not over.
var paused = map[string]bool{"draft": true, "on-hold": true}

// laboratory is the laboratory orders of the case that still stand.
func laboratory(f Facts) []order.Service {
	var out []order.Service
	for _, s := range f.kase().Services {
		if s.Kind == "laboratory" && !ended[s.Status] && !paused[s.Status] {
			out = append(out, s)
		}
	}
	return out
}

// needed is one test of the drug's row, and how often at the least.
type needed struct {
	test  string
	every time.Duration // 0: not told
	fact  compendium.Fact
}

// regularTests are the tests that the drug's row asks for again and again: a
// test before the start only is no plan. Where the row says nothing for a
// child, what it says for adults is the least.
func regularTests(f Facts) []needed {
	var out []needed
	for _, p := range populations(f) {
		for _, x := range f.drug().About("monitoring", p) {
			if x.Value.Frequency == nil || !x.Gates {
				continue
			}
			for _, t := range x.Value.Tests {
				out = append(out, needed{t, spanOf(*x.Value.Frequency), x})
			}
		}
		if len(out) > 0 {
			return out
		}
	}
	return nil
}

// spanOf is the longest time between two tests: "1 wk", or "2 to 3 /wk".
func spanOf(b compendium.Band) time.Duration {
	q, err := b.Quantity()
	if err != nil {
		return 0
	}
	seconds := q.Unit.ToBase(q.High)
	if q.Unit.Dimension() == quantity.None.Per(quantity.Time) && q.Low.Sign() > 0 {
		seconds = one.Quo(q.Unit.ToBase(q.Low))
	}
	whole, _ := seconds.Floor()
	return time.Duration(whole) * time.Second
}

func monitored(f Facts) bool { return f.drug().MonitorBeforeFirstRelease || len(regularTests(f)) > 0 }

// firstRelease: of a drug that does not gate its first release, nothing was
// handed over or given at home yet, and no week at home is over.
func firstRelease(f Facts) bool {
	if f.drug().MonitorBeforeFirstRelease {
		return false
	}
	k := f.kase()
	handed := slices.ContainsFunc(k.Held.Prepared, func(b order.Batch) bool {
		return (!b.Handed.Absent() || b.Status == "completed") && ofOrder(f, b)
	})
	home := slices.ContainsFunc(k.Administrations, func(a order.Administration) bool {
		return a.Setting == "community" && given(a.Drug, f.order().Drug)
	})
	start := f.plan().FirstHomeDose
	return !handed && !home && (start.IsZero() || f.now().Before(start.AddDate(0, 0, 7)))
}

// monitoring: row i6. Every test of the row is ordered, often enough, and has
// a day.
func monitoring(f Facts) []finding.Finding {
	list := laboratory(f)
	tests := regularTests(f)
	if len(list) == 0 {
		expected := "a dated laboratory plan"
		if len(tests) > 0 {
			expected += ": " + saysTests(tests)
		}
		return cite(here(f.order().Place, "no laboratory order that stands in the document", expected), tests)
	}
	lacks := map[string][]string{}
	var rest []needed
	for _, n := range tests {
		covered := covering(f, list, n.test)
		why := ""
		switch {
		case len(covered) == 0:
			why = drawsMissing
		case !slices.ContainsFunc(covered, isDated):
			why = drawsUndated
		default:
			why = drawnThrough(f, covered, n.every)
		}
		if why != "" {
			lacks[why] = append(lacks[why], n.test)
			rest = append(rest, n)
		}
	}
	if len(rest) == 0 {
		return nil
	}
	var observed []string
	for _, why := range []string{drawsMissing, drawsUndated, drawsSeldom, drawsLate, drawsEnd} {
		if len(lacks[why]) > 0 {
			observed = append(observed, why+words(lacks[why]))
		}
	}
	return cite(here(list[0].Place, strings.Join(observed, "; "), saysTests(rest)), rest)
}

// cite names the row's source for the tests.
func cite(x []finding.Finding, list []needed) []finding.Finding {
	if len(list) > 0 {
		x[0].Standing = list[0].fact.Standing
		x[0].Expected += " (" + list[0].fact.Source + ")"
	}
	return x
}

func saysTests(list []needed) string {
	var out []string
	for _, n := range list {
		text := n.test
		if n.every > 0 {
			text += " " + often(n.every)
		}
		if !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	return words(out)
}

// often is a time between two tests in the words of a plan.
func often(every time.Duration) string {
	const day = 24 * time.Hour
	if every%(7*day) == 0 {
		return notation.Every(quantity.Int(int64(every/(7*day))), "wk")
	}
	return notation.Every(quantity.Ratio(int64(every), int64(day)), "d")
}

// covering are the orders that measure a test. A drug level counts for the
// ordered drug, or when the order says of no drug.
func covering(f Facts, list []order.Service, test string) []order.Service {
	var out []order.Service
	for _, s := range list {
		if slices.Contains(s.Tests, test) || test == "drug concentration" && slices.Contains(s.Tests, test+" of "+f.drug().Name) {
			out = append(out, s)
		}
	}
	return out
}

func hasLaboratory(f Facts) bool { return len(laboratory(f)) > 0 }

func recipient(f Facts) []finding.Finding {
	if len(withRole(f.kase().People, "receives-results", "results")) > 0 {
		return nil
	}
	for _, s := range laboratory(f) {
		if len(s.Recipients) == 0 {
			return here(s.Place, "nobody named to receive the results", "a named person who receives the results")
		}
	}
	return nil
}

// ofOrder: a lot was made for the order, or says for none while the patient
// has one infusion only.
func ofOrder(f Facts, b order.Batch) bool {
	if b.OrderRef == "" {
		return len(f.kase().Orders) <= 1
	}
	return refersTo(b.OrderRef, f.order())
}

// preparedFor are the lots on record for the order that were not withdrawn.
func preparedFor(f Facts) []order.Batch {
	var out []order.Batch
	for _, b := range f.kase().Held.Prepared {
		if ofOrder(f, b) {
			out = append(out, b)
		}
	}
	return out
}

func hasPrepared(f Facts) bool { return len(preparedFor(f)) > 0 }

// lotMissing: row m16. In a recall nobody could tell who has a unit without
// a lot. What was handed over is past packing: a recall counts it as affected.
func lotMissing(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, b := range preparedFor(f) {
		if strings.TrimSpace(b.Lot) == "" && b.Handed.Absent() && b.Status != "completed" {
			observed := "a prepared lot without a lot number"
			if b.Units > 0 {
				observed = fmt.Sprintf("%d prepared units without a lot number", b.Units)
			}
			out = append(out, here(b.Place, observed, "the lot number of every unit")...)
		}
	}
	return out
}
