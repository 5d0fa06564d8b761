package compendium

import (
	_ "embed"
	"fmt"
	"slices"
	"sync"
)

//go:embed sterility.json
var sterilityFile []byte

// Sterility is one row of the sterility limits of USP <797>, revision
// official 1 November 2023, as other documents restate them; the chapter
// itself was not read. Its values room, refrigerated and frozen are maximum
// times from making to the start of administration, never targets, in h or
// d.
type Sterility struct {
	Category   string // immediate-use, 1, 2, 3
	Method     string // aseptic, terminal, any
	Tested     string // yes: a sterility test is passed; no; any
	Components string // sterile: only sterile starting components; nonsterile: one or more; any
	Name       string
	Values     Figures
}

// Container is how long an opened container may be used: value inUse (h or
// d; 0 h is at once).
type Container struct {
	Kind   string
	Name   string
	Values Figures
}

// Storage is the temperature of a storage: value temperature in degrees
// Celsius.
type Storage struct {
	Kind   string // room, refrigerated, frozen
	Values Figures
}

type sterilityTable struct {
	Edition, Notice string
	Rows            []Sterility
	Containers      []Container
	Storages        []Storage
	Legacy          []Figure // of the chapter of 2008: read by people, answered by nothing
}

var sterilityKnown = sync.OnceValue(func() sterilityTable { return must(parseSterility(sterilityFile)) })

// SterilityFile returns the embedded table of sterility limits, for the
// schema check.
func SterilityFile() []byte { return sterilityFile }

// SterilityLimits are the rows of the table.
func SterilityLimits() []Sterility { return sterilityKnown().Rows }

// SterilityCount counts the table and its values by standing.
func SterilityCount() Count {
	t := sterilityKnown()
	c := counted(t.Edition, len(t.Rows)+len(t.Containers)+len(t.Storages))
	for _, r := range t.Rows {
		c.add(r.Values)
	}
	for _, x := range t.Containers {
		c.add(x.Values)
	}
	for _, x := range t.Storages {
		c.add(x.Values)
	}
	c.add(t.Legacy)
	return c
}

// CategoryLimit is the longest time from making a preparation to the start of its
// administration for sterility alone: of a category (immediate-use, 1, 2,
// 3), a method (aseptic, terminal), whether a sterility test is passed, the
// starting components (sterile, nonsterile) and a storage (room,
// refrigerated, frozen). A combination that the table does not have is not
// ok, Category 1 frozen and Category 3 untested among them; an unknown
// method or component is ok only where it makes no difference. A figure with
// Check set was seen in one weak source: look it up before it gates.
func CategoryLimit(category, method string, tested bool, components, storage string) (limit Figure, ok bool) {
	for _, r := range SterilityLimits() {
		if r.answers(category, method, tested, components) {
			return r.Values.One(storage, "")
		}
	}
	return Figure{}, false
}

func (r Sterility) answers(category, method string, tested bool, components string) bool {
	same := func(want, have string) bool { return want == "any" || want == have }
	word := map[bool]string{true: "yes", false: "no"}[tested]
	return r.Category == category && same(r.Method, method) && same(r.Tested, word) && same(r.Components, components)
}

// InUse is how long an opened container may be used, by its kind:
// single-dose-outside-iso-5, single-dose-in-iso-5, multiple-dose, …
func InUse(kind string) (Figure, bool) {
	for _, x := range sterilityKnown().Containers {
		if x.Kind == kind {
			return x.Values.One("inUse", "")
		}
	}
	return Figure{}, false
}

// StorageTemperature is the range of a storage (room, refrigerated, frozen)
// in degrees Celsius.
func StorageTemperature(storage string) (Figure, bool) {
	for _, x := range sterilityKnown().Storages {
		if x.Kind == storage {
			return x.Values.One("temperature", "")
		}
	}
	return Figure{}, false
}

// ParseSterility reads a table of sterility limits. It refuses an empty
// table, a key it does not know, two rows that answer the same question, and
// a value without number, unit, source and standing.
func ParseSterility(data []byte) ([]Sterility, error) {
	t, err := parseSterility(data)
	return t.Rows, err
}

func parseSterility(data []byte) (sterilityTable, error) {
	var t sterilityTable
	if err := decodeTable("sterility", data, &t); err != nil {
		return t, err
	}
	if t.Edition == "" || len(t.Rows) == 0 || len(t.Containers) == 0 || len(t.Storages) == 0 {
		return t, fmt.Errorf("sterility table: no edition, no row, no container or no storage")
	}
	for i, r := range t.Rows {
		if err := r.check(); err != nil {
			return t, fmt.Errorf("sterility table: row %d (%s): %w", i+1, r.Name, err)
		}
		for _, other := range t.Rows[:i] {
			if r.meets(other) {
				return t, fmt.Errorf("sterility table: %s and %s answer the same question", other.Name, r.Name)
			}
		}
	}
	seen := map[string]bool{}
	rest := func(kind string, fs Figures) error {
		if err := fs.check(); err != nil || kind == "" || seen[kind] {
			return fmt.Errorf("sterility table: %q stands twice, has no name or a faulty value: %w", kind, err)
		}
		seen[kind] = true
		return nil
	}
	for _, x := range t.Containers {
		if err := rest(x.Kind, x.Values); err != nil {
			return t, err
		}
	}
	for _, x := range t.Storages {
		if err := rest(x.Kind, x.Values); err != nil {
			return t, err
		}
	}
	if len(t.Legacy) > 0 {
		return t, Figures(t.Legacy).check()
	}
	return t, nil
}

func (r Sterility) check() error {
	for _, x := range []struct {
		value string
		words []string
	}{{r.Category, []string{"immediate-use", "1", "2", "3"}}, {r.Method, []string{"aseptic", "terminal", "any"}},
		{r.Tested, []string{"yes", "no", "any"}}, {r.Components, []string{"sterile", "nonsterile", "any"}}} {
		if !slices.Contains(x.words, x.value) {
			return fmt.Errorf("%q is none of %v", x.value, x.words)
		}
	}
	for _, f := range r.Values {
		if !slices.Contains([]string{"room", "refrigerated", "frozen"}, f.Name) || f.Value == "" {
			return fmt.Errorf("a limit is one number for room, refrigerated or frozen, not %q", f.Name)
		}
	}
	return r.Values.check()
}

// meets reports that some question is answered by both rows.
func (r Sterility) meets(o Sterility) bool {
	both := func(a, b string) bool { return a == b || a == "any" || b == "any" }
	return r.Category == o.Category && both(r.Method, o.Method) && both(r.Tested, o.Tested) && both(r.Components, o.Components)
}
