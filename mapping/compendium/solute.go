package compendium

import (
	_ "embed"
	"slices"
	"sync"

	"weir.example/weir/mapping/quantity"
)

//go:embed solutes.json
var solutesFile []byte

// Solute is what a dissolved substance adds to the osmolarity: moles from
// its mass, particles from its moles.
type Solute struct {
	Name      string
	RxNorm    string
	Also      []string
	MolarMass string // g/mol of the salt and hydrate as weighed
	Particles string // osmoles per mole, ideal
	Standing  string
	Source    string
}

type soluteTable struct {
	Edition string
	Solutes []Solute
}

var solutesKnown = sync.OnceValue(func() soluteTable {
	file := must(parseSolutes(solutesFile))
	t := soluteTable{Edition: file.Edition}
	for _, s := range file.Solutes {
		t.Solutes = append(t.Solutes, s.Solute)
	}
	return t
})

// parseSolutes reads the file strictly: a key nobody reads, or a number that
// is none, is refused.
func parseSolutes(data []byte) (soluteFile, error) {
	var file soluteFile
	if err := decodeTable("solute", data, &file); err != nil {
		return file, err
	}
	return file, file.check()
}

func solutes() (edition string, rows []Solute) { return solutesKnown().Edition, solutesKnown().Solutes }

// SolutesFile returns the embedded table of solutes, for the schema check.
func SolutesFile() []byte { return solutesFile }

// SoluteOf finds a substance by its RxNorm ingredient or an exact listed
// name; anything else is unknown, never a near match.
func SoluteOf(rxnorm, name string) (Solute, bool) {
	folded := Fold(name)
	for _, s := range solutesKnown().Solutes {
		if rxnorm != "" && rxnorm == s.RxNorm || rxnorm == "" && (folded == s.Name || slices.Contains(s.Also, folded)) {
			return s, true
		}
	}
	return Solute{}, false
}

// Osmoles are the osmoles in an amount of the solute, given by mass or by
// amount of substance. Equivalents are refused: they do not say of what.
func (s Solute) Osmoles(q quantity.Quantity) (quantity.Number, bool) {
	base := q.Unit.ToBase(q.Middle())
	particles := quantity.MustNumber(s.Particles)
	switch q.Unit.Dimension() {
	case quantity.Mass:
		return base.Quo(quantity.MustNumber(s.MolarMass)).Mul(particles), true
	case quantity.Amount:
		return base.Mul(particles), true
	}
	return quantity.Number{}, false
}
