//go:build ignore

// Command dump writes what the judges judge into a folder: our conformance
// resources under definitions; the answer to every order of testdata/orders,
// at release and for the base cases at pack, under resources; and answers
// with one fault each (seeds.json) under seeded, with what our own reader and
// google/fhir say of them in own.tsv.
package main

import (
	"encoding/json"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/profile"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/testdata/orders"
)

var folder string

func main() {
	log.SetFlags(0)
	folder = os.Args[1]
	for _, r := range profile.Resources(conformance.Version) {
		put("definitions/"+r.Name(), r.JSON())
		put("resources/"+r.Name(), r.JSON())
	}
	text, err := os.ReadFile("testdata/orders/policy-lanternlight.yaml")
	check(err)
	site, err := policy.Load(text)
	check(err)
	ref := policy.Reference{Tables: compendium.Embedded(), Policy: site, Zones: schedule.LoadZones()}
	n := 0
	answers := map[string][]byte{}
	for _, f := range orders.All() {
		stages := []finding.Stage{finding.Release}
		if f.Base == "" {
			stages = append(stages, finding.Pack)
		}
		for _, at := range stages {
			j := conformance.Judge(conformance.Input{Document: f.Document, Now: f.Now, Stage: at, Reference: ref})
			if len(j.Worksheets) == 0 {
				put("resources/"+f.Name+"-refused.json", r4.WriteOutcome(j.Faults))
			}
			for i, w := range j.Worksheets {
				n++
				answer := r4.WriteBundle(w)
				put(fmt.Sprintf("resources/%s-%d-%s.json", f.Name, i, at), answer)
				if at == finding.Release && i == 0 {
					answers[f.Name] = answer
				}
			}
		}
	}
	log.Printf("%d answers, %d answers with a fault", n, seeds(answers))
}

// seed is one fault: the element at Path of the first resource of Type in the
// answer to In is set or deleted.
type seed struct {
	Name, In, Type, Path string
	Value                any
	Delete               bool
}

func seeds(answers map[string][]byte) int {
	file, err := os.ReadFile(".ci/judges/seeds.json")
	check(err)
	var list []seed
	check(json.Unmarshal(file, &list))
	var own strings.Builder
	for _, s := range list {
		var bundle map[string]any
		check(json.Unmarshal(answers[s.In], &bundle))
		if !s.apply(resource(bundle, s.Type)) {
			log.Fatalf("%s: no %s at %s", s.Name, s.Path, s.Type)
		}
		out, err := json.Marshal(bundle)
		check(err)
		put("seeded/"+s.Name+".json", out)
		doc, faults := element.Read(out, element.Limit{})
		google := "missed"
		if len(googlefhir.Judge(doc)) > 0 {
			google = "caught"
		}
		ours := "missed"
		if len(faults) > 0 || len(schema.Check(doc)) > 0 {
			ours = "caught"
		}
		fmt.Fprintf(&own, "%s.json\tours %s\tgoogle/fhir %s\n", s.Name, ours, google)
	}
	put("own.tsv", []byte(own.String()))
	return len(list)
}

func resource(bundle map[string]any, kind string) any {
	if kind == "Bundle" {
		return bundle
	}
	for _, e := range bundle["entry"].([]any) {
		if r := e.(map[string]any)["resource"].(map[string]any); r["resourceType"] == kind {
			return r
		}
	}
	return nil
}

// apply follows the path, names and places of lists, and reports whether it
// leads somewhere.
func (s seed) apply(at any) bool {
	steps := strings.Split(s.Path, ".")
	for i, step := range steps {
		last := i == len(steps)-1
		switch x := at.(type) {
		case map[string]any:
			if _, ok := x[step]; last && s.Delete {
				delete(x, step)
				return ok
			}
			if last {
				x[step] = s.Value
				return true
			}
			at = x[step]
		case []any:
			n, err := strconv.Atoi(step)
			if err != nil || n >= len(x) {
				return false
			}
			at = x[n]
		default:
			return false
		}
	}
	return false
}

func put(name string, data []byte) {
	path := filepath.Join(folder, name)
	check(os.MkdirAll(filepath.Dir(path), 0o755))
	check(os.WriteFile(path, data, 0o644))
}

func check(err error) {
	if err != nil {
		log.Fatal(err)
	}
}
