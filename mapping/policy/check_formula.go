package policy

import (
	"fmt"
	"regexp"
	"slices"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

// storages are where a preparation is kept, with the temperatures that can be
// meant, in degrees Celsius: a controlled room with its excursions, a
// refrigerator, a freezer (United States Pharmacopeia, <659>), and a device
// worn at the body.
var storages = []struct{ name, least, most string }{
	{"room", "15", "30"}, {"refrigerated", "2", "8"}, {"frozen", "-90", "-10"}, {"worn", "20", "40"},
}

// formulas: the site's own, each for one drug, container, fluid, storage and
// strength. Half a year is longer than any compounded preparation is dated.
func (c *checker) formulas() {
	seen := map[string]bool{}
	for i, f := range c.p.Stability {
		key := func(k string) string { return fmt.Sprintf("stability[%d].%s", i, k) }
		c.drug(key("drug"), f.Drug)
		c.word(key("kind"), f.Kind, "prepared", "mixed-at-use", "syringe-push")
		c.word(key("container"), f.Container, "bag", "glass", "vial", "syringe", "elastomeric", "pump-reservoir")
		var words []string
		for _, s := range storages {
			words = append(words, s.name)
		}
		c.word(key("storage"), f.Storage, words...)
		c.diluent(key("diluent"), f.Diluent)
		c.said(key("source"), f.Source, from)
		c.signed(key, f.By, f.On)
		strength := func(k string) string { return key("concentration." + k) }
		c.span(strength, f.Concentration, true)
		for _, x := range []struct {
			key string
			a   Amount
		}{{"value", f.Concentration.Value}, {"low", f.Concentration.Low}, {"high", f.Concentration.High}} {
			if q, err := x.a.Quantity(); err == nil && !perVolume(q) {
				c.refuse(strength(x.key), fmt.Sprintf("is %q, another kind of quantity", string(x.a)), "a number in mg/mL or a unit of its kind")
			}
		}
		c.amount(key("limit"), f.Limit, "d", "180", true)
		c.temperature(key("temperature"), f.Temperature, f.Storage)
		about := fmt.Sprint(f.Drug, "|", f.Kind, "|", f.Container, "|", f.Diluent, "|", f.Storage, "|", f.Concentration)
		if seen[about] && f.Drug != "" {
			c.refuse(fmt.Sprintf("stability[%d]", i), "stands for the second time", "one formula for each drug, kind, container, fluid, storage and strength")
		}
		seen[about] = true
	}
}

// perVolume: what a strength may be measured in.
func perVolume(q quantity.Quantity) bool {
	return slices.ContainsFunc([]string{"mg/mL", "[iU]/mL", "[USP'U]/mL", "meq/mL", "mmol/mL"}, func(unit string) bool {
		_, err := q.In(quantity.MustUnit(unit))
		return err == nil
	})
}

// diluent asks for the code of a carrier fluid; a full name is answered with
// its code.
func (c *checker) diluent(key, code string) {
	switch of, named := compendium.Diluent(code); {
	case code == "":
		c.refuse(key, "is missing", "the code of a carrier fluid, such as NS or D5W")
	case compendium.DiluentName(code) != code:
	case named:
		c.refuse(key, fmt.Sprintf("is %.40q", code), "the code of that fluid: "+of)
	default:
		c.refuse(key, fmt.Sprintf("is %.40q", code), "the code of a carrier fluid, such as NS or D5W")
	}
}

var celsius = regexp.MustCompile(`^(-?[0-9]{1,3}(?:\.[0-9]{1,2})?) Cel$`)

// temperature is in degrees Celsius, no ratio scale, so it is no quantity of
// ours: 4 Cel is not twice as warm as 2 Cel.
func (c *checker) temperature(key string, a Amount, storage string) {
	if _, given := c.r.at[key]; a == "" && !given {
		return
	}
	m := celsius.FindStringSubmatch(string(a))
	if m == nil {
		c.refuse(key, fmt.Sprintf("is %.40q", string(a)), "degrees Celsius, such as 5 Cel")
		return
	}
	for _, s := range storages {
		n := quantity.MustNumber(m[1])
		if s.name == storage && (n.Less(quantity.MustNumber(s.least)) || quantity.MustNumber(s.most).Less(n)) {
			c.refuse(key, fmt.Sprintf("is %q, and the storage is %s", string(a), storage), s.least+" to "+s.most+" Cel")
		}
	}
}
