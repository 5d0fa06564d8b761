package conformance

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// quantities writes every number with how it was reached and everybody who
// stated it; instants of a continuous infusion stand beside them.
func (s *state) quantities() map[string]worksheet.Quantity {
	out := map[string]worksheet.Quantity{}
	for name, q := range s.numbers {
		w := toQuantity(q)
		for _, x := range s.order.Stated {
			if x.Name == name && x.Witness != order.Computed {
				as := worksheet.StatedAs{Value: x.Quantity.Middle().Decimal(), Unit: x.Quantity.Unit.Code(),
					Witness: string(x.Witness), Expression: x.Place.Expression, Span: span(x.Place)}
				if !x.Quantity.IsPoint() {
					as.Low, as.High = x.Quantity.Low.Decimal(), x.Quantity.High.Decimal()
				}
				w.StatedAs = append(w.StatedAs, as)
			}
		}
		out[name] = w
	}
	p := s.plan
	ends := func(name string, at time.Time, formula string) {
		if at.IsZero() {
			return
		}
		out[name] = worksheet.Quantity{Value: s.local(at), Expression: s.order.TimingPlace.Expression, Derivation: []worksheet.Derivation{{Formula: formula,
			Inputs: []worksheet.Input{{Name: "start", Value: s.local(p.FirstHomeDose), Expression: s.order.TimingPlace.Expression}}, Text: formula + " = " + notation.Instant(at.In(s.zone.Location), s.zone.Name)}}}
	}
	end := "end = start + infusion time, elapsed"
	if p.SetFrom == "pump-step" {
		end = "end = start + volume ÷ rate as the pump can be set, elapsed"
	}
	ends("endsAt", p.EndsAt, end)
	ends("endsEarliest", p.EndsEarliest, "earliest end = start + infusion time ÷ (1 + device tolerance), elapsed")
	ends("endsLatest", p.EndsLatest, "latest end = start + infusion time ÷ (1 − device tolerance), elapsed")
	s.useNumbers(out)
	return out
}

// toQuantity writes a quantity with its ways as text.
func toQuantity(q order.Quantity) worksheet.Quantity {
	w := worksheet.Quantity{Value: q.Value.Decimal(), Unit: q.Unit.Code(), Stated: q.Stated, Disputed: q.Disputed,
		Expression: q.Place.Expression, Span: span(q.Place), Derivation: []worksheet.Derivation{}}
	if !q.Low.Equal(q.High) {
		w.Low, w.High = q.Low.Decimal(), q.High.Decimal()
	}
	for _, d := range q.Derivation {
		x := worksheet.Derivation{Formula: d.Formula, Value: d.Value, Unit: d.Unit, Text: d.Text, Citation: d.Citation, Inputs: []worksheet.Input{}}
		for _, i := range d.Inputs {
			x.Inputs = append(x.Inputs, worksheet.Input(i))
		}
		w.Derivation = append(w.Derivation, x)
	}
	return w
}

func (s *state) readings() []worksheet.Reading {
	out := []worksheet.Reading{}
	for _, r := range s.order.Readings {
		out = append(out, worksheet.Reading{Expression: r.Place.Expression, Span: r.Place.Span, Field: r.Field, Value: r.Value, Unit: r.Unit, Low: r.Low, High: r.High, Role: r.Role})
	}
	return out
}

// local writes an instant in the patient's own time.
func (s *state) local(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	if s.zone.Known() {
		t = t.In(s.zone.Location)
	}
	return t.Format(time.RFC3339)
}

