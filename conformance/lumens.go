package conformance

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/lumen"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// What the timetable of a line is laid out by, in minutes. Common practice,
// no source; an hour round a dose given more often than daily is also that of
// the guidelines on timely administration of 2011, from memory.
const (
	roundDose    = 60
	flushMinutes = 5
	drawMinutes  = 5
	drawPause    = 15 // the longest stop of an infusion that may be stopped, for a draw and its flush
	lineGrid     = 5  // the time a dose takes is rounded up to it
	troughFrom   = 30 // before the dose
	troughUntil  = 60
)

// mostInfusions of one patient are compared with each other.
const mostInfusions = 15

const (
	saline  = "sodium chloride 0.9 %"
	lineDay = 24 * time.Hour
)

// use is one infusion that runs through the patient's line.
type use struct {
	*state
	name     string // for people, and the only one of that name
	run      time.Duration
	from, to time.Time // of the home part; zero: not known
	missing  []verification.Fact
	all      bool // runs all day, or until it is stopped
}

// layOut works out for every order of a patient what else runs through the
// line in the same days, and whether a day holds all of it.
func layOut(states []*state) {
	var uses []*use
	for _, s := range states {
		s.line = &verification.Line{}
		if verification.ThroughLine(s.order) {
			if u := newUse(s, uses); u.to.IsZero() || !u.to.Before(s.now) {
				uses = append(uses, u)
			}
		}
	}
	if len(uses) < 2 {
		return
	}
	if len(uses) > mostInfusions {
		for _, u := range uses {
			u.line.Name, u.line.Others, u.line.Result.Outcome = u.name, []string{"more than can be planned"}, lumen.NotDecided
			u.line.Missing = []verification.Fact{verification.NotPlaced(fmt.Sprintf("%d infusions; at most %d can be planned", len(uses), mostInfusions))}
		}
		return
	}
	solved := map[string]lumen.Result{}
	line := readLine(states[0].kase, uses)
	for _, u := range uses {
		u.layOut(uses, line, solved)
	}
}

func newUse(s *state, before []*use) *use {
	u := &use{state: s, name: notation.DrugName(cmp.Or(s.drugName(), "an infusion without a name")), run: max(s.plan.LongestRun, s.plan.Duration)}
	same := 1
	for _, b := range before {
		if b.state.drugName() == s.drugName() {
			same++
		}
	}
	if same > 1 {
		u.name += fmt.Sprintf(" (order %d)", same)
	}
	p := s.plan
	u.all = u.run == 0 && verification.RunsUntilStopped(s.order) || u.run >= lineDay ||
		u.run > 0 && p.Interval > 0 && p.Interval <= lineDay && u.run+time.Duration(u.flushed())*time.Minute >= p.Interval
	switch {
	case !s.zone.Known():
		u.missing = append(u.missing, verification.Zone)
	case p.FirstHomeDose.IsZero() || len(p.HomeDoses) == 0 && !u.all:
		u.missing = append(u.missing, verification.HomeDoses)
	case u.run == 0 && !u.all:
		u.missing = append(u.missing, verification.RunTime)
	}
	if u.from = p.FirstHomeDose; len(p.HomeDoses) == 0 && !u.all {
		u.from = time.Time{}
	}
	switch {
	case u.from.IsZero() || p.LastDose.IsZero() || !p.Complete || u.run == 0 && p.CourseEnd.IsZero(): // no end is known
	case u.run == 0 && p.CourseEnd.After(p.LastDose):
		u.to = p.CourseEnd
	default:
		u.to = p.LastDose.Add(u.run)
	}
	return u
}

// flushed is how long the flushes and the lock of a dose take, in minutes.
func (u *use) flushed() int { return (2 + len(u.lock())) * flushMinutes }

// at reports that the infusion is in its home part, or that nobody can tell.
func (u *use) at(t time.Time) bool {
	return u.from.IsZero() || !u.from.After(t) && (u.to.IsZero() || !u.to.Before(t))
}

// layOut judges every stretch of days that the order is in: a new one begins
// with the first dose of an infusion. The worst answer stands.
func (u *use) layOut(uses []*use, line access, solved map[string]lumen.Result) {
	l, worst := u.line, -1
	l.Name = u.name
	for _, start := range uses {
		var set []*use
		for _, v := range uses {
			if v.at(start.from) || start.from.IsZero() {
				set = append(set, v)
			}
		}
		if len(set) < 2 || !slices.Contains(set, u) {
			continue
		}
		for _, v := range set {
			if v != u && !slices.Contains(l.Others, v.name) {
				l.Others = append(l.Others, v.name)
				l.Pairs = append(l.Pairs, line.pairing(u, v))
			}
		}
		p, r, missing, says := line.day(set, start, solved)
		rank := map[lumen.Outcome]int{lumen.Impossible: 2, lumen.NotDecided: 1}[r.Outcome]
		if len(missing) > 0 {
			rank, r = 1, lumen.Result{Outcome: lumen.NotDecided}
		}
		if rank > worst {
			worst, l.Problem, l.Result, l.Missing, l.Says = rank, p, r, missing, says
		}
	}
}

