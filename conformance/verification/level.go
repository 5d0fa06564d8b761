package verification

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
)

// lastTrough is the newest level before a dose of the ordered drug: the one
// somebody would act upon.
func lastTrough(f Facts) (order.Measurement, bool) {
	for _, m := range f.kase().Measurements {
		if m.Name == "trough" && m.Of != "" && (m.Of == f.drug().Name || m.Of == f.order().Drug.Name) {
			return m, true
		}
	}
	return order.Measurement{}, false
}

func hasTrough(f Facts) bool { _, ok := lastTrough(f); return ok }

// doseTimes are the times at which doses of the drug were given or are
// planned, in order.
func doseTimes(f Facts) (given []time.Time, all []time.Time) {
	for _, a := range f.kase().Administrations {
		if a.Status != "not-done" && !a.Start.Absent() && !a.Start.DateOnly && (sameSubstance(a.Drug, f.order().Drug, true) || mentions(a.Drug, f.order().Drug)) {
			given = append(given, a.Start.Time)
		}
	}
	slices.SortFunc(given, time.Time.Compare)
	all = slices.Clone(given)
	if at := f.plan().FirstHomeDose; !at.IsZero() {
		all = append(all, at)
	}
	all = append(all, f.plan().HomeDoses...)
	if n := len(given); n > 0 && f.plan().Interval > 0 {
		all = append(all, given[n-1].Add(f.plan().Interval))
	}
	slices.SortFunc(all, time.Time.Compare)
	return given, slices.DeleteFunc(all, time.Time.IsZero)
}

// regular is the dose that follows a time: of an even timetable counted back
// from a dose that is known, since doses on record are often the first and
// the last only; without one, the next that is known.
func regular(all []time.Time, every time.Duration, at time.Time) (time.Time, bool) {
	for _, dose := range all {
		switch {
		case dose.Before(at):
		case every <= 0:
			return dose, true
		default:
			return dose.Add(-dose.Sub(at) / every * every), true
		}
	}
	return time.Time{}, false
}

// levelTiming: row i7, by the time of collection. The level is shown and not
// used when it cannot be that of a dose to come, was drawn before steady
// state, or came from the lumen that the drug runs through while another was
// free.
func levelTiming(f Facts) []finding.Finding {
	m, _ := lastTrough(f)
	window := time.Duration(f.policy().Care.LevelBefore)
	level := "level " + notation.Quantity(m.Quantity.Middle(), m.Quantity.Unit)
	expected := "shown and not used; a level collected up to " + notation.Duration(window) + " before a dose"
	found := func(why string) []finding.Finding { return here(m.Place, level+": "+why, expected) }
	if m.At.Absent() || m.At.DateOnly {
		return found("its hour of collection is not on record")
	}
	at := m.At.Time
	where := at.Location()
	if zone := f.plan().Zone; zone.Known() {
		where = zone.Location
	}
	clock := func(t time.Time) string { return notation.Clock(t.In(where)) }
	given, all := doseTimes(f)
	for _, dose := range given {
		if since := at.Sub(dose); since >= 0 && since < window {
			return found("collected " + clock(at) + ", " + notation.Duration(since) + " after the dose of " + clock(dose) + " began")
		}
	}
	next, known := regular(all, f.plan().Interval, at)
	if before := slices.IndexFunc(all, func(t time.Time) bool { return !t.Before(at) && t.Sub(at) <= window }); before >= 0 {
		next, known = all[before], true
	}
	switch before := next.Sub(at); {
	case !known:
		return found("collected " + clock(at) + ", and no dose is on record or planned after it")
	case before > window:
		return found("collected " + clock(at) + ", " + notation.Duration(before) + " before the dose of " + clock(next))
	}
	if n, ok := dosesBefore(f, given, at); ok && n < f.policy().Care.LevelDoses {
		return found(fmt.Sprintf("collected before dose %d of the course, not yet at steady state", n+1))
	}
	if lumen := f.order().Lumen; lumen != "" && otherLumen(f) && strings.Contains(strings.ToLower(m.Site), strings.ToLower(lumen)) {
		return found("drawn from the lumen that the drug runs through, and another is there")
	}
	return nil
}

// dosesBefore is how many doses of the course fell before a time, from its
// start or the first dose on record, whichever is earlier: only where that
// and an even interval are known.
func dosesBefore(f Facts, given []time.Time, at time.Time) (int, bool) {
	var start time.Time
	if s := f.order().Course.Start; !s.Absent() && !s.DateOnly {
		start = s.Time
	}
	if len(given) > 0 && (start.IsZero() || given[0].Before(start)) {
		start = given[0]
	}
	every := f.plan().Interval
	if start.IsZero() || every <= 0 || at.Before(start) {
		return 0, false
	}
	return int(at.Sub(start)/every) + 1, true
}

// otherLumen: the line has more lumens than one. One whose lumens nobody
// counted has none that could be named.
func otherLumen(f Facts) bool {
	a, ok := line(f)
	return ok && a.Lumens > 1
}
