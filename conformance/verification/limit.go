package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// limit is one fact of the drug's row that may gate. Unknown names what would
// have to be known to tell whether it holds for the order.
type limit struct {
	compendium.Fact
	unknown []string
}

// says names the authority: the site's own number first.
func (l limit) says() string {
	if o := l.Override; o != nil {
		return " (this site's limit, by " + o.By + " on " + o.On + "; " + l.Source + ")"
	}
	return " (" + l.Source + ")"
}

// regimen is what the limit is for, in words; "" for every regimen.
func (l limit) regimen() string {
	var out []string
	for _, a := range l.AppliesTo {
		switch {
		case a.Regimen != "":
			out = append(out, a.Regimen)
		case len(a.Indication) > 0:
			out = append(out, strings.Join(a.Indication, " or "))
		case len(a.NotIndication) > 0:
			out = append(out, "not "+strings.Join(a.NotIndication, ", not "))
		case a.Setting != "":
			out = append(out, a.Setting)
		}
	}
	return strings.Join(out, " or ")
}

// weakest is the standing that the least can be built on.
func weakest(standings []string) string {
	for _, s := range []string{compendium.Memory, compendium.Corroborated, compendium.LocalStanding} {
		if slices.Contains(standings, s) {
			return s
		}
	}
	return compendium.Sourced
}

// hangsOn are the facts that a limit hangs on of which nobody can tell whether
// it holds. A limit of one component is no limit of the whole: the table does
// not say how much of it the whole holds.
func (l limit) hangsOn() []Fact {
	var out []Fact
	for _, need := range l.unknown {
		fact := regimen(need)
		switch need {
		case "indication":
			fact = Indication
		case "age":
			fact = Age
		case "weight":
			fact = Weight
		case "dose":
			fact = Dose
		case "interval":
			fact = Interval
		}
		if slices.ContainsFunc(l.AppliesTo, func(a compendium.Applies) bool { return a.Component != "" && strings.Contains(need, a.Component) }) {
			fact = TableLimit
		}
		out = append(out, fact)
	}
	return out
}

// limits are the facts of a topic that may gate and hold for the order, and
// those of which nobody can tell whether they hold. A limit of another
// regimen is neither. One that a site put out of force is among them: it
// gates one step below, see Reached.
func limits(f Facts, topic string, populations ...string) (yes, unsure []limit) {
	c := circumstance(f)
	seen := map[string]bool{}
	for _, population := range populations {
		for _, fact := range f.drug().About(topic, population) {
			if !fact.Gates && (fact.Override == nil || !fact.Override.Gated) || seen[fact.ID] {
				continue
			}
			seen[fact.ID] = true
			switch answer, unknown := fact.Holds(c); answer {
			case compendium.Yes:
				yes = append(yes, limit{fact, nil})
			case compendium.Unknown:
				unsure = append(unsure, limit{fact, unknown})
			}
		}
	}
	return yes, unsure
}

// permitted are the least and the most of a number that the order as written
// permits: the ends of a range, or of what follows from one. Where no range
// is written it is the number itself, since the precision of a printed number
// permits nothing.
func permitted(f Facts, name string) (least, most quantity.Number) {
	q := f.quantities()[name]
	least, most = q.Value, q.Value
	for _, s := range f.order().Stated {
		if s.Quantity.IsPoint() || s.Witness == order.Record || s.Witness == order.Computed {
			continue
		}
		if least, most, ok := dayOf(f, q); name == "dailyDose" && !q.Stated && ok {
			return least, most
		}
		if !q.Stated {
			return q.Low, q.High
		}
		if in, err := s.Quantity.In(q.Unit); err == nil && s.Name == name {
			least, most = quantity.Least(least, in.Low), quantity.Greatest(most, in.High)
		}
	}
	return least, most
}

// dayOf is the dose of a day by the ends of dose and interval: what its own
// ends hold besides is the precision of what is printed.
func dayOf(f Facts, day order.Quantity) (least, most quantity.Number, ok bool) {
	dose, every := f.quantities()["dose"], f.quantities()["interval"]
	if dose.Disputed || every.Disputed || dose.Value.Sign() <= 0 || every.Value.Sign() <= 0 {
		return least, most, false
	}
	unit, err := quantity.ParseUnit(dose.Unit.Code() + "/d")
	if err != nil || unit.Dimension() != day.Unit.Dimension() {
		return least, most, false
	}
	low, high := permitted(f, "dose")
	short, long := permitted(f, "interval")
	per := func(n, t quantity.Number) quantity.Number {
		return day.Unit.FromBase(dose.Unit.ToBase(n).Quo(every.Unit.ToBase(t)))
	}
	return per(low, long), per(high, short), true
}

