package reconciliation

import (
	"cmp"
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
)

// lineChanged: row m14. A line is the same by its resource, else by kind,
// side and day it was placed. One that dwells longer than policy is found by
// the order's own checks (access-dwell), each time they are run.
func lineChanged(p *pair) (a answer) {
	if p.after.empty() || p.state == Absent {
		return a
	}
	if p.matters() {
		for _, was := range p.before.Case.Access {
			now := sameLine(p.after.Case.Access, was)
			switch {
			case now == nil && was.Removed.Absent():
				a.found("nightly-line-changed", p.after.Case.Patient.Place, "the "+lineWords(was)+" that the order was judged with is not on record any more", "a line on record, or the word that it was removed")
			case now == nil:
			case was.Removed.Absent() && !now.Removed.Absent():
				a.found("nightly-line-changed", now.Place, "the "+lineWords(was)+" was removed", "the line that the order was judged with")
			case tip(was) != tip(*now):
				a.found("nightly-line-changed", now.Place, "tip: "+tip(*now), "as judged: "+tip(was))
			case was.Kind != now.Kind || was.Lumens != now.Lumens || was.Site != now.Site:
				a.found("nightly-line-changed", now.Place, "now a "+lineWords(*now), "as judged: a "+lineWords(was))
			}
		}
		for _, now := range p.after.Case.Access {
			if now.Removed.Absent() && sameLine(p.before.Case.Access, now) == nil {
				a.found("nightly-line-changed", now.Place, "a new "+lineWords(now), "the line that the order was judged with; its tip on record before it is used")
			}
		}
	}
	if line := p.idleLine(); line != nil {
		a.found("nightly-line-changed", line.Place, "a "+lineWords(*line)+" in place, and no therapy is left for it", "removed, or an order to keep it")
	}
	if len(a.findings) > 0 {
		a.ask("look-at-line", p.local(p.beforeNext()), a.findings[0].Observed)
	}
	return a
}

// idleLine is a line that is in place while no order of the patient is in
// force any more and nothing says what becomes of it. It stands with the last
// order, by key.
func (p *pair) idleLine() *order.Access {
	if p.pairs[len(p.pairs)-1] != p || slices.ContainsFunc(p.pairs, func(q *pair) bool { return q.state == Absent || q.inForce() && !q.isOver() }) || p.lineSettled() {
		return nil
	}
	if !slices.ContainsFunc(p.pairs, func(q *pair) bool { return q.was != nil }) { // never run by us
		return nil
	}
	for i, x := range p.after.Case.Access {
		if x.Removed.Absent() && x.Kind != "" && x.Kind != "subcutaneous" {
			return &p.after.Case.Access[i]
		}
	}
	return nil
}

// isOver: every dose is listed and the last one is past.
func (p *pair) isOver() bool {
	c := p.planned()
	return c.known && c.complete && len(c.from(p.night.Now)) == 0
}

// lineSettled: a plan for the line is on record.
func (p *pair) lineSettled() bool {
	return slices.ContainsFunc(p.after.Case.Services, func(s order.Service) bool {
		return s.Kind == "access-plan" && s.Status != "revoked" && s.Status != "entered-in-error" && s.Status != "not-done"
	})
}

func sameLine(list []order.Access, x order.Access) *order.Access {
	for i, y := range list {
		if x.Ref != "" && x.Ref == y.Ref {
			return &list[i]
		}
	}
	for i, y := range list {
		if x.Ref != "" && y.Ref != "" {
			continue
		}
		if x.Kind == y.Kind && x.Site == y.Site && x.Placed.Literal == y.Placed.Literal {
			return &list[i]
		}
	}
	return nil
}

func tip(x order.Access) string {
	confirmed := "not confirmed"
	if x.TipConfirmed {
		confirmed = "confirmed"
	}
	return strings.TrimSuffix(confirmed+", "+x.TipText, ", ")
}

var lineNames = map[string]string{"peripheral": "peripheral line", "midline": "midline", "picc": "PICC", "tunnelled": "tunnelled line", "non-tunnelled": "central line without a tunnel", "port": "port", "subcutaneous": "subcutaneous line"}

func lineWords(x order.Access) string {
	words := cmp.Or(lineNames[x.Kind], "line")
	switch {
	case x.Lumens == 1:
		words += " with 1 lumen"
	case x.Lumens > 1:
		words += " with " + counted(x.Lumens, "", "lumens")
	}
	return strings.TrimSuffix(words+", "+x.Site, ", ")
}
