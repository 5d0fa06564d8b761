package reconciliation

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
)

// lot is units of one lot in one place that are neither used up nor set
// apart.
type lot struct {
	name  string
	where plan.EventPlace // pharmacy, way, home
	units int
	until time.Time  // latest start; zero: not on record
	drug  order.Drug // as its record says; zero when unit says it
	unit  plan.UnitKey
	at    finding.Place
}

// stock is what there is of one order.
type stock struct {
	lots     []lot
	pharmacy int // made or being made, and not sent
	way      int

	// At home: at most, when every dose that has no record was left out; at
	// least, when each was given. Not known: a delivery was due and nothing on
	// record tells whether it came.
	known       bool
	most, least int
	says        string // where the number comes from
}

// count is how many units of the order are left anywhere, as far as known.
func (s stock) count() int { return s.pharmacy + s.way + s.most }

// count works out what there is of the order: by the records of the store,
// else by the pharmacy's dispenses in the cases, with the newest count that
// the home reported.
func (p *pair) count() stock {
	var s stock
	c := p.planned()
	var first time.Time
	given := 0
	if len(p.held.Records) > 0 {
		s, first, given = p.fromRecords(c)
	} else {
		s, first = p.fromBatches()
		given = len(p.givenAtHome(first))
		s.most -= given
	}
	s.known = !first.IsZero() || len(p.held.Records) > 0 // our own records are whole
	due := c.between(first, p.night.Now)
	s.least = max(s.most-max(due-given, 0), 0)
	if s.known {
		s.says = "by the records of what was handed over and given"
	}
	if report, n, ok := p.reported(first); ok {
		at, since := report.At.Time, p.givenAtHome(report.At.Time)
		s.known, s.most = true, n-len(since)
		s.least = max(s.most-max(c.between(at, p.night.Now)-len(since), 0), 0)
		s.says = "counted at home " + p.moment(at)
	}
	s.most = max(s.most, 0)
	if !s.known && (c.known && (len(c.deliveries) == 0 || c.deliveries[0].Arrival.After(p.night.Now))) {
		s.known, s.says = true, "no delivery was due yet"
	}
	return s
}

// fromRecords counts by conservation.
func (p *pair) fromRecords(c course) (s stock, first time.Time, given int) {
	a := plan.Tally(p.held.Records, c.doses, p.night.Now)
	for _, l := range a.Lots {
		for i, x := range []struct {
			where plan.EventPlace
			n     int
		}{{plan.InPharmacy, l.Pharmacy}, {plan.OnTheWay, l.Way}, {plan.AtHome, l.Home}} {
			if n := x.n - l.Apart[i]; n > 0 {
				s.lots = append(s.lots, lot{name: l.Lot, where: x.where, units: n, until: l.BeyondUse, unit: l.Unit})
				s.add(x.where, n)
			}
		}
	}
	for _, e := range p.held.Records {
		if e.Kind == plan.Delivered && !e.At.After(p.night.Now) && (first.IsZero() || e.At.Before(first)) {
			first = e.At
		}
	}
	for _, d := range a.Doses { // given ones are off the count already
		if d.At.After(first) && !d.At.After(p.night.Now) {
			given++
		}
	}
	return s, first, given
}

func (s *stock) add(where plan.EventPlace, n int) {
	switch where {
	case plan.InPharmacy:
		s.pharmacy += n
	case plan.OnTheWay:
		s.way += n
	case plan.AtHome:
		s.most += n
	}
}

// fromBatches reads the dispenses of the cases; most is what was handed over.
func (p *pair) fromBatches() (s stock, first time.Time) {
	for _, b := range p.batches() {
		x := lot{name: b.Lot, where: plan.InPharmacy, units: b.Units, drug: b.Drug, until: p.planned().place(b.BeyondUse, false), at: b.Place}
		if at := b.handed(); !at.IsZero() && !at.After(p.night.Now) {
			x.where = plan.AtHome
			if first.IsZero() || at.Before(first) {
				first = at
			}
		}
		s.lots = append(s.lots, x)
		s.add(x.where, b.Units)
	}
	return s, first
}

// batch is one dispense of the pharmacy that is for the order.
type batch struct {
	order.Batch
	tonight bool // it stands in tonight's document
}

