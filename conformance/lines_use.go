package conformance

import (
	"slices"
	"time"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// useLines write until when the units of a delivery may be started and by
// when they must have run; nil where there is nothing to date.
func (s *state) useLines(u plan.Use) *worksheet.Use {
	if len(u.Starts) == 0 && len(u.Doses) == 0 {
		return nil
	}
	w := &worksheet.Use{Lot: u.Lot, Made: s.local(u.Made), IfMade: u.Assumed, Kind: string(u.Kind), Storage: u.Storage, Running: u.Running,
		StartBefore: s.local(u.StartBefore), Limits: s.limitLines(u.Starts), Says: u.Says}
	if b, ok := u.Binding(); ok {
		w.Binding = b.Of
	}
	tells := slices.ContainsFunc(u.Doses, func(d plan.DoseUse) bool { return !d.FinishBy.IsZero() || d.TooLate })
	for _, d := range u.Doses {
		if !tells {
			break // the doses themselves stand in the schedule
		}
		w.Doses = append(w.Doses, worksheet.UseDose{Start: s.local(d.Start), FinishBy: s.local(d.FinishBy), RunsUntil: s.local(d.RunsUntil), TooLate: d.TooLate, TooLong: d.Over})
	}
	if len(u.Doses) > 0 {
		w.InUse = s.limitLines(u.Doses[0].Ends)
	}
	return w
}

func (s *state) limitLines(list []plan.Limit) []worksheet.UseLimit {
	out := []worksheet.UseLimit{}
	for _, l := range list {
		x := worksheet.UseLimit{Of: l.Of, From: s.local(l.From), Until: s.local(l.Until), Layer: l.Layer, Source: l.Source, Standing: l.Standing, Says: l.Says}
		if l.Lasts > 0 {
			x.Hours = quantity.Ratio(int64(l.Lasts/time.Second), 3600).Decimal()
		}
		out = append(out, x)
	}
	return out
}

// useNumbers are start before and finish by of the unit that serves the first
// home dose, once it is made.
func (s *state) useNumbers(out map[string]worksheet.Quantity) {
	if len(s.plan.Deliveries) == 0 || s.plan.Deliveries[0].Use.Assumed {
		return
	}
	u := s.plan.Deliveries[0].Use
	write := func(name, formula string, at time.Time, limits []plan.Limit) {
		if at.IsZero() {
			return
		}
		d := worksheet.Derivation{Formula: formula, Inputs: []worksheet.Input{}, Text: formula + " = " + notation.Instant(at.In(s.zone.Location), s.zone.Name)}
		for _, l := range limits {
			if l.Until.IsZero() {
				continue
			}
			d.Inputs = append(d.Inputs, worksheet.Input{Name: l.Of, Value: s.local(l.Until)})
			if l.Until.Equal(at) && d.Citation == "" {
				d.Citation = l.Source
			}
		}
		out[name] = worksheet.Quantity{Value: s.local(at), Derivation: []worksheet.Derivation{d}}
	}
	write("startBefore", "start before = earliest limit that is known", u.StartBefore, u.Starts)
	if len(u.Doses) > 0 {
		write("finishBy", "finish by = earliest limit in use, for the first home dose", u.Doses[0].FinishBy, u.Doses[0].Ends)
	}
}

// running is the first continuous infusion as it runs, where its volume,
// strength and time are settled and its flow is steady.
func (s *state) running() (plan.Running, bool) {
	v, okV := s.numbers["fill"]
	if !okV {
		v, okV = s.numbers["volume"]
	}
	c, okC := s.numbers["concentration"]
	p := s.plan
	if !okV || !okC || v.Disputed || c.Disputed || v.Unit.Dimension() != quantity.Volume || p.FirstHomeDose.IsZero() || p.RunTime <= 0 || len(s.order.Steps) > 0 || !verification.IsContinuous(s.order, s.numbers) {
		return plan.Running{}, false
	}
	for _, r := range s.order.Readings {
		if r.Field == "taper" || r.Field == "step" && r.Role == "rate" {
			return plan.Running{}, false
		}
	}
	amount, err := quantity.ParseUnit("mg")
	if d, ok := s.numbers["dose"]; ok {
		amount, err = d.Unit, nil
	}
	if err != nil || c.Unit.Dimension() != amount.Dimension().Per(quantity.Volume) {
		return plan.Running{}, false
	}
	r := plan.Running{Start: p.FirstHomeDose, Fill: v.Value, Volume: v.Unit, Concentration: quantity.Point(c.Value, c.Unit), Drug: amount,
		Nominal: p.RunTime, Shortest: p.ShortestRun, Longest: p.LongestRun}
	if left, ok := s.numbers["residual"]; ok && left.Unit.Dimension() == quantity.Volume {
		r.Residual = v.Unit.FromBase(left.Unit.ToBase(left.Value))
	}
	return r, true
}

// remaining is what should be left half-way, at the earliest end and at the
// end, and what the volume left at the end means.
func (s *state) remaining() (out []worksheet.Expected, says string) {
	r, ok := s.running()
	if !ok {
		return nil, ""
	}
	ends := []struct {
		of string
		at time.Time
	}{{"half-way", r.Start.Add(r.Nominal / 2)}, {"earliest end", s.plan.EndsEarliest}, {"end", s.plan.EndsAt}}
	for _, x := range ends {
		if x.at.IsZero() {
			continue
		}
		e := r.Expect(x.at)
		out = append(out, worksheet.Expected{Of: x.of, At: s.local(x.at), Low: e.Least.Significant(3), Value: e.Nominal.Significant(3), High: e.Most.Significant(3), Unit: r.Volume.Code()})
	}
	tenth := r.Fill.Mul(plan.CallAbove)
	per := r.Drug.FromBase(r.Volume.ToBase(quantity.Int(1)).Mul(r.Concentration.Unit.ToBase(r.Concentration.Low)))
	says = "each " + notation.Code("1", r.Volume.Code()) + " left is " + notation.Code(per.Significant(4), r.Drug.Code()) + " not given; more than " +
		notation.Code(tenth.Significant(4), r.Volume.Code()) + " left after the latest end: call before it is disconnected or thrown away"
	return out, says
}
