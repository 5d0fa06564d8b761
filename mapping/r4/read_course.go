package r4

import (
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// readBounds reads bounds[x]: a period, a length, or a range of lengths of
// which the longer is taken as the course and said. The timing keeps both
// lengths, and a period whose ends have a time; a date alone has no instant
// before the zone of the home is known, so that it stays with the course.
func (o *orderScope) readBounds(n element.Node, i *instruction) {
	c, b := &i.course, &i.timing.Bounds
	if p := n.Get("boundsPeriod"); p.Exists() {
		start, end := instant(p, "start"), instant(p, "end")
		if !start.Absent() {
			c.Start = start
		}
		c.End, c.Place = end, p.Place()
		if !start.DateOnly && !end.DateOnly {
			b.Start, b.End = start.Time, end.Time
		}
	}
	if d := n.Get("boundsDuration"); d.Exists() {
		if q, ok := o.courseLength(d, i); ok {
			b.Shortest, b.Longest = quantity.Point(q.Low, q.Unit), quantity.Point(q.High, q.Unit)
		}
	}
	if r := n.Get("boundsRange"); r.Exists() {
		high := r.Get("high")
		if high.Exists() {
			o.said(r, "the longer end of the range is taken as the length of the course")
			if q, ok := o.courseLength(high, i); ok {
				b.Longest = quantity.Point(q.High, q.Unit)
			}
		} else {
			o.said(r, "the range of the course has no upper end: the end of the course is open")
		}
		if low := r.Get("low"); low.Exists() && (!b.Longest.Absent() || !high.Exists()) {
			if q, ok := o.lengthOf(low); ok {
				b.Shortest = quantity.Point(q.Quantity.Low, q.Quantity.Unit)
			}
		}
	}
}

// courseLength reads a length as that of the course, and states it.
func (o *orderScope) courseLength(n element.Node, i *instruction) (quantity.Quantity, bool) {
	s, ok := o.lengthOf(n)
	if !ok {
		return quantity.Quantity{}, false
	}
	i.course.Length, i.course.Place = &s, n.Place()
	i.pace = append(i.pace, s)
	return s.Quantity, true
}

// lengthOf reads a length of time of the course.
func (o *orderScope) lengthOf(n element.Node) (order.Stated, bool) {
	q, ok := o.quantity(n)
	if !ok {
		return order.Stated{}, false
	}
	s, ok := q.stated("courseLength", quantity.Time, order.Coded, "")
	if !ok || q.counted() {
		o.fault("record-unit-unknown", n, "a course of "+q.literal+" "+q.unit.Code(), "a length of time", "the length of the course is not in a unit of time")
		return order.Stated{}, false
	}
	return s, true
}

// readCourse puts together when therapy begins and ends: the earliest start,
// the latest end.
func (o *orderScope) readCourse(list []instruction) {
	c := &o.out.Course
	var scheduled int
	for _, i := range list {
		if i.asNeeded && len(list) > 1 {
			continue
		}
		scheduled++
		if s := i.course.Start; !s.Absent() && (c.Start.Absent() || s.Time.Before(c.Start.Time)) {
			c.Start = s
		}
		if e := i.course.End; !e.Absent() && (c.End.Absent() || e.Time.After(c.End.Time)) {
			c.End = e
		}
		if c.Length == nil {
			c.Length = i.course.Length
		}
		if c.Count == 0 {
			c.Count = i.course.Count
		}
		c.Single = i.course.Single
		if c.Place.Expression == "" {
			c.Place = i.course.Place
		}
	}
	if scheduled != 1 && len(o.out.Steps) == 0 {
		c.Single = false
	}
	if p := extensionValue(o.res.node, fromR5+"MedicationRequest.effectiveDosePeriod"); p.Exists() {
		if c.Start.Absent() {
			c.Start = instant(p, "start")
		}
		if c.End.Absent() && c.Length == nil && c.Count == 0 {
			c.End, c.Place = instant(p, "end"), p.Place()
		}
	}
}

// readDispenseRequest reads how much the hospital asks for.
func (o *orderScope) readDispenseRequest() {
	n := o.res.node.Get("dispenseRequest")
	if n.Kind() != element.Object {
		return
	}
	s := &o.out.Ordered
	s.Place = n.Place()
	s.Repeats = o.whole(n, "numberOfRepeatsAllowed")
	if a := extensionValue(n, ours+"delivery-address"); a.Exists() {
		address := address(a)
		o.out.DeliveryAddress = &address
	}
	if v := n.Get("validityPeriod"); v.Exists() {
		s.From, s.To = instant(v, "start"), instant(v, "end")
	}
	if q, ok := o.quantity(n.Get("expectedSupplyDuration")); ok && !q.counted() {
		if d, ok := q.stated("expectedSupplyDuration", quantity.Time, order.Coded, ""); ok {
			s.Days = &d
		}
	}
	each, says := o.doses(n.Get("quantity"))
	first, firstSays := o.doses(n.Get("initialFill").Get("quantity"))
	s.First = first
	if each == 0 && first == 0 {
		return
	}
	at := n.Get("quantity")
	if each == 0 {
		at = n.Get("initialFill").Get("quantity")
	}
	s.Place, s.Literal, s.Unit = at.Place(), at.Get("value").Literal(), at.Get("unit").Text()
	if s.Unit == "" {
		s.Unit = at.Get("code").Text()
	}
	s.Says = says
	switch {
	case first > 0:
		s.Doses = first + s.Repeats*each
		s.Says = firstSays
		if each > 0 && s.Repeats > 0 {
			s.Says = joined(s.Says, "the first fill and the repeats added up")
		}
	default:
		s.Doses = each * (1 + s.Repeats)
		if s.Repeats > 0 {
			s.Says = joined(s.Says, "the quantity times one fill and its repeats")
		}
	}
}

func joined(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// doses is a quantity as a number of doses: a count, or a volume or an amount
// divided by one container.
func (o *orderScope) doses(n element.Node) (count int, says string) {
	q, ok := o.countOrAmount(n)
	if !ok {
		return 0, ""
	}
	doses := q.value
	if !q.counted() {
		per := o.perContainer(q)
		if per.Sign() == 0 {
			o.notUsed(n, "the quantity is in %s and the content of one container in that kind of unit is not stated", q.unit.Code())
			return 0, ""
		}
		doses = q.unit.ToBase(q.value).Quo(per)
		says = "the quantity divided by the content of one container"
	}
	v, ok := doses.Floor()
	if !ok || !doses.IsInt() || v <= 0 || v > 100_000 {
		o.notUsed(n, "the quantity is no whole number of doses")
		return 0, ""
	}
	return int(v), says
}

// countOrAmount reads a quantity to be dispensed. Words for one dose or one
// container are a count even without a code, as most systems send them; a
// code of another system is left out and said.
func (o *orderScope) countOrAmount(n element.Node) (number, bool) {
	system, code := n.Get("system").Text(), n.Get("code").Text()
	if n.Get("value").Exists() && system != ucum && (code != "" || n.Get("unit").Text() != "") {
		if !hasWord(n.Get("unit").Text(), "dose", "doses", "bag", "bags", "container", "containers", "syringe", "syringes", "reservoir", "reservoirs", "each", "ea") {
			o.notUsed(n, "the unit of the quantity is neither UCUM nor a word for doses or containers")
			return number{}, false
		}
		v, err := quantity.ParseNumber(n.Get("value").Literal())
		o.said(n, "read from text: the quantity counts %s", n.Get("unit").Text())
		return number{node: n, literal: n.Get("value").Literal(), value: v}, err == nil && n.Get("comparator").Text() == ""
	}
	return o.quantity(n)
}

// perContainer is the amount in one container in base units of q's kind.
func (o *orderScope) perContainer(q number) quantity.Number {
	candidates := []*order.Stated{o.out.Drug.Amount, o.out.Drug.Content}
	for i := range o.out.Stated {
		if n := o.out.Stated[i].Name; n == "dose" || n == "volume" {
			candidates = append(candidates, &o.out.Stated[i])
		}
	}
	for _, s := range candidates {
		if s != nil && s.Quantity.IsPoint() && s.Quantity.Unit.Dimension() == q.dimension() && s.Quantity.Low.Sign() > 0 {
			low, _ := s.Quantity.Base()
			return low
		}
	}
	return quantity.Number{}
}
