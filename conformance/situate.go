package conformance

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

var weekdays = map[string]time.Weekday{"sunday": time.Sunday, "monday": time.Monday, "tuesday": time.Tuesday, "wednesday": time.Wednesday,
	"thursday": time.Thursday, "friday": time.Friday, "saturday": time.Saturday}

// sinceMidnight reads "08:00"; anything else is midnight, which the policy
// check refuses beforehand.
func sinceMidnight(clock string) time.Duration {
	t, err := time.Parse("15:04", clock)
	if err != nil {
		return 0
	}
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
}

func (s *state) planRules() plan.Rules {
	p := s.ref.Policy
	r := plan.Rules{LongestDays: p.Delivery.LongestDays, Holidays: p.Delivery.Holidays, WarmUp: time.Duration(p.Delivery.WarmUp),
		Teach: time.Duration(p.Delivery.Teach), OpenFrom: sinceMidnight(p.Delivery.OpenFrom), OpenUntil: sinceMidnight(p.Delivery.OpenUntil),
		Early: p.Dose.FirstDoseEarly.Number, Tolerance: p.Device.Tolerance.Number, FixedFlow: s.fixedFlow(), Continuous: verification.IsContinuous(s.order, s.numbers),
		RunRules: s.runRules(), Clocks: p.Clocks()}
	for _, d := range p.Delivery.NoDelivery {
		r.NoDelivery = append(r.NoDelivery, weekdays[d])
	}
	return r
}

func (s *state) fixedFlow() bool {
	return s.order.Device.Kind == "elastomeric" || s.order.Device.Kind == ""
}

// timeNumbers adds the counts and instants of the plan to the numbers.
func (s *state) timeNumbers() {
	count := quantity.MustUnit("{dose}")
	add := func(name string, n int, stated bool, p finding.Place, formula string, citation string) {
		if n == 0 {
			return
		}
		v := quantity.Int(int64(n))
		q := order.Quantity{Value: v, Low: v, High: v, Unit: count, Stated: stated, Place: p}
		if formula != "" {
			q.Derivation = []order.Derivation{{Formula: formula, Citation: citation, Value: v.Decimal(), Unit: count.Code(), Text: formula + " = " + v.Decimal(),
				Inputs: []order.Input{{Name: "firstHomeDose", Value: instant(s.plan.FirstHomeDose)}, {Name: "courseStart", Value: instant(s.plan.CourseStart), Expression: s.order.Course.Start.Place.Expression},
					{Name: "courseEnd", Value: instant(s.plan.CourseEnd), Expression: s.order.Course.End.Place.Expression}}}}
		}
		s.numbers[name] = q
	}
	const counted = "starts counted as instants, end excluded (E38)"
	add("orderedQuantity", s.order.Ordered.Doses, true, s.order.Ordered.Place, "", "")
	if s.plan.Complete {
		add("homeQuantity", len(s.plan.HomeDoses), false, s.order.Course.Place, "starts of doses from the first home dose to the end of the course", counted)
		add("doseCount", s.plan.CourseCount, s.order.Course.Count > 0, s.order.Course.Place, "starts of doses from the start of the course to its end", counted)
	}
	for name, stated := range map[string]string{"nominalRate": "nominalRate", "residual": "residual", "fill": "fill"} {
		if p, ok := s.order.Device.Parameter(stated); ok {
			s.numbers[name] = order.Quantity{Value: p.Quantity.Middle(), Low: p.Quantity.Low, High: p.Quantity.High, Unit: p.Quantity.Unit, Stated: true, Literal: p.Literal, Place: p.Place}
		}
	}
	s.delivered()
	s.perDay()
}

// perDay states what a continuous infusion gives in 24 hours: dose per day,
// not only per course, is what mix-ups are seen by.
func (s *state) perDay() {
	r, ok := s.numbers["drugRate"]
	_, stated := s.numbers["dailyDose"]
	if !ok || stated || r.Disputed || !verification.IsContinuous(s.order, s.numbers) {
		return
	}
	amount, err := quantity.ParseUnit(strings.SplitN(r.Unit.Code(), "/", 2)[0] + "/d")
	if err != nil {
		return
	}
	value := amount.FromBase(r.Unit.ToBase(r.Value))
	s.numbers["dailyDose"] = order.Quantity{Value: value, Low: amount.FromBase(r.Unit.ToBase(r.Low)), High: amount.FromBase(r.Unit.ToBase(r.High)), Unit: amount, Place: r.Place,
		Derivation: []order.Derivation{{Formula: "dailyDose = drugRate × 24 h", Value: value.Decimal(), Unit: amount.Code(), Citation: "ISMP, Accidental overdoses involving fluorouracil infusions",
			Inputs: []order.Input{{Name: "drugRate", Value: r.Value.Decimal(), Unit: r.Unit.Code(), Expression: r.Place.Expression}},
			Text:   "dose in 24 hours = " + notation.Code(r.Value.Significant(4), r.Unit.Code()) + " × 24 hours = " + notation.Code(value.Significant(4), amount.Code())}}}
}

