package reconciliation

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/schedule"
)

// dischargeMoved: row m12. The newest stay decides. The course keeps its end:
// it hangs on the first day of therapy, and only a prescriber moves it.
func dischargeMoved(p *pair) (a answer) {
	if p.was == nil || p.now == nil || !p.inForce() || p.state == Older {
		return a
	}
	if p.bothKnown() {
		was, now := discharge(p.before.Case), discharge(p.after.Case)
		switch {
		case was == nil || was.At.Absent():
		case now == nil || now.At.Absent():
			a.found("nightly-discharge-moved", p.after.Case.Patient.Place, "no discharge is on record any more", "as held: "+p.day(was.At))
		case now.At.Literal != was.At.Literal && !now.At.Time.Equal(was.At.Time) && !p.leftAsPlanned(now):
			a.found("nightly-discharge-moved", now.Place, "discharge "+p.day(now.At), "as held: "+p.day(was.At)+"; the course keeps its end")
		}
	}
	if len(a.findings) == 0 && standsIn(p.now, "schedule-start-passed") && !p.started() {
		a.found("nightly-discharge-moved", p.place(), "the first home dose, "+p.moment(p.planned().firstDose)+", is past and no record says that it was given", "a dose on record, or a new first dose")
	}
	if len(a.findings) > 0 {
		a.ask("plan-again", p.beforeNext(), a.findings[0].Observed)
		a.ask("confirm-contact", p.beforeNext(), "visits, deliveries and tests hang on the new time")
	}
	return a
}

// leftAsPlanned: the patient has left, some minutes or hours from the plan, and
// the first home dose is the same: nothing hangs on the difference any more.
func (p *pair) leftAsPlanned(d *order.Discharge) bool {
	was, now := courseOf(p.was), courseOf(p.now)
	return !d.At.DateOnly && !d.At.Time.After(p.night.Now) && !was.firstDose.IsZero() && was.firstDose.Equal(now.firstDose)
}

// started: the store holds a dose given at home.
func (p *pair) started() bool {
	return slices.ContainsFunc(p.held.Records, func(e plan.Event) bool { return e.Kind == plan.Given && !e.At.After(p.night.Now) })
}

// discharge is the newest statement about a hospital stay, else about any.
func discharge(c order.Case) *order.Discharge {
	for i, d := range c.Discharges {
		if d.Inpatient {
			return &c.Discharges[i]
		}
	}
	if len(c.Discharges) > 0 {
		return &c.Discharges[0]
	}
	return nil
}

func (p *pair) day(i order.Instant) string {
	if i.DateOnly {
		return notation.Date(i.Time)
	}
	return p.moment(i.Time)
}

// endPassed: row m15. The end is past and something is left or booked; or it
// is near and nobody has said what follows.
func endPassed(p *pair) (a answer) {
	c := p.planned()
	if p.now == nil || !p.current().active() && p.now.order.Status != "completed" || p.now.replaced {
		return a
	}
	if c.end.IsZero() {
		if !p.now.order.Course.End.Absent() {
			a.lacking("nightly-end-passed", "time zone of the patient's home", "the end is a date alone and cannot be placed")
		}
		return a
	}
	now := p.night.Now
	if !c.end.After(now) {
		var parts []string
		for _, x := range []struct {
			n         int
			one, many string
		}{{p.stock.pharmacy, "unit in the pharmacy", "units in the pharmacy"}, {p.stock.way, "unit on the way", "units on the way"}, {p.stock.least, "unit at home", "units at home"}, {p.bookedAfter(c.end), "booking after it", "bookings after it"}} {
			if x.n > 0 {
				parts = append(parts, counted(x.n, x.one, x.many))
			}
		}
		if !p.stock.known && c.known {
			a.lacking("nightly-end-passed", "units at home", "the end was "+p.moment(c.end)+", and nothing on record tells what is left at home")
		}
		if len(parts) > 0 {
			a.found("nightly-end-passed", p.endPlace(), "the end was "+p.moment(c.end)+"; left: "+strings.Join(parts, ", "), "nothing planned, made or at home after the end")
			a.ask("call-prescriber", p.local(now), "the end has passed with units left: extend or stop?")
			a.ask("dispatch-block", p.local(now), "the end has passed")
			if p.stock.least > 0 {
				a.ask("fetch-back", p.local(now), counted(p.stock.least, "unit", "units")+" left after the end")
			}
		}
		return a
	}
	days := time.Duration(p.night.Reference.Policy.Night.EndDays) * 24 * time.Hour
	long := c.known && c.end.Sub(c.doses[0]) > days
	if c.end.Sub(now) <= days && long && p.inForce() && !p.held.EndAsked && !p.lineSettled() && !p.held.Settled {
		a.found("nightly-end-passed", p.endPlace(), "the end is "+p.moment(c.end)+", and nobody has said what follows", "the prescriber's word, extend or stop, and a plan for the line")
		a.ask("call-prescriber", p.beforeNext(), "the end is near: extend or stop, and what becomes of the line?")
	}
	return a
}