// Permitted are the ends of a number in the unit of the order's quantities:
// the same twice where the order writes no range.
func Permitted(f Facts, name string) (least, most quantity.Number) { return permitted(f, name) }

// circumstance is what the order tells about its regimen. Many rules ask, and
// it rests on these facts alone: it is made once for all who see the same of
// them.
func circumstance(f Facts) compendium.Circumstance {
	if f.told == nil {
		return circumstanceOf(f)
	}
	seen := 0
	for i, name := range ofRegimen {
		if f.Has(name) {
			seen |= 1 << i
		}
	}
	c, ok := f.told[seen]
	if !ok {
		c = circumstanceOf(f.only(ofRegimen))
		f.told[seen] = c
	}
	return c
}

var ofRegimen = facts(Order, Case, Now, Quantities)

func circumstanceOf(f Facts) compendium.Circumstance {
	o := f.order()
	c := compendium.Circumstance{Route: routeWord(o.Route.Name()), Method: method(o), Quantities: map[string]quantity.Quantity{}}
	for _, i := range o.Indications {
		if name := i.Name(); name != "" {
			c.Indications = append(c.Indications, name)
		}
	}
	if _, known := line(f); known {
		c.Site = "peripheral"
		if central(f) {
			c.Site = "central"
		}
	}
	for name, number := range map[string]string{"dose": "dose", "interval": "interval", "weight": "dosingWeight"} {
		if q, ok := f.quantities()[number]; ok && !q.Disputed && q.Unit.Code() != "" {
			least, most := permitted(f, number)
			c.Quantities[name] = quantity.Range(least, most, q.Unit)
		}
	}
	if years := f.years(); years >= 0 {
		c.Quantities["age"] = quantity.Point(quantity.Int(int64(years)), quantity.MustUnit("a"))
	}
	return c
}

// routeWord is the route in the words of the table, "" when it is another
// or not told.
func routeWord(name string) string {
	for _, word := range []string{"intravenous", "subcutaneous", "intramuscular"} {
		if strings.Contains(strings.ToLower(name), word) {
			return word
		}
	}
	return ""
}

// inUnit reads a band in a unit, see readIn.
func inUnit(f Facts, band compendium.Band, unit quantity.Unit) (quantity.Quantity, bool) {
	q, err := band.Quantity()
	if err != nil {
		return quantity.Quantity{}, false
	}
	return readIn(f, q, unit)
}

// sameUnit are drugs whose unit of the pharmacopoeia is the international one
// (from memory).
var sameUnit = []string{"penicillin g"}

// sizes are what a limit by body size is multiplied by.
var sizes = []struct {
	per, name string
	fact      Fact
}{{"/kg", "dosingWeight", Weight}, {"/m2", "bodySurfaceArea", Height}}

// readIn reads a quantity in a unit; one per kg of body weight or per m² is
// multiplied by the order's own weight or surface first.
func readIn(f Facts, q quantity.Quantity, unit quantity.Unit) (quantity.Quantity, bool) {
	if in, err := q.In(unit); err == nil {
		return in, true
	}
	if code := strings.Replace(q.Unit.Code(), "[USP'U]", "[iU]", 1); code != q.Unit.Code() && slices.ContainsFunc(sameUnit, func(n string) bool { return strings.HasPrefix(f.drug().Name, n) }) {
		if international, err := quantity.ParseUnit(code); err == nil && strings.Contains(unit.Code(), "[iU]") {
			return readIn(f, quantity.Range(q.Low, q.High, international), unit)
		}
	}
	for _, s := range sizes {
		size, known := f.quantities()[s.name]
		if !strings.Contains(q.Unit.Code(), s.per) || !known || size.Disputed {
			continue
		}
		whole, err := quantity.ParseUnit(strings.Replace(q.Unit.Code(), s.per, "", 1))
		if err != nil {
			continue
		}
		in := quantity.MustUnit(strings.TrimPrefix(s.per, "/")).FromBase(size.Unit.ToBase(size.Value))
		if out, err := quantity.Range(q.Low.Mul(in), q.High.Mul(in), whole).In(unit); err == nil {
			return out, true
		}
	}
	return quantity.Quantity{}, false
}

// unread is the fact without which a limit in a unit cannot be read: the size
// of the body where the hospital can send it, else it is the table's own unit.
func unread(f Facts, unit string) Fact {
	for _, s := range sizes {
		if size, known := f.quantities()[s.name]; strings.Contains(unit, s.per) && (!known || size.Disputed) {
			return s.fact
		}
	}
	return TableLimit
}
