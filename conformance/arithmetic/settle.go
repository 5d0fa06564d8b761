package arithmetic

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// settle gives every quantity that is stated or follows: the most trusted
// statement, or the value worked out, with every short way to reach it. What
// takes part in a conflict is marked disputed; once one number is named, only
// that number is, and the rest is worked out without it.
//
// How each was reached is written by Describe: it is most of the work, and a
// nightly run over orders that did not change needs none of it.
func settle(list []claim, rels []relation, rounding slack, conflicts []Conflict, u Usual) (order.Quantities, []claim) {
	out := order.Quantities{}
	disputed := map[string]bool{}
	usable := list
	for _, c := range conflicts {
		if len(c.Culprits) > 0 && c.Culprits[0].Named {
			k := c.Culprits[0]
			disputed[k.Name] = true
			usable = slices.DeleteFunc(slices.Clone(usable), func(x claim) bool { return Names[x.at] == k.Name && x.first().Place.Expression == k.Expression })
			continue
		}
		for _, n := range c.Names {
			disputed[n] = true
		}
	}
	var mask uint32
	for _, c := range usable {
		mask |= 1 << c.at
	}
	for _, c := range firstOfEach(list) {
		s := c.first()
		unit := s.Quantity.Unit
		out[Names[c.at]] = order.Quantity{
			Value: s.Quantity.Middle(), Low: unit.FromBase(c.low), High: unit.FromBase(c.high), Unit: unit,
			Stated: s.Witness != order.Computed, Disputed: disputed[Names[c.at]], Literal: s.Literal, Place: s.Place,
		}
	}
	firsts := firstOfEach(usable)
	for at := range nameCount {
		if _, done := out[Names[at]]; done {
			continue
		}
		value, by, ok := derive(firsts, rels, at, mask)
		unit, known := unitFor(at, u)
		if !ok || !known {
			continue
		}
		if at == duration && value.Less(twoHours) {
			unit = minutes // "30 minutes", not "half an hour"
		}
		q := order.Quantity{Value: unit.FromBase(value), Unit: unit}
		low, high := span(firsts, by, at, rounding)
		q.Low, q.High = unit.FromBase(low), unit.FromBase(high)
		for _, c := range firsts {
			q.Disputed = q.Disputed || by.powers[c.at] != 0 && disputed[Names[c.at]]
		}
		out[Names[at]] = q
	}
	return out, usable
}

// Describe adds to every quantity the short ways to work it out of the
// others, with the numbers filled in, and to every conflict its words.
func (a *Agreement) Describe() {
	for i := range a.Conflicts {
		a.Conflicts[i].describe()
	}
	stated := tell(a.usable)
	for name, q := range a.Quantities {
		q.Derivation = derivations(stated, a.rels, indexOf(name), q.Unit)
		a.Quantities[name] = q
	}
}

// told is the first claim of a quantity as derivations give it.
type told struct {
	claim
	amount quantity.Number
	input  order.Input
	text   string
}

func tell(list []claim) []told {
	out := make([]told, 0, len(list))
	for _, c := range firstOfEach(list) {
		s := c.first()
		out = append(out, told{c, c.value(), order.Input{Name: Names[c.at], Value: s.Quantity.Middle().Decimal(), Unit: s.Quantity.Unit.Code(), Expression: s.Place.Expression},
			show(c.value(), s.Quantity.Unit)})
	}
	return out
}

var (
	twoHours = quantity.Int(7200) // seconds
	minutes  = quantity.MustUnit("min")
)

// mostWays is how many ways to reach one number are shown: two directions
// and one to spare.
const mostWays = 3

// derivations are the shortest ways to work a quantity out of the others,
// only along relations without an unstated member.
func derivations(first []told, rels []relation, at int, unit quantity.Unit) []order.Derivation {
	var mask uint32
	for i := range first {
		mask |= 1 << first[i].at
	}
	type way struct{ relation, cost int }
	usable := make([]way, 0, 16)
	for i := range rels {
		if r := &rels[i]; r.powers[at] != 0 && r.mask&^(1<<at)&^mask == 0 {
			usable = append(usable, way{i, cost(r, first)})
		}
	}
	slices.SortStableFunc(usable, func(a, b way) int { return a.cost - b.cost })
	var out []order.Derivation
	for _, w := range usable[:min(len(usable), mostWays)] {
		out = append(out, derivation(first, rels[w.relation], at, unit))
	}
	return out
}

