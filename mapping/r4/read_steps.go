package r4

import (
	"cmp"
	"slices"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// readRateSteps reads weir:rate-step of one instruction.
func (o *orderScope) readRateSteps(n element.Node, i *instruction) {
	for _, x := range n.Get("extension").Each() {
		if x.Get("url").Text() != ours+"rate-step" {
			continue
		}
		s := order.Step{Place: x.Place(), Number: len(i.steps) + 1}
		if v := extensionValue(x, "order"); v.Exists() {
			s.Number = o.whole(v.Parent(), v.Name())
		}
		s.Rate = o.part(x, "rate", "rate", quantity.Volume.Per(quantity.Time))
		s.Duration = o.part(x, "duration", "duration", quantity.Time)
		s.Volume = o.part(x, "volume", "volume", quantity.Volume)
		if s.Rate == nil {
			o.notUsed(x, "the step has no rate in volume per time")
			continue
		}
		i.steps = append(i.steps, s)
	}
	slices.SortStableFunc(i.steps, func(a, b order.Step) int { return cmp.Compare(a.Number, b.Number) })
}

func (o *orderScope) part(x element.Node, url, name string, d quantity.Dimension) *order.Stated {
	q, ok := o.quantity(extensionValue(x, url))
	if !ok || q.counted() {
		return nil
	}
	s, ok := q.stated(name, d, order.Coded, "rate step")
	if !ok {
		return nil
	}
	return &s
}

// rateSteps recognises instructions that follow each other, each with its own
// rate. Their rates and times become steps and no statements of one constant
// rate; a dose repeated on each is one total, never the sum.
func (o *orderScope) rateSteps(list []instruction) bool {
	if len(list) < 2 {
		return false
	}
	for k, i := range list {
		if i.asNeeded || len(i.rates) == 0 || i.sequence == 0 || k > 0 && i.sequence == list[k-1].sequence {
			return false
		}
		if i.duration == nil && k < len(list)-1 {
			return false
		}
	}
	for k := range list {
		i := &list[k]
		rate := i.rates[0]
		o.out.Steps = append(o.out.Steps, order.Step{Number: i.sequence, Rate: &rate, Duration: i.duration, Place: i.node.Place()})
		o.out.Stated = append(o.out.Stated, i.doses...)
		if k == 0 {
			o.out.Stated = append(o.out.Stated, i.pace...)
			o.out.Timing, o.out.TimingPlace = i.timing, i.node.Get("timing").Place()
			o.out.Timing.Duration = quantity.Quantity{}
		}
	}
	return true
}

// patientControlled recognises a continuous rate beside doses that the
// patient asks for. The demand dose and its lockout are no dose and interval
// of the continuous infusion.
func (o *orderScope) patientControlled(list []instruction) bool {
	var basal, demand *instruction
	for k := range list {
		i := &list[k]
		switch {
		case i.asNeeded && len(i.doses) > 0 && demand == nil:
			demand = i
		case !i.asNeeded && len(i.rates) > 0 && basal == nil:
			basal = i
		default:
			return false
		}
	}
	if demand == nil || basal == nil {
		return false
	}
	p := &order.PatientControlled{Place: demand.node.Place(), Basal: &basal.rates[0]}
	d := demand.doses[0]
	d.Name = "demandDose"
	p.Demand = &d
	if period := demand.timing.Period; !period.Absent() && demand.timing.Frequency <= 1 {
		at := demand.node.Get("timing").Get("repeat").Get("period")
		p.Lockout = &order.Stated{Name: "lockout", Quantity: period, Literal: at.Literal(), Place: at.Place(), Witness: order.Coded}
	}
	for _, i := range []*instruction{demand, basal} {
		for k := range i.caps {
			switch i.caps[k].Name {
			case "maxDosePerPeriod":
				p.Limit = &i.caps[k]
			case "limitWindow":
				p.Window = &i.caps[k]
			}
		}
	}
	o.out.Controlled = p
	o.stateAll(*basal)
	o.out.Timing, o.out.TimingPlace = basal.timing, basal.node.Get("timing").Place()
	return true
}