// day is one set of infusions on one line as a problem, and its answer.
func (a access) day(set []*use, start *use, solved map[string]lumen.Result) (p lumen.Problem, r lumen.Result, missing []verification.Fact, says []string) {
	missing = slices.Clone(a.missing)
	for _, u := range set {
		missing = append(missing, u.missing...)
	}
	slices.Sort(missing)
	missing = slices.Compact(missing)
	p.Lumens = a.lumens
	if len(missing) > 0 {
		return p, r, missing, says
	}
	y, m, d := start.from.In(start.zone.Location).Date()
	midnight, _, _ := start.zone.Wall(y, m, d+1, 0)
	exact := true
	for i, u := range set {
		x, regular := u.infusion(midnight, set, a)
		exact = exact && regular
		p.Infusions = append(p.Infusions, x)
		for _, v := range set[i+1:] {
			p.Pairs = append(p.Pairs, lumen.Pair{A: u.name, B: v.name, Meeting: a.pairing(u, v).Meeting})
		}
		if u.drugKnown && verification.Carries(u.facts(), compendium.NeverSaline) && u.flush() == "" {
			missing = append(missing, verification.NotPlaced("what "+u.name+" is flushed with"))
		}
	}
	if len(missing) > 0 {
		return p, r, missing, says
	}
	with := p
	with.Procedures = draws(set)
	if r = solve(with, solved); r.Outcome == lumen.Placed || len(with.Procedures) == 0 {
		if p = with; len(p.Procedures) > 0 && r.Outcome == lumen.Placed {
			says = append(says, "the time of a blood draw is kept free every day")
		}
	} else if r = solve(p, solved); r.Outcome == lumen.Placed {
		says = append(says, "no room was found for a blood draw from the line: draw it from a vein")
	}
	switch {
	case r.Outcome == lumen.NotDecided:
		missing = append(missing, verification.NotPlaced(strings.Join(r.Unknown, "; ")))
	case r.Outcome == lumen.Impossible && !exact:
		missing = append(missing, verification.NotPlaced("doses that do not fall at the same times each day; if they did, no day would hold them"))
	case !exact:
		says = append(says, "the doses do not fall at the same times each day: every time at which one may fall is kept free")
	}
	return p, r, missing, says
}

// solve asks once for equal problems.
func solve(p lumen.Problem, solved map[string]lumen.Result) lumen.Result {
	key := fmt.Sprintf("%+v", p)
	if r, ok := solved[key]; ok {
		return r
	}
	r := lumen.Timetable(p)
	solved[key] = r
	return r
}

// infusion is an order as the timetable sees it. Regular: its doses fall at
// the same times every day, by the clock or by elapsed time.
func (u *use) infusion(midnight time.Time, set []*use, a access) (lumen.Infusion, bool) {
	facts := u.facts()
	x := lumen.Infusion{Name: u.name, Avoids: u.avoids(set), OwnLine: verification.Carries(facts, compendium.OwnLine),
		NoBolus: verification.Carries(facts, compendium.NoBolus), Lumens: a.asked(u.order)}
	if u.all {
		x.Continuous = true
		if u.drugKnown && !verification.Carries(facts, compendium.NeverPause) {
			x.Pause = drawPause
		}
		return x, u.plan.Interval <= lineDay || u.run >= u.plan.Interval // else it runs on some days only
	}
	times, regular := u.times(midnight)
	x.Times, x.Duration = times, lineGrid*int((u.run+lineGrid*time.Minute-1)/(lineGrid*time.Minute))
	x.Early, x.Late = roundDose, roundDose
	flush := lumen.Flush{Fluid: cmp.Or(u.flush(), saline), Minutes: flushMinutes}
	x.Before, x.After = lumen.Steps{flush}, append(lumen.Steps{flush}, u.lock()...)
	if x.NoBolus {
		x.After = append(lumen.Steps{{Fluid: lumen.Withdraw, Minutes: flushMinutes}}, x.After...)
	}
	if u.plan.Interval > 0 && regular {
		if len(times) > 1 {
			x.Least = u.share(u.ref.Policy.Dose.FirstDoseEarly.Number)
		}
		if t := u.order.Timing; len(t.TimesOfDay)+len(t.Events)+len(t.When) == 0 {
			one := quantity.Int(1)
			x.AnchorEarly = min(u.share(one.Sub(u.ref.Policy.Dose.FirstDoseEarly.Number)), 600)
			x.AnchorLate = min(u.share(u.ref.Policy.Dose.FirstDoseLate.Number.Sub(one)), 600)
		}
	}
	return x, regular
}

