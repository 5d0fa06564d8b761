package compendium

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"

	"weir.example/weir/mapping/quantity"
)

//go:embed edition.json drugs/*.json hazards.json
var shipped embed.FS

// Standing says how far a value may be trusted to gate.
const (
	Sourced       = "sourced"      // seen in the named document
	Memory        = "memory"       // recalled: holds where it would block, until a site signs it
	Corroborated  = "corroborated" // recalled and found again in weak support: keeps its gate, counted apart
	LocalStanding = "local"        // the site's own, with who decided it
)

// Tables are all reference facts about drugs of one edition, immutable once
// loaded. The tables of devices, lines, sterility, pairs, interactions, solutes
// and allergies have look-ups of their own in this package, which always ask the
// shipped files: those of another edition are checked, hashed and compared
// (see AskedAsShipped), and no look-up reads them.
type Tables struct {
	Edition       string
	HazardEdition string
	ReviewedUntil string // the year to which approvals were reviewed for the hazardous list
	Drugs         []Drug
	Hazards       []Hazard
	Hash          string            // SHA-256 over all files, hex
	Hashes        map[string]string // the same for each table by name: drugs, hazards, …
	index
	about // members of the files that no look-up asks
	rest
}

// about are words and editions that stand beside the rows.
type about struct {
	notice                                string // of edition.json
	reviewedApprovals, antineoplasticWord string // of hazards.json
}

// rest are the tables of this edition that have look-ups of their own.
type rest struct {
	devices      deviceTable
	access       accessTable
	sterility    sterilityTable
	pairs        pairTable
	interactions interactionTable
	solutes      soluteFile
	allergies    allergyTable
}

// soluteFile is the whole file of solutes, with what only people read.
type soluteFile struct {
	Edition, Notice string
	Solutes         []struct {
		Solute
		Formula string
	}
}

// Embedded returns the tables shipped with the program.
var Embedded = sync.OnceValue(func() *Tables {
	t, err := Load(Shipped())
	if err != nil {
		panic(err) // a fault of this build, caught by the first test
	}
	return t
})

// Files are the files of an edition by name: edition.json, hazards.json,
// drugs/NAME.json for each drug, and one file for each other table.
type Files map[string][]byte

// singles are the tables in one file of their own, beside drugs and hazards.
var singles = []string{"devices", "access", "sterility", "pairs", "interactions", "solutes", "allergies"}

// check names every file that is missing and every one that belongs to no
// table: a file that is passed over is a table that somebody believes is in
// force.
func (f Files) check() error {
	var faults []string
	need := []string{"edition.json", "hazards.json"}
	for _, name := range singles {
		need = append(need, name+".json")
	}
	for _, name := range need {
		if _, ok := f[name]; !ok {
			faults = append(faults, "the file "+name+" is missing")
		}
	}
	if len(f.Drugs()) == 0 {
		faults = append(faults, "no file of a drug (drugs/NAME.json)")
	}
	for _, name := range slices.Sorted(maps.Keys(f)) {
		drug := path.Dir(name) == "drugs" && path.Ext(name) == ".json"
		if !drug && !slices.Contains(need, name) {
			faults = append(faults, fmt.Sprintf("the file %s belongs to no table", name))
		}
	}
	if len(faults) == 0 {
		return nil
	}
	return fmt.Errorf("reference tables: %s; need %s and drugs/NAME.json for each drug, and nothing else", strings.Join(faults, "; "), strings.Join(need, ", "))
}

// Shipped are the embedded files.
func Shipped() Files {
	out := Files{}
	add := func(name string) {
		data, err := shipped.ReadFile(name)
		if err != nil {
			panic(err) // an embedded file can be read
		}
		out[name] = data
	}
	add("edition.json")
	add("hazards.json")
	for name, data := range others() {
		out[name+".json"] = data
	}
	entries, _ := shipped.ReadDir("drugs") // an embedded folder can be read
	for _, e := range entries {
		add("drugs/" + e.Name())
	}
	return out
}

// HazardsFile returns the embedded hazardous-drug table.
func HazardsFile() []byte { return Shipped()["hazards.json"] }

