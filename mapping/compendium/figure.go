package compendium

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"

	"weir.example/weir/mapping/quantity"
)

// Figure is one value of a table and where it was seen: a number, a range,
// or words. A range open at one end has only Low or only High; both ends are
// inside it.
type Figure struct {
	Name             string // what it is: volume, nominalRate, dwell, room, …
	Population       string // adult, pediatric, neonate; empty: everybody
	By               string // whose number it is where sources differ; empty: there is one
	Value, Low, High string // exact decimals
	Unit             string // UCUM; empty for words
	Says             string // words, or what goes with the number
	Gate             string // what a value beyond it does: note, warn, hold, block; empty: it never gates
	Check            bool   // seen in one weak source: look it up before it gates
	Standing         string // sourced, corroborated, memory
	Source           string // never empty
}

// Figures are the values of one row.
type Figures []Figure

// All are the figures of a name, in the order of the file.
func (fs Figures) All(name string) []Figure {
	var out []Figure
	for _, f := range fs {
		if f.Name == name {
			out = append(out, f)
		}
	}
	return out
}

// One is the figure of a name for a population, else the one for everybody.
// It is not found when there is none, and never taken from another
// population.
func (fs Figures) One(name, population string) (Figure, bool) {
	for _, who := range []string{population, ""} {
		for _, f := range fs {
			if f.Name == name && f.Population == who {
				return f, true
			}
		}
	}
	return Figure{}, false
}

// Quantity is the number as an interval in its unit. It is false for words,
// for a range open at an end, and for degrees Celsius, which are no ratio
// scale.
func (f Figure) Quantity() (quantity.Quantity, bool) {
	u, err := quantity.ParseUnit(f.Unit)
	if err != nil || f.Unit == "" {
		return quantity.Quantity{}, false
	}
	low, high := f.Low, f.High
	if f.Value != "" {
		low, high = f.Value, f.Value
	}
	l, errLow := quantity.ParseNumber(low)
	h, errHigh := quantity.ParseNumber(high)
	if errLow != nil || errHigh != nil {
		return quantity.Quantity{}, false
	}
	return quantity.Range(l, h, u), true
}

// holds reports that a quantity lies in the figure, its ends included. A
// quantity of another kind does not.
func (f Figure) holds(q quantity.Quantity) bool {
	band, ok := f.Quantity()
	if !ok || q.Absent() {
		return false
	}
	in, err := q.In(band.Unit)
	return err == nil && !in.Low.Less(band.Low) && !band.High.Less(in.High)
}

// tableStandings are the standings of a shipped table: what a site puts in
// its place is kept elsewhere.
var tableStandings = []string{Sourced, Corroborated, Memory}

func vouched(what, standing, source string) error {
	if source == "" || !slices.Contains(tableStandings, standing) {
		return fmt.Errorf("%s has source %q and standing %q; it needs a source, and standing sourced, corroborated or memory", what, source, standing)
	}
	return nil
}

func (f Figure) check() error {
	if err := vouched("the value "+f.Name, f.Standing, f.Source); err != nil {
		return err
	}
	number := f.Value != "" || f.Low != "" || f.High != ""
	switch {
	case f.Name == "":
		return fmt.Errorf("a value has no name")
	case number == (f.Unit == ""):
		return fmt.Errorf("the value %s needs a number with a unit, or words without one", f.Name)
	case !number && f.Says == "":
		return fmt.Errorf("the value %s says nothing", f.Name)
	case f.Value != "" && (f.Low != "" || f.High != ""):
		return fmt.Errorf("the value %s is a number and a range", f.Name)
	case !slices.Contains([]string{"", "adult", "pediatric", "neonate"}, f.Population):
		return fmt.Errorf("the value %s is for %q; use adult, pediatric or neonate", f.Name, f.Population)
	case !slices.Contains([]string{"", "note", "warn", "hold", "block"}, f.Gate):
		return fmt.Errorf("the value %s gates with %q; use note, warn, hold or block", f.Name, f.Gate)
	}
	for _, n := range []string{f.Value, f.Low, f.High} {
		if n == "" {
			continue
		}
		if _, err := quantity.ParseNumber(n); err != nil {
			return fmt.Errorf("the value %s: %w", f.Name, err)
		}
	}
	if f.Unit != "" && f.Unit != "Cel" {
		if _, err := quantity.ParseUnit(f.Unit); err != nil {
			return fmt.Errorf("the value %s: %w", f.Name, err)
		}
	}
	if f.Low != "" && f.High != "" && quantity.MustNumber(f.High).Less(quantity.MustNumber(f.Low)) { // both were read above
		return fmt.Errorf("the value %s runs from high to low", f.Name)
	}
	return nil
}

// check looks at every value of a row. A number may stand twice under one
// name when it is of another population, of another body, or another number;
// the same value twice is one too many.
func (fs Figures) check() error {
	if len(fs) == 0 {
		return fmt.Errorf("there is no value")
	}
	seen := map[string]bool{}
	for _, f := range fs {
		if err := f.check(); err != nil {
			return err
		}
		key := fmt.Sprintf("%s|%s|%s|%s|%s|%s", f.Name, f.Population, f.By, f.Value, f.Low, f.High)
		if f.Unit == "" {
			key += "|" + f.Says
		}
		if seen[key] {
			return fmt.Errorf("the value %s stands twice", f.Name)
		}
		seen[key] = true
	}
	return nil
}

// decodeTable reads a table strictly: a key that is passed over is a fact
// that is lost.
func decodeTable(name string, data []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return fmt.Errorf("%s table: %w", name, err)
	}
	if d.More() {
		return fmt.Errorf("%s table: something follows the first value", name)
	}
	return nil
}

// must is for the shipped tables: a fault of this build, caught by the first
// test.
func must[T any](table T, err error) T {
	if err != nil {
		panic(err)
	}
	return table
}