// share is a part of the distance between doses, in minutes on the grid.
func (u *use) share(part quantity.Number) int {
	n, ok := part.Mul(quantity.Int(int64(u.plan.Interval / (lineGrid * time.Minute)))).Floor()
	if !ok || n < 0 {
		return 0
	}
	return int(n) * lineGrid
}

// times are the starts of the doses in minutes after midnight. Where they
// differ from day to day every one of a week is taken.
func (u *use) times(midnight time.Time) ([]int, bool) {
	elapsed := func(t time.Time) (day, minute int) {
		m := int(t.Sub(midnight) / time.Minute)
		return m / 1440, m % 1440
	}
	wall := func(t time.Time) (day, minute int) {
		local := t.In(u.zone.Location)
		day = int(t.Sub(midnight) / lineDay)
		return day, local.Hour()*60 + local.Minute()
	}
	var all []int
	for _, of := range []func(time.Time) (int, int){elapsed, wall} {
		days := make([][]int, 7)
		all = nil
		for _, t := range u.plan.HomeDoses {
			if t.Before(midnight) || !t.Before(midnight.Add(7*lineDay)) {
				continue
			}
			day, minute := of(t)
			days[day] = append(days[day], minute)
			all = append(all, minute)
		}
		regular := len(days[0]) > 0
		for k := 1; k < len(days); k++ {
			if last := u.plan.HomeDoses[len(u.plan.HomeDoses)-1]; last.Before(midnight.Add(time.Duration(k+1) * lineDay)) {
				break // the last day is not whole
			}
			regular = regular && slices.Equal(days[0], days[k])
		}
		if regular {
			slices.Sort(days[0])
			return slices.Compact(days[0]), true
		}
	}
	if len(all) == 0 { // a course that ends on its first days
		for _, t := range u.plan.HomeDoses {
			_, minute := wall(t)
			all = append(all, minute)
		}
	}
	slices.Sort(all)
	return slices.Compact(all), len(u.plan.HomeDoses) == 1
}

// flush is the fluid a dose is flushed with; "" where the table forbids
// saline and names no other.
func (u *use) flush() string {
	if !verification.Carries(u.facts(), compendium.NeverSaline) {
		return saline
	}
	for _, f := range u.drug.Facts {
		if f.Topic == "flush_fluid" && len(f.Value.List) > 0 {
			return cmp.Or(compendium.DiluentName(f.Value.List[0]), f.Value.List[0])
		}
	}
	return ""
}

// lock is the lock as ordered, by what it is made of.
func (u *use) lock() lumen.Steps {
	for _, r := range u.kase.Related {
		if name := r.Drug.Concept.Name(); r.Role == "lock" {
			for _, word := range []string{"heparin", "citrate"} {
				if strings.Contains(strings.ToLower(r.Drug.Name+" "+name), word) {
					name = word
				}
			}
			return lumen.Steps{{Fluid: cmp.Or(name, r.Drug.Name, "lock"), Minutes: flushMinutes}}
		}
	}
	return nil
}

// avoids are the fluids of all flushes and locks that may not meet the drug.
func (u *use) avoids(set []*use) []string {
	var out []string
	if verification.Carries(u.facts(), compendium.NeverSaline) {
		out = append(out, saline)
	}
	for _, v := range set {
		for _, f := range append(lumen.Steps{{Fluid: cmp.Or(v.flush(), saline)}}, v.lock()...) {
			if row, ok := compendium.PairOf(u.drugName(), f.Fluid); ok && row.Verdict != "compatible" && !slices.Contains(out, f.Fluid) {
				out = append(out, f.Fluid)
			}
		}
	}
	return out
}

// draws are the blood draws of the patient as one in the staffed hours, and
// a trough level at its dose.
func draws(set []*use) []lumen.Procedure {
	s := set[0]
	if len(s.situation.Draws) == 0 {
		return nil
	}
	open, until := sinceMidnight(s.ref.Policy.Delivery.OpenFrom), sinceMidnight(s.ref.Policy.Delivery.OpenUntil)
	d := lumen.Procedure{Name: "blood draw", Times: []int{int(open / time.Minute)}, Late: max(0, int((until-open)/time.Minute)), Blood: true,
		Minutes: drawMinutes, After: lumen.Steps{{Fluid: saline, Minutes: flushMinutes}}}
	for _, day := range s.situation.Draws {
		for _, test := range day.Tests {
			for _, u := range set {
				if t := strings.ToLower(test); d.Trough == nil && strings.Contains(t, "trough") && strings.Contains(t, u.drugName()) && !u.all {
					d.Name, d.Measures, d.Trough = "blood draw with the trough level of "+u.name, []string{u.name}, &lumen.Trough{Of: u.name, Least: troughFrom, Most: troughUntil}
				}
			}
		}
	}
	return []lumen.Procedure{d}
}
