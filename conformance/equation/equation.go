package equation

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/quantity"
)

// Equation is one published way to work one quantity out of others.
//
// Every equation that does not count is monotone in each of its numbers on
// its range of validity, so the ends of an interval are reached at its
// corners; Solve is asked at each.
type Equation struct {
	Code     string   // E12; a published variant adds a word: E16-ideal
	Title    string   // what it is called, with author and year where it has them
	Output   string   // the NAME it gives
	Inputs   []string // the NAMEs it needs
	Optional []string // NAMEs it uses when they are known
	Formula  string   // over NAMEs, with its constants and their units
	Limits   string   // where it holds, in one sentence
	Source   string   // publication, or "common practice, no source"
	Variant  bool     // another equation gives the same quantity: used only when asked for
	Counts   bool     // counts whole things or rounds: asked of the numbers as written, never of an interval
	Solve    func(Values) (Bounds, error)
}

// Value is what an equation is given: a number of base units (gram, metre,
// second …), a word, or an instant.
type Value struct {
	Number   quantity.Number
	Unit     quantity.Unit // as stated; the number is already in base units
	Word     string
	Time     time.Time
	DateOnly bool
}

// Step is one step of a stepped rate, in base units. The last step has no
// Duration: it runs until the container is empty.
type Step struct {
	Rate     quantity.Number // volume per time
	Duration quantity.Number // 0: to the end
}

// Values are the inputs by NAME.
type Values struct {
	By    map[string]Value
	Steps []Step
}

// Has reports whether the NAME is known.
func (v Values) Has(name string) bool { _, ok := v.By[name]; return ok }

// Base is the number of base units of a NAME.
func (v Values) Base(name string) quantity.Number { return v.By[name].Number }

// In is the number of the NAME in a UCUM unit, which must fit its dimension.
func (v Values) In(name, ucum string) quantity.Number {
	return quantity.MustUnit(ucum).FromBase(v.By[name].Number)
}

// Word is the word stated for a NAME ("female").
func (v Values) Word(name string) string { return v.By[name].Word }

// Bounds hold the answer in base units; Low equals High unless a root or a
// power had to be rounded outward.
type Bounds struct{ Low, High quantity.Number }

// Exactly is an answer without rounding.
func Exactly(n quantity.Number) (Bounds, error) { return Bounds{n, n}, nil }

// ErrOutside says that the equation does not hold for these values.
var ErrOutside = errors.New("outside the range of the equation")

func outside(format string, args ...any) (Bounds, error) {
	return Bounds{}, fmt.Errorf("%w: %s", ErrOutside, fmt.Sprintf(format, args...))
}

// All lists every equation, in the order of their codes.
func All() []Equation { return slices.Clone(all) }

// Find returns the equation of a code.
func Find(code string) (Equation, bool) {
	i := slices.IndexFunc(all, func(e Equation) bool { return e.Code == code })
	if i < 0 {
		return Equation{}, false
	}
	return all[i], true
}
