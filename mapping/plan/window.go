package plan

import (
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// RunRules are what is known of the device and of how units are made.
type RunRules struct {
	Make *Making // nil: nothing dates a unit not yet made
	Pump *Pump   // the pump that is programmed; nil: none, or several rates follow each other
	// Nominal is the nominal rate of a fixed-flow device in hand (volume per
	// time); absent: one with the rate required is taken. RateError is how far
	// it may be from the rate required to be planned by: 0.05.
	Nominal   quantity.Quantity
	RateError quantity.Number
}

// Pump is how an electronic pump can be set: Step is the step of its rate
// (volume per time), Accuracy how far the mean flow may be from the rate set,
// a fraction either way; zero: not known. Source says where they come from.
type Pump struct {
	Step     quantity.Quantity
	Accuracy quantity.Number
	Source   string
}

// Window is how long one infusion runs, at the flow that is really set, and
// between which two ends. RunTime is zero where it is not known, ShortestRun
// and LongestRun where no tolerance is.
type Window struct {
	RunTime        time.Duration     // at the rate set, or at the nominal rate of the device in hand
	SetRate        quantity.Quantity // the rate that RunTime is at; absent: the time as ordered
	SetFrom        string            // pump-step, nominal
	EarliestOnWall time.Time         // what a clock that never changed would show at each end
	LatestOnWall   time.Time
	Tolerance      quantity.Number // a fraction either way
	ToleranceFrom  string
}

// flow settles at which flow one infusion runs, and how far it may be off. A
// pump runs at a rate it can be set to: the nearest step, half up. A
// fixed-flow device in hand runs at its own nominal rate.
func (p *Plan) flow(q order.Quantities, rules Rules) {
	p.RunTime = p.Duration
	one := quantity.Int(1)
	if rules.FixedFlow && rules.Tolerance.Sign() > 0 && rules.Tolerance.Less(one) {
		p.Tolerance, p.ToleranceFrom = rules.Tolerance, "mean flow of a fixed-flow device, ISO 28620:2020 clause 5.1"
	}
	volume, okV := settled(q, "volume", quantity.Volume)
	if p.Duration <= 0 || !okV {
		p.bounds(quantity.Int(int64(p.Duration)))
		return
	}
	needed := volume.Quo(quantity.Int(int64(p.Duration)).Quo(nano)) // base volume per second
	if r, ok := settled(q, "rate", quantity.Volume.Per(quantity.Time)); ok {
		needed = r
	}
	var set quantity.Number
	var unit quantity.Unit
	switch {
	case rules.Pump != nil && !rules.Pump.Step.Absent() && rules.Pump.Step.Low.Sign() > 0:
		unit = rules.Pump.Step.Unit
		set, p.SetFrom = unit.ToBase(unit.FromBase(needed).RoundTo(rules.Pump.Step.Low)), "pump-step"
		if a := rules.Pump.Accuracy; a.Sign() > 0 && a.Less(one) {
			p.Tolerance, p.ToleranceFrom = a, rules.Pump.Source
		}
	case rules.FixedFlow && !rules.Nominal.Absent() && rules.Nominal.Low.Sign() > 0:
		unit = rules.Nominal.Unit
		set, p.SetFrom = unit.ToBase(rules.Nominal.Middle()), "nominal"
		if off := set.Quo(needed).Sub(one).Abs(); rules.RateError.Less(off) {
			if rules.Continuous {
				p.say("the device has a nominal rate of %s and the order needs %s: the end is planned by the order until that is settled",
					shown(unit.FromBase(set), unit), shown(unit.FromBase(needed), unit))
			}
			set = quantity.Number{}
		}
	}
	if set.Sign() <= 0 {
		if p.SetFrom == "pump-step" {
			p.unknown("the end of the infusion: the pump cannot be set as low as the rate needed")
		}
		p.SetFrom = ""
		p.bounds(quantity.Int(int64(p.Duration)))
		return
	}
	p.SetRate = quantity.Point(unit.FromBase(set), unit)
	run, err := schedule.Run(quantity.Point(q["volume"].Value, q["volume"].Unit), p.SetRate)
	if err != nil {
		p.unknown("the end of the infusion: %s", err)
		return
	}
	p.RunTime = run.Round(time.Second) // half up
	if p.RunTime != p.Duration && p.SetFrom == "pump-step" {
		p.say("the pump can be set to %s and not to %s: one infusion takes %s", shown(unit.FromBase(set), unit), shown(unit.FromBase(needed), unit), notation.Duration(p.RunTime))
	}
	p.bounds(volume.Quo(set).Mul(nano))
}

// bounds are the shortest and longest run around a run of so many
// nanoseconds: rounded outward to the second, down for the shortest and up
// for the longest.
func (p *Plan) bounds(ns quantity.Number) {
	if p.Tolerance.Sign() <= 0 || ns.Sign() <= 0 {
		return
	}
	one := quantity.Int(1)
	fast, _ := ns.Quo(one.Add(p.Tolerance)).Quo(nano).Floor()
	slow, _ := ns.Quo(one.Sub(p.Tolerance)).Quo(nano).Ceil()
	p.ShortestRun, p.LongestRun = time.Duration(fast)*time.Second, time.Duration(slow)*time.Second
}

var nano = quantity.Int(int64(time.Second))

// settled is the base value of a quantity that nothing disputes.
func settled(q order.Quantities, name string, dim quantity.Dimension) (quantity.Number, bool) {
	x, ok := q[name]
	if !ok || x.Disputed || x.Unit.IsZero() || x.Unit.Dimension() != dim || x.Value.Sign() <= 0 {
		return quantity.Number{}, false
	}
	return x.Unit.ToBase(x.Value), true
}

func shown(n quantity.Number, u quantity.Unit) string {
	return notation.Code(n.Significant(4), u.Code())
}
