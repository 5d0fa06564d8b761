package compendium

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
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

type interactionTable struct{ pairwise[Interaction] }

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
func InteractionsCount() Count { return interactionsKnown().count() }

// Interact finds every interaction of two names, in either order and in the
// order of the file. Rows that say the same of one effect, a name and its
// group or two groups, are one: the row that says most of what happens, with
// what to do of all of them. No row is no statement that there is none.
func Interact(a, b string) []Interaction {
	t := interactionsKnown()
	a, b = Fold(a), Fold(b)
	if a == "" || b == "" || a == b {
		return nil
	}
	var out []Interaction
	for _, x := range t.Rows {
		if t.names(x.A, a) && t.names(x.B, b) || t.names(x.A, b) && t.names(x.B, a) {
			out = joinEffect(out, x)
		}
	}
	return out
}

// joinEffect adds a row, or joins it with one that says as much or more of
// what happens, or with the ones that say less.
func joinEffect(list []Interaction, x Interaction) []Interaction {
	if i := slices.IndexFunc(list, func(o Interaction) bool { return within(x.Effect, o.Effect) }); i >= 0 {
		list[i] = list[i].with(x)
		return list
	}
	var out []Interaction
	at := -1
	for _, o := range list {
		if !within(o.Effect, x.Effect) {
			out = append(out, o)
			continue
		}
		if x = x.with(o); at < 0 {
			at, out = len(out), append(out, o) // its place
		}
	}
	if at < 0 {
		return append(out, x)
	}
	out[at] = x
	return out
}

// statements are the parts of an effect or action.
func statements(s string) []string { return strings.Split(s, "; ") }

// within reports that a says nothing that b does not say.
func within(a, b string) bool {
	return !slices.ContainsFunc(statements(a), func(s string) bool { return !slices.Contains(statements(b), s) })
}

// with adds what to do, and the source, of a row on the same effect.
func (x Interaction) with(o Interaction) Interaction {
	add := func(to *string, from string) {
		for _, s := range statements(from) {
			if !slices.Contains(statements(*to), s) {
				*to += "; " + s
			}
		}
	}
	add(&x.Action, o.Action)
	add(&x.Source, o.Source)
	return x
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
	return t, t.check("interaction")
}

func (x Interaction) sides() (a, b string)             { return x.A, x.B }
func (x Interaction) vouch() (standing, source string) { return x.Standing, x.Source }

func (x Interaction) check() error {
	switch {
	case x.A == "" || x.B == "" || x.A != Fold(x.A) || x.B != Fold(x.B):
		return fmt.Errorf("lacks a side, or a name is not folded")
	case x.Effect == "" || x.Action == "" || x.Gate != "warn":
		return fmt.Errorf("lacks its effect or action, or gates otherwise than with a warning")
	}
	return nil
}