// delivered is the dose that leaves the device: (fill − residual) ×
// concentration; the fill is the container's volume when not stated apart.
func (s *state) delivered() {
	c, okC := s.numbers["concentration"]
	fill, okF := s.numbers["fill"]
	if !okF {
		fill, okF = s.numbers["volume"]
	}
	if _, stated := s.numbers["residual"]; !stated && okF {
		s.catalogueResidual(fill)
	}
	residual, ok := s.numbers["residual"]
	if !ok || !okC || !okF || c.Disputed || fill.Disputed {
		return
	}
	left := fill.Unit.FromBase(residual.Unit.ToBase(residual.Value))
	out := fill.Value.Sub(left)
	amount, err := quantity.ParseUnit("mg")
	base := c.Unit.ToBase(c.Value).Mul(fill.Unit.ToBase(out))
	if q, stated := s.numbers["dose"]; stated {
		amount, err = q.Unit, nil
	}
	if err != nil || out.Sign() <= 0 {
		return
	}
	value := amount.FromBase(base)
	show := func(n quantity.Number, u quantity.Unit) string { return notation.Code(n.Significant(5), u.Code()) }
	at := func(residual, residualUnit quantity.Number) quantity.Number {
		return amount.FromBase(c.Unit.ToBase(c.Value).Mul(fill.Unit.ToBase(fill.Value).Sub(residual.Mul(residualUnit))))
	}
	one := residual.Unit.ToBase(quantity.Int(1))
	s.numbers["delivered"] = order.Quantity{Value: value, Low: at(residual.High, one), High: at(residual.Low, one), Unit: amount, Place: residual.Place, Derivation: []order.Derivation{{
		Formula: "delivered = (fill − residual) × concentration", Value: value.Decimal(), Unit: amount.Code(), Citation: "Expert Rev Med Devices 2019;16:735 on emitted volume (E35)",
		Inputs: []order.Input{{Name: "fill", Value: fill.Value.Decimal(), Unit: fill.Unit.Code(), Expression: fill.Place.Expression},
			{Name: "residual", Value: residual.Value.Decimal(), Unit: residual.Unit.Code(), Expression: residual.Place.Expression},
			{Name: "concentration", Value: c.Value.Decimal(), Unit: c.Unit.Code(), Expression: c.Place.Expression}},
		Text: "dose delivered = (" + show(fill.Value, fill.Unit) + " − " + show(left, fill.Unit) + ") × " + show(c.Value, c.Unit) + " = " + show(value, amount)}}}
}

func instant(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339)
}

// situate turns plan, drug, line and device into what kit and tasks depend
// on.
func (s *state) situate() fulfillment.Situation {
	p := s.ref.Policy
	x := fulfillment.Situation{Now: s.now, Location: s.zone.Location, Discharge: s.plan.Discharge, FirstHomeDose: s.plan.FirstHomeDose,
		LastDose: s.plan.LastDose, CourseEnd: s.courseEnd(), EndsAt: s.plan.EndsAt, EndsLatest: s.plan.EndsLatest,
		WarmUp: time.Duration(p.Delivery.WarmUp), Teach: time.Duration(p.Delivery.Teach), VisitBefore: time.Duration(p.Delivery.VisitBefore),
		SpareRate: p.Delivery.SpareRate.Number, SpareLeast: p.Delivery.SpareLeast,
		OpenFrom: sinceMidnight(p.Delivery.OpenFrom), OpenUntil: sinceMidnight(p.Delivery.OpenUntil), PlanDueDays: p.Access.PlanDueDays,
		BodyFluid: p.BodyFluid(s.drug.Name)}
	if s.zone.Known() {
		x.Now = s.now.In(s.zone.Location)
	}
	if x.Discharge.Before(s.now) {
		x.Discharge = time.Time{}
	}
	x.Draws = s.draws()
	x.Stock = s.stock()
	for _, d := range s.plan.Deliveries {
		load := fulfillment.Load{Arrival: d.Arrival, Doses: d.Units, DaysSupply: d.DaysSupply}
		next := d.LastDose.Add(s.plan.Interval)
		for _, draw := range x.Draws {
			if !draw.Day.Before(d.FirstDose) && draw.Day.Before(next) {
				load.Draws++
			}
		}
		if len(x.Stock) > 0 && len(x.Deliveries) == 0 {
			load.Before = s.usedUntil(d.FirstDose, x.Stock[0].At, x.Draws)
		}
		x.Deliveries = append(x.Deliveries, load)
	}
	x.Flags = s.flags(len(x.Draws) > 0)
	x.Numbers = s.taskNumbers()
	return x
}

// courseEnd is when the last infusion has run: what hangs on the end of the
// course is not due at the midnight of a date alone.
func (s *state) courseEnd() time.Time {
	if s.plan.LastDose.IsZero() {
		return s.plan.CourseEnd
	}
	return s.plan.LastDose.Add(s.plan.Duration)
}