func (s *state) schedule() worksheet.Schedule {
	p := s.plan
	w := worksheet.Schedule{FirstHomeDose: s.local(p.FirstHomeDose), LastDose: s.local(p.LastDose), DoseCount: len(p.HomeDoses), Zone: s.zone.Name,
		Complete: p.Complete, Doses: []string{}, EndsAt: s.local(p.EndsAt), EndsEarliest: s.local(p.EndsEarliest), EndsLatest: s.local(p.EndsLatest),
		FirstHomeEarliest: s.local(p.FirstEarliest), FirstHomeLatest: s.local(p.FirstLatest), HomeLeast: p.HomeLeast, HomeMost: p.HomeMost}
	for _, at := range p.HomeDoses {
		w.Doses = append(w.Doses, s.local(at))
	}
	w.Says = append(w.Says, p.Says...)
	for _, u := range p.Unknown {
		w.Says = append(w.Says, "not known: "+u)
	}
	if s.zoneSays != "" {
		w.Says = append(w.Says, s.zoneSays)
	}
	if text := s.window(); text != "" {
		w.Says = append(w.Says, text)
	}
	if text := s.emitted(); text != "" {
		w.Says = append(w.Says, text)
	}
	if list, text := s.remaining(); text != "" {
		w.Remaining, w.Says = list, append(w.Says, text)
	}
	return w
}

// window says how long one intermittent infusion takes on a fixed-flow
// device that fits: a window, not a point.
func (s *state) window() string {
	t, ok := s.numbers["duration"]
	v, okV := s.numbers["volume"]
	if !ok || !okV || t.Disputed || v.Disputed || s.order.Device.Kind != "elastomeric" || verification.IsContinuous(s.order, s.numbers) {
		return ""
	}
	tolerance := s.ref.Policy.Device.Tolerance.Number
	one := quantity.Int(1)
	minutes := quantity.MustUnit("min")
	time := minutes.FromBase(t.Unit.ToBase(t.Value))
	rate := quantity.MustUnit("mL/h")
	needed := rate.FromBase(v.Unit.ToBase(v.Value).Quo(t.Unit.ToBase(t.Value)))
	return "with a fixed-flow device of nominal " + notation.Code(needed.Significant(4), "mL/h") + " each infusion takes " +
		notation.Code(time.Quo(one.Add(tolerance)).Places(1), "min") + " to " + notation.Code(time.Quo(one.Sub(tolerance)).Places(1), "min")
}

func (s *state) deliveries() []worksheet.Delivery {
	out := []worksheet.Delivery{}
	for _, d := range s.plan.Deliveries {
		says := d.Says
		switch {
		case !d.StartBefore.IsZero():
		case d.Use.Lot != "" || !d.Use.Made.IsZero() && !d.Use.Assumed:
			says = strings.TrimPrefix(d.Says+"; the prepared units are not dated: neither their record nor category and stability together tell until when they may be started", "; ")
		default:
			says = cmp.Or(d.Says, "start before and finish by are fixed once the units are prepared")
		}
		if d.NoData {
			says += "; " + d.NoDataSay
		}
		out = append(out, worksheet.Delivery{Arrival: s.local(d.Arrival), StartBefore: s.local(d.StartBefore), Units: d.Units, DaysSupply: d.DaysSupply,
			FinishBy: s.local(d.FinishBy), Use: s.useLines(d.Use), FirstDose: s.local(d.FirstDose), LastDose: s.local(d.LastDose), Says: says})
	}
	return out
}

func (s *state) kitLines() []worksheet.KitItem {
	out := []worksheet.KitItem{}
	for _, k := range s.kit {
		out = append(out, worksheet.KitItem{Item: k.Item, Name: k.Name, Quantity: k.Quantity, Unit: k.Unit, Formula: k.Formula, Delivery: k.Delivery})
	}
	return out
}

// due of a fact that gates only at a later stage: by when it must be true.
var stageDue = map[finding.Stage]time.Duration{finding.Pack: -24 * time.Hour, finding.Dispatch: -6 * time.Hour, finding.Start: -time.Hour, finding.Release: -12 * time.Hour}

var groupRole = map[string]string{"hazard": "supply", "access": "nurse", "record": "pharmacist", "therapy": "nurse", "people": "pharmacist"}

