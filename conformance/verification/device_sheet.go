package verification

import (
	"strings"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// setting is one number of the pump sheet and what it must equal. The other
// is absent where the order has no such number.
type setting struct {
	sheet order.Stated
	other quantity.Quantity
	at    finding.Place
	says  string // whose the other number is
	lacks Fact   // when there is none
}

// settings are the numbers of the pump sheet beside those of container and
// order.
func settings(f Facts) []setting {
	o := f.order()
	var out []setting
	add := func(name string, other quantity.Quantity, at finding.Place, says string, lacks Fact) {
		if p, ok := o.Device.Parameter(name); ok {
			out = append(out, setting{p, other, at, says, lacks})
		}
	}
	number := func(name string) (quantity.Quantity, finding.Place) {
		q, ok := f.quantities()[name]
		if !ok || q.Disputed || q.Unit.IsZero() {
			return quantity.Quantity{}, q.Place
		}
		least, most := permitted(f, name)
		return quantity.Range(least, most, q.Unit), q.Place
	}
	c, at := number("concentration")
	add("concentration", c, at, "the container", Concentration)
	r, at := number("rate")
	if p, ok := o.Device.Parameter("setRate"); ok && p.Quantity.Unit.Dimension() != quantity.Volume.Per(quantity.Time) {
		r, at = number("drugRate")
	}
	for i, step := range o.Steps { // one rate set beside several is one of them
		if set, ok := o.Device.Parameter("setRate"); ok && step.Rate != nil {
			is := setting{sheet: set, other: step.Rate.Quantity}
			if _, differs := is.differs(f); i == 0 || !differs {
				r, at = is.other, step.Rate.Place
			}
		}
	}
	add("setRate", r, at, "the order", Rate)
	var x order.PatientControlled
	if o.Controlled != nil {
		x = *o.Controlled
	}
	for _, s := range []struct {
		name string
		of   *order.Stated
	}{{"basalRate", x.Basal}, {"demandDose", x.Demand}, {"lockout", x.Lockout}, {"doseLimit", x.Limit}, {"limitWindow", x.Window}} {
		var q quantity.Quantity
		if s.of != nil {
			q, at = s.of.Quantity, s.of.Place
		}
		add(s.name, q, at, "the order", Settings)
	}
	return out
}

func hasSheet(f Facts) bool { return len(settings(f)) > 0 }

// inSheetUnit is the other number in the unit of the sheet; an amount of
// drug is read as a volume, or the other way round, by the concentration of
// the container.
func (s setting) inSheetUnit(f Facts) (quantity.Quantity, bool) {
	unit := s.sheet.Quantity.Unit
	if s.other.Absent() {
		return quantity.Quantity{}, false
	}
	if in, err := s.other.In(unit); err == nil {
		return in, true
	}
	c, ok := f.quantities()["concentration"]
	if !ok || c.Disputed || c.Value.Sign() <= 0 {
		return quantity.Quantity{}, false
	}
	by := c.Unit.ToBase(c.Value)
	low, high := s.other.Base()
	switch perVolume := c.Unit.Dimension(); {
	case s.other.Unit.Dimension() == unit.Dimension().Times(perVolume):
		return quantity.Range(unit.FromBase(low.Quo(by)), unit.FromBase(high.Quo(by)), unit), true
	case unit.Dimension() == s.other.Unit.Dimension().Times(perVolume):
		return quantity.Range(unit.FromBase(low.Mul(by)), unit.FromBase(high.Mul(by)), unit), true
	}
	return quantity.Quantity{}, false
}

// printed is half of the last digit that the sheet prints, at most 2 % of
// the number: what a number means beyond its digits, as everywhere in the
// arithmetic. A set rate may lie half a step of the pump away.
func (s setting) printed(f Facts) quantity.Number {
	low := s.sheet.Quantity.Low
	last := one
	if _, fraction, point := strings.Cut(s.sheet.Literal, "."); point {
		for range fraction {
			last = last.Quo(quantity.Int(10))
		}
	}
	by := quantity.Least(last.Quo(quantity.Int(2)), low.Abs().Mul(quantity.Ratio(2, 100)))
	if step := pumpStep(f); s.sheet.Name == "setRate" && step.known && s.sheet.Quantity.Unit.Dimension() == millilitrePerHour.Dimension() {
		by = quantity.Greatest(by, s.sheet.Quantity.Unit.FromBase(millilitrePerHour.ToBase(step.at)).Quo(quantity.Int(2)))
	}
	return by
}

func (s setting) differs(f Facts) (quantity.Quantity, bool) {
	q, ok := s.inSheetUnit(f)
	if !ok {
		return q, false
	}
	by := s.printed(f)
	return q, s.sheet.Quantity.High.Add(by).Less(q.Low) || q.High.Less(s.sheet.Quantity.Low.Sub(by))
}

func sheetUnknown(f Facts) []Fact {
	var out []Fact
	for _, s := range settings(f) {
		if _, ok := s.inSheetUnit(f); !ok {
			out = append(out, s.lacks)
		}
	}
	return out
}

var sheetWords = map[string]string{"setRate": "rate", "basalRate": "continuous rate", "demandDose": "dose on demand", "lockout": "lockout", "doseLimit": "limit", "limitWindow": "time of the limit"}

// sheetDiffers: row d8, the settings of the pump against the container in
// hand and the order.
func sheetDiffers(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, s := range settings(f) {
		q, differs := s.differs(f)
		if !differs {
			continue
		}
		word, ok := sheetWords[s.sheet.Name]
		if !ok {
			word = arithmetic.Words(s.sheet.Name)
		}
		x := here(s.sheet.Place, word+" on the pump sheet "+span(s.sheet.Quantity)+", of "+s.says+" "+shown(q),
			"one number on sheet, label and order: "+shown(q))[0]
		x.Evidence = []string{s.at.Expression}
		x.Remedy = "Pharmacist: find out which is right, make a new sheet with a new number from the container in hand, and plan a visit: the pump at home still has the old settings."
		out = append(out, x)
	}
	return out
}

// shown writes a quantity cut to four digits.
func shown(q quantity.Quantity) string {
	if q.IsPoint() {
		return notation.About(q.Low, q.Unit, 4)
	}
	return notation.Rounded(q.Low, 4) + " to " + notation.About(q.High, q.Unit, 4)
}
