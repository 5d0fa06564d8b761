package verification

import (
	"maps"
	"slices"
	"strings"
	"sync"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

// potassiumRow is the row by which potassium is judged wherever it is in a
// container: in a bag of fluid it is an additive, and no row is that mixture.
const potassiumRow = "potassium chloride"

// oneCharge are the salts whose amount is that of the potassium. A phosphate
// tells that of the phosphate.
var oneCharge = []string{potassiumRow, "potassium acetate"}

var potassiumChloride = sync.OnceValue(func() compendium.Drug {
	row, _ := compendium.Embedded().Find(compendium.Named("", potassiumRow))
	return row
})

var millimolePerMillilitre = quantity.MustUnit("mmol/mL")

// potassiumIn is the order seen as one of the potassium in it, when it is an
// order of something else. Known is false when its amount cannot be told, or
// when the site has a number of its own for it: that row is not read here.
func potassiumIn(f Facts) (part Facts, has, known bool) {
	if f.drug().Name == potassiumRow {
		return part, false, false
	}
	row := potassiumChloride()
	strength, known := order.Quantity{Unit: millimolePerMillilitre, Stated: true}, row.Name == potassiumRow
	for _, i := range f.order().Drug.Ingredients {
		name := compendium.Fold(i.Concept.Name())
		if slices.Contains(row.Codes.RxNorm, i.Concept.Code(compendium.RxNorm)) {
			name = potassiumRow
		}
		if !strings.HasPrefix(name, "potassium ") {
			continue
		}
		has = true
		n, inDispute, ok := molesPerMillilitre(f, i)
		known = known && ok && slices.Contains(oneCharge, name)
		strength.Value, strength.Disputed = strength.Value.Add(n), strength.Disputed || inDispute
		if strength.Place.Expression == "" {
			strength.Place = i.Place
		}
	}
	known = known && !slices.ContainsFunc(f.policy().Overrides, func(o policy.Override) bool {
		_, own := row.Fact(o.Fact)
		return own
	})
	if !has || !known {
		return part, has, false
	}
	strength.Low, strength.High = strength.Value, strength.Value
	numbers := maps.Clone(f.quantities())
	for _, name := range []string{"dose", "dosePerKg", "dosePerArea", "dailyDose", "dailyDosePerKg", "drugRate", "drugRatePerKg"} {
		delete(numbers, name)
	}
	numbers["concentration"] = strength
	return f.With(DrugRow, row).With(Quantities, numbers), true, true
}

// molesPerMillilitre is the strength of one ingredient, by its volume or by
// that of the container.
func molesPerMillilitre(f Facts, i order.Ingredient) (n quantity.Number, inDispute, ok bool) {
	if i.Strength == nil || i.Strength.Numerator.Absent() || i.Strength.Denominator.Absent() {
		return n, false, false
	}
	amount, under := i.Strength.Numerator, i.Strength.Denominator
	if d := amount.Unit.Dimension(); d != quantity.Amount && d != quantity.Equivalent {
		return n, false, false
	}
	volume := under.Unit.ToBase(under.Low)
	switch under.Unit.Dimension() {
	case quantity.Volume:
	case quantity.None: // for each container
		v, least, _, known := written(f, "volume")
		if !known || v.Unit.Dimension() != quantity.Volume {
			return n, false, false
		}
		inDispute, volume = v.Disputed, volume.Mul(v.Unit.ToBase(least))
	default:
		return n, false, false
	}
	if volume.Sign() <= 0 {
		return n, false, false
	}
	return millimolePerMillilitre.FromBase(amount.Unit.ToBase(amount.High).Quo(volume)), inDispute, true
}

// rowsOf are the views of the order that have a row: as its own drug, and as
// the potassium in it.
func rowsOf(f Facts) []Facts {
	var out []Facts
	if f.Has(DrugRow) {
		out = append(out, f)
	}
	if part, _, known := potassiumIn(f); known {
		out = append(out, part)
	}
	return out
}

// uncheckedOf asks each view of the order what it could not check.
func uncheckedOf(unchecked func(Facts) []Fact) func(Facts) []Fact {
	return func(f Facts) []Fact {
		var out []Fact
		if !f.Has(DrugRow) {
			out = append(out, DrugRow)
		}
		if _, has, known := potassiumIn(f); has && !known {
			out = append(out, TableLimit)
		}
		for _, x := range rowsOf(f) {
			out = append(out, unchecked(x)...)
		}
		return unique(out)
	}
}
