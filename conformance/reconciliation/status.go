package reconciliation

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
)

// settle names the state. An older message is put aside: what is held stands.
func (p *pair) settle() {
	switch {
	case p.was == nil:
		p.state = New
	case p.now == nil:
		p.state = Absent
	case older(p.now, p.was) && differ(p.was, p.now):
		p.state, p.older, p.now = Older, p.now, p.was
	case differ(p.was, p.now):
		p.state = Changed
	default:
		p.state = Unchanged
	}
}

// differ reports whether anything of the order is another than before: its
// own resource, or the drug or device that stands beside it. Numbers that
// follow from a new weight are no change of the order; they are row m11's.
func differ(was, now *version) bool {
	x, y := was.order, now.order
	return x.Version != y.Version || x.Status != y.Status || !sameDrug(x.Drug, y.Drug) ||
		deviceWords(x.Device) != deviceWords(y.Device) || statedWords(x.Device.Parameters) != statedWords(y.Device.Parameters)
}

// older reports whether a is older than b: by the sender's time of the
// version, then its number, then the time the order was written.
func older(a, b *version) bool {
	x, y := a.stamp, b.stamp
	if !x.Updated.IsZero() && !y.Updated.IsZero() && !x.Updated.Equal(y.Updated) {
		return x.Updated.Before(y.Updated)
	}
	m, errX := strconv.ParseUint(x.Version, 10, 64)
	n, errY := strconv.ParseUint(y.Version, 10, 64)
	if errX == nil && errY == nil && m != n {
		return m < n
	}
	return !a.order.AuthoredOn.Absent() && !b.order.AuthoredOn.Absent() && a.order.AuthoredOn.Time.Before(b.order.AuthoredOn.Time)
}

// inForce: the order that holds is one that may be given.
func (p *pair) inForce() bool {
	v := p.current()
	return v.active() && !v.replaced
}

func (v *version) active() bool {
	return v != nil && v.order.Status == "active" && !v.order.DoNotPerform && !v.related && meant[v.order.Intent] && !wardOnly(v.order)
}

// meant are the intents of an order; a proposal or a plan is none yet.
var meant = map[string]bool{"": true, "order": true, "original-order": true, "reflex-order": true, "filler-order": true, "instance-order": true}

// wardOnly: an order for the stay in hospital alone, which ends at every
// discharge and is none for the home (HL7 medicationrequest-category).
func wardOnly(o order.Order) bool {
	ward := false
	for _, c := range o.Categories {
		switch c.Code("http://terminology.hl7.org/CodeSystem/medicationrequest-category") {
		case "inpatient":
			ward = true
		case "discharge", "community", "outpatient":
			return false
		}
	}
	return ward
}

// stops are the words for what ended an order.
var stops = map[string]string{"stopped": "stopped", "cancelled": "cancelled", "entered-in-error": "entered in error", "on-hold": "on hold"}

// stopped: row m1. A stop is HOLD-and-ask, never a deletion: of stops sent
// electronically some were never meant (PMC10481320). Completed is another
// thing: routine closing, or a true end.
func stopped(p *pair) (a answer) {
	if p.now == nil || p.now.replaced {
		return a
	}
	o := p.now.order
	word := stops[o.Status]
	if o.DoNotPerform {
		word = "not to be given"
	}
	if word == "" && o.Status != "completed" {
		return a
	}
	runs, says := p.running()
	if !runs {
		return a
	}
	where := cmp.Or(o.StatusPlace.Expression, o.Place.Expression)
	observed := word
	if word == "" {
		observed = "completed"
	}
	if !o.Stopped.Absent() {
		observed += " " + p.moment(o.Stopped.Time)
	}
	observed += "; here " + says
	if word == "" {
		a.found("nightly-stopped-completed", p.placeAt(where), observed, "no dose left, or the prescriber's word whether home therapy goes on")
		a.ask("dispatch-block", p.night.Now, "completed at the hospital: nothing leaves until the prescriber has said whether home therapy goes on")
		a.ask("call-prescriber", p.beforeNext(), "is the order at its end, or was it closed as routine? "+says)
		return a
	}
	a.found("nightly-stopped", p.placeAt(where), observed, "active, or nothing planned, made or at home")
	p.stopTasks(&a, "the order is "+word+" at the hospital")
	return a
}

// replaced: row m3. The old order must run nowhere once another took its
// place; the patient could receive both.
func replaced(p *pair) (a answer) {
	if p.now == nil || !p.now.replaced {
		return a
	}
	runs, says := p.running()
	if !runs {
		return a
	}
	f := a.found("nightly-replaced", p.place(), "replaced by another order; of this one "+says, "nothing planned, made or at home of an order that was replaced")
	if by := p.successor(); by != nil {
		f.Evidence = append(f.Evidence, by.current().order.Place.Expression)
	}
	p.stopTasks(&a, "another order replaced it")
	return a
}

