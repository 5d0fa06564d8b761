package sig

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// names are the fields that are numbers of the infusion, by the contract's
// NAME, and what they are measured per.
var names = []string{"dose", "dosePerKg", "dosePerArea", "dosingWeight", "bodySurfaceArea", "concentration", "volume", "rate", "drugRate", "drugRatePerKg",
	"duration", "interval", "dosesPerDay", "dailyDose", "dailyDosePerKg", "doseCount", "courseLength", "nominalRate"}

// Stated gives the readings that state a number of the infusion, as exact
// quantities in the unit of the words. What has a role of its own (the size
// of a device, a maximum, a minimum, a loading dose, one of several steps, a
// component) is no statement about the infusion, and a reading whose place is
// unclear is none at all. A volume the dose is added to stands as the volume,
// labelled so: the drug's own volume may come on top.
func Stated(readings []order.Reading) []order.Stated {
	var out []order.Stated
	for _, r := range readings {
		if !slices.Contains(names, r.Field) || !states(r) {
			continue
		}
		u, ok := unitOf(r)
		if !ok {
			continue
		}
		s := order.Stated{Name: r.Field, Literal: r.Value, Place: r.Place, Witness: order.Text}
		low, high := r.Value, r.Value
		if r.Low != "" {
			low, high = r.Low, r.High
		}
		a, err1 := quantity.ParseNumber(low)
		b, err2 := quantity.ParseNumber(high)
		if err1 != nil || err2 != nil {
			continue
		}
		s.Quantity = quantity.Range(a, b, u)
		switch r.Role {
		case "in":
			s.Label = "volume it is added to"
		case "to":
			s.Label = "volume it is made up to"
		}
		out = append(out, s)
	}
	return out
}

func states(r order.Reading) bool {
	switch r.Role {
	case "":
		return true
	case "in", "to":
		return r.Field == "volume"
	case "device":
		return r.Field == "nominalRate"
	}
	return false
}

// unitOf is the unit with the kilogram read as the patient's where the field
// says so; false when the unit is not one of a drug, a volume or a time
// ("2 tablets").
func unitOf(r order.Reading) (quantity.Unit, bool) {
	u, err := quantity.ParseUnit(r.Unit)
	if err != nil {
		return u, false
	}
	body := quantity.BodyMass
	switch r.Field {
	case "dosingWeight":
		return u.As(body)
	case "dosePerKg", "drugRatePerKg", "dailyDosePerKg":
		return u.As(u.Dimension().Times(quantity.Mass).Per(body))
	case "dose", "dailyDose":
		return u, !strings.HasPrefix(r.Unit, "{") && u.Dimension() != quantity.Drop
	}
	return u, true
}
