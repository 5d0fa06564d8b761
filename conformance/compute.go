package conformance

import (
	"cmp"
	"time"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/conformance/computation"
	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/worksheet"
)

// Compute answers for numbers without an order: the same rules judge them as
// judge the numbers of one.
func Compute(r computation.Request, ref policy.Reference, at finding.Stage) (worksheet.Computation, error) {
	a, err := computation.Compute(r)
	if err != nil {
		return worksheet.Computation{}, err
	}
	if zone, given := a.Words["zone"]; given {
		if _, err := ref.Zones.Zone(zone.Word); err != nil {
			return worksheet.Computation{}, &computation.ArgumentError{Argument: "zone=" + zone.Word, Problem: "is not in the time zone database", Instead: "give a name such as America/Chicago"}
		}
	}
	out := worksheet.Computation{Quantities: map[string]worksheet.Quantity{}, Given: map[string]string{}, Findings: []worksheet.Finding{},
		NotChecked: []worksheet.NotChecked{}, Next: []worksheet.Next{}, Outside: []worksheet.Outside{}}
	for name, q := range a.Quantities {
		out.Quantities[name] = toQuantity(q)
	}
	for name, g := range a.Words {
		out.Given[name] = g.Text()
	}
	times(a, ref, out.Quantities)
	out.Findings = disagreements(a, ref, at)
	for _, u := range a.Unchecked {
		out.NotChecked = append(out.NotChecked, uncheckedLine(u))
	}
	if a.TooMany {
		out.NotChecked = append(out.NotChecked, worksheet.NotChecked{Code: "dose-arithmetic", Gate: string(finding.Hold), Missing: []string{string(verification.Comparable)},
			Says: "nothing was compared: more numbers were given than are compared at once"})
	}
	for _, n := range a.Next {
		out.Next = append(out.Next, worksheet.Next(n))
	}
	for _, o := range a.Outside {
		out.Outside = append(out.Outside, worksheet.Outside{Equation: o.Code, Name: o.Output, Says: o.Says})
	}
	out.Verdict = verdict(worksheet.Worksheet{Findings: out.Findings, NotChecked: out.NotChecked})
	if out.Verdict == "ready" && nothingCompared(out) {
		out.Verdict = "indeterminate" // silence is no pass
	}
	out.Cautions = []string{"Arithmetic alone: no dose, drug, device or patient was judged. A licensed person checks the numbers against the order and the label before anyone acts on them."}
	return out, nil
}

// nothingCompared: no two of the numbers given speak about each other.
func nothingCompared(c worksheet.Computation) bool {
	given, open := 0, 0
	for _, q := range c.Quantities {
		if q.Stated {
			given++
		}
	}
	for _, n := range c.NotChecked {
		if n.Name != "" {
			open++
		}
	}
	return open >= given
}

// disagreements asks the rules about each conflict by itself. Two numbers
// given for one NAME are, without an order, simply numbers that disagree.
func disagreements(a computation.Answer, ref policy.Reference, at finding.Stage) []worksheet.Finding {
	var list []finding.Finding
	for _, c := range a.Conflicts {
		if c.Kind == arithmetic.Statements {
			c.Kind = arithmetic.Products
		}
		facts := verification.Facts{}.With(verification.Order, order.Order{}).With(verification.Case, order.Case{}).With(verification.Policy, ref.Policy).
			With(verification.Agreement, arithmetic.Agreement{Conflicts: []arithmetic.Conflict{c}}).With(verification.Quantities, order.Quantities{}).With(verification.Now, time.Time{})
		for _, o := range verification.Run(verification.Arithmetic(), facts, at) {
			list = append(list, o.Findings...)
		}
	}
	facts := verification.Facts{}.With(verification.Policy, ref.Policy).With(verification.Quantities, order.Quantities(a.Quantities)).With(verification.Now, time.Time{})
	for _, o := range verification.Run(verification.Overlaps(), facts, at) {
		list = append(list, o.Findings...)
	}
	return toFindings(list, ref)
}

// endings are when an infusion ends, by the time each is reckoned with: the
// first that is known. A fixed-flow reservoir has a window, not a point.
var endings = []struct {
	name string
	from []string
}{
	{"endsAt", []string{"duration", "runTime", "cycle"}}, {"endsEarliest", []string{"shortestRun"}}, {"endsLatest", []string{"longestRun"}},
}

const longestInfusion = 366 * 24 * time.Hour

// times adds when an infusion ends: the pump counts elapsed time, and the
// clock is read in the zone given.
func times(a computation.Answer, ref policy.Reference, out map[string]worksheet.Quantity) {
	start, ok := a.Words["start"]
	if !ok || start.DateOnly || start.Time.IsZero() {
		return
	}
	for _, e := range endings {
		for _, from := range e.from {
			lasts, ok := a.Quantities[from]
			if !ok || lasts.Disputed {
				continue
			}
			seconds, ok := lasts.Unit.ToBase(lasts.Value).Floor()
			if !ok || seconds > int64(longestInfusion/time.Second) {
				continue
			}
			end, zone := start.Time.Add(time.Duration(seconds)*time.Second), ""
			if z, err := ref.Zones.Zone(a.Words["zone"].Word); err == nil && z.Known() {
				end, zone = end.In(z.Location), z.Name
			}
			out[e.name] = worksheet.Quantity{Value: end.Format(time.RFC3339), Disputed: lasts.Disputed, Derivation: []worksheet.Derivation{{Formula: e.name + " = start + " + from + ", elapsed",
				Inputs:   []worksheet.Input{{Name: "start", Value: start.Text(), Expression: "start"}, {Name: from, Value: lasts.Value.Decimal(), Unit: lasts.Unit.Code()}},
				Citation: "the pump counts elapsed time (E40)", Text: notation.Name(e.name) + " = " + notation.Instant(end, cmp.Or(zone, end.Format("-07:00")))}}}
			break
		}
	}
}