// successor is the order of the patient that names this one as replaced.
func (p *pair) successor() *pair {
	for _, other := range p.pairs {
		if other != p && other.now != nil && slices.ContainsFunc(other.now.order.Prior, func(ref string) bool { return refers(ref, p.now.order) }) {
			return other
		}
	}
	return nil
}

// unseen: row m4. Age counts from when the hospital wrote or sent it, by the
// earlier of the two; an order without either has no age and is not passed
// over.
func unseen(p *pair) (a answer) {
	if p.now == nil || !p.now.active() || p.now.replaced || p.state != New && (!p.known || p.held.Received.IsZero()) || !p.held.Opened.IsZero() {
		return a
	}
	since, limit := p.now.stamp.Updated, time.Duration(p.night.Reference.Policy.Night.UnseenAge)
	if w := p.now.order.AuthoredOn; !w.Absent() && !w.DateOnly && (since.IsZero() || w.Time.Before(since)) {
		since = w.Time
	}
	if since.IsZero() {
		since = p.held.Received
	}
	observed := "nobody here has looked at it, and since when it stands is not on record"
	if !since.IsZero() {
		if p.night.Now.Sub(since) < limit {
			return a
		}
		observed = "written or sent " + p.moment(since) + "; nobody here has looked at it" // an instant, no age: what stands must stay true
	}
	a.found("nightly-unseen", p.place(), observed, "looked at within "+notation.Duration(limit))
	a.ask("judge-order", p.night.Now, observed)
	return a
}

// absent: row m5. Absence is never a stop. Nobody is asked about an order
// whose last dose is over.
func absent(p *pair) (a answer) {
	if p.state != Absent || !p.was.active() || p.was.replaced || p.held.Settled {
		return a
	}
	c := courseOf(p.was)
	if c.known && c.complete && len(c.from(p.night.Now)) == 0 && p.stock.count() == 0 {
		return a
	}
	a.found("nightly-absent", p.place(), "active here; not in the hospital's state of tonight", "in the hospital's state, active or stopped")
	a.ask("call-hospital", p.beforeNext(), "the order is not in the hospital's state any more: does therapy go on? Nothing is stopped here until somebody says so")
	return a
}

// olderMessage: row m23.
func olderMessage(p *pair) (a answer) {
	if p.state != Older {
		return a
	}
	a.found("nightly-older-message", p.older.order.Place, "status "+p.older.order.Status+", "+stampWords(p, p.older), "newer than what is held: status "+p.was.order.Status+", "+stampWords(p, p.was))
	return a
}

func stampWords(p *pair, v *version) string {
	switch {
	case !v.stamp.Updated.IsZero():
		says := "of " + p.moment(v.stamp.Updated)
		if v.stamp.Version != "" {
			says += " (version `" + v.stamp.Version + "`)"
		}
		return says
	case v.stamp.Version != "":
		return "version `" + v.stamp.Version + "`"
	}
	return "written " + p.moment(v.order.AuthoredOn.Time)
}

// duplicate: row m20. Two orders of one drug in force at one time, neither of
// which says that it replaces the other. Each of them is held: nobody knows yet
// which one counts.
func duplicate(p *pair) (a answer) {
	if p.now == nil || !p.inForce() || p.now.order.Course.Single {
		return a
	}
	name := compendium.Fold(drugName(p.now.order))
	if name == "" {
		return a
	}
	for _, other := range p.pairs {
		if other == p || other.now == nil || !other.inForce() || other.now.order.Course.Single || compendium.Fold(drugName(other.now.order)) != name || apart(p.now, other.now) {
			continue
		}
		f := a.found("nightly-duplicate", p.place(), "two active orders for "+notation.DrugName(name), "one of the two; the other stopped by the prescriber, or the word that both are meant")
		f.Evidence = []string{other.now.order.Place.Expression}
		a.ask("call-prescriber", p.beforeNext(), "two active orders for "+notation.DrugName(name)+": which one counts?")
	}
	return a
}

// apart: the courses of two orders do not meet.
func apart(a, b *version) bool {
	x, y := courseOf(a), courseOf(b)
	after := func(v *version, c, d course) bool {
		start := c.place(v.order.Course.Start, false)
		return !start.IsZero() && !d.end.IsZero() && !start.Before(d.end)
	}
	return after(a, x, y) || after(b, y, x)
}

// placeAt is the place of the order with another expression.
func (p *pair) placeAt(expression string) finding.Place {
	place := p.place()
	if expression != place.Expression {
		return finding.Place{Expression: expression}
	}
	return place
}

// moment writes an instant in the patient's zone.
func (p *pair) moment(t time.Time) string { return notation.Instant(p.local(t), "") }

// beforeNext is by when a question must be answered: the next planned dose,
// and now when there is none.
func (p *pair) beforeNext() time.Time {
	c := p.planned()
	if next := c.from(p.night.Now); len(next) > 0 {
		return p.local(next[0])
	}
	return p.clock()
}
