package profile

import (
	"cmp"
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
)

// Canonical is the base of every address here.
const Canonical = "https://weir.example/fhir/"

// Edition is the day the definitions last changed, as FHIR writes a date.
const Edition = "2026-11-26"

const fhirVersion = "4.0.1"

// Resource is one conformance resource. Kind is its FHIR type.
type Resource struct {
	Kind, ID string
	value    element.Value
}

// Name is the file name a FHIR package gives it.
func (r Resource) Name() string { return r.Kind + "-" + r.ID + ".json" }

// URL is its canonical address.
func (r Resource) URL() string { return Canonical + r.Kind + "/" + r.ID }

// Value is the resource, to be written.
func (r Resource) Value() element.Value { return r.value }

// JSON is the resource, indented, the same bytes each time.
func (r Resource) JSON() []byte { return element.Encode(r.value) }

// Resources are all conformance resources of a program version, in the order
// of their names.
func Resources(version string) []Resource {
	m := maker{version}
	out := slices.Concat(m.systems(), m.extensions(), m.profiles(), m.searches(), []Resource{m.operation()}, m.messages(), []Resource{m.capability()})
	slices.SortFunc(out, func(a, b Resource) int { return cmp.Compare(a.Name(), b.Name()) })
	return out
}

// maker makes resources of one version.
type maker struct{ version string }

// head is what every conformance resource begins with.
func (m maker) head(kind, id, title, description string, more ...element.Field) Resource {
	fields := []element.Field{
		element.F("resourceType", element.Str(kind)),
		element.F("id", element.Str(id)),
		element.F("url", element.Str(Canonical+kind+"/"+id)),
		element.F("version", element.Str(m.version)),
		element.F("name", element.Str(computable(id))),
		element.F("title", element.Str(title)),
		element.F("status", element.Str("active")),
		element.F("experimental", element.Boolean(false)),
		element.F("date", element.Str(Edition)),
		element.F("publisher", element.Str("Weir")),
		element.F("description", element.Str(description)),
	}
	return Resource{kind, id, element.Obj(append(fields, more...)...)}
}

// computable turns an id with hyphens into a name for programs: InfusionDevice.
func computable(id string) string {
	var out strings.Builder
	for _, part := range strings.Split(id, "-") {
		out.WriteString(strings.ToUpper(part[:1]) + part[1:])
	}
	return out.String()
}
