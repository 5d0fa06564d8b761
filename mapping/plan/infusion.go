package plan

import (
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// run works out how long one infusion takes: a window where the tolerance of
// the device is known (fixed flow: ISO 28620:2020 clause 5.1), and for a
// continuous infusion the instants at which it ends. Elapsed time ends
// an infusion, not the clock on the wall.
func (p *Plan) run(q order.Quantities, rules Rules) {
	t, ok := q["duration"]
	if !ok || t.Disputed || t.Unit.Dimension() != quantity.Time {
		return
	}
	p.Duration = elapsed(t.Value, t.Unit)
	p.flow(q, rules)
	if !rules.Continuous || p.RunTime <= 0 || p.FirstHomeDose.IsZero() {
		return
	}
	first := p.FirstHomeDose
	p.EndsAt, p.WallEnd = first.Add(p.RunTime), p.wallEnd(first, p.RunTime)
	if p.LongestRun > 0 {
		p.EndsEarliest, p.EndsLatest = first.Add(p.ShortestRun), first.Add(p.LongestRun)
		p.EarliestOnWall, p.LatestOnWall = p.wallEnd(first, p.ShortestRun), p.wallEnd(first, p.LongestRun)
	}
}

// wallEnd is the end that the clock on the wall suggests. An end in the hour
// that is shown twice is not taken for the other one.
func (p *Plan) wallEnd(start time.Time, run time.Duration) time.Time {
	end := start.Add(run)
	_, a := start.In(p.Zone.Location).Zone()
	if _, b := end.In(p.Zone.Location).Zone(); a == b {
		return end
	}
	y, m, d := start.In(p.Zone.Location).Date()
	at, _, _ := p.Zone.Wall(y, m, d, p.Zone.SinceMidnight(start)+run)
	return at
}

// clockChanges finds every place where elapsed time and the wall clock part.
// Its sentence stands last in Says.
func (p *Plan) clockChanges() {
	for i, at := range p.HomeDoses {
		if p.RunTime > 0 {
			if wall := p.wallEnd(at, p.RunTime); !wall.Equal(at.Add(p.RunTime)) {
				p.Changes = append(p.Changes, ClockChange{Of: "infusion-end", From: at, Elapsed: at.Add(p.RunTime), Wall: wall})
			}
		}
		if i > 0 && p.pace.Elapsed() {
			p.stepChange(p.HomeDoses[i-1], at)
		}
	}
	if p.paceKnown && !p.pace.Elapsed() && len(p.HomeDoses) > 0 {
		p.wallChanges()
	}
	if !p.EndsAt.IsZero() && !p.WallEnd.Equal(p.EndsAt) && len(p.HomeDoses) == 0 {
		p.Changes = append(p.Changes, ClockChange{Of: "infusion-end", From: p.FirstHomeDose, Elapsed: p.EndsAt, Wall: p.WallEnd})
	}
	p.ClockChange = len(p.Changes) > 0
	for _, c := range p.Changes {
		elapsed, wall := notation.Instant(c.Elapsed.In(p.Zone.Location), ""), notation.Instant(c.Wall.In(p.Zone.Location), "")
		switch c.Of {
		case "infusion-end":
			p.say("the clocks change during the infusion begun %s: by elapsed time it ends %s, by the wall clock it would end %s", notation.Instant(c.From, ""), elapsed, wall)
		case "dose-times":
			p.say("the clocks change between two doses: they keep their distance, so the next one is %s, not %s", elapsed, wall)
		case "dose-in-gap":
			p.say("the clocks go forward over the time of a dose, which no clock shows that day: it is given %s, not %s", elapsed, wall)
		case "dose-in-overlap":
			which := "the first is meant"
			if c.Elapsed.Before(c.Wall) {
				which = "the second is meant, since the first lies before the course"
			}
			p.say("the clocks go back and show the time of a dose twice: %s, %s, not %s", which, wall, elapsed)
		}
	}
}

// stepChange: doses at a fixed distance move on the wall clock, unless the
// change is a whole number of steps.
func (p *Plan) stepChange(before, at time.Time) {
	_, was := before.In(p.Zone.Location).Zone()
	_, is := at.In(p.Zone.Location).Zone()
	moved := time.Duration(is-was) * time.Second
	if moved != 0 && moved%p.Interval != 0 {
		p.Changes = append(p.Changes, ClockChange{Of: "dose-times", From: before, Elapsed: at, Wall: at.Add(-moved)})
	}
}

// wallChanges: doses on the wall clock whose time of day is not shown that
// day, or is shown twice.
func (p *Plan) wallChanges() {
	timing := p.timing
	timing.Events, timing.Count, timing.CountMax = nil, 0, 0
	if from := p.monthly(); !from.After(p.HomeDoses[0]) {
		timing.Bounds.Start = from
	}
	last := p.HomeDoses[len(p.HomeDoses)-1]
	list, _ := schedule.Occurrences(timing, schedule.Span{From: p.HomeDoses[0], To: last.Add(1)}, p.Zone, len(p.HomeDoses))
	for _, o := range list {
		c := ClockChange{From: o.At, Elapsed: o.At, Wall: o.At}
		switch {
		case o.Gap:
			c.Of, c.Wall = "dose-in-gap", o.Other
		case o.Overlap:
			c.Of, c.Elapsed = "dose-in-overlap", o.Other
		default:
			continue
		}
		p.Changes = append(p.Changes, c)
	}
}
