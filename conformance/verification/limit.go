package verification

import (
	"slices"
	"strings"
	"unicode"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

// limit is one fact of the drug's row that may gate.
type limit struct{ compendium.Fact }

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

// limits are the facts of a topic that may gate and hold for the order, and
// those of which nobody can tell whether they hold. A limit of another
// regimen is neither.
func limits(f Facts, topic string, populations ...string) (yes, unsure []limit) {
	c := circumstance(f)
	seen := map[string]bool{}
	for _, population := range populations {
		for _, fact := range f.drug().About(topic, population) {
			if !fact.Gates || seen[fact.ID] {
				continue
			}
			seen[fact.ID] = true
			switch answer, _ := fact.Holds(c); answer {
			case compendium.Yes:
				yes = append(yes, limit{fact})
			case compendium.Unknown:
				unsure = append(unsure, limit{fact})
			}
		}
	}
	return yes, unsure
}

// circumstance is what the order tells about its regimen. A method is never
// guessed from a short time: what runs by a device or at a rate is an
// infusion, and a push is what calls itself one.
func circumstance(f Facts) compendium.Circumstance {
	o := f.order()
	c := compendium.Circumstance{Route: routeWord(o.Route.Name()), Quantities: map[string]quantity.Quantity{}}
	for _, d := range o.Directions {
		for _, word := range strings.FieldsFunc(strings.ToLower(d.Text), func(r rune) bool { return !unicode.IsLetter(r) }) {
			if word == "push" || word == "bolus" {
				c.Method = "push"
			}
		}
	}
	if o.Device.Kind != "" && c.Method == "" {
		c.Method = "infusion"
	}
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
			c.Quantities[name] = quantity.Range(q.Low, q.High, q.Unit)
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

// inUnit reads a band in a unit; a band per kg of body weight or per m² is
// multiplied by the order's own weight or surface first.
func inUnit(f Facts, band compendium.Band, unit quantity.Unit) (quantity.Quantity, bool) {
	q, err := band.Quantity()
	if err != nil {
		return quantity.Quantity{}, false
	}
	if in, err := q.In(unit); err == nil {
		return in, true
	}
	for per, name := range map[string]string{"/kg": "dosingWeight", "/m2": "bodySurfaceArea"} {
		size, known := f.quantities()[name]
		if !strings.Contains(band.Unit, per) || !known || size.Disputed {
			continue
		}
		whole, err := quantity.ParseUnit(strings.Replace(band.Unit, per, "", 1))
		if err != nil {
			continue
		}
		in := quantity.MustUnit(strings.TrimPrefix(per, "/")).FromBase(size.Unit.ToBase(size.Value))
		if out, err := quantity.Range(q.Low.Mul(in), q.High.Mul(in), whole).In(unit); err == nil {
			return out, true
		}
	}
	return quantity.Quantity{}, false
}
