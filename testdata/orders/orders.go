// Package orders holds the seven shared scenarios as FHIR R4 Bundles, and
// variants of them: a base case and the few elements that differ. It is for
// tests only. Every person, place, record number and order in it is invented.
//
// The documents follow https://hl7.org/fhir/R4/bundle.html; README.md beside
// this file describes the text of a case and of a variant. The folder is
// named testdata, so `./...` passes it by: name it, `go test ./testdata/orders`.
package orders

import (
	"embed"
	"fmt"
	"path"
	"slices"
	"strings"
	"sync"
	"time"
)

//go:embed s*/*.json s*/case*.txt variants/*.variant
var files embed.FS

// Fixture is one document with the clock and the stage to judge it at, why it
// exists and what must come of it.
type Fixture struct {
	Name         string
	Why          string
	Source       string // where its numbers come from
	Base         string // the case it was made from; empty for a base case
	Now          time.Time
	Stage        string // intake release pack dispatch start close
	StandingLock bool   // the site policy has a signed standing lock protocol
	Document     []byte // FHIR R4 JSON
	Expect       []Expectation
}

// Load gives the base case or the variant called name.
func Load(name string) (Fixture, error) {
	all, err := load()
	if err != nil {
		return Fixture{}, err
	}
	i := slices.IndexFunc(all, func(f Fixture) bool { return f.Name == name })
	if i < 0 {
		return Fixture{}, fmt.Errorf("orders: no case and no variant is called %q", name)
	}
	return all[i].clone(), nil
}

// All gives every base case and every variant, ordered by name. It panics
// when a file in this folder is wrong, as a test is then wrong too.
func All() []Fixture {
	all, err := load()
	if err != nil {
		panic(err)
	}
	out := make([]Fixture, len(all))
	for i, f := range all {
		out[i] = f.clone()
	}
	return out
}

// Variant makes a fixture from the text of a variant, so that a test can
// write a small change where it uses it. The text is that of a .variant file;
// base may name a base case or a variant in this folder.
func Variant(name, text string) (Fixture, error) {
	return derive(name, text, Load)
}

// At gives the expectations that hold at the stage given.
func (f Fixture) At(stage string) []Expectation {
	var out []Expectation
	for _, e := range f.Expect {
		if e.Stage == stage {
			out = append(out, e)
		}
	}
	return out
}

// Stages lists the stages at which something is expected, the fixture's own
// first.
func (f Fixture) Stages() []string {
	out := []string{f.Stage}
	for _, e := range f.Expect {
		if !slices.Contains(out, e.Stage) {
			out = append(out, e.Stage)
		}
	}
	return out
}

func (f Fixture) clone() Fixture {
	f.Document = slices.Clone(f.Document)
	f.Expect = slices.Clone(f.Expect)
	return f
}

// load reads the embedded files once.
var load = sync.OnceValues(func() ([]Fixture, error) {
	var all []Fixture
	texts, err := files.ReadDir(".")
	if err != nil {
		return nil, err
	}
	for _, dir := range texts {
		if dir.Name() == "variants" {
			continue
		}
		cases, err := readCases(dir.Name())
		if err != nil {
			return nil, err
		}
		all = append(all, cases...)
	}
	all, err = readVariants(all)
	if err != nil {
		return nil, err
	}
	slices.SortFunc(all, func(a, b Fixture) int { return strings.Compare(a.Name, b.Name) })
	return all, nil
})

// readCases reads a scenario's folder. case.txt belongs to FOLDER.json, and
// case-X.txt to FOLDER-X.json, a later document of the same scenario.
func readCases(dir string) ([]Fixture, error) {
	entries, err := files.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var out []Fixture
	for _, e := range entries {
		suffix, ok := strings.CutPrefix(e.Name(), "case")
		if !ok {
			continue
		}
		name := dir + strings.TrimSuffix(suffix, ".txt")
		text, err := files.ReadFile(path.Join(dir, e.Name()))
		if err != nil {
			return nil, err
		}
		f := Fixture{Name: name, Stage: "release", StandingLock: true}
		edits, err := f.read(string(text))
		if err == nil && len(edits) > 0 {
			err = fmt.Errorf("a base case has no edits: line %d", edits[0].line)
		}
		if err == nil {
			f.Document, err = files.ReadFile(path.Join(dir, name+".json"))
		}
		if err == nil {
			err = f.complete()
		}
		if err != nil {
			return nil, fmt.Errorf("orders: %s/%s: %w", dir, e.Name(), err)
		}
		out = append(out, f)
	}
	return out, nil
}

// readVariants adds the variants to the base cases. A variant may rest on
// another one, so each is made when what it rests on is there.
func readVariants(all []Fixture) ([]Fixture, error) {
	entries, err := files.ReadDir("variants")
	if err != nil {
		return nil, err
	}
	texts := map[string]string{}
	for _, e := range entries {
		data, err := files.ReadFile(path.Join("variants", e.Name()))
		if err != nil {
			return nil, err
		}
		texts[strings.TrimSuffix(e.Name(), ".variant")] = string(data)
	}
	made := map[string]Fixture{}
	for _, f := range all {
		if _, twice := texts[f.Name]; twice {
			return nil, fmt.Errorf("orders: %s names a case and a variant", f.Name)
		}
		made[f.Name] = f
	}
	var get func(name string, above []string) (Fixture, error)
	get = func(name string, above []string) (Fixture, error) {
		if f, ok := made[name]; ok {
			return f, nil
		}
		text, ok := texts[name]
		if !ok || slices.Contains(above, name) {
			return Fixture{}, fmt.Errorf("orders: no case %q to rest on", name)
		}
		f, err := derive(name, text, func(base string) (Fixture, error) {
			return get(base, append(above, name))
		})
		if err == nil {
			made[name] = f
			all = append(all, f)
		}
		return f, err
	}
	for _, e := range entries {
		if _, err := get(strings.TrimSuffix(e.Name(), ".variant"), nil); err != nil {
			return nil, err
		}
	}
	return all, nil
}
