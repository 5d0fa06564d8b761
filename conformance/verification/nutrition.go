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

// Facts about a bag of nutrition.
const (
	Ramps      Fact = "how long the rate rises and falls"
	Glucose    Fact = "glucose of the bag, and the rate it runs at"
	Potassium  Fact = "potassium of the bag, in mmol"
	Components Fact = "components of the bag"
)

func isNutrition(f Facts) bool { return f.drug().Is("nutrition") }

// ramps are the rising and the falling time in words, in h. Unclear: one that
// says neither up nor down.
func ramps(o order.Order) (up, down quantity.Number, any, unclear bool) {
	for _, r := range o.Readings {
		if r.Field != "taper" {
			continue
		}
		any = true
		q, err := quantity.Parse(r.Value, r.Unit, quantity.Time)
		switch {
		case err != nil || r.Role != "up" && r.Role != "down":
			unclear = true
		case r.Role == "up":
			up = hour.FromBase(q.Unit.ToBase(q.High))
		default:
			down = hour.FromBase(q.Unit.ToBase(q.High))
		}
	}
	return up, down, any, unclear
}

var hour = quantity.MustUnit("h")

// cycles: nutrition whose rate rises and falls, by coded steps or in words.
func cycles(f Facts) bool {
	_, _, any, _ := ramps(f.order())
	return isNutrition(f) && (any || len(f.order().Steps) > 1)
}

// cycle is one night as ordered: what it gives, in mL, at which plateau, in
// mL/h. Missing is what keeps it from being told; the plateau is 0 where the
// order leaves it to the pump.
type cycle struct {
	gives, plateau quantity.Number
	says           string
	place          finding.Place
	missing        Fact
}

func cycleOf(f Facts) cycle {
	o := f.order()
	if len(o.Steps) > 1 {
		sum, open, ok := emptied(o)
		if !ok || open {
			return cycle{missing: Steps}
		}
		c := cycle{gives: sum, place: o.Steps[0].Place, says: "the sum of the steps"}
		for _, s := range o.Steps {
			c.plateau = quantity.Greatest(c.plateau, stepFlow(s))
		}
		return c
	}
	up, down, _, unclear := ramps(o)
	time, timed := f.quantities()["duration"]
	if unclear {
		return cycle{missing: Ramps}
	}
	if !timed || time.Unit.Dimension() != quantity.Time {
		return cycle{missing: RunTime}
	}
	at, stated := statedPlateau(o)
	if !stated {
		return cycle{}
	}
	effective := hour.FromBase(time.Unit.ToBase(time.Value)).Sub(up.Add(down).Quo(quantity.Int(2)))
	rate, _ := at.Quantity.In(millilitrePerHour)
	c := cycle{plateau: rate.Middle(), place: at.Place, gives: rate.Middle().Mul(effective)}
	c.says = notation.About(c.plateau, millilitrePerHour, 5) + " for " + notation.Quantity(time.Value, time.Unit) + " with " +
		notation.Quantity(up, hour) + " up and " + notation.Quantity(down, hour) + " down at half of it"
	return c
}

// statedPlateau is the rate of the cycle as written, coded before words.
func statedPlateau(o order.Order) (order.Stated, bool) {
	var out order.Stated
	for _, s := range o.Stated {
		if _, err := s.Quantity.In(millilitrePerHour); s.Name != "rate" || err != nil || s.Witness == order.Computed {
			continue
		}
		if out.Name == "" || out.Witness == order.Text && s.Witness != order.Text {
			out = s
		}
	}
	return out, out.Name != ""
}

