package verification

import (
	"fmt"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

// containers are those that a label may speak of.
var containers = []string{"bag", "glass", "vial", "syringe", "elastomeric", "pump-reservoir"}

// statement is what one layer says of a lot, as a time.
type statement struct {
	*compendium.Lasting
	lasts time.Duration
}

func lastingOf(x *compendium.Lasting) (statement, bool) {
	if x == nil {
		return statement{}, false
	}
	seconds, ok := hours.ToBase(x.Hours).Floor()
	return statement{x, time.Duration(seconds) * time.Second}, ok
}

var hours = quantity.MustUnit("h")

func (s statement) shown(of string) string {
	text := notation.Duration(s.lasts)
	if s.Layer == compendium.ByFormula {
		return of + " " + text + " (" + s.Fact + "; " + s.Source + ")"
	}
	return of + " " + text + " (" + s.Source + ")"
}

// elsewhere is the longest that the label gives the drug, kept so, in any
// container: where it says nothing of this one, more than that is beyond it.
func elsewhere(f Facts, d dated) (longest statement, ok bool) {
	for _, c := range containers {
		k := d.use.Keep
		k.Container = c
		label, _ := f.drug().Stability(k)
		if x, has := lastingOf(label); has && (!ok || longest.lasts < x.lasts) {
			longest, ok = x, true
		}
	}
	return longest, ok
}

// rests is on what the dating of a lot rests.
type rests struct {
	known, beyond, signed bool   // beyond the label; a signed formula reaches so far
	limit                 string // what it may not exceed, in words
	standing              string
}

// restsOn puts the statements in their order: a signed local formula before
// data for the same container and strength before the label. A site's formula
// decides also where it is the shorter one.
func restsOn(f Facts, d dated) rests {
	have := d.lasts()
	formula, hasFormula := lastingOf(d.use.Formula)
	data, hasData := lastingOf(d.use.Data)
	label, hasLabel := lastingOf(d.use.Label)
	says := "the label gives it"
	if !hasLabel {
		if label, hasLabel = elsewhere(f, d); hasLabel {
			says = "the label gives it, in another container,"
		}
	}
	switch {
	case hasFormula && formula.lasts < have:
		return rests{known: true, beyond: true, limit: formula.shown("the site's own formula gives it"), standing: formula.Standing}
	case hasFormula && hasLabel:
		return rests{known: true, beyond: label.lasts < have, signed: true, limit: label.shown(says) + "; " + formula.shown("the signed formula"), standing: label.Standing}
	case hasFormula:
		return rests{known: true, beyond: true, signed: true, limit: "the label says nothing of it; " + formula.shown("the signed formula"), standing: formula.Standing}
	case hasData && data.lasts < have:
		return rests{known: true, beyond: true, limit: data.shown("data for this container and strength give it"), standing: data.Standing}
	case hasLabel && label.lasts < have && hasData:
		return rests{known: true, beyond: true, limit: label.shown(says) + "; " + data.shown("data for this container and strength") + ", and no formula is signed", standing: label.Standing}
	case hasLabel && label.lasts < have:
		return rests{known: true, beyond: true, limit: label.shown(says) + ", and no formula is signed", standing: label.Standing}
	case d.use.Label == nil && hasData:
		return rests{known: true, beyond: true, limit: "the label says nothing of this container; " + data.shown("data for it give") + ", and no formula is signed", standing: data.Standing}
	}
	// What another container's label allows says nothing of this one.
	return rests{known: d.use.Label != nil}
}

func hasDated(f Facts) bool { return len(datedLots(f)) > 0 }

// beyondLabel: row f1, dated longer than the label on a signed local formula.
func beyondLabel(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, d := range datedLots(f) {
		if r := restsOn(f, d); d.told() && r.known && r.beyond && r.signed {
			x := here(d.place, d.shown(), r.limit)
			x[0].Standing = r.standing
			out = append(out, x...)
		}
	}
	return out
}

// beyondLabelUnsupported: row f1, dated longer than the label, or than the
// statement that counts, and no signed formula reaches so far. The chemistry
// of what is still to be made is held to what its delivery asks for.
func beyondLabelUnsupported(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, d := range datedLots(f) {
		if r := restsOn(f, d); d.told() && r.known && r.beyond && !r.signed {
			x := here(d.place, d.shown(), r.limit)
			x[0].Standing = r.standing
			out = append(out, x...)
		}
	}
	return append(out, tooFarToMake(f)...)
}

// tooFarToMake: what deliveries still to be made ask for. The first is said,
// the others are counted.
func tooFarToMake(f Facts) []finding.Finding {
	var first []finding.Finding
	more := 0
	for _, d := range unmadeUnits(f) {
		l, ok := limitOf(d.Use, plan.OfStability)
		switch {
		case !ok || l.Until.IsZero() || asksFor(d) <= l.Lasts:
		case first == nil:
			first = tooFar(f, d, l, byLayer[l.Layer])
			first[0].Standing = l.Standing
		default:
			more++
		}
	}
	switch {
	case more == 1:
		first[0].Observed += "; so does 1 further delivery"
	case more > 1:
		first[0].Observed += fmt.Sprintf("; so do %d further deliveries", more)
	}
	return first
}

var byLayer = map[string]string{compendium.ByFormula: " by the site's own formula", compendium.ByData: " by data for this container and strength", compendium.ByLabel: " by the label"}

// labelUnknown: the label says nothing of a dated lot, nor does anything else.
func labelUnknown(f Facts) (out []Fact) {
	for _, d := range datedLots(f) {
		switch {
		case !d.told():
			out = append(out, datingLacks(f)...)
		case !restsOn(f, d).known:
			out = append(out, TableLimit)
		}
	}
	return unique(out)
}

// supportUnknown: nothing tells how long it keeps so.
func supportUnknown(f Facts) []Fact {
	out := datingLacks(f)
	for _, d := range datedLots(f) {
		if d.told() && !restsOn(f, d).known {
			out = append(out, TableLimit)
		}
	}
	for _, d := range unmadeUnits(f) {
		if l, _ := limitOf(d.Use, plan.OfStability); l.Until.IsZero() {
			out = append(out, TableLimit)
		}
	}
	return unique(out)
}
