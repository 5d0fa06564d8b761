package r4

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// knownTips are the codes of a central position that was seen. not-confirmed is
// none, and of another place the words must tell that it is central.
var knownTips = []string{"cavoatrial-junction", "superior-vena-cava", "right-atrium", "inferior-vena-cava"}

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
	was := lengths{}
	silent := map[string]order.Access{}
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
			known := slices.Contains(knownTips, code) && !tipDenied(strings.ToLower(text))
			if code == "other" {
				inWords = inWords && anyIn(strings.ToLower(text), centralWords)
			}
			c.tip(a, known || (code == "" || code == "other") && inWords, o.at, text)
			was.confirmed(a)
			delete(silent, a.Ref)
		case "blood-return":
			a.BloodReturn = firstText(value.Code(ourCodes+"blood-return"), text)
			c.bloodReturn(a, o.at, silent)
		case "external-length":
			if q, ok := c.quantity(o.s.node.Get("valueQuantity")); ok && !q.counted() && q.dimension() == quantity.Length {
				length := q.unit.ToBase(q.value)
				if o.at.Time.Before(a.TipAt.Time) {
					delete(was, a.Ref) // what was confirmed later goes with the newest length before it
				}
				if was.grew(a, length) {
					a.TipConfirmed, a.TipAt = false, o.at
					a.TipText = "the external length changed by more than 1 cm after the tip was confirmed"
					delete(silent, a.Ref)
				}
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

// bloodReturn: a line that gives no blood is not known to lie in the vein,
// whatever was seen before; when it gives blood again what was seen holds.
func (c *caseScope) bloodReturn(a *order.Access, at order.Instant, silent map[string]order.Access) {
	before, since := silent[a.Ref]
	switch absent := a.BloodReturn == "absent" || strings.Contains(strings.ToLower(a.BloodReturn), "no blood"); {
	case absent && !since && !at.Time.Before(a.TipAt.Time):
		silent[a.Ref] = *a
		a.TipConfirmed, a.TipAt, a.TipText = false, at, "no blood return at the last look"
	case !absent && since:
		a.TipConfirmed, a.TipAt, a.TipText = before.TipConfirmed, before.TipAt, before.TipText
		delete(silent, a.Ref)
	}
}

// lengths are the external lengths of a line, in metres: the one that goes with
// the confirmed tip, and the newest.
type lengths map[string]*length

type length struct{ ref, last quantity.Number }

// grew: since the tip was confirmed the length has changed by more than 1 cm,
// at once or little by little. The first length of all is only kept.
func (l lengths) grew(a *order.Access, now quantity.Number) bool {
	x := l[a.Ref]
	if x == nil {
		l[a.Ref] = &length{now, now}
		return false
	}
	x.last = now
	return quantity.Ratio(1, 100).Less(now.Sub(x.ref).Abs())
}

// confirmed: the tip was looked at; from here on its length then counts.
func (l lengths) confirmed(a *order.Access) {
	if x := l[a.Ref]; x != nil && a.TipConfirmed {
		x.ref = x.last
	}
}

// tipInWords: a position, and the word confirmed. "not confirmed" and
// "pending" are no confirmation, a vein that is not central is none, and a line
// that moved has lost the one it had.
func tipInWords(text string) (position, confirmed bool) {
	t := strings.ToLower(text)
	if !strings.Contains(t, "tip") && !anyIn(t, centralWords) && !tipMoved(t) {
		return false, false
	}
	return true, !tipDenied(t) && hasWord(t, "confirmed", "verified")
}

func tipDenied(t string) bool {
	return anyIn(t, denials) || tipMoved(t) || anyIn(t, elsewhere) && !anyIn(t, centralWords)
}

// tipMoved: the words tell that the line moved, and not that it was set right.
func tipMoved(t string) bool {
	return moved.MatchString(unmoved.ReplaceAllString(t, "")) && !strings.Contains(t, "reposition")
}

func anyIn(t string, list []string) bool {
	return slices.ContainsFunc(list, func(w string) bool { return strings.Contains(t, w) })
}

// Words of reports on radiographs and of nurses' notes; common practice, no source.
var (
	centralWords = []string{"cavo-atrial", "cavoatrial", "superior vena cava", "inferior vena cava", "svc", "right atrium"}
	elsewhere    = []string{"axillary", "subclavian", "brachiocephalic", "innominate", "jugular", "azygos", "ventric", "clavicular", "contralateral"}
	denials      = []string{"not confirmed", "unconfirmed", "not yet confirmed", "pending", "to be confirmed", "not verified", "awaiting", "cannot be confirmed", "could not be confirmed", "no confirmation",
		"unable to", "not seen", "not visuali", "not in the", "not at the"}
	moved   = regexp.MustCompile(`migrat|dislodg|displac|malposition|slipped|pulled out|\bmoved\b`)
	unmoved = regexp.MustCompile(`\b(no|not|without|never)( \w+)? (migrat\w*|dislodg\w*|displac\w*|malposition\w*|slipped|moved|pulled out)`)
)