// taskLines are the planned tasks and, as open tasks, the facts that gate
// only at a later stage.
func (s *state) taskLines(outcomes []verification.Outcome) []worksheet.Task {
	out := []worksheet.Task{}
	for _, t := range s.tasks {
		out = append(out, worksheet.Task{Code: t.Code, Role: t.Role, Due: s.local(t.Due), Title: t.Title, Priority: "routine", Closes: t.Closes, After: t.After,
			Inputs: t.Inputs, Prepares: t.Prepares, Says: t.Says})
	}
	for _, o := range outcomes {
		for _, f := range o.Due {
			row, _ := finding.Lookup(o.Code)
			t := worksheet.Task{Code: string(o.Code), Role: cmp.Or(groupRole[row.Group], "pharmacist"), Title: row.Title, Priority: "routine", Closes: f.Expected, Finding: string(o.Code)}
			var due time.Time
			switch {
			case row.Stage == finding.Close && !s.plan.CourseEnd.IsZero():
				due = s.plan.CourseEnd.AddDate(0, 0, -s.ref.Policy.Access.PlanDueDays)
			case row.Stage != finding.Close && !s.plan.FirstHomeDose.IsZero():
				due = s.plan.FirstHomeDose.Add(stageDue[row.Stage])
			default:
				t.Says = "due time open: the schedule is not known"
			}
			if !due.IsZero() && due.Before(s.now) {
				due, t.Says = s.situation.Now, fulfillment.Passed
			}
			t.Due = s.local(due)
			out = append(out, t)
		}
	}
	slices.SortStableFunc(out, func(a, b worksheet.Task) int {
		x, errX := time.Parse(time.RFC3339, a.Due)
		y, errY := time.Parse(time.RFC3339, b.Due)
		switch {
		case errX != nil && errY != nil:
			return 0
		case errX != nil:
			return 1
		case errY != nil:
			return -1
		}
		return x.Compare(y)
	})
	return out
}

func (s *state) hazardLines() worksheet.Hazard {
	h := s.hazard
	w := worksheet.Hazard{Listed: h.Listed, Edition: h.Edition, Table: h.Table, Antineoplastic: h.Antineoplastic, ClosedTransfer: h.ClosedTransfer, Handling: []string{}, Says: h.Says}
	switch h.ClosedTransfer {
	case "required":
		w.Handling = append(w.Handling, "closed-system transfer device at connect and at disconnect: required for giving it")
	case "by-policy":
		w.Handling = append(w.Handling, "closed-system transfer device by the site's signed assessment of risk; used unless it says otherwise")
	case "unassessed":
		w.Handling = append(w.Handling, "not assessed: handle as hazardous until a pharmacist has assessed it")
	}
	if h.Listed == "yes" || h.Listed == "unassessed" {
		w.Handling = append(w.Handling, "two pairs of tested gloves, gown and eye cover for whoever connects or disconnects",
			"spill kit and rigid waste container at the home before the start")
		if own := s.ref.Policy.Hazard.WasteByDrug[s.drug.Name]; h.Waste != "" || own != "" {
			w.Handling = append(w.Handling, wasteLine(h.Waste, own))
		}
		fluids := s.ref.Policy.BodyFluid(s.drug.Name)
		line := "household body-fluid precautions for " + notation.Code(quantity.Int(int64(fluids/time.Hour)).Decimal(), "h") + " after the end of the infusion"
		if !s.plan.EndsAt.IsZero() {
			line += ", to " + notation.Instant(s.plan.EndsAt.Add(fluids).In(s.zone.Location), "") + " or later"
		}
		w.Handling = append(w.Handling, line)
	}
	return w
}

// wasteLine says how left-over drug is disposed of: by the federal list, and
// by the class the site gave it.
func wasteLine(code, own string) string {
	line := "left-over drug: "
	if code != "" {
		line += "federally listed waste " + code + " (40 CFR 261.33); "
	}
	if own != "" {
		line += "this site's class: " + own + "; "
	}
	return line + "state and local rules decide"
}
