package profile

import (
	"cmp"
	_ "embed"
	"encoding/json"
	"sync"

	"weir.example/weir/mapping/element"
)

//go:embed profiles.json
var profilesFile []byte

// structure is one profile, constrained one row an element.
type structure struct {
	ID, Type, Title, Description string
	Elements                     []row
}

// row constrains one element. Slice makes it a slice told from its brothers
// by the element By (url, of an extension); Types restricts a choice; Fixed is
// a code. ID is given where it is not the path: below a slice.
type row struct {
	ID, Path, Short, Max, Slice, By, Extension, Codes, Strength, Fixed, FixedURI string
	Min                                                                          *int
	MustSupport                                                                  bool
	Types                                                                        []string
}

var structures = sync.OnceValue(func() []structure {
	var file struct{ Profiles []structure }
	must(json.Unmarshal(profilesFile, &file))
	return file.Profiles
})

func (m maker) profiles() []Resource {
	var out []Resource
	for _, s := range structures() {
		elements := []element.Value{constraint(s.Type, s.Type, element.F("short", element.Str(s.Title)), element.F("definition", element.Str(s.Description)))}
		sliced := map[string]bool{}
		for _, r := range s.Elements {
			if r.Slice != "" && !sliced[r.Path] {
				sliced[r.Path] = true
				elements = append(elements, constraint(r.Path, r.Path, element.F("slicing", element.Obj(
					element.F("discriminator", element.List(element.Obj(element.F("type", element.Str("value")), element.F("path", element.Str(cmp.Or(r.By, "url")))))),
					element.F("rules", element.Str("open"))))))
			}
			elements = append(elements, r.constraint())
		}
		out = append(out, m.head("StructureDefinition", s.ID, s.Title, s.Description,
			element.F("fhirVersion", element.Str(fhirVersion)),
			element.F("kind", element.Str("resource")),
			element.F("abstract", element.Boolean(false)),
			element.F("type", element.Str(s.Type)),
			element.F("baseDefinition", element.Str("http://hl7.org/fhir/StructureDefinition/"+s.Type)),
			element.F("derivation", element.Str("constraint")),
			element.F("differential", element.Obj(element.F("element", element.List(elements...))))))
	}
	return out
}

func (r row) constraint() element.Value {
	id := cmp.Or(r.ID, r.Path)
	if r.Slice != "" {
		id += ":" + r.Slice
	}
	fields := []element.Field{element.F("sliceName", element.Str(r.Slice)), element.F("short", element.Str(r.Short))}
	if r.Min != nil {
		fields = append(fields, element.F("min", element.Int(*r.Min)))
	}
	fields = append(fields, element.F("max", element.Str(r.Max)))
	switch {
	case r.Extension != "":
		fields = append(fields, element.F("type", element.List(element.Obj(element.F("code", element.Str("Extension")), element.F("profile", element.Strs(address(r.Extension)))))))
	case len(r.Types) > 0:
		var types []element.Value
		for _, t := range r.Types {
			types = append(types, element.Obj(element.F("code", element.Str(t))))
		}
		fields = append(fields, element.F("type", element.List(types...)))
	}
	if r.Fixed != "" {
		fields = append(fields, element.F("fixedCode", element.Str(r.Fixed)))
	}
	fields = append(fields, element.F("fixedUri", element.Str(r.FixedURI)))
	if r.MustSupport {
		fields = append(fields, element.F("mustSupport", element.Boolean(true)))
	}
	if r.Codes != "" {
		fields = append(fields, bound(r.Codes, r.Strength))
	}
	return constraint(id, r.Path, fields...)
}
