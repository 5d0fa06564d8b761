package equation

import (
	"fmt"
	"strings"

	"weir.example/weir/mapping/quantity"
)

// of is a constant in base units.
func of(literal, ucum string) quantity.Number {
	return quantity.MustUnit(ucum).ToBase(quantity.MustNumber(literal))
}

var (
	one = quantity.Int(1)
	day = of("1", "d")
)

// days is a whole number of days in base units.
func days(n int64) (Bounds, error) { return Exactly(quantity.Int(n).Mul(day)) }

// orElse is the number of a NAME, or what stands for it when it is unknown.
func (v Values) orElse(name string, n quantity.Number) quantity.Number {
	if v.Has(name) {
		return v.Base(name)
	}
	return n
}

// product solves an equation that is a product of NAMEs divided by others.
func product(over, under string) func(Values) (Bounds, error) {
	return func(v Values) (Bounds, error) {
		n := one
		for _, name := range strings.Fields(over) {
			n = n.Mul(v.Base(name))
		}
		for _, name := range strings.Fields(under) {
			n = n.Quo(v.Base(name))
		}
		return Exactly(n)
	}
}

// whole rounds up to a whole number, and is false beyond what is counted.
func whole(n quantity.Number) (quantity.Number, bool) {
	i, ok := n.Ceil()
	return quantity.Int(i), ok
}

var errMany = fmt.Errorf("%w: the count is beyond any real one; check the units", ErrOutside)

// adult is the least age of the adult equations, oldest the age above which
// they have no sense; both in years.
const (
	adult  = 18
	oldest = 130
)

// notAdult says why an adult equation does not hold at the age, else "".
func notAdult(v Values) string {
	switch age := v.In("age", "a"); {
	case age.Less(quantity.Int(adult)):
		return "for adults of 18 years and older only"
	case quantity.Int(oldest).Less(age):
		return "give an age of at most 130 years"
	}
	return ""
}

// female reads the sex, and is false when it is neither of the two words.
func female(v Values) (woman, ok bool) {
	w := v.Word("sex")
	return w == "female", w == "female" || w == "male"
}

const wantsSex = "give sex as male or female"
