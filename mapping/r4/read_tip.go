package r4

import (
	"cmp"
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// knownTips are the codes of a position that was seen; not-confirmed is none.
var knownTips = []string{"cavoatrial-junction", "superior-vena-cava", "right-atrium", "inferior-vena-cava", "other"}

// tip records a statement of the tip position; the newest holds.
func (c *caseScope) tip(a *order.Access, confirmed bool, at order.Instant, text string) {
	if !a.TipAt.Absent() && at.Time.Before(a.TipAt.Time) {
		return
	}
	a.TipConfirmed, a.TipAt, a.TipText = confirmed, at, text
}

// readTips reads tip position, blood return and external length from
// observations, oldest first, so that the newest statement holds. A line
// whose external length grew by more than 1 cm, or that was moved, after the
// confirmation is unconfirmed.
func (c *caseScope) readTips() {
	type seen struct {
		s  *resource
		at order.Instant
	}
	var list []seen
	for _, s := range c.mine {
		if s.kind != "Observation" || concept(s.node.Get("code")).Code(ourCodes+"access-observation") == "" || !c.usable(s) || !c.final(s) {
			continue
		}
		at := c.observedAt(s)
		if c.after(at) {
			s.why = afterClock
			continue
		}
		list = append(list, seen{s, at})
	}
	slices.SortStableFunc(list, func(a, b seen) int { return cmp.Or(a.at.Time.Compare(b.at.Time), compareResources(a.s, b.s)) })
	lengths := map[string]quantity.Number{}
	for _, o := range list {
		a := c.lineOf(o.s)
		if a == nil {
			o.s.why = "nothing says which line it is about"
			continue
		}
		o.s.used = true
		value := concept(o.s.node.Get("valueCodeableConcept"))
		text := firstText(value.Text, value.Name(), o.s.node.Get("valueString").Text())
		switch concept(o.s.node.Get("code")).Code(ourCodes + "access-observation") {
		case "tip-position":
			code := value.Code(ourCodes + "tip-position")
			_, inWords := tipInWords("tip " + text)
			denied := strings.Contains(strings.ToLower(text), "not confirmed") || strings.Contains(strings.ToLower(text), "pending")
			c.tip(a, slices.Contains(knownTips, code) && !denied || code == "" && inWords, o.at, text)
		case "blood-return":
			a.BloodReturn = firstText(value.Code(ourCodes+"blood-return"), text)
		case "external-length":
			if q, ok := c.quantity(o.s.node.Get("valueQuantity")); ok && !q.counted() && q.dimension() == quantity.Length {
				length := q.unit.ToBase(q.value)
				if before, known := lengths[a.Ref]; known && quantity.Ratio(1, 100).Less(length.Sub(before).Abs()) && !o.at.Time.Before(a.TipAt.Time) {
					a.TipConfirmed, a.TipAt = false, o.at
					a.TipText = "the external length changed by more than 1 cm after the tip was confirmed"
				}
				lengths[a.Ref] = length
			}
		default:
			o.s.used, o.s.why = false, "no rule reads this observation of the line"
		}
	}
}

// lineOf is the line an observation is about: its focus or device, or the
// only line there is.
func (c *caseScope) lineOf(s *resource) *order.Access {
	refs := append(s.node.Get("focus").Each(), s.node.Get("device").Each()...)
	for _, ref := range refs {
		if t := c.touch(ref, s); t != nil {
			if a := c.accessOf(t.name()); a != nil {
				return a
			}
		}
	}
	if len(refs) == 0 && len(c.kase.Access) == 1 {
		return &c.kase.Access[0]
	}
	return nil
}
