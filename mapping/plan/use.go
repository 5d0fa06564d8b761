package plan

import (
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

// Making is what dates a unit of the order. What is empty is not known and
// is never taken for something usual.
type Making struct {
	Drug      compendium.Drug // its facts
	DrugKnown bool
	Site      *policy.Policy // signed local formulas; nil: none
	Sterility Sterility
	Storage   string        // where a unit not yet made will be kept until it is warmed: room, refrigerated, frozen
	Ahead     time.Duration // how long before its arrival a delivery is reckoned to be made

	Components []Component // what it is made from, where their expiry is known
}

// Sterility is how the pharmacy makes its units, in the words of
// compendium.CategoryLimit. Tested: each lot passes a sterility test first.
type Sterility struct {
	Category, Method, Components string
	Tested                       bool
}

// What a limit is about.
const (
	OfRecord    = "record"    // the beyond-use instant on the unit itself
	OfSterility = "sterility" // category limit of USP <797>
	OfStability = "stability" // chemical and physical, as it is kept
	OfComponent = "component" // expiry of what it is made from
	OfRun       = "run"       // the run must still end within the stability
	OfInUse     = "in-use"    // while it runs, at the temperature at which it runs
	OfAfter     = "after"     // after its first storage
	OfHang      = "hang-time"
)

// Limit is one instant that bounds the use of a unit. Until is zero where
// there are no data, and Says tells what is missing: that is never taken for
// no limit.
type Limit struct {
	Of                      string
	From, Until             time.Time
	Lasts                   time.Duration
	Layer, Source, Standing string // where the number comes from: category, formula, data, label
	Says                    string
}

// Use is until when the units of one lot or delivery may be started, and by
// when each must have run.
//
// StartBefore and a dose's FinishBy are two instants, never one: an infusion
// begun in time may run past StartBefore until its FinishBy.
type Use struct {
	Lot              string
	Made             time.Time
	Assumed          bool // nothing is made yet: Made is when it is reckoned to be
	Kind             compendium.Kind
	Storage, Running string // where it is kept, and how warm it runs: room, worn
	StartBefore      time.Time
	Starts           []Limit          // every candidate, earliest first, those without data last
	Dated            compendium.Dated // what chemistry and category say together
	Doses            []DoseUse
	NoData           bool // nothing tells how long it keeps while it runs
	Says             []string

	// How a unit is kept, and what formula, data and label each say of that;
	// nil: nothing. Nothing for what is mixed just before it runs.
	Keep                 compendium.Keeping
	Formula, Data, Label *compendium.Lasting
}

// DoseUse is one planned dose. FinishBy is zero without data. Over: at the
// slowest it runs past FinishBy.
type DoseUse struct {
	Start, RunsUntil, FinishBy time.Time
	Ends                       []Limit
	TooLate, Over              bool
}

// Binding is the limit that decides until when a unit may be started.
func (u Use) Binding() (Limit, bool) {
	if u.StartBefore.IsZero() || len(u.Starts) == 0 {
		return Limit{}, false
	}
	return u.Starts[0], true
}

// Missing are the kinds of limit for which there are no data.
func (u Use) Missing() []Limit {
	return slices.DeleteFunc(slices.Clone(u.Starts), func(l Limit) bool { return !l.Until.IsZero() })
}

// dates is what is known about the units of an order when they are dated.
type dates struct {
	Making
	keep    compendium.Keeping
	running string // how warm it runs
	now     time.Time
	rules   Rules
}

func (p *Plan) dating(o order.Order, q order.Quantities, rules Rules, now time.Time) dates {
	d := dates{rules: rules, now: now, keep: keepingOf(o, q)}
	if rules.Make != nil {
		d.Making = *rules.Make
	}
	d.keep.Storage, d.running = d.Storage, runsAt(o.Device.Kind, rules.Continuous)
	return d
}

// use dates one lot. A unit that carries its own beyond-use instant is dated
// by the earliest of it and of everything else that is known; one without is
// dated only where both the category and the stability are known.
func (p *Plan) use(d dates, made, record time.Time) Use {
	u := Use{Made: made, Kind: d.keep.Kind, Storage: d.keep.Storage, Running: d.running}
	if !record.IsZero() {
		u.Starts = append(u.Starts, Limit{Of: OfRecord, From: made, Until: record, Source: "the record of the prepared units", Standing: compendium.LocalStanding})
	}
	if u.Kind == compendium.MixedAtUse {
		return p.mixed(d, u)
	}
	category, kept, stability := p.chemistry(d, &u)
	d.components(&u)
	// Where it runs as warm as it is kept, the run comes out of the same time.
	if stability.Until.IsZero() || !p.runsAsKept(d, kept) {
		u.order()
	} else {
		u.Starts = append(u.Starts, p.lastStart(stability))
		u.order()
	}
	if !record.IsZero() || category && kept != nil {
		u.StartBefore = u.Starts[0].Until
	}
	if b, ok := u.Binding(); ok && b.Of == OfRecord && (!category || kept == nil) {
		u.Says = append(u.Says, "dated by the record of the prepared units: the limits without data could not be compared with it")
	}
	return u
}

// order puts the candidates earliest first; those without data come last, and
// of two at one instant the first named stays first.
func (u *Use) order() {
	slices.SortStableFunc(u.Starts, func(a, b Limit) int {
		switch {
		case a.Until.IsZero() != b.Until.IsZero():
			if a.Until.IsZero() {
				return 1
			}
			return -1
		default:
			return a.Until.Compare(b.Until)
		}
	})
}

// lastStart is the latest start of a run that ends within a stability. The
// slowest run counts.
func (p *Plan) lastStart(stability Limit) Limit {
	run := max(p.Duration, p.RunTime, p.LongestRun)
	if run <= 0 {
		return Limit{Of: OfRun, Says: "the run comes out of the same time as the storage, and how long it takes is not known"}
	}
	return Limit{Of: OfRun, From: stability.From, Until: stability.Until.Add(-run), Lasts: stability.Lasts - run, Layer: stability.Layer, Source: stability.Source, Standing: stability.Standing,
		Says: "it runs as warm as it is kept, so " + notation.Duration(run) + " of run come out of the same time"}
}

// uses dates what is made and what is still to be made, dose by dose. It
// stands after the deliveries, whose doses it reads.
func (p *Plan) uses(o order.Order, q order.Quantities, rules Rules, now time.Time) {
	d := p.dating(o, q, rules, now)
	for i := range p.Prepared {
		m := &p.Prepared[i]
		own := d
		own.keep = keptAs(m.drug, d.keep)
		own.keep.Storage = m.storage
		p.finish(own, &m.Use, m.Doses)
	}
	for i := range p.Deliveries {
		v := &p.Deliveries[i]
		doses := p.between(v.FirstDose, v.LastDose)
		if m, ok := p.lotOf(v.FirstDose); ok {
			v.Use = m.Use
			v.Use.Doses = slices.DeleteFunc(slices.Clone(m.Use.Doses), func(x DoseUse) bool { return x.TooLate || !slices.ContainsFunc(doses, x.Start.Equal) })
		} else if rules.Make != nil && d.keep.Kind == compendium.MixedAtUse {
			v.Use = p.use(d, time.Time{}, time.Time{})
			p.finish(d, &v.Use, doses)
		} else if rules.Make != nil && !v.Past {
			made := latestOf(now, v.Arrival.Add(-d.Ahead))
			v.Use = p.use(d, made.In(p.Zone.Location), time.Time{})
			v.Use.Assumed = true
			p.finish(d, &v.Use, doses)
			if n := v.Use.late(); n > 0 {
				v.Use.Says = append(v.Use.Says, fmt.Sprintf("made then, %d of %d doses would start too late: make them in more than one lot", n, len(doses)))
			}
		}
		v.FinishBy = v.Use.finishBy()
		if len(v.Use.Doses) != v.Units { // units of several lots: no one instant holds for all
			v.FinishBy = time.Time{}
		}
		if v.Use.Assumed {
			v.FinishBy = time.Time{} // fixed once the units are made
		}
	}
}

func (u Use) late() (n int) {
	for _, x := range u.Doses {
		if x.TooLate {
			n++
		}
	}
	return n
}

// mixed dates doses that are mixed just before they run: nothing mixed is
// kept, so only what stands on the units and their components date them, and
// each runs from its mixing on.
func (p *Plan) mixed(d dates, u Use) Use {
	d.components(&u)
	l := Limit{Of: OfSterility, Says: "counted from the mixing; the table has no limit for it"}
	if f, ok := compendium.CategoryLimit("immediate-use", "aseptic", false, "sterile", atRoom); ok {
		l = Limit{Of: OfSterility, Source: f.Source, Standing: f.Standing, Layer: compendium.ByCategory, Says: "counted from the mixing: it must have begun within " + notation.Code(f.Value, f.Unit)}
	}
	u.Starts = append(u.Starts, l)
	u.order()
	u.StartBefore = u.Starts[0].Until
	return u
}

// components adds the expiry of what a unit is made from.
func (d dates) components(u *Use) {
	for _, c := range d.Components {
		u.Starts = append(u.Starts, Limit{Of: OfComponent, Until: c.Expires, Source: c.Name, Standing: compendium.LocalStanding})
	}
	if len(d.Components) == 0 {
		u.Starts = append(u.Starts, Limit{Of: OfComponent, Says: "the expiry of the components is not on record"})
	}
}

// finishBy is the instant by which all units must have run, where it is the
// same for every one of them.
func (u Use) finishBy() time.Time {
	if len(u.Doses) == 0 {
		return time.Time{}
	}
	first := u.Doses[0].FinishBy
	for _, x := range u.Doses {
		if !x.FinishBy.Equal(first) {
			return time.Time{}
		}
	}
	return first
}

func (p *Plan) between(first, last time.Time) []time.Time {
	return slices.DeleteFunc(slices.Clone(p.HomeDoses), func(at time.Time) bool { return at.Before(first) || at.After(last) })
}

// lotOf is the prepared lot whose unit serves a dose in time.
func (p *Plan) lotOf(dose time.Time) (Prepared, bool) {
	for _, m := range p.Prepared {
		if slices.ContainsFunc(m.Doses, dose.Equal) && !slices.ContainsFunc(m.TooLate, dose.Equal) {
			return m, true
		}
	}
	return Prepared{}, false
}

func latestOf(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

// lastsFrom is when a limit runs out, rounded down to the second. A limit in
// days can be read as so many days on the calendar or as so many times 24
// hours, which part where the clocks change: the earlier of the two counts.
// A limit in hours is elapsed time.
func (p *Plan) lastsFrom(from time.Time, limit quantity.Quantity, days bool) (until time.Time, lasts time.Duration, ok bool) {
	low, _ := limit.Base()
	s, ok := low.Floor()
	if !ok || low.Sign() < 0 || s > int64(200*365*24*time.Hour/time.Second) {
		return until, 0, false
	}
	lasts = time.Duration(s) * time.Second
	until = from.Add(lasts)
	const day = 24 * time.Hour
	if days && lasts%day == 0 {
		y, m, d := from.In(p.Zone.Location).Date()
		wall, _, _ := p.Zone.Wall(y, m, d+int(lasts/day), p.Zone.SinceMidnight(from))
		if wall.Before(until) {
			until = wall
		}
	}
	return until.In(p.Zone.Location), lasts, true
}
