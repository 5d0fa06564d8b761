package compendium

import (
	"cmp"
	"reflect"
	"slices"
	"strings"
)

// Difference is one row, fact or head of a table that two editions have
// otherwise.
type Difference struct {
	Table   string   // drugs, hazards, devices, …
	Row     string   // what names the row; "" for the head of the table
	Fact    string   // id of the fact; "" when the row itself changed
	What    string   // added, dropped, changed
	Changes []Member // every member that differs; of what was added or dropped every member it sets
}

// Member is one member of a row that differs, in words for a pharmacist.
// Was and Is are "" where nothing stood or stands. Two texts that would read
// the same are shown as codes in backticks, letter by letter.
type Member struct{ Name, Was, Is string }

// Says is what changed: "2 g → 3 g", or what a list gained or lost.
func (m Member) Says() string {
	switch {
	case m.Was == "" && strings.HasSuffix(m.Name, ", added"):
		return m.Is
	case m.Is == "" && strings.HasSuffix(m.Name, ", dropped"):
		return m.Was
	}
	return cmp.Or(m.Was, "none") + " → " + cmp.Or(m.Is, "none")
}

// String is the member in one line: "dose: 2 g → 3 g".
func (m Member) String() string { return m.Name + ": " + m.Says() }

// AskedAsShipped are the tables whose look-ups always ask the files this
// program was built with: an order is never judged by another edition's.
func AskedAsShipped() []string { return slices.Clone(singles) }

// Compare lists what a new edition changes, in the order of the tables:
// heads, rows and facts added, dropped and changed, member by member. Two
// equal editions differ in nothing; two that differ in bytes differ in
// something.
func Compare(before, after *Tables) []Difference {
	var c comparison
	c.table("drugs", before, after, func() {
		c.head(reflect.ValueOf(before.drugsHead()), reflect.ValueOf(after.drugsHead()))
		c.drugs(before.Drugs, after.Drugs)
	})
	c.table("hazards", before, after, func() {
		c.head(reflect.ValueOf(before.hazardsHead()), reflect.ValueOf(after.hazardsHead()))
		c.rows("", reflect.ValueOf(before.Hazards), reflect.ValueOf(after.Hazards))
	})
	was, is := before.rest.tables(), after.rest.tables()
	for i, name := range singles {
		c.table(name, before, after, func() { c.whole(reflect.ValueOf(was[i]), reflect.ValueOf(is[i])) })
	}
	return c.out
}

// drugsHead and hazardsHead are what stands beside the rows.
func (t *Tables) drugsHead() any { return struct{ Edition, Notice string }{t.Edition, t.notice} }
func (t *Tables) hazardsHead() any {
	return struct{ Edition, ReviewedApprovals, ReviewedUntil, AntineoplasticWord string }{t.HazardEdition, t.reviewedApprovals, t.ReviewedUntil, t.antineoplasticWord}
}

// tables are those of singles, in that order.
func (r rest) tables() []any {
	return []any{r.devices, r.access, r.sterility, r.pairs, r.interactions, r.solutes, r.allergies}
}

type comparison struct {
	now string // the table at work
	out []Difference
}

// table compares one table. Where its bytes differ and no value does, that
// is said: it voids a signature all the same.
func (c *comparison) table(name string, before, after *Tables, compare func()) {
	c.now = name
	n := len(c.out)
	compare()
	if was, is := before.Hashes[name], after.Hashes[name]; len(c.out) == n && was != is {
		c.out = append(c.out, Difference{Table: name, What: "changed", Changes: []Member{{"bytes of the file alone (spacing, order or the name of a file), no value", "`" + was + "`", "`" + is + "`"}}})
	}
}

func (c *comparison) add(row, fact, what string, changes []Member) {
	switch {
	case len(changes) > 0:
	case what == "added":
		changes = []Member{{"row", "", "empty"}}
	case what == "dropped":
		changes = []Member{{"row", "empty", ""}}
	}
	if len(changes) > 0 {
		c.out = append(c.out, Difference{Table: c.now, Row: row, Fact: fact, What: what, Changes: changes})
	}
}

func (c *comparison) head(a, b reflect.Value) { c.add("", "", "changed", members("", a, b)) }

// whole compares a table of one file: its lists of rows row by row, the rest
// as its head.
func (c *comparison) whole(a, b reflect.Value) {
	c.add("", "", "changed", c.lists(a, b))
}

// lists compares the lists of a table and gives what of its head differs.
func (c *comparison) lists(a, b reflect.Value) (head []Member) {
	for i := range a.NumField() {
		switch f := a.Type().Field(i); {
		case f.Anonymous:
			head = append(head, c.lists(a.Field(i), b.Field(i))...)
			continue
		case !f.IsExported():
			continue // worked out from the others
		}
		name := MemberName(a.Type().Field(i).Name)
		if f := a.Field(i); f.Kind() == reflect.Slice && f.Type().Elem().Kind() == reflect.Struct {
			if name == "rows" || name == "solutes" {
				name = ""
			}
			c.rows(name, f, b.Field(i))
		} else {
			head = append(head, members(name, f, b.Field(i))...)
		}
	}
	return head
}

// rows compares a list of rows by what names them.
func (c *comparison) rows(list string, a, b reflect.Value) {
	pairs, moved := match(a, b)
	for _, p := range pairs {
		row := cmp.Or(label(p.any()), "a row")
		if list != "" {
			row = list + ": " + row
		}
		c.add(row, "", p.what(), members("", p.a, p.b))
	}
	if moved {
		c.add(list, "", "changed", []Member{{"order of the rows", names(a), names(b)}})
	}
}

// drugs compares drugs by name, and their facts by id.
func (c *comparison) drugs(a, b []Drug) {
	pairs, moved := match(reflect.ValueOf(a), reflect.ValueOf(b))
	for _, p := range pairs {
		was, is := p.a.Interface().(Drug), p.b.Interface().(Drug)
		name := cmp.Or(is.Name, was.Name)
		facts, order := match(reflect.ValueOf(was.Facts), reflect.ValueOf(is.Facts))
		list := Member{"order of the facts", names(reflect.ValueOf(was.Facts)), names(reflect.ValueOf(is.Facts))}
		was.Facts, is.Facts = nil, nil
		changes := members("", reflect.ValueOf(was), reflect.ValueOf(is))
		if order {
			changes = append(changes, list)
		}
		c.add(name, "", p.what(), changes)
		for _, f := range facts {
			changes := members("", f.a, f.b)
			if f.what() != "changed" && !f.any().FieldByName("Gates").Bool() {
				changes = append(changes, Member{Name: "gates", Was: map[bool]string{true: "no"}[f.had], Is: map[bool]string{true: "no"}[f.has]})
			}
			c.add(name, label(f.any()), f.what(), changes)
		}
	}
	if moved {
		c.add("", "", "changed", []Member{{"order of the rows", names(reflect.ValueOf(a)), names(reflect.ValueOf(b))}})
	}
}
