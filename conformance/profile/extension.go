package profile

import (
	_ "embed"
	"encoding/json"
	"sync"

	"weir.example/weir/mapping/element"
)

//go:embed extensions.json
var extensionsFile []byte

// extension is one row: simple with a Type, or of Parts. Codes names the
// value set of a code, Targets the types a reference may lead to.
type extension struct {
	ID, Title, Description, Type, Codes string
	Context, Targets                    []string
	Parts                               []part
	Many                                bool
}

type part struct {
	Name, Type, Short, Codes, Max string
	Min                           int
	Targets                       []string
}

var rows = sync.OnceValue(func() []extension {
	var file struct{ Extensions []extension }
	must(json.Unmarshal(extensionsFile, &file))
	return file.Extensions
})

func address(id string) string { return Canonical + "StructureDefinition/" + id }

func (m maker) extensions() []Resource {
	var out []Resource
	for _, x := range rows() {
		var context []element.Value
		for _, c := range x.Context {
			context = append(context, element.Obj(element.F("type", element.Str("element")), element.F("expression", element.Str(c))))
		}
		out = append(out, m.head("StructureDefinition", x.ID, x.Title, x.Description,
			element.F("fhirVersion", element.Str(fhirVersion)),
			element.F("kind", element.Str("complex-type")),
			element.F("abstract", element.Boolean(false)),
			element.F("context", element.List(context...)),
			element.F("type", element.Str("Extension")),
			element.F("baseDefinition", element.Str("http://hl7.org/fhir/StructureDefinition/Extension")),
			element.F("derivation", element.Str("constraint")),
			element.F("differential", element.Obj(element.F("element", element.List(x.elements()...))))))
	}
	return out
}

// elements are the differential of an extension
// (https://hl7.org/fhir/R4/defining-extensions.html).
func (x extension) elements() []element.Value {
	most := "1"
	if x.Many {
		most = "*"
	}
	out := []element.Value{constraint("Extension", "Extension", element.F("short", element.Str(x.Title)), element.F("definition", element.Str(x.Description)),
		element.F("min", element.Int(0)), element.F("max", element.Str(most)))}
	url := constraint("Extension.url", "Extension.url", element.F("fixedUri", element.Str(address(x.ID))))
	if len(x.Parts) == 0 {
		return append(out, constraint("Extension.extension", "Extension.extension", element.F("max", element.Str("0"))), url,
			constraint("Extension.value[x]", "Extension.value[x]", append([]element.Field{element.F("min", element.Int(1))}, typed(x.Type, x.Codes, x.Targets)...)...))
	}
	for _, p := range x.Parts {
		id := "Extension.extension:" + p.Name
		out = append(out,
			constraint(id, "Extension.extension", element.F("sliceName", element.Str(p.Name)), element.F("short", element.Str(p.Short)), element.F("min", element.Int(p.Min)), element.F("max", element.Str(p.Max))),
			constraint(id+".extension", "Extension.extension.extension", element.F("max", element.Str("0"))),
			constraint(id+".url", "Extension.extension.url", element.F("fixedUri", element.Str(p.Name))),
			constraint(id+".value[x]", "Extension.extension.value[x]", append([]element.Field{element.F("min", element.Int(1))}, typed(p.Type, p.Codes, p.Targets)...)...))
	}
	return append(out, url, constraint("Extension.value[x]", "Extension.value[x]", element.F("max", element.Str("0"))))
}

func constraint(id, path string, fields ...element.Field) element.Value {
	return element.Obj(append([]element.Field{element.F("id", element.Str(id)), element.F("path", element.Str(path))}, fields...)...)
}

// typed is the type of a value, with its targets and the codes it is bound to.
func typed(kind, codes string, targets []string) []element.Field {
	t := element.Obj(element.F("code", element.Str(kind)))
	var profiles []string
	for _, x := range targets {
		profiles = append(profiles, "http://hl7.org/fhir/StructureDefinition/"+x)
	}
	t = t.With(element.F("targetProfile", element.Strs(profiles...)))
	out := []element.Field{element.F("type", element.List(t))}
	if codes != "" {
		out = append(out, bound(codes, "required"))
	}
	return out
}

func bound(codes, strength string) element.Field {
	return element.F("binding", element.Obj(element.F("strength", element.Str(strength)), element.F("valueSet", element.Str(valueSet(codes)))))
}
