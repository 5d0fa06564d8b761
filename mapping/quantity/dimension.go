package quantity

import "strings"

// Dimension is the vector of exponents of a unit. Body mass is a base
// dimension of its own: UCUM writes mg/kg without saying that the kilogram
// is the patient, so the NAME of the value decides (see Parse). Equivalents,
// osmoles, the arbitrary units and drops are never converted into mass.
type Dimension [dimensions]int8

// The base dimensions, in the order of the vector.
const (
	mass = iota
	length
	time
	amount     // mol
	equivalent // eq
	osmole
	international // [iU]
	pharmacopeial // [USP'U]
	enzyme        // U
	drop
	energy // cal
	french // outer diameter of a catheter; UCUM made it 1/π mm and now makes it a third of a mm
	bodyMass
	dimensions
)

var dimensionNames = [dimensions]string{"mass", "length", "time", "amount of substance", "equivalents",
	"osmoles", "international units", "pharmacopeial units", "enzyme units", "drops", "energy", "French size", "body mass"}

// The dimensions a value can be asked for.
var (
	None          = Dimension{}
	Mass          = Dimension{mass: 1}
	BodyMass      = Dimension{bodyMass: 1}
	Length        = Dimension{length: 1}
	Area          = Dimension{length: 2}
	Volume        = Dimension{length: 3}
	Time          = Dimension{time: 1}
	Amount        = Dimension{amount: 1}
	Equivalent    = Dimension{equivalent: 1}
	Osmole        = Dimension{osmole: 1}
	International = Dimension{international: 1}
	Pharmacopeial = Dimension{pharmacopeial: 1}
	Enzyme        = Dimension{enzyme: 1}
	Drop          = Dimension{drop: 1}
	Energy        = Dimension{energy: 1}
)

// Times returns the dimension of a product; Per that of a quotient.
func (d Dimension) Times(e Dimension) Dimension {
	for i := range d {
		d[i] += e[i]
	}
	return d
}

// Per returns the dimension of d divided by e.
func (d Dimension) Per(e Dimension) Dimension {
	for i := range d {
		d[i] -= e[i]
	}
	return d
}

// String names the dimension in words: "mass per time".
func (d Dimension) String() string {
	if d == Volume {
		return "volume"
	}
	var over, under []string
	switch {
	case d[length] >= 3:
		over, d[length] = append(over, "volume"), d[length]-3
	case d[length] == 2:
		over, d[length] = append(over, "area"), 0
	case d[length] <= -3:
		under, d[length] = append(under, "volume"), d[length]+3
	case d[length] == -2:
		under, d[length] = append(under, "area"), 0
	}
	for i, n := range d {
		for ; n > 0; n-- {
			over = append(over, dimensionNames[i])
		}
		for ; n < 0; n++ {
			under = append(under, dimensionNames[i])
		}
	}
	if len(over) == 0 {
		over = []string{"number"}
	}
	s := strings.Join(over, " × ")
	if len(under) > 0 {
		s += " per " + strings.Join(under, " per ")
	}
	return s
}

// as re-reads mass as body mass where the wanted dimension asks for it: the
// exponents moved from mass to body mass must make the two equal. Both
// count grams, so the factor does not change.
func (d Dimension) as(want Dimension) (Dimension, bool) {
	moved := d
	moved[bodyMass] = want[bodyMass]
	moved[mass] = d[mass] - (want[bodyMass] - d[bodyMass])
	return moved, moved == want
}

// AnyUnits reads USP units and enzyme units as international units: people
// say "units" of all three. Only for comparing words; nothing is converted.
func AnyUnits(d Dimension) Dimension {
	d[international] += d[pharmacopeial] + d[enzyme]
	d[pharmacopeial], d[enzyme] = 0, 0
	return d
}
