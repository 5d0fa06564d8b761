package compendium

import "fmt"

// Group is a named list of names.
type Group struct {
	Name     string
	Members  []string
	Solute   string // fluids that contain it belong too: dextrose, sodium chloride, calcium
	Standing string
	Source   string
}

// pairwise is a table on two names at a time, in either order. A side may be
// a group of the table.
type pairwise[T sided] struct {
	Edition, Notice string
	Groups          []Group
	Rows            []T
}

// sided is a row on two names.
type sided interface {
	sides() (a, b string)
	vouch() (standing, source string)
	check() error // what only a row of this table must have
}

// check refuses an empty table, a pair that stands twice in either order, a
// group without members, and what has no source or standing.
func (t pairwise[T]) check(table string) error {
	if t.Edition == "" || len(t.Rows) == 0 {
		return fmt.Errorf("%s table: no edition or no row", table)
	}
	if err := checkGroups(table, t.Groups); err != nil {
		return err
	}
	seen := map[string]bool{}
	for _, x := range t.Rows {
		key := unordered(x.sides())
		standing, source := x.vouch()
		if err := vouched("the row", standing, source); err != nil {
			return fmt.Errorf("%s table: %s: %w", table, key, err)
		}
		if err := x.check(); err != nil {
			return fmt.Errorf("%s table: %s %w", table, key, err)
		}
		if seen[key] {
			return fmt.Errorf("%s table: %s stands twice", table, key)
		}
		seen[key] = true
	}
	return nil
}

// count counts the table by standing; a group counts as one value.
func (t pairwise[T]) count() Count {
	c := counted(t.Edition, len(t.Rows))
	for _, x := range t.Rows {
		standing, _ := x.vouch()
		c.Standing[standing]++
	}
	for _, g := range t.Groups {
		c.Standing[g.Standing]++
	}
	return c
}

// unordered is a key for two names in either order.
func unordered(a, b string) string {
	if b < a {
		a, b = b, a
	}
	return a + " with " + b
}

func checkGroups(table string, groups []Group) error {
	seen := map[string]bool{}
	for _, g := range groups {
		if err := vouched("the group "+g.Name, g.Standing, g.Source); err != nil {
			return fmt.Errorf("%s table: %w", table, err)
		}
		if g.Name == "" || len(g.Members) == 0 || seen[g.Name] {
			return fmt.Errorf("%s table: the group %q is empty or stands twice", table, g.Name)
		}
		seen[g.Name] = true
		members := map[string]bool{}
		for _, m := range g.Members {
			if m != Fold(m) || m == "" || members[m] {
				return fmt.Errorf("%s table: %s: the member %q is not folded or stands twice", table, g.Name, m)
			}
			members[m] = true
		}
	}
	return nil
}
