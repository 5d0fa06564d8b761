package compendium

import (
	"encoding/json"
	"slices"
	"strings"
)

// Difference is one change between two editions of the tables.
type Difference struct {
	Table string // drugs, hazards
	Row   string // the drug
	Fact  string // id of the fact; "" when the row itself changed
	What  string // added, dropped, changed
	Was   string // what stood there, as JSON; "" when added
	Is    string
}

// Compare lists what a new edition changes, in the order of the tables: rows
// and facts added, dropped and changed. Two equal editions differ in nothing.
func Compare(before, after *Tables) []Difference {
	var out []Difference
	list := func(table string, was, is map[string]string) {
		for _, key := range union(was, is) {
			a, had := was[key]
			b, has := is[key]
			what := "changed"
			switch {
			case had && has && a == b:
				continue
			case !had:
				what = "added"
			case !has:
				what = "dropped"
			}
			row, fact, _ := strings.Cut(key, "\x00")
			out = append(out, Difference{Table: table, Row: row, Fact: fact, What: what, Was: a, Is: b})
		}
	}
	list("drugs", before.cells(), after.cells())
	list("hazards", before.hazardCells(), after.hazardCells())
	return out
}

// cells are the rows without their facts, and each fact, as JSON by name.
func (t *Tables) cells() map[string]string {
	out := map[string]string{}
	for _, d := range t.Drugs {
		for _, f := range d.Facts {
			out[d.Name+"\x00"+f.ID] = text(f)
		}
		d.Facts = nil
		out[d.Name] = text(d)
	}
	return out
}

func (t *Tables) hazardCells() map[string]string {
	out := map[string]string{}
	for _, h := range t.Hazards {
		out[h.Name] = text(h)
	}
	return out
}

func text(v any) string {
	data, _ := json.Marshal(v) // plain data
	return string(data)
}

func union(a, b map[string]string) []string {
	keys := make([]string, 0, len(a)+len(b))
	for k := range a {
		keys = append(keys, k)
	}
	for k := range b {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return slices.Compact(keys)
}
