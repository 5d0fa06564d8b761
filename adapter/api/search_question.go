package api

import (
	"net/http"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
)

// question is a search that was read and holds no fault.
type question struct {
	kind  string
	base  string // of our addresses: a reference may be given in full
	kept  []pair // the parameters that were used, as they were sent
	query adapter.Query
	count int
	// named are identifiers of patients, one criterion each: the patients
	// that have them are looked up when the question is asked.
	named      []adapter.Criterion
	includes   []include
	revinclude bool
	values     int // given in all
}

// include asks for what the parameter of a match refers to, of one type when
// target is not "".
type include struct{ parameter, target string }

// common are the parameters of every type.
var common = []index.Parameter{{Name: "_id", Kind: "id"}, {Name: "_lastUpdated", Kind: "date"}}

// parameterOf finds a search parameter of a type.
func parameterOf(kind, name string) (index.Parameter, bool) {
	for _, p := range slices.Concat(common, index.Parameters(kind)) {
		if p.Name == name {
			return p, true
		}
	}
	return index.Parameter{}, false
}

func unknownParameter() *refusal {
	return &refusal{status: http.StatusBadRequest, issue: "not-supported", code: "parameter-unknown", what: "a parameter of the search is not known here", todo: "Client: read the parameters at /fhir/metadata, or send Prefer: handling=lenient to have what is unknown ignored."}
}

// ask reads the parameters of a search. What is not known is refused or, when
// lenient, left out of the question and of its address; what is known but
// malformed is refused always.
func ask(base, kind string, list []pair, lenient bool) (question, *refusal) {
	q := question{kind: kind, base: base, query: adapter.Query{Type: kind}}
	var counts []string
	sorted := false
	for _, p := range list {
		base, modifier := p.split()
		var x *refusal
		switch base {
		case "_count":
			counts = append(counts, p.value)
		case "_sort":
			if sorted {
				x = malformed("_sort", "there are two orders", "Client: send one _sort.")
			} else {
				sorted = true
				x = q.sort(p.value)
			}
		case "_include", "_revinclude":
			x = q.include(base, p.value)
		default:
			known := false
			if known, x = q.add(base, modifier, p.value); !known {
				if lenient {
					continue
				}
				return q, unknownParameter()
			}
			modifier = ""
		}
		if x == nil && modifier != "" {
			x = unknownModifier(base)
		}
		if x != nil {
			return q, x
		}
		q.kept = append(q.kept, p)
	}
	var x *refusal
	q.count, x = countOf(counts, kind != auditEvent)
	return q, x
}

// sort reads one key, descending after a minus.
func (q *question) sort(value string) *refusal {
	name, down := strings.CutPrefix(value, "-")
	p, ok := parameterOf(q.kind, name)
	if !ok || name == "identifier" || q.kind == "Provenance" && name == "patient" {
		return malformed("_sort", "this order is not offered", "Client: send one search parameter of the type, after a minus for descending; not identifier.")
	}
	q.query.Sort = adapter.Sort{Name: name, ByTime: p.Kind == "date", Descending: down}
	return nil
}

// include reads _include=Type:parameter, with the type it leads to as a third
// part if need be, and _revinclude=Provenance:target.
func (q *question) include(name, value string) *refusal {
	if name == "_revinclude" {
		if value != "Provenance:target" {
			return malformed(name, "this is not offered", "Client: send Provenance:target.")
		}
		q.revinclude = true
		return nil
	}
	parts := strings.Split(value, ":")
	p, ok := index.Parameter{}, false
	if len(parts) == 2 || len(parts) == 3 {
		p, ok = parameterOf(q.kind, parts[1])
	}
	if !ok || parts[0] != q.kind || p.Kind != "reference" {
		return malformed(name, "this cannot be included", "Client: send the type searched for, a colon and one of its parameters of type reference; a wildcard is not offered.")
	}
	one := include{parameter: p.Name}
	if len(parts) == 3 {
		if one.target = parts[2]; !leads(p, one.target) {
			return malformed(name, "the parameter does not lead to that type", "Client: read its targets in FHIR R4.")
		}
	}
	q.includes = append(q.includes, one)
	return nil
}

// leads says whether a reference parameter may lead to a type.
func leads(p index.Parameter, kind string) bool {
	if p.Only != "" {
		return kind == p.Only
	}
	return len(p.Targets) == 0 && kind != "" || slices.Contains(p.Targets, kind)
}

func unknownModifier(at string) *refusal {
	return &refusal{status: http.StatusBadRequest, issue: "not-supported", code: "parameter-malformed", what: "the parameter does not have this modifier here", todo: "Client: leave the modifier out.", at: at}
}

// add adds a criterion; false when the parameter is not known.
func (q *question) add(base, modifier, value string) (known bool, x *refusal) {
	chained := ""
	if modifier == "" {
		base, chained, _ = strings.Cut(base, ".")
	}
	p, ok := parameterOf(q.kind, base)
	if !ok || chained != "" && (chained != "identifier" || p.Only != "Patient") {
		return false, nil
	}
	at := base
	parts := choices(value)
	if q.values += len(parts); q.values > mostChoices {
		return true, tooCostly("there are more values than are compared")
	}
	if p.Kind == "reference" {
		for i := range parts {
			parts[i] = strings.TrimPrefix(parts[i], q.base)
		}
	}
	if chained != "" {
		identifier, _ := parameterOf("Patient", "identifier")
		c, x := criterion(identifier, "", parts, at)
		if x != nil {
			return true, x
		}
		c.Name = base
		q.named = append(q.named, c)
		return true, nil
	}
	if q.kind == auditEvent && (base == "agent" || base == "entity") {
		c, x := auditName(p, modifier, parts)
		q.query.All = append(q.query.All, c)
		return true, x
	}
	c, x := criterion(p, modifier, parts, at)
	if x != nil {
		return true, x
	}
	if q.kind == "Provenance" && p.Name == "patient" {
		ofPatient(&c)
	}
	q.query.All = append(q.query.All, c)
	return true, nil
}

// ofPatient asks for the patient a resource belongs to. A Provenance of ours
// names what was made for the patient, hardly ever the patient.
func ofPatient(c *adapter.Criterion) {
	c.Name = "_patient"
	for i := range c.Any {
		m := &c.Any[i]
		if m.Op == adapter.OpPresent {
			*m = adapter.Match{Op: adapter.OpEqual}
			c.Not = !c.Not
			continue
		}
		m.Text = strings.TrimPrefix(m.Text, "Patient/")
	}
}