// handed is when its units came to the home, as far as it is on record.
func (b batch) handed() time.Time {
	switch {
	case !b.Handed.Absent():
		return b.Handed.Time
	case b.Status == "completed":
		return b.Completed.Time
	}
	return time.Time{}
}

// batches are the dispenses of both sides that name the order, or name none
// and are of its drug when no other order of the patient is. Tonight's record
// of a lot stands for the one held; without a lot number, making and count
// tell that two records are of one batch.
func (p *pair) batches() []batch {
	var out []batch
	have := map[string]int{}
	for i, side := range []Side{p.after, p.before} {
		mine := map[string]int{}
		for _, b := range side.Case.Held.Prepared {
			if b.Units <= 0 || slices.Contains([]string{"entered-in-error", "cancelled", "declined"}, b.Status) || !p.owns(b.OrderRef, i == 0, b.Drug.Concept, b.Drug.Name) {
				continue
			}
			id := b.Lot + "\x00" + b.Completed.Literal
			if b.Lot == "" {
				id += fmt.Sprintf("\x00%d", b.Units)
			}
			if mine[id]++; mine[id] > have[id] {
				have[id] = mine[id]
				out = append(out, batch{b, i == 0})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b batch) int {
		return cmp.Or(a.Completed.Time.Compare(b.Completed.Time), strings.Compare(a.Lot, b.Lot), cmp.Compare(a.Units, b.Units), a.handed().Compare(b.handed()))
	})
	return out
}

// owns: a reference names the order; or there is none, and this is the only
// order of the drug.
func (p *pair) owns(ref string, tonight bool, drug order.Concept, name string) bool {
	if ref != "" {
		return p.isNamed(ref, tonight)
	}
	same := func(q *pair) bool {
		o := q.current().order
		return drug.Name() != "" && compendium.Fold(drug.Name()) == compendium.Fold(drugName(o)) || name != "" && compendium.Fold(name) == compendium.Fold(drugName(o)) || sharesCode(drug, o.Drug.Concept)
	}
	if !same(p) {
		return false
	}
	return !slices.ContainsFunc(p.pairs, func(q *pair) bool { return q != p && same(q) })
}

// isNamed reports whether a reference of one side's document names the order.
// A place in a document names it in that document alone.
func (p *pair) isNamed(ref string, tonight bool) bool {
	here, there := p.now, p.was
	if p.older != nil {
		here = p.older
	}
	if !tonight {
		here, there = there, here
	}
	return here != nil && refers(ref, here.order) || there != nil && ref != "" && (ref == there.order.Ref.URL || ref == there.order.Key)
}

func sharesCode(a, b order.Concept) bool {
	return slices.ContainsFunc(a.Codings, func(x order.Coding) bool {
		return x.Code != "" && slices.ContainsFunc(b.Codings, func(y order.Coding) bool { return x.System == y.System && x.Code == y.Code })
	})
}

// givenAtHome lists the doses on record as given at home after an instant.
func (p *pair) givenAtHome(after time.Time) []time.Time {
	var out []time.Time
	for i, side := range []Side{p.after, p.before} {
		for _, a := range side.Case.Administrations {
			at := a.Start.Time
			if a.Setting != "community" || a.Start.DateOnly || a.Status != "completed" && a.Status != "in-progress" || !at.After(after) || at.After(p.night.Now) || slices.ContainsFunc(out, at.Equal) {
				continue
			}
			if p.owns(a.OrderRef, i == 0, a.Drug, "") {
				out = append(out, at)
			}
		}
	}
	return out
}

// reported is the newest count of units that the home gave, not older than
// the last hand-over, when it is known to be of this order.
func (p *pair) reported(first time.Time) (newest order.Report, count int, ok bool) {
	last := first
	for _, b := range p.batches() {
		if at := b.handed(); at.After(last) && !at.After(p.night.Now) {
			last = at
		}
	}
	for i, side := range []Side{p.after, p.before} {
		for _, r := range side.Case.Reports {
			if r.Kind != "home-stock" || r.Item != "" || r.Count.Absent() || r.At.Absent() || r.At.DateOnly || r.At.Time.Before(last) || r.At.Time.After(p.night.Now) || ok && !r.At.Time.After(newest.At.Time) {
				continue
			}
			if n, whole := r.Count.Low.Floor(); whole && n >= 0 && n < 10_000 && p.about(r.Focus, i == 0) {
				newest, count, ok = r, int(n), true
			}
		}
	}
	return newest, count, ok
}

// about: the report names the order or a dispense of it; or it names none,
// and no other order of the patient has units at home.
func (p *pair) about(focus string, tonight bool) bool {
	of := func(b batch) bool { return focus != "" && b.Place.Expression == focus && b.tonight == tonight }
	if p.isNamed(focus, tonight) || slices.ContainsFunc(p.batches(), func(b batch) bool { return of(b) }) {
		return true
	}
	for _, q := range p.pairs {
		if q != p && (q.isNamed(focus, tonight) || slices.ContainsFunc(q.batches(), func(b batch) bool { return of(b) || !b.handed().IsZero() })) {
			return false
		}
	}
	return focus == "" || slices.ContainsFunc(p.batches(), func(b batch) bool { return !b.handed().IsZero() })
}

// running reports whether anything of the order is still planned, made or at
// home, and says what.
func (p *pair) running() (bool, string) {
	var parts []string
	add := func(n int, one, many string) {
		if n > 0 {
			parts = append(parts, counted(n, one, many))
		}
	}
	c := p.planned()
	doses := 0
	if p.planLive() {
		doses = len(c.from(p.night.Now))
		add(doses, "dose planned", "doses planned")
		n := 0
		for _, d := range c.deliveries {
			if d.Arrival.After(p.night.Now) {
				n++
			}
		}
		add(n, "delivery to come", "deliveries to come")
	}
	if p.now.order.Status == "completed" && c.known && doses == 0 {
		return false, ""
	}
	add(p.stock.pharmacy, "unit in the pharmacy", "units in the pharmacy")
	add(p.stock.way, "unit on the way", "units on the way")
	add(p.stock.most, "unit at home", "units at home")
	if len(parts) == 0 && p.planLive() && !c.known {
		return true, "active, its doses not placed"
	}
	return len(parts) > 0, strings.Join(parts, ", ")
}

// planLive: our plan of the order still stands: it was in force here, or its
// end was asked about and nobody has settled it.
func (p *pair) planLive() bool {
	if p.held.Settled || p.was == nil {
		return false
	}
	asked := slices.ContainsFunc(p.held.Standing, func(c finding.Code) bool {
		return c == "nightly-stopped" || c == "nightly-stopped-completed" || c == "nightly-replaced" || c == "nightly-absent"
	})
	return p.was.active() && !p.was.replaced || asked
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// stopTasks asks for everything that keeps a stopped order from reaching the
// patient, wherever its units are: dispatch is shut, prescriber and patient
// are called, units are set apart and fetched.
func (p *pair) stopTasks(a *answer, why string) {
	now, next, s := p.clock(), p.beforeNext(), p.stock
	a.ask("dispatch-block", now, why+": nothing of it leaves until a pharmacist has decided")
	a.ask("call-prescriber", next, why+": is it meant, and what becomes of the line?")
	home := ""
	switch {
	case s.most > 0:
		home = ": " + counted(s.most, "unit", "units") + " of it at home, " + s.says
	case !s.known:
		home = ": nothing on record tells how many units are at home; count them"
	}
	if home != "" || p.planLive() && len(p.planned().from(p.night.Now)) > 0 {
		a.ask("call-patient", next, why+": start no dose of it"+home)
	}
	if home != "" {
		a.ask("quarantine-patient", next, strings.TrimPrefix(home, ": "))
		a.ask("fetch-back", p.fetch(), strings.TrimPrefix(home, ": "))
	}
	if s.way > 0 {
		a.ask("quarantine-driver", now, counted(s.way, "unit", "units")+" on the way: hand over none")
	}
	if s.pharmacy > 0 {
		a.ask("quarantine-pharmacist", now, counted(s.pharmacy, "unit", "units")+" in the pharmacy, made or being made")
	}
}

// fetch is when somebody drives to the home next, else now.
func (p *pair) fetch() time.Time {
	c := p.planned()
	if at := c.arrival(p.night.Now); !at.IsZero() {
		return p.local(at)
	}
	return p.clock()
}
