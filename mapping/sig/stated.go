package sig

import (
	"slices"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// network are the fields that are numbers of the infusion itself.
var network = []string{"dose", "dosePerKg", "dosePerArea", "dosingWeight", "concentration", "volume", "rate", "drugRate", "drugRatePerKg",
	"duration", "interval", "dosesPerDay", "dailyDose", "courseLength"}

// Stated gives the readings that state a number of the infusion, as exact
// quantities. Sizes of devices, maxima, steps and loading doses do not.
func Stated(readings []order.Reading) []order.Stated {
	var out []order.Stated
	for _, r := range readings {
		if !slices.Contains(network, r.Field) || r.Role != "" && r.Role != "in" && r.Role != "to" || r.Role == "in" {
			continue
		}
		u, err := quantity.ParseUnit(r.Unit)
		if err != nil {
			continue
		}
		if r.Field == "dosePerKg" || r.Field == "drugRatePerKg" || r.Field == "dosingWeight" {
			body := quantity.BodyMass
			if r.Field != "dosingWeight" {
				body = quantity.None.Per(quantity.BodyMass)
			}
			want := u.Dimension().Times(body).Per(quantity.Mass)
			if r.Field != "dosingWeight" {
				want = u.Dimension().Times(quantity.Mass).Times(body)
			}
			u, _ = u.As(want)
		}
		s := order.Stated{Name: r.Field, Literal: r.Value, Place: r.Place, Witness: order.Text}
		if r.Low != "" {
			low, err1 := quantity.ParseNumber(r.Low)
			high, err2 := quantity.ParseNumber(r.High)
			if err1 != nil || err2 != nil {
				continue
			}
			s.Quantity = quantity.Range(low, high, u)
		} else {
			n, err := quantity.ParseNumber(r.Value)
			if err != nil {
				continue
			}
			s.Quantity = quantity.Point(n, u)
		}
		out = append(out, s)
	}
	return out
}
