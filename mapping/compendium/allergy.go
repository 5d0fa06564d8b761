package compendium

import (
	_ "embed"
	"fmt"
	"slices"
	"sync"
)

//go:embed allergies.json
var allergiesFile []byte

// How often drugs that belong together react alike.
const (
	CrossCommon   = "common"   // whoever reacts to one may well react to another
	CrossSeldom   = "seldom"   // unless they share a side chain
	CrossDoubtful = "doubtful" // labels say so, studies found nothing
)

// AllergyClass is a class of drugs, or what several drugs are made with, as
// an allergy on record names it.
type AllergyClass struct {
	Name     string
	Words    []string // how a record names the class as a whole
	Members  []string // generic names, folded
	Named    []string // members only when a record names the class as a whole
	ATC      []string `json:"atc"` // beginnings of codes
	Cross    string   // among its members: common, seldom
	Twice    bool     // two of them at one time are a duplicate
	Standing string
	Source   string
}

// SideChain is a side chain that beta-lactams share: identical, similar, or
// unique to one drug.
type SideChain struct {
	Name     string
	Position string // R1, R2
	Likeness string // identical, similar, unique
	Members  []string
	Standing string
	Source   string
}

// AllergyRelation is what a reaction to one class means for another. No row
// is no statement that nothing happens.
type AllergyRelation struct {
	A, B     string
	Cross    string // seldom, doubtful
	Standing string
	Source   string
}

// Substance is a drug that has no row in the drug table, with the codes and
// names by which records mean it.
type Substance struct {
	Name     string
	RxNorm   []string `json:"rxnorm"`
	ATC      []string `json:"atc"`
	Also     []string
	Standing string
	Source   string
}

// AllergyWords is a list of words of one kind: medicines without a class, or
// things that no drug and no item of the kit holds.
type AllergyWords struct {
	Name     string
	Words    []string
	Standing string
	Source   string
}

// SupplyAllergen is what a kit, a lock or a flush may hold.
type SupplyAllergen struct {
	Name      string
	Words     []string // how a record of an allergy names it
	Drugs     []string // drugs whose allergy concerns it too
	Problems  []string // how a problem list names what forbids it
	Codes     []string // codes of such problems, SNOMED CT or ICD-10-CM
	Solutions []string // words of a lock or flush that holds it
	Items     []string // items of the kit table that may hold it
	Free      []string // words of a record that say an item does not
	Instead   string   // what to use
	Standing  string
	Source    string
}

// ReactionWords are words and codes of one kind of reaction: grave, immediate,
// mild, or effect (no immune reaction).
type ReactionWords struct {
	Kind     string
	Words    []string
	Codes    []string // SNOMED CT
	Standing string
	Source   string
}

// The kinds of reactions.
const (
	GraveReaction     = "grave"
	ImmediateReaction = "immediate"
	MildReaction      = "mild"
	SideEffect        = "effect"
)

type allergyTable struct {
	Edition, Notice string
	Classes         []AllergyClass
	Chains          []SideChain
	Relations       []AllergyRelation
	Substances      []Substance
	Medicines       []AllergyWords
	Supplies        []SupplyAllergen
	Reactions       []ReactionWords
	Apart           []AllergyWords
}

var allergiesKnown = sync.OnceValue(func() allergyTable { return must(parseAllergies(allergiesFile)) })

// AllergiesFile returns the embedded table of allergies, for the schema
// check.
func AllergiesFile() []byte { return allergiesFile }

// AllergyClasses are the classes of the table, SideChains the side chains,
// and SupplyAllergens what a kit may hold, in the order of the file.
func AllergyClasses() []AllergyClass    { return allergiesKnown().Classes }
func SideChains() []SideChain           { return allergiesKnown().Chains }
func SupplyAllergens() []SupplyAllergen { return allergiesKnown().Supplies }

// AllergiesCount counts the table and its values by standing.
func AllergiesCount() Count {
	t := allergiesKnown()
	c := counted(t.Edition, 0)
	t.each(func(_, standing, _ string) {
		c.Rows++
		c.Standing[standing]++
	})
	return c
}

