package verification

import (
	"fmt"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// needsNominal: only a fixed-flow device has a nominal rate to match; an
// electronic pump is set, gravity is counted.
func needsNominal(f Facts) bool {
	switch f.order().Device.Kind {
	case "electronic-pump", "syringe-pump", "gravity":
		return false
	}
	return true
}

// asksDevice: the dose is infused by a device with a built-in flow, or nobody
// says how. A push takes a syringe and a hand.
func asksDevice(f Facts) bool {
	return needsNominal(f) && !(f.order().Device.Kind == "" && method(f.order()) == "push")
}

func deviceMissing(f Facts) []finding.Finding {
	d := f.order().Device
	if _, ok := d.Parameter("nominalRate"); ok {
		return nil
	}
	observed := "no infusion device named"
	place := f.order().Place
	if d.Kind != "" {
		observed, place = d.Kind+" device without a nominal rate", d.Place
	}
	expected := "a device with its nominal rate"
	if q, ok := neededRate(f); ok {
		expected = "a device with a nominal rate of " + notation.Code(q.Value.Significant(4), q.Unit.Code())
	}
	if why, _, yes := needsPump(f); yes {
		expected = "an electronic pump: the order needs " + why
	}
	return here(place, observed, expected)
}

// neededRate is volume over infusion time, whatever rate the order states.
func neededRate(f Facts) (order.Quantity, bool) {
	v, okV := f.quantities()["volume"]
	t, okT := f.quantities()["duration"]
	if !okV || !okT || v.Disputed || t.Disputed || t.Value.Sign() == 0 {
		return order.Quantity{}, false
	}
	u := quantity.MustUnit("mL/h")
	value := u.FromBase(v.Unit.ToBase(v.Value).Quo(t.Unit.ToBase(t.Value)))
	return order.Quantity{Value: value, Low: value, High: value, Unit: u, Place: t.Place}, true
}

// match is nominal rate over needed rate.
type match struct {
	nominal      order.Stated
	needed       order.Quantity
	ratio        quantity.Number // above 1: too fast
	longer       quantity.Number // times the ordered time
	seconds      quantity.Number // the ordered time
	intermittent bool
}

func matched(f Facts) (match, bool) {
	nominal, ok := f.order().Device.Parameter("nominalRate")
	needed, known := neededRate(f)
	if !ok || !known || needed.Value.Sign() <= 0 {
		return match{}, false
	}
	in, err := nominal.Quantity.In(needed.Unit)
	if err != nil || in.Low.Sign() <= 0 {
		return match{}, false
	}
	m := match{nominal: nominal, needed: needed, ratio: in.Middle().Quo(needed.Value)}
	m.longer = quantity.Int(1).Quo(m.ratio)
	ordered := f.quantities()["duration"]
	m.seconds = ordered.Unit.ToBase(ordered.Value)
	m.intermittent = !IsContinuous(f.order(), f.quantities()) && f.hazard().Listed == "no"
	return m, true
}

// IsContinuous: an infusion of 12 hours or more, or one that ends when the
// next begins (common practice, no source).
func IsContinuous(o order.Order, q order.Quantities) bool {
	t, ok := q["duration"]
	if !ok {
		return false
	}
	seconds := t.Unit.ToBase(t.Value)
	if i, repeats := q["interval"]; repeats && !seconds.Less(i.Unit.ToBase(i.Value)) {
		return true
	}
	return !seconds.Less(quantity.Int(12 * 3600))
}

// lacksMatch: a rate of zero, needed or nominal, matches nothing and is
// never a pass.
func lacksMatch(f Facts) []Fact {
	if q, ok := neededRate(f); !ok || q.Value.Sign() <= 0 {
		return []Fact{NeededRate}
	}
	if _, ok := matched(f); !ok {
		return []Fact{Nominal}
	}
	return nil
}

func hasNominal(f Facts) bool {
	_, ok := f.order().Device.Parameter("nominalRate")
	return ok && needsNominal(f)
}

func (m match) finding(expected string) []finding.Finding {
	t := m.needed
	observed := fmt.Sprintf("nominal %s; volume and infusion time need %s: the device would run %s instead of %s",
		notation.Code(m.nominal.Quantity.Middle().Decimal(), m.nominal.Quantity.Unit.Code()), notation.Code(t.Value.Significant(4), t.Unit.Code()),
		inWords(m.seconds.Mul(m.longer)), inWords(m.seconds))
	x := here(m.nominal.Place, observed, expected)
	x[0].Evidence = []string{t.Place.Expression}
	x[0].Remedy = "Choose a device with a nominal rate of " + notation.Code(t.Value.Significant(4), t.Unit.Code()) + ", or ask the prescriber for another infusion time."
	return x
}

// inWords is a time of whole minutes from seconds, of seconds below two
// minutes.
func inWords(seconds quantity.Number) string {
	step := quantity.Int(60)
	if seconds.Less(quantity.Int(120)) {
		step = quantity.Int(1)
	}
	whole, _ := seconds.RoundTo(step).Floor()
	return notation.Duration(time.Duration(whole) * time.Second)
}

func deviceFamily(f Facts) []finding.Finding {
	m, ok := matched(f)
	p := f.policy().Device
	switch {
	case !ok:
	case p.WrongFamilyFast.Less(m.ratio), m.intermittent && p.IntermittentHold.Less(m.longer), !m.intermittent && m.ratio.Less(p.WrongFamilySlow.Number):
		return m.finding("a nominal rate of " + notation.Code(m.needed.Value.Significant(4), m.needed.Unit.Code()))
	}
	return nil
}

func deviceRate(slower bool) func(Facts) []finding.Finding {
	return func(f Facts) []finding.Finding {
		m, ok := matched(f)
		p := f.policy().Device
		off := m.ratio.Sub(quantity.Int(1)).Abs()
		if !ok || len(deviceFamily(f)) > 0 || !p.RateError.Less(off) {
			return nil
		}
		gentle := m.intermittent && quantity.Int(1).Less(m.longer) && !p.IntermittentNote.Less(m.longer)
		if gentle != slower {
			return nil
		}
		return m.finding(fmt.Sprintf("within %s %% of %s", p.RateError.Mul(quantity.Int(100)).Decimal(), notation.Code(m.needed.Value.Significant(4), m.needed.Unit.Code())))
	}
}

func isGravity(f Facts) bool { return f.order().Device.Kind == "gravity" }

func dropFactor(f Facts) []finding.Finding {
	if _, ok := f.order().Device.Parameter("dropFactor"); ok {
		return nil
	}
	return here(f.order().Device.Place, "gravity set without a drop factor", "the drop factor of the set, in drops per mL")
}
