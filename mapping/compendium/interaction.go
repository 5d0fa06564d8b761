package compendium

import (
	_ "embed"
	"fmt"
	"slices"
	"sync"
)

//go:embed interactions.json
var interactionsFile []byte

// Interaction is what two medicines do to each other in a patient, wherever
// they are given, as far as it matters at home. A side is a generic name in
// lower case or a group of the file.
type Interaction struct {
	A, B     string
	Effect   string // what happens
	Action   string // what somebody does about it
	Gate     string // warn
	Standing string
	Source   string
}

type interactionTable struct {
	Edition, Notice string
	Groups          []Group
	Rows            []Interaction
}

var interactionsKnown = sync.OnceValue(func() interactionTable { return must(parseInteractions(interactionsFile)) })

// InteractionsFile returns the embedded table of interactions, for the
// schema check.
func InteractionsFile() []byte { return interactionsFile }

// Interactions are the rows of the table, and InteractionGroups the groups
// they name.
func Interactions() []Interaction { return interactionsKnown().Rows }
func InteractionGroups() []Group  { return interactionsKnown().Groups }

// InteractionsCount counts the table and its values by standing; a group
// counts as one value.
func InteractionsCount() Count {
	t := interactionsKnown()
	c := counted(t.Edition, len(t.Rows))
	for _, x := range t.Rows {
		c.Standing[x.Standing]++
	}
	for _, g := range t.Groups {
		c.Standing[g.Standing]++
	}
	return c
}

// Interact finds every interaction of two names, in either order and in the
// order of the file. No row is no statement that there is none.
func Interact(a, b string) []Interaction {
	t := interactionsKnown()
	a, b = Fold(a), Fold(b)
	if a == "" || b == "" || a == b {
		return nil
	}
	var out []Interaction
	for _, x := range t.Rows {
		if t.names(x.A, a) && t.names(x.B, b) || t.names(x.A, b) && t.names(x.B, a) {
			out = append(out, x)
		}
	}
	return out
}

func (t interactionTable) names(side, name string) bool {
	return side == name || slices.ContainsFunc(t.Groups, func(g Group) bool { return g.Name == side && slices.Contains(g.Members, name) })
}

// ParseInteractions reads a table of interactions. It refuses an empty
// table, a key it does not know, a pair that stands twice in either order, a
// group nobody lists, and a row without effect, action, source and standing.
func ParseInteractions(data []byte) ([]Interaction, error) {
	t, err := parseInteractions(data)
	return t.Rows, err
}

func parseInteractions(data []byte) (interactionTable, error) {
	var t interactionTable
	if err := decodeTable("interaction", data, &t); err != nil {
		return t, err
	}
	if t.Edition == "" || len(t.Rows) == 0 {
		return t, fmt.Errorf("interaction table: no edition or no row")
	}
	if err := checkGroups("interaction", t.Groups); err != nil {
		return t, err
	}
	seen := map[string]bool{}
	for _, x := range t.Rows {
		key := unordered(x.A, x.B)
		switch err := vouched("the interaction", x.Standing, x.Source); {
		case err != nil:
			return t, fmt.Errorf("interaction table: %s: %w", key, err)
		case x.A == "" || x.B == "" || x.A != Fold(x.A) || x.B != Fold(x.B):
			return t, fmt.Errorf("interaction table: %s lacks a side, or a name is not folded", key)
		case x.Effect == "" || x.Action == "" || x.Gate != "warn":
			return t, fmt.Errorf("interaction table: %s lacks its effect or action, or gates otherwise than with a warning", key)
		case seen[key]:
			return t, fmt.Errorf("interaction table: %s stands twice", key)
		}
		seen[key] = true
	}
	return t, nil
}
