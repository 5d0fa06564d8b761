// Command gen writes r4.txt, the table of FHIR R4 elements that the schema
// package checks documents against, from the 4.0.1 definitions in the npm
// package hl7.fhir.r4.examples (CC0-1.0).
//
//	npm pack hl7.fhir.r4.examples@4.0.1 && tar xzf *.tgz
//	go run ./conformance/schema/internal/gen package > conformance/schema/r4.txt
package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

type definition struct {
	ResourceType, Name, Kind, Type, Derivation, URL string
	Snapshot                                        struct{ Element []elementDefinition }
	Concept                                         []concept
	Compose                                         struct{ Include, Exclude []selection }
}

type selection struct {
	System   string
	Concept  []concept
	Filter   []any
	ValueSet []string
}

type elementDefinition struct {
	Path, Max, ContentReference string
	Min                         int
	Type                        []elementType
	Binding                     *struct{ Strength, ValueSet string }
}

type elementType struct {
	Code                   string
	Profile, TargetProfile []string
	Extension              []struct{ URL, ValueURL string }
}

type concept struct {
	Code    string
	Concept []concept
}

func main() {
	if len(os.Args) != 2 {
		log.Fatal("gen needs the folder of the unpacked package")
	}
	var all []definition
	for _, name := range []string{"Bundle-types.json", "Bundle-resources.json", "Bundle-valuesets.json", "Bundle-v3-valuesets.json", "Bundle-v2-valuesets.json"} {
		all = append(all, load(filepath.Join(os.Args[1], name))...)
	}
	sets, systems := map[string]definition{}, map[string][]string{}
	for _, d := range all {
		switch d.ResourceType {
		case "StructureDefinition":
			resources[d.Name] = d.Kind == "resource"
		case "ValueSet":
			sets[d.URL] = d
		case "CodeSystem":
			systems[d.URL] = flatten(d.Concept)
		}
	}
	out := bufio.NewWriter(os.Stdout)
	defer out.Flush()
	fmt.Fprintln(out, "# FHIR R4 4.0.1, from hl7.fhir.r4.examples 4.0.1 (CC0-1.0). Generated; see internal/gen.")
	used := map[string]bool{}
	for _, d := range all {
		if d.ResourceType != "StructureDefinition" || d.Kind == "logical" || d.Derivation == "constraint" && d.Name != "SimpleQuantity" {
			continue
		}
		fmt.Fprintf(out, "T\t%s\t%s\n", d.Name, d.Kind)
		if d.Kind == "primitive-type" {
			continue // its id, extension and value are written apart in JSON
		}
		for _, e := range d.Snapshot.Element[1:] {
			fmt.Fprintln(out, line(d.Name, e, used))
		}
	}
	for _, url := range sortedKeys(used) {
		if codes := expand(sets[url], systems, sets, 0); len(codes) > 0 {
			fmt.Fprintf(out, "V\t%s\t%s\n", short(url), strings.Join(codes, " "))
		}
	}
}

func load(path string) []definition {
	data, err := os.ReadFile(path)
	if err != nil {
		log.Fatal(err)
	}
	var bundle struct {
		Entry []struct{ Resource json.RawMessage }
	}
	if err := json.Unmarshal(data, &bundle); err != nil {
		log.Fatal(path, ": ", err)
	}
	var out []definition
	for _, e := range bundle.Entry {
		var kind struct{ ResourceType string }
		if err := json.Unmarshal(e.Resource, &kind); err != nil {
			log.Fatal(path, ": ", err)
		}
		if !slices.Contains([]string{"StructureDefinition", "ValueSet", "CodeSystem"}, kind.ResourceType) {
			continue
		}
		var d definition
		if err := json.Unmarshal(e.Resource, &d); err != nil {
			log.Fatal(path, ": ", err)
		}
		out = append(out, d)
	}
	return out
}

// line is "E path min max types valueset", without the type's own name.
func line(name string, e elementDefinition, used map[string]bool) string {
	_, path, _ := strings.Cut(e.Path, ".")
	var types []string
	for _, t := range e.Type {
		types = append(types, typeOf(name, path, t))
	}
	if e.ContentReference != "" {
		types = []string{e.ContentReference}
	}
	set := ""
	if e.Binding != nil && e.Binding.Strength == "required" && len(e.Type) == 1 && e.Type[0].Code == "code" {
		url, _, _ := strings.Cut(e.Binding.ValueSet, "|")
		used[url], set = true, short(url)
	}
	return strings.Join([]string{"E", path, strconv.Itoa(e.Min), e.Max, strings.Join(types, ","), set}, "\t")
}

// typeOf is the type with the resources a reference may point at. The
// definitions give the id of a resource as a plain string, a known fault of
// 4.0.1 (its page says id); SimpleQuantity is a profile there.
func typeOf(name, path string, t elementType) string {
	code := t.Code
	if _, system := strings.CutPrefix(code, "http://hl7.org/fhirpath/System."); system {
		code = "string"
		for _, x := range t.Extension {
			if strings.HasSuffix(x.URL, "/structuredefinition-fhir-type") {
				code = x.ValueURL
			}
		}
		if path == "id" && name[0] >= 'A' && name[0] <= 'Z' && resources[name] {
			code = "id"
		}
	}
	for _, p := range t.Profile {
		if strings.HasSuffix(p, "/SimpleQuantity") {
			code = "SimpleQuantity"
		}
	}
	var targets []string
	for _, p := range t.TargetProfile {
		targets = append(targets, strings.TrimPrefix(p, "http://hl7.org/fhir/StructureDefinition/"))
	}
	if len(targets) > 0 && !slices.Contains(targets, "Resource") {
		code += "(" + strings.Join(targets, "|") + ")"
	}
	return code
}

var resources = map[string]bool{}

func short(url string) string { return strings.TrimPrefix(url, "http://hl7.org/fhir/ValueSet/") }

func flatten(list []concept) []string {
	var out []string
	for _, c := range list {
		out = append(out, c.Code)
		out = append(out, flatten(c.Concept)...)
	}
	return out
}

// expand lists the codes of a value set, or none when the package does not
// hold them all.
func expand(d definition, systems map[string][]string, sets map[string]definition, depth int) []string {
	out, complete := selected(d.Compose.Include, systems, sets, depth)
	without, known := selected(d.Compose.Exclude, systems, sets, depth)
	if !complete || !known {
		return nil
	}
	slices.Sort(out)
	out = slices.Compact(out)
	return slices.DeleteFunc(out, func(code string) bool { return slices.Contains(without, code) })
}

func selected(list []selection, systems map[string][]string, sets map[string]definition, depth int) (out []string, complete bool) {
	for _, i := range list {
		switch {
		case len(i.Filter) > 0 || depth > 3:
			return nil, false
		case len(i.Concept) > 0:
			out = append(out, flatten(i.Concept)...)
		case len(i.ValueSet) > 0:
			for _, v := range i.ValueSet {
				codes := expand(sets[v], systems, sets, depth+1)
				if len(codes) == 0 {
					return nil, false
				}
				out = append(out, codes...)
			}
		default:
			if len(systems[i.System]) == 0 {
				return nil, false
			}
			out = append(out, systems[i.System]...)
		}
	}
	return out, true
}

func sortedKeys(m map[string]bool) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
