package r4

import (
	"cmp"
	"slices"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// readAccess reads the patient's vascular access: a device in use, a device
// of the patient, an insertion, or words in an order's site. Newest first.
func (c *caseScope) readAccess() {
	for _, s := range c.mineOf("DeviceUseStatement") {
		c.readDeviceUse(s)
	}
	for _, s := range c.mine {
		if s.kind != "Device" || c.accessOf(s.name()) != nil || !c.usable(s) {
			continue
		}
		if c.addDevice(s) {
			s.used = true
		} else if !s.used {
			s.why = firstText(s.why, "it is no vascular access that is recognised")
		}
	}
	for _, s := range c.mineOf("Procedure") {
		c.readProcedure(s)
	}
	if len(c.kase.Access) == 0 {
		c.accessFromSites()
	}
	c.readTips()
	slices.SortStableFunc(c.kase.Access, func(a, b order.Access) int {
		return cmp.Or(b.Placed.Time.Compare(a.Placed.Time), cmp.Compare(a.Ref, b.Ref))
	})
}

func (c *caseScope) accessOf(ref string) *order.Access {
	for i := range c.kase.Access {
		if c.kase.Access[i].Ref == ref && ref != "" {
			return &c.kase.Access[i]
		}
	}
	return nil
}

// addDevice adds a Device that is a vascular access.
func (c *caseScope) addDevice(s *resource) bool {
	n := s.node
	t := concept(n.Get("type"))
	kind, lumens := accessKind(t)
	if kind == "" {
		return false
	}
	if st := n.Get("status").Text(); st != "" && st != "active" {
		s.why = "its status is " + quoted(st)
		return false
	}
	if lumens == 0 {
		lumens = lumensIn(words(t))
	}
	a := order.Access{Kind: kind, Type: t, Lumens: lumens, Ref: s.name(), Place: n.Place()}
	for _, p := range n.Get("property").Each() {
		c.accessProperty(p, &a)
	}
	c.kase.Access = append(c.kase.Access, a)
	return true
}

func (c *caseScope) accessProperty(p element.Node, a *order.Access) {
	code := concept(p.Get("type")).Code(ourCodes + "access-property")
	q, ok := c.quantity(p.Get("valueQuantity").At(0))
	if !ok {
		return
	}
	switch code {
	case "lumen-count":
		n, ok := q.value.Floor()
		if !ok || !q.value.IsInt() || n < 1 || n > 9 {
			c.notUsed(p, "the number of lumens is no small whole number")
			return
		}
		if a.LumensDisputed || a.Lumens != 0 && a.Lumens != int(n) {
			c.fault("record-sources-disagree", p, q.literal+" lumens", "the number of lumens that the type of the line states", "the type of the line and its property state different numbers of lumens")
			a.Lumens, a.LumensDisputed = 0, true
			return
		}
		a.Lumens = int(n)
	case "internal-volume":
		if v, ok := q.as(quantity.Volume); ok {
			a.Volume = &order.Stated{Name: "internalVolume", Quantity: v, Literal: q.literal, Place: q.node.Place(), Witness: order.Record}
		}
	default:
		c.notUsed(p, "no rule reads this property of the line")
	}
}

func (c *caseScope) readDeviceUse(s *resource) {
	n := s.node
	st := n.Get("status").Text()
	if st != "active" && st != "completed" {
		s.used, s.why = false, "its status is "+quoted(st)
		return
	}
	t := c.touch(n.Get("device"), s)
	if t == nil {
		s.used, s.why = false, "its device is not in the document"
		return
	}
	if p := c.personOf(t); p != nil && p != c.person {
		c.fault("identity-other-patient", n.Get("device"), "a device of another patient", "a device of this patient", "a device in use belongs to another patient", t.node.Expression())
		return
	}
	a := c.accessOf(t.name())
	if a == nil {
		if !c.addDevice(t) {
			s.used, s.why = false, "its device is no vascular access in use that is recognised"
			return
		}
		a = &c.kase.Access[len(c.kase.Access)-1]
	}
	a.Placed = firstInstant(n, "timingPeriod.start", "timingDateTime")
	if end := instant(n.Get("timingPeriod"), "end"); !end.Absent() && !c.after(end) || st == "completed" {
		a.Removed = end
		if end.Absent() {
			a.Removed = firstInstant(n, "recordedOn", "timingDateTime")
		}
	}
	a.Site = firstText(a.Site, concept(n.Get("bodySite")).Name())
}

// readProcedure reads the insertion or the removal of a line.
func (c *caseScope) readProcedure(s *resource) {
	n := s.node
	code := concept(n.Get("code"))
	if code.Code(ourCodes+"access-plan") != "" {
		s.used = false // readServices reads the plan
		return
	}
	kind, lumens := accessKind(code)
	var a *order.Access
	for _, f := range n.Get("focalDevice").Each() {
		if t := c.touch(f.Get("manipulated"), s); t != nil {
			if st := t.node.Get("status").Text(); t.kind == "Device" && st != "" && st != "active" {
				s.used, s.why = false, "the status of its device is "+quoted(st)
				return
			}
			if a = c.accessOf(t.name()); a == nil && c.addDevice(t) {
				a = &c.kase.Access[len(c.kase.Access)-1]
			}
		}
	}
	if kind == "" && a == nil {
		s.used, s.why = false, "no rule reads this procedure"
		return
	}
	if st := n.Get("status").Text(); st != "completed" && st != "in-progress" {
		s.used, s.why = false, "its status is "+quoted(st)
		return
	}
	at := firstInstant(n, "performedDateTime", "performedPeriod.end", "performedPeriod.start")
	if c.after(at) {
		s.used, s.why = false, afterClock
		return
	}
	removal := hasWord(words(code), "removal", "removed", "remove", "withdrawal")
	if a == nil && !removal {
		a = c.onlyOfKind(kind)
	}
	if a == nil {
		if removal {
			s.used, s.why = false, "it removes a line that is not in the document"
			return
		}
		c.kase.Access = append(c.kase.Access, order.Access{Kind: kind, Type: code, Lumens: lumens, Ref: s.name(), Place: n.Place()})
		a = &c.kase.Access[len(c.kase.Access)-1]
	}
	if removal {
		a.Removed = at
		return
	}
	c.insertion(s, a, at)
}

// insertion adds what the record of the placement says.
func (c *caseScope) insertion(s *resource, a *order.Access, at order.Instant) {
	n := s.node
	switch {
	case a.Placed.Absent():
		a.Placed = at
	case !at.Absent() && a.Placed.Time.Sub(at.Time).Abs() > 24*time.Hour:
		c.fault("record-sources-disagree", n, at.Literal, a.Placed.Literal, "two records of one line's placement are more than one day apart; the earlier counts", a.Placed.Place.Expression)
		if at.Time.Before(a.Placed.Time) {
			a.Placed = at
		}
	}
	if a.Lumens == 0 && !a.LumensDisputed {
		a.Lumens = lumensIn(words(concept(n.Get("code"))))
	}
	for _, b := range n.Get("bodySite").Each() {
		a.Site = firstText(a.Site, concept(b).Name())
	}
	texts := []string{concept(n.Get("outcome")).Name(), words(concept(n.Get("code")))}
	for _, note := range n.Get("note").Each() {
		texts = append(texts, note.Get("text").Text())
	}
	for _, ref := range n.Get("report").Each() {
		if t := c.touch(ref, s); t != nil && t.kind == "DiagnosticReport" {
			texts = append(texts, t.node.Get("conclusion").Text())
		}
	}
	for _, text := range texts {
		if position, confirmed := tipInWords(text); position {
			seen := at
			if !at.Absent() && a.Placed.Time.After(at.Time) {
				seen = a.Placed // one placement in two records: the tip is that of this line
			}
			c.tip(a, confirmed, seen, text)
			break
		}
	}
}

// onlyOfKind is the one line of that kind without a removal, so that an
// insertion in words joins the device it placed. "Central line" may be any of
// the central kinds; the kind that is stated then counts.
func (c *caseScope) onlyOfKind(kind string) *order.Access {
	var found *order.Access
	for i := range c.kase.Access {
		if a := &c.kase.Access[i]; sameLine(a.Kind, kind) && a.Removed.Absent() {
			if found != nil {
				return nil
			}
			found = a
		}
	}
	if found != nil && found.Kind == "central" {
		found.Kind = kind
	}
	return found
}

// sameLine: two records may name one line.
func sameLine(a, b string) bool {
	central := func(kind string) bool {
		return slices.Contains([]string{"central", "picc", "tunnelled", "non-tunnelled", "port", "dialysis"}, kind)
	}
	return a == b || (a == "central" || b == "central") && central(a) && central(b)
}

// accessFromSites takes the line from the words of the orders' sites.
func (c *caseScope) accessFromSites() {
	for _, list := range [][]order.Order{c.kase.Orders, c.kase.Related} {
		for _, o := range list {
			for _, l := range o.Lines {
				if l.Kind != "site-text" {
					continue
				}
				if kind := accessWords(l.Words); kind != "" {
					c.kase.Access = append(c.kase.Access, order.Access{Kind: kind, Type: order.Concept{Text: l.Words, Place: l.Place},
						Lumens: lumensIn(l.Words), Site: l.Words, Place: l.Place})
					c.unused = append(c.unused, order.Unused{Place: l.Place, Reason: "read from text: the line is known only from the words of the site"})
					return
				}
			}
		}
	}
}
