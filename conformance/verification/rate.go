package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// way is one way in which the order tells a rate, a time or a strength: the
// worst end of it, in the unit it is told in.
type way struct {
	worst quantity.Number
	unit  quantity.Unit
	place finding.Place
	says  string // what it was reckoned from, "" when it stands there as it is
}

func (w way) shown() string {
	text := notation.About(w.worst, w.unit, 4)
	if w.says != "" {
		text += " (" + w.says + ")"
	}
	return text
}

// written are the ends of a number as the order writes it. A stated number in
// dispute counts as it is written: that is what would be given. One that only
// follows from numbers in dispute is none.
func written(f Facts, name string) (q order.Quantity, least, most quantity.Number, ok bool) {
	q, ok = f.quantities()[name]
	if !ok || q.Disputed && !q.Stated || q.Value.Sign() <= 0 {
		return q, least, most, false
	}
	least, most = permitted(f, name)
	return q, least, most, true
}

// inDispute: one of these numbers takes part in a disagreement, so that
// nothing within a limit is known to be so.
func inDispute(f Facts, names ...string) bool {
	for _, n := range names {
		if f.quantities()[n].Disputed {
			return true
		}
	}
	return false
}

// sameNumber: the second number is the first one before it was printed.
func sameNumber(printed order.Quantity, n quantity.Number, unit quantity.Unit) bool {
	in := printed.Unit.FromBase(unit.ToBase(n))
	return printed.Stated && !printed.Disputed && !in.Less(printed.Low) && !printed.High.Less(in)
}

func text(q order.Quantity, n quantity.Number) string { return notation.About(n, q.Unit, 5) }

// strengths are the concentrations of the container that the order tells: by
// dose and volume, and the stated one where that is another number.
func strengths(f Facts) []way {
	var out []way
	d, _, most, okD := written(f, "dose")
	v, least, _, okV := written(f, "volume")
	if unit, err := quantity.ParseUnit(d.Unit.Code() + "/mL"); okD && okV && err == nil && least.Sign() > 0 {
		out = append(out, way{unit.FromBase(d.Unit.ToBase(most).Quo(v.Unit.ToBase(least))), unit, d.Place, text(d, most) + " in " + text(v, least)})
	}
	if c, _, most, ok := written(f, "concentration"); ok && (c.Stated || len(out) == 0) && (len(out) == 0 || !sameNumber(c, out[0].worst, out[0].unit)) {
		out = append(out, way{most, c.Unit, c.Place, ""})
	}
	return out
}

// end is which end of an ordered range of rates or times counts. The number
// that is printed and set is the one in the middle; the fast end is what the
// words permit beside it.
type end bool

const (
	asSet   end = false
	fastEnd end = true
)

// of is the number that counts; both ends are the same where no range is
// written.
func (e end) of(q order.Quantity, fast quantity.Number) quantity.Number {
	if e == fastEnd {
		return fast
	}
	return q.Value
}

// byTime is the flow that empties the container in the stated infusion time.
func byTime(f Facts, e end) (way, bool) {
	v, _, most, okV := written(f, "volume")
	t, least, _, okT := written(f, "duration")
	least = e.of(t, least)
	if !okV || !okT || !t.Stated || least.Sign() <= 0 || v.Unit.Dimension() != quantity.Volume {
		return way{}, false
	}
	return way{millilitrePerHour.FromBase(v.Unit.ToBase(most).Quo(t.Unit.ToBase(least))), millilitrePerHour, t.Place, text(v, most) + " in " + text(t, least)}, true
}

// flows are the rates in mL per hour that the order tells: of the steps, by
// volume and time, as stated, and that of a device with one built-in flow. A
// stated rate that is the rounded quotient of volume and time is that quotient.
func flows(f Facts, e end) []way {
	var out []way
	o := f.order()
	stated := func(s *order.Stated, says string) {
		if s == nil {
			return
		}
		if in, err := s.Quantity.In(millilitrePerHour); err == nil && in.High.Sign() > 0 {
			n := in.Middle()
			if e == fastEnd {
				n = in.High
			}
			out = append(out, way{n, millilitrePerHour, s.Place, says})
		}
	}
	for _, s := range o.Steps {
		stated(s.Rate, "a step of the rate")
	}
	for _, n := range wordedSteps(o) {
		out = append(out, way{n, millilitrePerHour, o.Place, "a step of the rate, in words"})
	}
	if o.Controlled != nil {
		stated(o.Controlled.Basal, "the continuous rate")
	}
	needed, timed := byTime(f, e)
	if timed {
		out = append(out, needed)
	}
	if r, _, most, ok := written(f, "rate"); ok && (r.Stated || len(out) == 0) && !(timed && !ranges(f, "rate") && sameNumber(r, needed.worst, needed.unit)) {
		if most = e.of(r, most); r.Unit.Dimension() == millilitrePerHour.Dimension() {
			place, says := r.Place, ""
			if place.Expression == "" {
				place, says = o.Place, "from the other numbers"
			}
			out = append(out, way{millilitrePerHour.FromBase(r.Unit.ToBase(most)), millilitrePerHour, place, says})
		}
	}
	if n, ok := nominal(f); ok {
		out = append(out, n)
	}
	return out
}