func (s *state) flags(laboratory bool) []string {
	var f []string
	add := func(flag string, holds bool) {
		if holds {
			f = append(f, flag)
		}
	}
	kind := s.order.Device.Kind
	add("elastomeric", kind == "elastomeric")
	add("electronic", kind == "electronic-pump" || kind == "syringe-pump")
	add("gravity", kind == "gravity")
	continuous := verification.IsContinuous(s.order, s.numbers)
	add("continuous", continuous)
	add("intermittent", !continuous)
	add("successive", continuous && s.successive())
	add("hazardous", s.hazard.Listed == "yes")
	add("closed-transfer", s.hazard.ClosedTransfer == "required" || s.hazard.ClosedTransfer == "by-policy" && s.ref.Policy.Hazard.ClosedTransferPolicy)
	add("laboratory", laboratory)
	add("refrigerated", s.refrigerated())
	for _, a := range s.kase.Access {
		if a.Removed.Absent() && a.Kind != "" {
			add("line", !slices.Contains(f, "line"))
			add("port", a.Kind == "port" && !slices.Contains(f, "port"))
		}
	}
	facts := s.facts()
	add("heparin-lock", verification.HeparinLock(facts))
	add("second-check", verification.NeedsSecondCheck(facts))
	add("first-ever", verification.FirstEver(facts))
	add("nutrition", s.drug.Is("nutrition"))
	add("no-bolus", verification.Carries(facts, compendium.NoBolus))
	add("dextrose-flush", verification.DextroseFlush(facts))
	add("reaction-prone", reactionProne(s.drug.Class))
	return f
}

// successive: one container follows the other, so that nothing is disconnected
// at the end of one: the next is due within an hour of it.
func (s *state) successive() bool {
	p := s.plan
	return len(p.HomeDoses) > 1 && p.Interval > 0 && p.Interval-p.Duration < time.Hour
}

// reactionProne: classes that may react at any dose, not only at the first:
// immune globulin, iron, biologics (clinical review, first visit; from memory).
func reactionProne(class string) bool {
	return slices.ContainsFunc([]string{"immunoglobulin", "parenteral iron", "TNF-alpha", "monoclonal", "antibody"}, func(w string) bool { return strings.Contains(class, w) })
}

// refrigerated: the table knows a cold stability for the prepared drug.
func (s *state) refrigerated() bool {
	for _, f := range s.drug.Facts {
		if f.Topic == "stability_diluted" && f.Value.Storage == "refrigerated" && f.Gates {
			return true
		}
	}
	return false
}

// draws are the days on which blood is to be drawn, as ordered.
func (s *state) draws() []fulfillment.Draw {
	if !s.zone.Known() {
		return nil
	}
	byDay := map[string]*fulfillment.Draw{}
	var days []string
	for _, service := range s.kase.Services {
		if service.Kind != "laboratory" || service.Status == "completed" || service.Status == "revoked" {
			continue
		}
		for _, at := range s.occurrences(service) {
			if at.Before(s.now) {
				continue
			}
			key := at.Format("2006-01-02")
			if byDay[key] == nil {
				byDay[key] = &fulfillment.Draw{Day: at}
				days = append(days, key)
			}
			byDay[key].Tests = append(byDay[key].Tests, service.Code.Name())
		}
	}
	slices.Sort(days)
	var out []fulfillment.Draw
	for _, d := range days {
		out = append(out, *byDay[d])
	}
	return out
}

// occurrences are the days of a laboratory order: single dates, or the
// repeating days between its bounds. A date alone is due at noon.
func (s *state) occurrences(service order.Service) []time.Time {
	noon := func(t time.Time) time.Time {
		at, _, _ := s.zone.Wall(t.Year(), t.Month(), t.Day(), 12*time.Hour)
		return at
	}
	place := func(i order.Instant) time.Time {
		if i.DateOnly {
			return noon(i.Time)
		}
		return i.Time.In(s.zone.Location)
	}
	var out []time.Time
	for _, w := range service.When {
		out = append(out, place(w))
	}
	if len(out) > 0 || service.From.Absent() || service.To.Absent() {
		return out
	}
	t := schedule.Timing{DaysOfWeek: service.DaysOfWeek}
	if len(t.DaysOfWeek) == 0 {
		if service.EveryDays == 0 {
			return nil
		}
		t.Frequency, t.Period = 1, quantity.Point(quantity.Int(int64(service.EveryDays)), quantity.MustUnit("d"))
	}
	to := place(service.To)
	if service.To.DateOnly {
		to = to.Add(12 * time.Hour) // that day included
	}
	out, _ = schedule.Expand(t, schedule.Span{From: place(service.From), To: to}, s.zone, 400)
	return out
}

// taskNumbers are the numbers a person needs beside a task.
func (s *state) taskNumbers() map[string]string {
	out := map[string]string{}
	for _, name := range []string{"dose", "volume", "rate", "duration"} {
		if q, ok := s.numbers[name]; ok && !q.Disputed {
			out[notation.Name(name)] = notation.Code(q.Value.Significant(5), q.Unit.Code())
		}
	}
	return out
}
