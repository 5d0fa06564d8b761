package policy

import (
	"fmt"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
)

// future reports that a day, written 2026-11-26, comes after the day of now by
// the calendar of its zone. Text of this form sorts as time does.
func future(day string, now time.Time) bool { return now.Format(time.DateOnly) < day }

// Overrule puts the site's own numbers into the tables. The error is a Faults:
// an id no table has, a number of another kind, one far from the table's, or
// a stability, which a site dates by a formula of its own. The dates are not
// compared with any clock here: see Reference.At.
func (p *Policy) Overrule(t *compendium.Tables) (*compendium.Tables, error) {
	if len(p.Overrides) == 0 {
		return t, nil
	}
	var list []compendium.Override
	for _, o := range p.Overrides {
		list = append(list, o.given())
	}
	own, refused := t.Overrule(list)
	var faults Faults
	for _, r := range refused {
		faults = append(faults, p.Overrides[r.Index].fault(r))
	}
	for i, o := range p.Overrides {
		if topic := topicOf(t, o.Fact); strings.HasPrefix(topic, "stability") {
			faults = append(faults, o.fault(compendium.OverrideFault{Index: i, Key: "fact", Problem: o.Fact + " is how long the label or a study lets it last, and would keep that name",
				Expected: "a formula of the site's own under stability, for its container, fluid, storage and strength"}))
		}
	}
	if len(faults) > 0 {
		return t, faults.sorted()
	}
	return own, nil
}

func (o Override) given() compendium.Override {
	return compendium.Override{Fact: o.Fact, Band: o.Span.Band(), Gates: o.Gates, Source: o.Source, Reason: o.Reason, By: o.By, On: o.On}
}

func (o Override) fault(r compendium.OverrideFault) Fault {
	f := Fault{File: o.File, Line: o.Line, Column: o.Column, Key: fmt.Sprintf("overrides[%d].%s", r.Index, r.Key), Problem: r.Problem, Expected: r.Expected}
	for _, k := range []string{r.Key, "low", "high"} { // a range has no key "value"
		if place, given := o.keys[k]; given {
			f.Line, f.Column = place[0], place[1]
			break
		}
	}
	return f
}

func topicOf(t *compendium.Tables, id string) string {
	for _, d := range t.Drugs {
		if f, ok := d.Fact(id); ok {
			return f.Topic
		}
	}
	return ""
}

// inForce is the policy without the numbers of its own that are dated later
// than the day of now, and the facts these are for, in their order.
func (p *Policy) inForce(now time.Time) (own *Policy, later []Override) {
	next := *p
	next.Overrides = nil
	for _, o := range p.Overrides {
		if future(o.On, now) {
			later = append(later, o)
		} else {
			next.Overrides = append(next.Overrides, o)
		}
	}
	if len(later) == 0 {
		return p, nil
	}
	return &next, later
}
