package api

import (
	"regexp"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
)

// criterion reads the values of one parameter, one of which is enough. The
// values of patient, of an id and of a reference are few by nature.
func criterion(p index.Parameter, modifier string, parts []string, at string) (adapter.Criterion, *refusal) {
	c := adapter.Criterion{Name: p.Name, Few: p.Kind == "id" || p.Kind == "reference" || p.Name == "identifier"}
	if modifier == "missing" && p.Kind != "id" && p.Name != "_lastUpdated" {
		if len(parts) != 1 || parts[0] != "true" && parts[0] != "false" {
			return c, malformed(at, ":missing is neither true nor false", "Client: send true or false.")
		}
		c.Few, c.Not, c.Any = false, parts[0] == "true", []adapter.Match{{Op: adapter.OpPresent}}
		return c, nil
	}
	read, ok := map[string]func(index.Parameter, *adapter.Criterion, string, string) ([]adapter.Match, *refusal){
		"id": ids, "token": tokens, "reference": references, "date": dates, "string": texts}[p.Kind]
	if !ok {
		return c, unknownModifier(at)
	}
	for _, part := range parts {
		if part == "" {
			return c, malformed(at, "a value is empty", "Client: send a value, or leave the parameter out.")
		}
		matches, x := read(p, &c, modifier, part)
		if x != nil {
			x.at = at
			return c, x
		}
		c.Any = append(c.Any, matches...)
	}
	if len(c.Any) > mostChoices {
		return c, tooCostly("there are more values than are compared")
	}
	return c, nil
}

func badEscape() *refusal {
	return malformed("", "a backslash stands before nothing that may be escaped", `Client: escape a backslash, comma, pipe or dollar sign with a backslash, and nothing else.`)
}

// ids are compared with the id of the resource itself.
func ids(_ index.Parameter, c *adapter.Criterion, modifier, part string) ([]adapter.Match, *refusal) {
	switch {
	case modifier == "not":
		c.Not = true
	case modifier != "":
		return nil, unknownModifier("")
	}
	if !resourceID.MatchString(part) {
		return nil, malformed("", "a value is no id", "Client: send ids of 1 to 64 letters, digits, hyphens and points.")
	}
	return []adapter.Match{{Op: adapter.OpEqual, Text: part}}, nil
}

// texts begin so, after folding; :exact is to the byte, :contains anywhere
// (https://hl7.org/fhir/R4/search.html#string).
func texts(p index.Parameter, c *adapter.Criterion, modifier, part string) ([]adapter.Match, *refusal) {
	text, ok := unescape(part)
	if !ok {
		return nil, badEscape()
	}
	switch modifier {
	case "exact":
		c.Name = index.Exact(p.Name)
		return []adapter.Match{{Op: adapter.OpEqual, Text: index.Short(text)}}, nil
	case "", "contains":
		folded := index.Fold(text)
		if folded == "" {
			return nil, malformed("", "a value has no letters", "Client: send a name or its beginning.")
		}
		op := adapter.OpPrefix
		if modifier == "contains" {
			op = adapter.OpContains
		}
		return []adapter.Match{{Op: op, Text: folded}}, nil
	}
	return nil, unknownModifier("")
}

// tokens are code, system|code, |code for one without a system, and system|
// for any code of it; compared to the byte, as identifiers that differ in
// case may be two (https://hl7.org/fhir/R4/search.html#token).
func tokens(p index.Parameter, c *adapter.Criterion, modifier, part string) ([]adapter.Match, *refusal) {
	switch {
	case modifier == "not":
		c.Not, c.Few = true, false
	case modifier != "":
		return nil, unknownModifier("")
	}
	halves := cut(part, '|', 2)
	code, ok := unescape(halves[len(halves)-1])
	if !ok || len(cut(halves[len(halves)-1], '|', -1)) > 1 {
		return nil, badEscape()
	}
	if len(halves) == 1 {
		if p.Form == "phone" {
			code = index.Phone(code)
		}
		return []adapter.Match{{Op: adapter.OpEqual, Text: index.Short(code)}}, nil
	}
	if p.Form == "phone" {
		return nil, malformed("", "a telephone number has no system", "Client: send the number alone.")
	}
	system, ok := unescape(halves[0])
	if !ok {
		return nil, badEscape()
	}
	system = index.Short(system)
	switch {
	case code != "":
		return []adapter.Match{{Op: adapter.OpEqual, System: &system, Text: index.Short(code)}}, nil
	case system == "":
		return nil, malformed("", "a value has neither system nor code", "Client: send code, system|code, |code or system|.")
	}
	return []adapter.Match{{Op: adapter.OpInSystem, System: &system}}, nil
}

