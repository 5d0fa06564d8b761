package plan

import (
	"math/bits"
	"strings"
	"time"

	"weir.example/weir/mapping/notation"
)

// Words for the constraints of a proof.
const (
	ByClock   = "clock"
	ByWeekday = "weekday"
	ByHoliday = "holiday"
	ByRound   = "round"
	ByHours   = "staffed-hours"
	ByTeach   = "teaching"
	ByWarmUp  = "warm-up"
	ByMaking  = "making"
	ByKeeping = "keeping"
)

// Impossible says why no delivery can serve a dose.
//
// Together is a smallest set of constraints that forbid it: in force alone
// they leave no arrival, and without any one of them the others leave some.
// Remedies are the single changes with which, all else in force, a delivery
// would serve the dose, the site's own choices first; each is the smallest of
// its kind. None of them: more than one thing must change, and Both is a
// smallest set to set aside. A proof covers one dose; others of the same
// delivery may need more.
type Impossible struct {
	Dose     time.Time
	Together []string
	Remedies []Remedy
	Both     []string
	Says     string // one sentence
}

// Remedy is one change that would make a delivery possible.
type Remedy struct {
	Of      string
	Arrival time.Time     // that becomes possible by it
	Needs   time.Duration // warm-up, teaching, making: at most; keeping: at least so long from its making to the dose
	Start   time.Time     // clock: the earliest start that a delivery can still serve
	Says    string
}

type barWord struct {
	bar  bars
	word string
}

// barWords are in the order in which changes are offered: what a site can
// arrange first, what the prescriber must agree to last.
var barWords = []barWord{{barWeekday, ByWeekday}, {barHoliday, ByHoliday}, {barRound, ByRound}, {barHours, ByHours}, {barTeach, ByTeach},
	{barWarmUp, ByWarmUp}, {barMaking, ByMaking}, {barKeeping, ByKeeping}, {barClock, ByClock}}

func words(on bars) (out []string) {
	for _, w := range barWords {
		if on&w.bar != 0 {
			out = append(out, w.word)
		}
	}
	return out
}

// proof is the question about one dose.
type proof struct {
	*route
	dose        time.Time
	first, made bool
}

// served asks whether a delivery for the dose alone is possible under some
// constraints. A delivery of more doses asks for more, so a dose that none
// can serve alone no delivery can serve.
func (x *proof) served(on bars) (slot, bool) {
	s, ok := x.latest(x.dose, x.first, on)
	ok = ok && (on&barClock == 0 || !s.at.Before(x.now)) && (x.made || x.good(s.at, x.dose, on))
	return s, ok
}

// prove explains a delivery that cannot come in time.
func (r *route) prove(from int) *Impossible {
	x := &proof{route: r, dose: r.plan.HomeDoses[from], first: from == 0, made: r.stops[from].made}
	out := &Impossible{Dose: x.dose}
	present := x.present()
	together := x.smallest(present, func(set bars) bool { _, ok := x.served(set); return !ok })
	out.Together = words(together)
	for _, w := range barWords {
		if present&w.bar == 0 {
			continue
		}
		if c, ok := x.change(w.bar); ok {
			c.Of = w.word
			out.Remedies = append(out.Remedies, c)
		}
	}
	if len(out.Remedies) == 0 {
		serves := func(set bars) bool { _, ok := x.served(allBars &^ set); return ok }
		both := x.smallest(present&^barClock, serves)
		if !serves(both) {
			both = x.smallest(present, serves) // the clock too: a later start
		}
		out.Both = words(both)
	}
	out.Says = x.sentence(out, together)
	return out
}

// present are the constraints that say anything at all.
func (x *proof) present() bars {
	r, on := x.rules, barClock
	for bar, holds := range map[bars]bool{barWeekday: len(r.NoDelivery) > 0, barHoliday: len(r.Holidays) > 0, barRound: x.cal.bound(allBars, x.first),
		barHours: r.OpenUntil > r.OpenFrom, barTeach: x.first && r.Teach > 0, barWarmUp: r.WarmUp > 0, barMaking: x.ahead > 0 && !x.made, barKeeping: !x.made} {
		if holds {
			on |= bar
		}
	}
	return on
}

// smallest is the first set of fewest constraints that holds, the site's
// choices before others; all that are present where none does.
func (x *proof) smallest(present bars, holds func(bars) bool) bars {
	for size := 1; size <= len(barWords); size++ {
		for code := uint16(1); code < 1<<len(barWords); code++ {
			if bits.OnesCount16(code) != size {
				continue
			}
			set := noBar
			for i, w := range barWords {
				if code&(1<<i) != 0 {
					set |= w.bar
				}
			}
			if set&^present == 0 && holds(set) {
				return set
			}
		}
	}
	return present
}

