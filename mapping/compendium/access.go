package compendium

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"sync"

	"weir.example/weir/mapping/quantity"
)

//go:embed access.json
var accessFile []byte

// Access is a kind of access device. Its values by name: tip (says central
// or not central), dwell (how long guidance chooses it for, d), lockVolume
// (mL), flushVolume (mL), lockSolution (words), osmolarityMax (mosm/L, by
// whom).
type Access struct {
	Kind   string // as an order names it: peripheral, midline, picc, …
	Name   string
	Values Figures
}

// Change is how often a part of the line is changed: value every (d or h).
type Change struct {
	Item   string
	Name   string
	Values Figures
}

// LockLimit is a strength of a lock solution, or an amount a day, at which
// somebody decides or which is never used. Above excludes its number, From includes it.
type LockLimit struct {
	Solution   string // heparin, citrate
	Line       string // any, dialysis (or apheresis), other (neither)
	Population string // empty: everybody; pediatric includes neonates
	Above      string // exact decimal
	From       string // exact decimal
	Unit       string // UCUM
	Gate       string // hold, block
	Says       string
	Standing   string
	Source     string
}

type accessTable struct {
	Edition, Notice string
	Rows            []Access
	Locks           []LockLimit
	Changes         []Change
}

var accessKnown = sync.OnceValue(func() accessTable { return must(parseAccess(accessFile)) })

// AccessFile returns the embedded table of access devices, for the schema
// check.
func AccessFile() []byte { return accessFile }

// AccessDevices are the kinds of access devices, in the order of the file.
func AccessDevices() []Access { return accessKnown().Rows }

// LockLimits are the strengths at which a lock gates.
func LockLimits() []LockLimit { return accessKnown().Locks }

// Changes are the change cycles of the parts of a line.
func Changes() []Change { return accessKnown().Changes }

// AccessCount counts the table and its values by standing; a lock limit
// counts as one value.
func AccessCount() Count {
	t := accessKnown()
	c := counted(t.Edition, len(t.Rows)+len(t.Locks)+len(t.Changes))
	for _, a := range t.Rows {
		c.add(a.Values)
	}
	for _, l := range t.Locks {
		c.Standing[l.Standing]++
	}
	for _, x := range t.Changes {
		c.add(x.Values)
	}
	return c
}

// AccessOf finds a kind of access device by the word an order uses.
func AccessOf(kind string) (Access, bool) {
	for _, a := range AccessDevices() {
		if a.Kind == kind {
			return a, true
		}
	}
	return Access{}, false
}

// ChangeOf finds the change cycle of a part.
func ChangeOf(item string) (Change, bool) {
	for _, x := range Changes() {
		if x.Item == item {
			return x, true
		}
	}
	return Change{}, false
}

// Central tells whether the tip lies in a central vein.
func (a Access) Central() Answer {
	switch f, _ := a.Values.One("tip", ""); f.Says {
	case "central":
		return Yes
	case "not central":
		return No
	}
	return Unknown
}

// Lock is the gravest limit a lock solution reaches by an amount: a strength
// (units per mL of heparin, % of citrate) or all the heparin of a day (units
// per kg and day). It is asked for a line (dialysis, or another) and a
// population (adult, pediatric, neonate; empty: unknown, and only what holds
// for everybody is asked). Reached says that it reaches one; known is false
// for a solution without limits or an amount of another kind, and then
// nothing was asked.
func Lock(solution, line, population string, amount quantity.Quantity) (limit LockLimit, reached, known bool) {
	for _, l := range LockLimits() {
		if l.Solution != solution {
			continue
		}
		in, err := l.read(amount)
		if err != nil {
			continue
		}
		known = true
		if l.Line != "any" && (l.Line == "dialysis") != (line == "dialysis") || !l.concerns(population) || !l.at(in.High) {
			continue
		}
		if !reached || limit.Gate == "hold" && l.Gate == "block" {
			limit, reached = l, true
		}
	}
	return limit, reached, known
}