// ranges: a range of the number is written.
func ranges(f Facts, name string) bool {
	least, most := permitted(f, name)
	return f.quantities()[name].Stated && least.Less(most)
}

// nominal is the flow of the fixed-flow device of the order.
func nominal(f Facts) (way, bool) {
	p, ok := f.order().Device.Parameter("nominalRate")
	in, err := p.Quantity.In(millilitrePerHour)
	if !ok || err != nil || in.Low.Sign() <= 0 || !needsNominal(f) {
		return way{}, false
	}
	return way{in.High, millilitrePerHour, p.Place, "nominal rate of the device"}, true
}

// pacedBy is what a flow gives of the drug, by each strength the order tells.
func pacedBy(f Facts, flow way) []way {
	var out []way
	for _, c := range strengths(f) {
		amount, _, _ := strings.Cut(c.unit.Code(), "/")
		unit, err := quantity.ParseUnit(amount + "/h")
		if err != nil || unit.Dimension() != c.unit.Dimension().Times(quantity.Volume).Per(quantity.Time) {
			continue
		}
		says := notation.About(flow.worst, flow.unit, 4) + " of " + notation.About(c.worst, c.unit, 4)
		if flow.says != "" {
			says += ", " + flow.says
		}
		out = append(out, way{unit.FromBase(flow.unit.ToBase(flow.worst).Mul(c.unit.ToBase(c.worst))), unit, flow.place, says})
	}
	return out
}

// paces are the rates of the order, as volume and as drug in time. A range of
// doses counts at its high end: that much may be in the container.
func paces(f Facts, e end) []way {
	var drug []way
	for _, name := range []string{"drugRate", "drugRatePerKg"} { // one worked out by the weight is not strict
		if q, _, most, ok := written(f, name); ok && q.Stated {
			drug = append(drug, way{e.of(q, most), q.Unit, q.Place, ""})
		}
	}
	d, _, most, okD := written(f, "dose")
	t, least, _, okT := written(f, "duration")
	least = e.of(t, least)
	if unit, err := quantity.ParseUnit(d.Unit.Code() + "/h"); okD && okT && t.Stated && err == nil && least.Sign() > 0 {
		drug = append(drug, way{unit.FromBase(d.Unit.ToBase(most).Quo(t.Unit.ToBase(least))), unit, t.Place, text(d, most) + " in " + text(t, least)})
	}
	volume := flows(f, e)
	for _, flow := range volume {
		if needed, timed := byTime(f, e); len(drug) > 0 && timed && flow.says == needed.says {
			continue // dose over time says it already
		}
		drug = append(drug, pacedBy(f, flow)...)
	}
	byBody := func(w way) bool { return bySize(w.unit.Code()) }
	if q, _, most, ok := written(f, "drugRate"); ok && !q.Stated && len(slices.DeleteFunc(slices.Clone(drug), byBody)) == 0 {
		place := q.Place
		if place.Expression == "" {
			place = f.order().Place
		}
		drug = append(drug, way{e.of(q, most), q.Unit, place, "from the other numbers"})
	}
	return append(drug, volume...)
}

// populations are those whose limits hold: a child is also held under an
// adult's, see dailyFacts.
func populations(f Facts) []string {
	own := population(f)
	if own == "adult" {
		return []string{own}
	}
	return []string{own, "adult"}
}

// limitIn reads the band of a limit in a unit. Potassium has one charge, so
// that a milliequivalent of it is a millimole.
func limitIn(f Facts, band compendium.Band, unit quantity.Unit) (quantity.Quantity, bool) {
	if in, ok := inUnit(f, band, unit); ok {
		return in, true
	}
	if strings.HasPrefix(f.drug().Name, "potassium ") && strings.Contains(band.Unit, "meq") {
		band.Unit = strings.Replace(band.Unit, "meq", "mmol", 1)
		return inUnit(f, band, unit)
	}
	return quantity.Quantity{}, false
}