// references are Type/id, or an id alone where it is known which types it may
// be of (https://hl7.org/fhir/R4/search.html#reference). A version in it does
// not count.
func references(p index.Parameter, _ *adapter.Criterion, modifier, part string) ([]adapter.Match, *refusal) {
	text, ok := unescape(part)
	if !ok {
		return nil, badEscape()
	}
	equal := func(text string) adapter.Match { return adapter.Match{Op: adapter.OpEqual, Text: index.Short(text)} }
	if resourceID.MatchString(text) {
		kinds := p.Targets
		switch {
		case modifier != "" && !leads(p, modifier):
			return nil, unknownModifier("")
		case modifier != "":
			kinds = []string{modifier}
		case p.Only != "":
			kinds = []string{p.Only}
		}
		var out []adapter.Match
		for _, k := range kinds {
			out = append(out, equal(k+"/"+text))
		}
		if len(out) == 0 {
			return nil, malformed("", "it is not said of which type the id is", "Client: send Type/id.")
		}
		return out, nil
	}
	if modifier != "" {
		return nil, malformed("", "a value is no id", "Client: send an id alone after a modifier that names the type.")
	}
	text = index.Reference(text)
	kind, id, relative := strings.Cut(text, "/")
	switch {
	case relative && typeForm.MatchString(kind) && resourceID.MatchString(id):
		if !leads(p, kind) {
			return nil, malformed("", "the parameter does not lead to that type", "Client: read its targets in FHIR R4.")
		}
	case !absoluteForm.MatchString(text):
		return nil, malformed("", "a value is no reference", "Client: send Type/id.")
	}
	return []adapter.Match{equal(text)}, nil
}

// absoluteForm is that of an address of elsewhere, or a URN.
var absoluteForm = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9+.-]*:\S+$`)

// prefixes are how times compare; ap, about, is not offered: how near is near
// would be our guess (https://hl7.org/fhir/R4/search.html#prefix).
var prefixes = map[string]adapter.Op{"eq": adapter.OpEqual, "ne": adapter.OpUnequal, "gt": adapter.OpAfter, "lt": adapter.OpBefore, "ge": adapter.OpNotBelow, "le": adapter.OpNotAbove, "sa": adapter.OpStarts, "eb": adapter.OpEnds}

// dates are a time by its precision, after a prefix if need be.
func dates(_ index.Parameter, _ *adapter.Criterion, modifier, part string) ([]adapter.Match, *refusal) {
	if modifier != "" {
		return nil, unknownModifier("")
	}
	op := adapter.OpEqual
	if len(part) > 2 && (part[0] < '0' || part[0] > '9') {
		known := false
		if op, known = prefixes[part[:2]]; !known {
			return nil, malformed("", "a date has a prefix that is not offered", "Client: send eq, ne, gt, lt, ge, le, sa or eb before the date.")
		}
		part = part[2:]
	}
	low, high, ok := index.Span(part)
	if !ok {
		return nil, malformed("", "a value is no date", "Client: send yyyy, yyyy-mm, yyyy-mm-dd, or these with Thh:mm:ss and a zone, its plus escaped as %2B.")
	}
	return []adapter.Match{{Op: op, Low: low, High: high}}, nil
}