// Drugs are the names of the files of drugs, sorted.
func (f Files) Drugs() []string {
	var names []string
	for name := range f {
		if path.Dir(name) == "drugs" && path.Ext(name) == ".json" {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// Load reads an edition: edition.json, hazards.json, a file for each drug in
// drugs, and the other tables. It refuses a file that is missing or belongs
// to no table, an empty table, a name or code that stands twice, a key it
// does not know, and a fact without source or standing.
func Load(from Files) (*Tables, error) {
	if err := from.check(); err != nil {
		return nil, err
	}
	var head struct{ Edition, Notice string }
	if err := read(from, "edition.json", &head); err != nil {
		return nil, err
	}
	var list struct {
		Edition, ReviewedApprovals, ReviewedUntil, AntineoplasticWord string
		Rows                                                          []Hazard
	}
	if err := read(from, "hazards.json", &list); err != nil {
		return nil, err
	}
	t := &Tables{Edition: head.Edition, HazardEdition: list.Edition, ReviewedUntil: list.ReviewedUntil, Hazards: list.Rows}
	names := from.Drugs()
	t.about = about{notice: head.Notice, reviewedApprovals: list.ReviewedApprovals, antineoplasticWord: list.AntineoplasticWord}
	if err := t.rest.read(from); err != nil {
		return nil, err
	}
	for _, name := range names {
		var d Drug
		if err := read(from, name, &d); err != nil {
			return nil, err
		}
		t.Drugs = append(t.Drugs, d)
	}
	if len(t.Hazards) == 0 || t.Edition == "" || t.HazardEdition == "" || t.ReviewedUntil == "" {
		return nil, fmt.Errorf("reference tables: empty table, no edition or no end of the review")
	}
	if err := t.check(); err != nil {
		return nil, err
	}
	if err := t.build(); err != nil {
		return nil, err
	}
	t.seal(from, names)
	return t, nil
}

func (r *rest) read(from Files) (err error) {
	if r.devices, err = parseDevices(from["devices.json"]); err != nil {
		return err
	}
	if r.access, err = parseAccess(from["access.json"]); err != nil {
		return err
	}
	if r.sterility, err = parseSterility(from["sterility.json"]); err != nil {
		return err
	}
	if r.pairs, err = parsePairs(from["pairs.json"]); err != nil {
		return err
	}
	if r.interactions, err = parseInteractions(from["interactions.json"]); err != nil {
		return err
	}
	if r.solutes, err = parseSolutes(from["solutes.json"]); err != nil {
		return err
	}
	r.allergies, err = parseAllergies(from["allergies.json"])
	return err
}

// check refuses a table by which no osmolarity could be worked out.
func (f soluteFile) check() error {
	if f.Edition == "" || len(f.Solutes) == 0 {
		return fmt.Errorf("solute table: no edition or no row")
	}
	seen := map[string]bool{}
	for _, s := range f.Solutes {
		if err := vouched("the solute "+s.Name, s.Standing, s.Source); err != nil {
			return fmt.Errorf("solute table: %w", err)
		}
		for _, n := range []string{s.MolarMass, s.Particles} {
			if v, err := quantity.ParseNumber(n); err != nil || v.Sign() < 0 || n == s.MolarMass && v.Sign() == 0 {
				return fmt.Errorf("solute table: %s has molar mass %q and particles %q; need numbers, in g/mol above 0 and in osmoles per mole", s.Name, s.MolarMass, s.Particles)
			}
		}
		for _, n := range append([]string{s.Name}, s.Also...) {
			if n == "" || n != Fold(n) || seen[n] {
				return fmt.Errorf("solute table: the name %q of %s is empty, not folded or stands twice", n, s.Name)
			}
			seen[n] = true
		}
	}
	return nil
}

// read decodes one file and refuses what it does not know: a key that is
// passed over is a fact that is lost.
func read(from Files, name string, into any) error {
	data, ok := from[name]
	if !ok {
		return fmt.Errorf("reference tables: the file %s is missing", name)
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return fmt.Errorf("reference tables: %s: %w", name, err)
	}
	if d.More() {
		return fmt.Errorf("reference tables: %s: something follows the first value", name)
	}
	return nil
}

func (t *Tables) check() error {
	ids := map[string]string{}
	for _, d := range t.Drugs {
		if err := d.check(); err != nil {
			return err
		}
		for _, f := range d.Facts {
			if other, taken := ids[f.ID]; taken {
				return fmt.Errorf("drug table: the fact id %q stands at %s and at %s", f.ID, other, d.Name)
			}
			ids[f.ID] = d.Name
		}
	}
	for i, row := range t.Hazards {
		switch {
		case row.Name == "" || row.Table == "" || row.Standing == "" || row.Source == "":
			return fmt.Errorf("hazardous-drug table: row %d lacks name, table, standing or source", i+1)
		case !slices.Contains([]string{"1", "2", "none", "unknown"}, row.Table) || !slices.Contains([]string{Sourced, Corroborated, Memory}, row.Standing):
			return fmt.Errorf("hazardous-drug table: row %d (%s) has table %q and standing %q; use table 1, 2, none or unknown and standing sourced, corroborated or memory", i+1, row.Name, row.Table, row.Standing)
		}
	}
	return nil
}

// seal hashes each table and all of them. A drug's file counts with its
// name, so that moving a row to another file is a change too.
func (t *Tables) seal(from Files, drugs []string) {
	hash := func(names ...string) string {
		sum := sha256.New()
		for _, name := range names {
			data := from[name]
			fmt.Fprintf(sum, "%s %d\n", path.Base(name), len(data))
			sum.Write(data)
		}
		return hex.EncodeToString(sum.Sum(nil))
	}
	t.Hashes = map[string]string{"drugs": hash(append([]string{"edition.json"}, drugs...)...), "hazards": hash("hazards.json")}
	for _, name := range singles {
		sum := sha256.Sum256(from[name+".json"])
		t.Hashes[name] = hex.EncodeToString(sum[:])
	}
	t.Hash = Seal(t.Hashes)
}

// Seal is one hash over the hashes of several tables.
func Seal(hashes map[string]string) string {
	names := make([]string, 0, len(hashes))
	for n := range hashes {
		names = append(names, n)
	}
	slices.Sort(names)
	sum := sha256.New()
	for _, n := range names {
		fmt.Fprintf(sum, "%s %s\n", n, hashes[n])
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// File is the file of a table other than drugs, as it is signed; false for
// a name that is none.
func File(table string) ([]byte, bool) {
	if table == "hazards" {
		return HazardsFile(), true
	}
	data, ok := others()[table]
	return data, ok
}

// others are the tables that are not read from a folder.
func others() map[string][]byte {
	return map[string][]byte{"solutes": solutesFile, "devices": devicesFile, "access": accessFile, "sterility": sterilityFile,
		"pairs": pairsFile, "interactions": interactionsFile, "allergies": allergiesFile}
}

// Fold is how names are compared: lower case, single blanks. Nothing fuzzy:
// a near match is no match.
func Fold(name string) string { return strings.Join(strings.Fields(strings.ToLower(name)), " ") }