func (p *pair) endPlace() finding.Place {
	if at := p.current().order.Course.End.Place; at.Expression != "" {
		return at
	}
	return p.place()
}

func (p *pair) bookedAfter(end time.Time) (n int) {
	for _, b := range p.held.Bookings {
		if b.At.After(end) && b.At.After(p.night.Now) && b.What == "delivery" {
			n++
		}
	}
	return n
}

// overrideExpired: row m18. The finding holds again, as if nobody had passed
// it; when it no longer stands there is nothing to decide.
func overrideExpired(p *pair) (a answer) {
	for _, o := range p.expired() {
		row, _ := finding.Lookup(o.Code)
		a.found("nightly-override-expired", p.place(), "passed until "+p.moment(o.Expires)+": "+lowerFirst(row.Title)+" (`"+string(o.Code)+"`)", "a decision with today's facts")
		a.ask("decide-again", p.beforeNext(), "expired "+p.moment(o.Expires)+": `"+string(o.Code)+"`")
	}
	return a
}

func lowerFirst(s string) string {
	if s == "" || len(s) > 1 && s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// expired are the decisions for this order whose time has come and whose
// finding still stands.
func (p *pair) expired() []Override {
	var out []Override
	for _, o := range p.all.Overrides {
		stands := p.current().sheet == nil || standsIn(p.current(), o.Code) || slices.Contains(p.held.Standing, o.Code) && strings.HasPrefix(string(o.Code), "nightly-")
		if o.Order == p.key && !o.Expires.IsZero() && !o.Expires.After(p.night.Now) && stands {
			out = append(out, o)
		}
	}
	slices.SortFunc(out, func(a, b Override) int { return strings.Compare(string(a.Code), string(b.Code)) })
	return out
}

func (p *pair) reopened() []finding.Code {
	var out []finding.Code
	for _, o := range p.expired() {
		out = append(out, o.Code)
	}
	return slices.Compact(out)
}

// taskOverdue: row m19. Once the grace is over the next in line is told, then
// the supervisor. A task of the patient, or of an order that is on
// neither side, stands with the first order, by key.
func taskOverdue(p *pair) (a answer) {
	var list []OpenTask
	for _, t := range p.all.Tasks {
		if t.Order == p.key || p.pairs[0] == p && !slices.ContainsFunc(p.pairs, func(q *pair) bool { return q.key == t.Order }) {
			list = append(list, t)
		}
	}
	return overdue(list, p.night, p.zone, p.place)
}

// Overdue is row m19 of one order alone, from its open tasks: what Compare
// says of them at the same clock, in the same words, and the tasks it asks for.
// Home is the zone of the patient's home, place that of the order.
func Overdue(tasks []OpenTask, n Night, home schedule.Zone, place finding.Place) ([]finding.Finding, []fulfillment.Task) {
	a := overdue(tasks, n, home, func() finding.Place { return place })
	finding.Sort(a.findings)
	return a.findings, once(a.tasks)
}

// OverdueFrom lists the instants from which more is said of an open task.
func OverdueFrom(t OpenTask, n policy.Night) []time.Time {
	if t.Due.IsZero() || escalates(t.Code) {
		return nil
	}
	return []time.Time{t.Due.Add(time.Duration(n.TaskGrace) + 1), t.Due.Add(time.Duration(n.TaskSupervisor) + 1)}
}

// escalates: the task it is about is overdue still, and goes on up.
func escalates(code string) bool { return strings.HasPrefix(code, "escalate-") }

func overdue(tasks []OpenTask, night Night, home schedule.Zone, place func() finding.Place) (a answer) {
	n := night.Reference.Policy.Night
	list := slices.Clone(tasks)
	slices.SortStableFunc(list, func(x, y OpenTask) int {
		if c := x.Due.Compare(y.Due); c != 0 {
			return c
		}
		return strings.Compare(x.ID+x.Code, y.ID+y.Code)
	})
	p := &pair{night: night, zone: home}
	for _, t := range list {
		if t.Due.IsZero() || escalates(t.Code) {
			continue
		}
		late := night.Now.Sub(t.Due)
		if late <= time.Duration(n.TaskGrace) {
			continue
		}
		title := t.Code
		if row, ok := finding.Lookup(finding.Code(t.Code)); ok { // asked for by a finding: it has its name
			title = lowerFirst(row.Title)
		}
		for _, r := range fulfillment.TaskRows() {
			if r.Code == t.Code {
				title = lowerFirst(r.Title)
			}
		}
		a.found("nightly-task-overdue", place(), "due "+p.moment(t.Due)+", "+t.Role+": "+title, "closed, or handed on, by its due time")
		if late > time.Duration(n.TaskSupervisor) {
			a.ask("escalate-supervisor", p.clock(), t.Role+", due "+p.moment(t.Due)+": "+title)
		} else {
			a.ask("escalate-next", p.clock(), t.Role+", due "+p.moment(t.Due)+": "+title)
		}
	}
	return a
}