// nutritionCycle: row d13. The plateau that empties the bag is shown: with
// ramps at half rate it is V ÷ (T − ramps/2), and steps are scaled alike.
func nutritionCycle(f Facts) []finding.Finding {
	if len(f.order().Steps) > 1 {
		if x := stepsDiffer(f); len(x) > 0 {
			return x
		}
	}
	c := cycleOf(f)
	volume, stays, known := holds(f)
	if c.missing != "" || c.plateau.Sign() <= 0 || c.gives.Sign() <= 0 || !known {
		return nil
	}
	slack := f.policy().Nutrition.CycleDifference.Number
	say := func(n quantity.Number) string { return notation.About(n, millilitre, 5) }
	off := c.gives.Sub(volume)
	word := " too much"
	switch {
	case volume.Mul(one.Add(slack)).Less(c.gives):
	case c.gives.Less(volume.Sub(stays).Mul(one.Sub(slack))):
		off, word = off.Neg(), " short"
	default:
		return nil
	}
	empties := c.plateau.Mul(volume).Quo(c.gives)
	return here(c.place, c.says+" gives "+say(c.gives)+" of "+say(volume)+": "+say(off)+word, "a plateau of "+notation.About(empties, millilitrePerHour, 4)+" empties it")
}

// cycleAgrees: the ramps and the plateau as written give what the bag holds.
func cycleAgrees(f Facts) bool {
	return cycles(f) && cycleOf(f).plateau.Sign() > 0 && len(cycleUnknown(f)) == 0 && len(nutritionCycle(f)) == 0
}

func cycleUnknown(f Facts) []Fact {
	c := cycleOf(f)
	switch _, _, known := holds(f); {
	case c.missing != "":
		return []Fact{c.missing}
	case !known:
		return []Fact{Container}
	}
	return nil
}

// plateau is the fastest flow of the bag in mL/h: of the steps, of the cycle
// that empties it, else the one rate.
func plateau(f Facts) (quantity.Number, bool) {
	o := f.order()
	var top quantity.Number
	for _, s := range o.Steps {
		top = quantity.Greatest(top, stepFlow(s))
	}
	if top.Sign() > 0 {
		return top, true
	}
	up, down, any, unclear := ramps(o)
	time, timed := f.quantities()["duration"]
	if any {
		volume, _, known := holds(f)
		if unclear || !known || !timed || time.Unit.Dimension() != quantity.Time {
			return top, false
		}
		effective := hour.FromBase(time.Unit.ToBase(time.Value)).Sub(up.Add(down).Quo(quantity.Int(2)))
		if effective.Sign() <= 0 {
			return top, false
		}
		return volume.Quo(effective), true
	}
	q, ok := f.quantities()["rate"]
	if !ok || q.Disputed {
		q, ok = neededRate(f)
	}
	if !ok || q.Disputed || q.Unit.Dimension() != millilitrePerHour.Dimension() || q.Value.Sign() <= 0 {
		return top, false
	}
	return millilitrePerHour.FromBase(q.Unit.ToBase(q.Value)), true
}

// perMillilitreOf is what one component brings into each mL of the bag, in
// base units of its amount.
func perMillilitreOf(f Facts, i order.Ingredient) (quantity.Number, quantity.Dimension, bool) {
	volume, _, known := holds(f)
	n, d, ok := contentOf(i, volume, known)
	if !ok || volume.Sign() <= 0 {
		return n, d, false
	}
	return n.Quo(volume), d, true
}

// contentOf is what one component brings into a bag of so many mL.
func contentOf(i order.Ingredient, volume quantity.Number, known bool) (n quantity.Number, d quantity.Dimension, ok bool) {
	if i.Strength == nil || i.Strength.Numerator.Absent() || i.Strength.Denominator.Absent() {
		return n, d, false
	}
	amount, under := i.Strength.Numerator, i.Strength.Denominator
	n, d = amount.Unit.ToBase(amount.High), amount.Unit.Dimension()
	per := under.Unit.ToBase(under.Low)
	switch {
	case per.Sign() <= 0:
		return n, d, false
	case under.Unit.Dimension() == quantity.None:
		return n.Quo(per), d, true
	case under.Unit.Dimension() == quantity.Volume && known:
		return n.Mul(millilitre.ToBase(volume)).Quo(per), d, true
	}
	return n, d, false
}

// namedAs: the component's name has one of the words.
func namedAs(i order.Ingredient, list ...string) bool {
	w := wordsOf(strings.ToLower(i.Concept.Name()))
	return slices.ContainsFunc(list, func(x string) bool { return slices.Contains(w, x) })
}

func isDextrose(i order.Ingredient) bool {
	s, ok := compendium.SoluteOf(i.Concept.Code(compendium.RxNorm), i.Concept.Name())
	return ok && s.Name == "dextrose"
}