func (l LockLimit) concerns(population string) bool {
	return l.Population == "" || l.Population == population || l.Population == "pediatric" && population == "neonate"
}

func (l LockLimit) at(n quantity.Number) bool {
	if l.From != "" {
		return !n.Less(quantity.MustNumber(l.From))
	}
	return quantity.MustNumber(l.Above).Less(n)
}

// read converts an amount; heparin units are written in three codes of UCUM
// that do not convert into each other.
func (l LockLimit) read(amount quantity.Quantity) (quantity.Quantity, error) {
	codes := []string{l.Unit}
	if per, heparin := strings.CutPrefix(l.Unit, "[USP'U]"); heparin {
		codes = append(codes, "[iU]"+per, "U"+per)
	}
	var err error
	for _, code := range codes {
		var in quantity.Quantity
		if in, err = amount.In(quantity.MustUnit(code)); err == nil {
			return in, nil
		}
	}
	return quantity.Quantity{}, err
}

// ParseAccess reads a table of access devices. It refuses an empty table, a
// key it does not know, a row that stands twice, and a value or limit
// without number, unit, source and standing.
func ParseAccess(data []byte) ([]Access, []LockLimit, []Change, error) {
	t, err := parseAccess(data)
	return t.Rows, t.Locks, t.Changes, err
}

func parseAccess(data []byte) (accessTable, error) {
	var t accessTable
	if err := decodeTable("access", data, &t); err != nil {
		return t, err
	}
	if t.Edition == "" || len(t.Rows) == 0 || len(t.Locks) == 0 || len(t.Changes) == 0 {
		return t, fmt.Errorf("access table: no edition, no row, no lock limit or no change cycle")
	}
	seen := map[string]bool{}
	row := func(key, name string, fs Figures) error {
		switch err := fs.check(); {
		case err != nil:
			return fmt.Errorf("access table: %s: %w", key, err)
		case name == "":
			return fmt.Errorf("access table: %s has no name", key)
		case seen[key]:
			return fmt.Errorf("access table: %s stands twice", key)
		}
		seen[key] = true
		return nil
	}
	for _, a := range t.Rows {
		if err := row("kind "+a.Kind, a.Name, a.Values); err != nil {
			return t, err
		}
	}
	for _, x := range t.Changes {
		if err := row("change of "+x.Item, x.Name, x.Values); err != nil {
			return t, err
		}
	}
	for _, l := range t.Locks {
		if err := l.check(); err != nil {
			return t, fmt.Errorf("access table: %w", err)
		}
		key := fmt.Sprintf("limit %s|%s|%s|%s|%s", l.Solution, l.Line, l.Population, l.Above, l.From)
		if seen[key] {
			return t, fmt.Errorf("access table: the %s stands twice", key)
		}
		seen[key] = true
	}
	return t, nil
}

func (l LockLimit) check() error {
	if err := vouched("the lock limit of "+l.Solution, l.Standing, l.Source); err != nil {
		return err
	}
	_, errUnit := quantity.ParseUnit(l.Unit)
	_, errNumber := quantity.ParseNumber(l.Above + l.From) // one of them is empty
	switch {
	case l.Solution == "" || (l.Above == "") == (l.From == "") || errNumber != nil || l.Unit == "" || errUnit != nil:
		return fmt.Errorf("the lock limit of %q needs a unit and one number, above or from", l.Solution)
	case !slices.Contains([]string{"any", "dialysis", "other"}, l.Line) || !slices.Contains([]string{"hold", "block"}, l.Gate):
		return fmt.Errorf("the lock limit of %s has line %q and gate %q; use any, dialysis or other, and hold or block", l.Solution, l.Line, l.Gate)
	case !slices.Contains([]string{"", "adult", "pediatric", "neonate"}, l.Population):
		return fmt.Errorf("the lock limit of %s is for %q; use adult, pediatric or neonate", l.Solution, l.Population)
	}
	return nil
}
