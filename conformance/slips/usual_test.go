package slips_test

import (
	"math/big"
	"math/rand/v2"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/quantity"
)

// What the checker is told about the drug, in three grades. The drug is
// known by its table or not at all; that the infusion never pauses and in
// what the drug is measured is read from the order in every grade.
//
//	none    nothing
//	rough   tables missing for 20 % of the orders, of another drug for 15 %, three times too wide for the rest
//	full    tables as the orders are drawn, but for the 4 % of unusual orders
//
// A table holds what a drug's monograph does: dose, dose per kg or m²,
// amount per time, concentration, container, planned time, interval, dose
// of a day. What follows from those has no range of its own.
var grades = list("none", "rough", "full")

const (
	none = iota
	rough
	full
)

// table is a drug's usual ranges, counted plainly.
func (d *drug) table() map[string][2]*big.Rat {
	t := map[string][2]*big.Rat{}
	span := func(name string, from []string, unit string) {
		for _, s := range from {
			x := times(rat(s), worth(unit))
			r, ok := t[name]
			if !ok {
				r = [2]*big.Rat{x, x}
			}
			if less(x, r[0]) {
				r[0] = x
			}
			if less(r[1], x) {
				r[1] = x
			}
			t[name] = r
		}
	}
	span("volume", d.volumes, "mL")
	span("concentration", d.strengths, d.strengthU)
	span("duration", d.minutes, "min")
	for _, n := range d.every {
		span("interval", list(whole(n).RatString()), "h")
	}
	switch d.kind {
	case fixedDose, electrolyte, wholeDay:
		span("dose", d.doses, "")
	case perKgAdult, perKgChild:
		span("dosePerKg", d.doses, "")
		light := whole(40)
		if d.kind == perKgChild {
			light = whole(4)
		}
		span("dose", list(d.most), "")
		span("dose", list(times(t["dosePerKg"][0], light).RatString()), "")
	case perArea:
		span("dosePerArea", d.doses, "")
		span("dose", list(times(t["dosePerArea"][0], rat("1.3")).RatString(), times(t["dosePerArea"][1], rat("2.5")).RatString()), "")
	case dripPerKg:
		span("drugRatePerKg", d.doses, d.rateUnit)
	case perHour, unitsHour, controlled:
		span("drugRate", d.doses, d.rateUnit)
	case fluid:
		span("rate", d.doses, "")
	}
	if dose, ok := t["dose"]; ok && len(d.every) > 0 && d.every[len(d.every)-1] <= 24 {
		t["dailyDose"] = [2]*big.Rat{over(dose[0], whole(d.every[len(d.every)-1])), over(dose[1], whole(d.every[0]))}
	}
	if d.fastest != "" {
		t["duration"] = [2]*big.Rat{whole(1), upTo(over(t["dose"][1], rat(d.fastest)), big.NewRat(1, 4))}
	}
	if t["concentration"][0] == nil && t["dose"][0] != nil && len(d.volumes) > 0 {
		t["concentration"] = [2]*big.Rat{over(t["dose"][0], t["volume"][1]), over(t["dose"][1], t["volume"][0])}
	}
	return t
}

// plainUnit is the unit of a name when counted plainly.
func plainUnit(name, amount string) string {
	return map[string]string{"dose": amount, "dosePerKg": amount + "/kg", "dosePerArea": amount + "/m2", "concentration": amount + "/mL",
		"volume": "mL", "rate": "mL/h", "drugRate": amount + "/h", "drugRatePerKg": amount + "/kg/h", "duration": "h", "interval": "h",
		"dailyDose": amount + "/h", "dosingWeight": "kg"}[name]
}

func between(name, amount string, low, high *big.Rat) quantity.Quantity {
	u := unitsRead[[2]string{name, plainUnit(name, amount)}]
	return quantity.Range(quantity.FromRat(low), quantity.FromRat(high), u)
}

// known is the drug's table as the checker takes it, its ranges wider by the
// factor on both sides.
func (d *drug) known(wider *big.Rat) arithmetic.Usual {
	u := arithmetic.Usual{Ranges: map[string]quantity.Quantity{}}
	for name, r := range d.table() {
		u.Ranges[name] = between(name, d.unit, over(r[0], wider), times(r[1], wider))
	}
	if d.step != "" {
		step := rat(d.step)
		u.Rounding = between("dose", d.unit, step, step)
	}
	for _, s := range d.strengths {
		x := times(rat(s), worth(d.strengthU))
		u.Concentrations = append(u.Concentrations, between("concentration", d.unit, x, x))
	}
	return u
}

// weightForAge is a plausible weight, from the age alone.
func weightForAge(years float64) quantity.Quantity {
	middle := nearest(new(big.Rat).SetFloat64(usualWeight(years)), rat("0.1"))
	if years >= 18 {
		return between("dosingWeight", "mg", whole(40), whole(150))
	}
	return between("dosingWeight", "mg", times(middle, rat("0.65")), times(middle, rat("1.5")))
}

// tables are each drug's table as it is and three times too wide.
var tables = map[*drug][2]arithmetic.Usual{}

func init() {
	for i := range drugs {
		tables[&drugs[i]] = [2]arithmetic.Usual{drugs[i].known(whole(1)), drugs[i].known(whole(3))}
	}
}

// usual is what the checker is told about the plan's drug in each grade, and
// what became of the rough table.
func (p plan) usual() (out [3]arithmetic.Usual, fate string) {
	r := rand.New(rand.NewPCG(p.coins, 5))
	out[full] = tables[p.drug][0]
	switch n := r.IntN(100); {
	case n < 20:
		fate = "missing"
	case n < 35:
		fate = "of another drug"
		other := p.drug
		for other == p.drug || other.unit != p.drug.unit && p.drug.unit == "mg" {
			other = &drugs[r.IntN(len(drugs))]
		}
		if other.unit == p.drug.unit {
			out[rough] = tables[other][0]
		}
	default:
		fate = "too wide"
		out[rough] = tables[p.drug][1]
	}
	out[rough].Weight, out[full].Weight = weightForAge(p.years), weightForAge(p.years)
	for i := range out {
		out[i].Drug = drugDimension[p.drug.unit]
		out[i].Continuous = p.drug.kind.continuous()
	}
	return out, fate
}