// change is the smallest change of one kind that lets a delivery serve the
// dose while everything else stays in force.
func (x *proof) change(bar bars) (Remedy, bool) {
	on := allBars &^ bar
	s, ok := x.served(on)
	if !ok && bar != barClock {
		return Remedy{}, false
	}
	c := Remedy{Arrival: s.at}
	low := x.soonest(on)
	switch bar {
	case barHours:
		c.Arrival, ok = x.outside(low)
	case barTeach:
		c.Arrival, ok = x.cal.earliest(low, s.at, on, x.first)
		c.Needs = x.due(x.dose, false, allBars).Sub(c.Arrival)
	case barWarmUp:
		c.Arrival, ok = x.cal.earliest(low, s.at, on, x.first)
		c.Needs = x.due(x.dose, x.first, on).Sub(c.Arrival)
	case barMaking:
		c.Needs = s.at.Sub(x.latestMaking(s.at))
	case barKeeping:
		c.Needs = x.dose.Sub(x.madeFor(s.at, on))
	case barClock:
		c.Arrival, ok = x.cal.earliest(x.now, x.now.AddDate(0, 0, longestPull), allBars, x.first)
		c.Start = c.Arrival.Add(x.dose.Sub(x.due(x.dose, x.first, allBars))).In(x.cal.zone.Location)
		lot, _ := x.plan.usable(x.dose)
		ok = ok && c.Start.After(x.dose) && (x.made && (lot.IsZero() || !c.Start.After(lot)) || x.good(c.Arrival, c.Start, allBars))
	}
	if ok {
		c.Says = x.words(bar, c)
	}
	return c, ok
}

// soonest is the first instant at which an arrival is not before the clock
// and brings a unit that is still good at the dose.
func (x *proof) soonest(on bars) time.Time {
	low := x.dose.AddDate(0, 0, -2*longestPull)
	if on&barClock != 0 {
		low = latestOf(low, x.now)
	}
	if x.made {
		return low
	}
	return x.firstGood(low, x.dose, func(at time.Time) bool { return x.good(at, x.dose, on) })
}

// latestMaking is the earliest making with which a unit is good at the dose.
func (x *proof) latestMaking(arrival time.Time) time.Time {
	return x.firstGood(x.dose.AddDate(0, 0, -2*longestPull), arrival, func(at time.Time) bool { return x.good(at, x.dose, allBars&^barMaking) })
}

// firstGood halves the time between two instants; what is good stays good.
func (x *proof) firstGood(low, high time.Time, good func(time.Time) bool) time.Time {
	if good(low) {
		return low
	}
	for high.Sub(low) > 1 {
		if middle := low.Add(high.Sub(low) / 2); good(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return high
}

// outside is the arrival nearest to staffed hours; of two equally near the
// later one.
func (x *proof) outside(low time.Time) (best time.Time, ok bool) {
	due, least := x.due(x.dose, x.first, allBars), time.Duration(0)
	for n, from := x.cal.number(due), x.cal.number(due); n >= from-longestPull; n-- {
		d := x.cal.day(n)
		lo, hi := latestOf(low, d.first), d.last
		if due.Before(hi) {
			hi = due
		}
		if !x.cal.goes(n, allBars, x.first) || hi.Before(lo) {
			continue
		}
		at, off := hi, d.open.Sub(hi)
		if lo.After(d.close) {
			at, off = lo, lo.Sub(d.close)
		}
		if !ok || off < least {
			best, least, ok = at.In(x.cal.zone.Location), off, true
		}
	}
	return best, ok
}

// sentence says it in plain words.
func (x *proof) sentence(i *Impossible, together bars) string {
	var why, what []string
	for _, w := range barWords {
		if together&w.bar != 0 {
			why = append(why, x.because(w.bar))
		}
	}
	for _, c := range i.Remedies {
		what = append(what, c.Says)
	}
	s := "no delivery can serve the dose of " + notation.Instant(x.dose.In(x.cal.zone.Location), "") + " in time: " + strings.Join(why, ", and ")
	switch {
	case len(what) == 1:
		s += "; possible with " + what[0]
	case len(what) > 1:
		s += "; possible with any one of these: " + strings.Join(what, ", or ")
	default:
		s += "; no single change is enough, these must change together: " + strings.Join(i.Both, ", ")
	}
	return s
}
