package googlefhir

import (
	"cmp"
	"reflect"
	"regexp"
	"strconv"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// report is one problem as the library gives it: a path that is neither
// FHIRPath nor always spelt alike, a text of fixed words, and a diagnostic
// that quotes the document.
type report struct{ path, text, quotes string }

// compare puts reports in an order that does not depend on the library's maps.
func (r report) compare(o report) int {
	c := cmp.Or(cmp.Compare(r.path, o.path), cmp.Compare(r.text, o.text))
	if c == 0 && !r.isChoice() {
		c = cmp.Compare(r.quotes, o.quotes)
	}
	return c
}

// reports takes a problem apart. The library's error types are internal, but
// their fields are public; should a later version have other ones, the text
// that the errors print is read instead.
func reports(err error) []report {
	v := reflect.ValueOf(err)
	if v.Kind() != reflect.Slice {
		return []report{one(v, err)}
	}
	var out []report
	for i := range v.Len() {
		e, _ := v.Index(i).Interface().(error)
		out = append(out, one(v.Index(i), e))
	}
	if len(out) == 0 {
		out = append(out, report{text: err.Error()})
	}
	return out
}

var printed = regexp.MustCompile(`^error at "([^"]*)": ((?s).*)$`)

func one(v reflect.Value, err error) report {
	if v.Kind() == reflect.Pointer && v.Elem().Kind() == reflect.Struct {
		get := func(name string) string {
			if f := v.Elem().FieldByName(name); f.IsValid() && f.Kind() == reflect.String {
				return f.String()
			}
			return ""
		}
		if text := get("Details"); text != "" {
			return report{get("Path"), text, get("Diagnostics")}
		}
	}
	if err == nil {
		return report{text: "an unknown problem"}
	}
	if m := printed.FindStringSubmatch(err.Error()); m != nil {
		return report{path: m[1], text: m[2]}
	}
	return report{text: err.Error()}
}

// finding places a report in the tree below the resource that was asked.
func (r report) finding(root element.Node) finding.Finding {
	at := follow(root, r.path)
	w := r.words(at)
	if r.isChoice() {
		r.quotes = "" // either of the two, as its map came
	}
	f := finding.Finding{Code: w.code, Expected: w.expected, Observed: w.observed, Remedy: w.remedy,
		Detail: "google/fhir: " + w.detail, Diagnostic: strings.TrimSpace("google/fhir: " + r.text + " " + r.quotes)}
	if named := r.named(at, w.code); named.Exists() {
		at = named
	}
	f.Place = at.Place()
	if w.missing != "" {
		f.Place.Expression += "." + w.missing
	}
	return f
}

// named finds the member a report is about when its path leads to the object
// around it: the unknown element, the resource type, the address inside a
// Reference; of two types of a choice the one that comes later in the
// document, because the library names either.
func (r report) named(at element.Node, code finding.Code) element.Node {
	switch {
	case code == "document-reference":
		return at.Get("reference")
	case strings.HasPrefix(r.text, "unknown resource type"), strings.HasPrefix(r.text, "invalid resource type"):
		return at.Get("resourceType")
	case strings.HasPrefix(r.text, "unknown field"):
		if key, err := strconv.Unquote(r.quotes); err == nil {
			return at.Get(key)
		}
	case r.isChoice():
		if all := r.choice(at); len(all) > 0 {
			return all[len(all)-1]
		}
	}
	return element.Node{}
}

const twice = "cannot accept multiple values for "

func (r report) isChoice() bool { return strings.HasPrefix(r.text, twice) }

// choice gives the members that are types of the choice a report is about.
func (r report) choice(at element.Node) []element.Node {
	stem := camel(strings.TrimSuffix(strings.TrimPrefix(r.text, twice), " field"))
	var all []element.Node
	for _, m := range at.Members() {
		if rest, ok := strings.CutPrefix(strings.TrimPrefix(m.Name(), "_"), stem); ok && rest != "" && rest[0] >= 'A' && rest[0] <= 'Z' {
			all = append(all, m)
		}
	}
	return all
}

// camel writes dose_and_rate as doseAndRate.
func camel(s string) string {
	words := strings.Split(s, "_")
	for i, w := range words[1:] {
		if w != "" {
			words[i+1] = strings.ToUpper(w[:1]) + w[1:]
		}
	}
	return strings.Join(words, "")
}

// follow gives the deepest node of a path that is there.
func follow(root element.Node, path string) element.Node {
	n := root
	segments := strings.Split(path, ".")
	if len(segments) > 0 {
		segments = segments[1:] // the type of the resource that was asked
	}
	skip := ""
	for _, s := range segments {
		if s == "" || strings.EqualFold(s, n.Get("resourceType").Text()) || strings.EqualFold(s, skip) {
			skip = ""
			continue // a type inside the path: of a resource in an entry, of a choice
		}
		var next element.Node
		if next, skip = step(n, s); !next.Exists() {
			break
		}
		n = next
	}
	return n
}

// step goes one segment down; for a choice it gives the type, which the path
// may name again as its next segment.
func step(n element.Node, segment string) (next element.Node, typ string) {
	name, index, indexed := strings.Cut(strings.TrimSuffix(segment, "]"), "[")
	next = n.Get(strings.TrimPrefix(name, "_"))
	if !next.Exists() {
		next = n.Get("_" + strings.TrimPrefix(name, "_"))
	}
	if !next.Exists() {
		next, typ = n.Choice(name)
	}
	if indexed && next.Kind() == element.Array {
		if i, err := strconv.Atoi(index); err == nil && next.At(i).Exists() {
			next = next.At(i)
		}
	}
	return next, typ
}