// cost puts short ways before long ones, and ways over coded and measured
// numbers before those over words and quotients.
func cost(r *relation, first []told) int {
	sum := 100 * r.size()
	for i := range first {
		if c := &first[i]; r.powers[c.at] != 0 {
			sum += trust[c.first().Witness] + ratioCost[c.at]
		}
	}
	return sum
}

func derivation(first []told, r relation, at int, unit quantity.Unit) order.Derivation {
	d := order.Derivation{Citation: "equations E01 to E09: products of rate, time, volume, concentration and dose"}
	value := quantity.Int(1)
	var over, under, overShown, underShown []string
	for i := range first {
		c := &first[i]
		if r.powers[c.at] == 0 || c.at == at {
			continue
		}
		d.Inputs = append(d.Inputs, c.input)
		if r.powers[c.at] == r.powers[at] {
			under, underShown = append(under, Names[c.at]), append(underShown, c.text)
			value = value.Quo(c.amount)
		} else {
			over, overShown = append(over, Names[c.at]), append(overShown, c.text)
			value = value.Mul(c.amount)
		}
	}
	side := func(over, under []string) string {
		s := strings.Join(over, " × ")
		if s == "" {
			s = "1"
		}
		return strings.Join(append([]string{s}, under...), " ÷ ")
	}
	d.Value, d.Unit = unit.FromBase(value).Decimal(), unit.Code()
	d.Formula = Names[at] + " = " + side(over, under)
	d.Text = wordsFor[at] + " = " + side(overShown, underShown) + " = " + show(value, unit)
	return d
}

// span is the interval of a derived quantity.
func span(firsts []claim, r relation, at int, rounding slack) (low, high quantity.Number) {
	low, high = quantity.Int(1), quantity.Int(1)
	for _, c := range firsts {
		switch {
		case r.powers[c.at] == 0 || c.at == at:
		case r.powers[c.at] == r.powers[at]:
			low, high = times(low, high, c, -1)
		default:
			low, high = times(low, high, c, 1)
		}
	}
	return rounding.widen(r, low, high)
}

// amounts are the units a drug is measured in, by dimension; none means
// mass.
var amounts = map[quantity.Dimension]string{quantity.None: "mg", quantity.Mass: "mg", quantity.International: "[iU]",
	quantity.Pharmacopeial: "[USP'U]", quantity.Enzyme: "U", quantity.Equivalent: "meq", quantity.Amount: "mmol",
	quantity.Energy: "kcal", quantity.Osmole: "mosm"}

// derivedUnits are the units worked-out quantities are given in, by what the
// drug is measured in.
var derivedUnits = func() map[quantity.Dimension][nameCount]quantity.Unit {
	all := map[quantity.Dimension][nameCount]quantity.Unit{}
	for drug, amount := range amounts {
		measured := drug
		if drug == quantity.None {
			measured = quantity.Mass
		}
		all[drug] = unitsOf(amount, measured)
	}
	return all
}()

// countedUnits are the units of a drug that is counted in things.
var countedUnits = unitsOf("{unit}", quantity.None)

func unitsOf(amount string, measured quantity.Dimension) (units [nameCount]quantity.Unit) {
	codes := [nameCount]string{dose: amount, dosePerKg: amount + "/kg", dosePerArea: amount + "/m2", dosingWeight: "kg",
		bodySurfaceArea: "m2", concentration: amount + "/mL", volume: "mL", rate: "mL/h", drugRate: amount + "/h",
		drugRatePerKg: amount + "/kg/h", duration: "h", interval: "h", dosesPerDay: "/d", dailyDose: amount + "/d", dailyDosePerKg: amount + "/kg/d",
		doseCount: "1", courseLength: "d"}
	for at, code := range codes {
		want, _ := Dimension(Names[at], measured)
		units[at], _ = quantity.MustUnit(code).As(want)
	}
	return units
}

// unitFor is the unit a derived quantity is given in, false for a drug that
// is measured in none of the known ways.
func unitFor(at int, u Usual) (quantity.Unit, bool) {
	if u.Counted {
		return countedUnits[at], true
	}
	units, ok := derivedUnits[u.Drug]
	return units[at], ok
}