// each visits every row: what it is, and who vouches for it.
func (t allergyTable) each(see func(what, standing, source string)) {
	for _, x := range t.Classes {
		see("the class "+x.Name, x.Standing, x.Source)
	}
	for _, x := range t.Chains {
		see("the side chain "+x.Name+" in "+x.Position, x.Standing, x.Source)
	}
	for _, x := range t.Relations {
		see("the relation of "+unordered(x.A, x.B), x.Standing, x.Source)
	}
	for _, x := range t.Substances {
		see("the substance "+x.Name, x.Standing, x.Source)
	}
	for _, x := range slices.Concat(t.Medicines, t.Apart) {
		see("the words "+x.Name, x.Standing, x.Source)
	}
	for _, x := range t.Supplies {
		see("the supply allergen "+x.Name, x.Standing, x.Source)
	}
	for _, x := range t.Reactions {
		see("the reactions "+x.Kind, x.Standing, x.Source)
	}
}

// ParseAllergies reads a table of allergies. It refuses an empty table, a key
// it does not know, a row that stands twice or has no source and standing, a
// name that is not folded, and a relation of a class nobody lists.
func ParseAllergies(data []byte) error {
	_, err := parseAllergies(data)
	return err
}

func parseAllergies(data []byte) (allergyTable, error) {
	var t allergyTable
	if err := decodeTable("allergy", data, &t); err != nil {
		return t, err
	}
	if err := t.check(); err != nil {
		return t, fmt.Errorf("allergy table: %w", err)
	}
	return t, nil
}

func (t allergyTable) check() (err error) {
	if t.Edition == "" || len(t.Classes) == 0 || len(t.Chains) == 0 || len(t.Substances) == 0 || len(t.Supplies) == 0 || len(t.Reactions) == 0 || len(t.Apart) == 0 {
		return fmt.Errorf("no edition, or a list is empty")
	}
	seen := map[string]bool{}
	t.each(func(what, standing, source string) {
		if v := vouched(what, standing, source); v != nil && err == nil {
			err = v
		}
		if seen[what] && err == nil {
			err = fmt.Errorf("%s stands twice", what)
		}
		seen[what] = true
	})
	folded := func(what string, names []string) {
		for i, n := range names {
			if err == nil && (n == "" || n != Fold(n) || slices.Contains(names[:i], n)) {
				err = fmt.Errorf("%s: %q is empty, not folded or stands twice", what, n)
			}
		}
	}
	classes := map[string]bool{}
	for _, c := range t.Classes {
		classes[c.Name] = true
		folded(c.Name, slices.Concat(c.Members, c.Named))
		folded(c.Name, c.Words)
		if err == nil && (len(c.Members)+len(c.Named) == 0 || !slices.Contains([]string{CrossCommon, CrossSeldom}, c.Cross)) {
			err = fmt.Errorf("%s has no member, or crosses %q; use common or seldom", c.Name, c.Cross)
		}
	}
	for _, s := range t.Chains {
		folded(s.Name, s.Members)
		if err == nil && (!slices.Contains([]string{"R1", "R2"}, s.Position) || !slices.Contains([]string{"identical", "similar", "unique"}, s.Likeness) || (len(s.Members) == 1) != (s.Likeness == "unique")) {
			err = fmt.Errorf("%s is %s in %q with %d members; a unique chain has one member, any other more", s.Name, s.Likeness, s.Position, len(s.Members))
		}
	}
	for _, r := range t.Relations {
		if err == nil && (!classes[r.A] || !classes[r.B] || r.A == r.B || !slices.Contains([]string{CrossSeldom, CrossDoubtful}, r.Cross)) {
			err = fmt.Errorf("the relation of %s needs two classes of the table and seldom or doubtful", unordered(r.A, r.B))
		}
	}
	for _, s := range t.Substances {
		folded(s.Name, append([]string{s.Name}, s.Also...))
	}
	for _, s := range t.Supplies {
		folded(s.Name, s.Words)
		if err == nil && (len(s.Words) == 0 || s.Instead == "") {
			err = fmt.Errorf("%s lacks its words or what to use instead", s.Name)
		}
	}
	for _, r := range t.Reactions {
		folded(r.Kind, r.Words)
		if err == nil && !slices.Contains([]string{GraveReaction, ImmediateReaction, MildReaction, SideEffect}, r.Kind) {
			err = fmt.Errorf("reactions of kind %q; use grave, immediate, mild or effect", r.Kind)
		}
	}
	for _, w := range slices.Concat(t.Medicines, t.Apart) {
		folded(w.Name, w.Words)
	}
	return err
}
