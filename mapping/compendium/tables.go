package compendium

import (
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
)

//go:embed drugs.json
var drugsFile []byte

//go:embed hazards.json
var hazardsFile []byte

// Standing says how far a value may be trusted to gate.
const (
	Sourced      = "sourced"      // seen in the named document
	Memory       = "memory"       // recalled: holds where it would block, until a site signs it
	Corroborated = "corroborated" // recalled and found again in weak support: keeps its gate, counted apart
)

// Signature is a pharmacist's signature under the tables. Nil means unsigned:
// release is refused.
type Signature struct{ By, On string }

// Tables are all reference facts of one edition, immutable once loaded.
type Tables struct {
	Edition       string
	HazardEdition string
	Drugs         []Drug
	Hazards       []Hazard
	Signed        *Signature
	Hash          string // SHA-256 of the files, hex
	byCode        map[string]int
	byName        map[string]int
	hazardByCode  map[string]int
	hazardByName  map[string]int
}

// Embedded returns the tables shipped with the program. They are unsigned.
var Embedded = sync.OnceValue(func() *Tables {
	t, err := Load(drugsFile, hazardsFile)
	if err != nil {
		panic(err) // a fault of this build, caught by the first test
	}
	return t
})

// DrugsFile returns the embedded drug table, for the schema check.
func DrugsFile() []byte { return drugsFile }

// HazardsFile returns the embedded hazardous-drug table.
func HazardsFile() []byte { return hazardsFile }

// Load reads the two files. It refuses an empty table, a name or code that
// stands twice, and a fact without source or standing.
func Load(drugs, hazards []byte) (*Tables, error) {
	var d struct {
		Edition string
		Drugs   []Drug
	}
	var h struct {
		Edition string
		Rows    []Hazard
	}
	if err := json.Unmarshal(drugs, &d); err != nil {
		return nil, fmt.Errorf("drug table: %w", err)
	}
	if err := json.Unmarshal(hazards, &h); err != nil {
		return nil, fmt.Errorf("hazardous-drug table: %w", err)
	}
	if len(d.Drugs) == 0 || len(h.Rows) == 0 || d.Edition == "" || h.Edition == "" {
		return nil, fmt.Errorf("reference tables: empty table or no edition")
	}
	t := &Tables{Edition: d.Edition, HazardEdition: h.Edition, Drugs: d.Drugs, Hazards: h.Rows,
		byCode: map[string]int{}, byName: map[string]int{}, hazardByCode: map[string]int{}, hazardByName: map[string]int{}}
	sum := sha256.New()
	sum.Write(drugs)
	sum.Write(hazards)
	sum.Write(solutesFile)
	t.Hash = hex.EncodeToString(sum.Sum(nil))
	for i, drug := range t.Drugs {
		if err := drug.check(); err != nil {
			return nil, err
		}
		for _, name := range append([]string{drug.Name}, drug.Synonyms...) {
			if err := index(t.byName, Fold(name), i); err != nil {
				return nil, err
			}
		}
		if err := index(t.byCode, drug.Codes.RxNorm, i); err != nil {
			return nil, err
		}
	}
	for i, row := range t.Hazards {
		if row.Name == "" || row.Table == "" || row.Standing == "" || row.Source == "" {
			return nil, fmt.Errorf("hazardous-drug table: row %d lacks name, table, standing or source", i+1)
		}
		if !slices.Contains([]string{"1", "2", "none", "unknown"}, row.Table) || !slices.Contains([]string{Sourced, Corroborated, Memory}, row.Standing) {
			return nil, fmt.Errorf("hazardous-drug table: row %d (%s) has table %q and standing %q; use table 1, 2, none or unknown and standing sourced, corroborated or memory", i+1, row.Name, row.Table, row.Standing)
		}
		if err := index(t.hazardByName, Fold(row.Name), i); err != nil {
			return nil, err
		}
		if err := index(t.hazardByCode, row.RxNorm, i); err != nil {
			return nil, err
		}
	}
	return t, nil
}

func index(m map[string]int, key string, at int) error {
	if key == "" {
		return nil
	}
	if other, taken := m[key]; taken && other != at {
		return fmt.Errorf("reference tables: %q names two rows", key)
	}
	m[key] = at
	return nil
}

// Fold is how names are compared: lower case, single blanks. Nothing fuzzy:
// a near match is no match.
func Fold(name string) string { return strings.Join(strings.Fields(strings.ToLower(name)), " ") }

// RxNorm is the code system of ingredient codes in FHIR.
const RxNorm = "http://www.nlm.nih.gov/research/umls/rxnorm"

// Drug finds a row by RxNorm ingredient code, else by an exact listed name.
// It answers false when neither matches or when code and name point at
// different rows.
func (t *Tables) Drug(rxnorm string, names ...string) (Drug, bool) {
	at, found := -1, false
	if i, ok := t.byCode[rxnorm]; ok && rxnorm != "" {
		at, found = i, true
	}
	for _, n := range names {
		if i, ok := t.byName[Fold(n)]; ok {
			if found && i != at {
				return Drug{}, false
			}
			at, found = i, true
		}
	}
	if !found {
		return Drug{}, false
	}
	return t.Drugs[at], true
}
