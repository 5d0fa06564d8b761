// Package googlefhir asks google/fhir's jsonformat whether a document is
// FHIR R4 (4.0.1). It judges the bytes that were received and models
// nothing; it is the only package that imports that library.
package googlefhir

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/google/fhir/go/fhirversion"
	"github.com/google/fhir/go/jsonformat"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// maxDepth is our own depth limit, so that ours speaks first: the library
// takes time that grows with the square of the depth.
const maxDepth = 64

var unmarshaller = sync.OnceValues(func() (*jsonformat.Unmarshaller, error) {
	u, err := jsonformat.NewUnmarshaller("UTC", fhirversion.R4)
	if err == nil {
		u.MaxNestingDepth = maxDepth
	}
	return u, err
})

// Judge gives the library's faults as findings, placed in our tree and in a
// fixed order (the library's own order differs from run to run). In a Bundle
// with faults every resource is asked alone as well, because one run does
// not list all of them.
func Judge(d *element.Document) []finding.Finding {
	root := d.Root()
	out := ask(root, root)
	if len(out) > 0 && root.Get("resourceType").Text() == "Bundle" {
		for _, e := range root.Get("entry").Each() {
			if r := e.Get("resource"); r.Exists() {
				out = append(out, ask(r, r)...)
			}
		}
	}
	slices.SortFunc(out, func(a, b finding.Finding) int {
		return strings.Compare(key(a), key(b))
	})
	return slices.CompactFunc(out, func(a, b finding.Finding) bool { return key(a) == key(b) })
}

func key(f finding.Finding) string {
	return f.Place.Expression + "\x00" + string(f.Code) + "\x00" + f.Detail
}

var report = regexp.MustCompile(`error at "([^"]*)": ([^\n]*)`)

func ask(n, root element.Node) []finding.Finding {
	u, err := unmarshaller()
	if err != nil {
		return []finding.Finding{{Code: "document-unsupported", Place: root.Place(), Detail: "the R4 reader cannot be built", Diagnostic: err.Error()}}
	}
	_, err = u.UnmarshalR4(n.Raw())
	if err == nil {
		return nil
	}
	var out []finding.Finding
	for _, m := range report.FindAllStringSubmatch(err.Error(), -1) {
		out = append(out, placed(root, m[1], m[2]))
	}
	if len(out) == 0 {
		out = append(out, finding.Finding{Code: "document-structure", Place: n.Place(), Detail: "not a FHIR R4 resource that can be read", Diagnostic: err.Error(),
			Expected: "a resource of FHIR R4 (4.0.1)"})
	}
	return out
}

// placed turns one report of the library into a finding at the deepest
// element of its path that is there.
func placed(root element.Node, path, text string) finding.Finding {
	node := root
	for _, segment := range segments(path) {
		next := step(node, segment)
		if !next.Exists() {
			break
		}
		node = next
	}
	f := finding.Finding{Code: codeOf(text), Place: node.Place(), Detail: "R4 reader: " + withoutValues(text), Diagnostic: text, Expected: wanted(text)}
	if f.Code == "document-cardinality" {
		if m := missing.FindStringSubmatch(text); m != nil {
			f.Place.Expression += "." + m[1]
			f.Observed = "nothing sent"
		}
	}
	return f
}

// segments cuts "Bundle.entry[0].resource.MedicationRequest.subject" into the
// names of our tree: type names inside the path are left out.
func segments(path string) []string {
	var out []string
	for _, s := range strings.Split(path, ".") {
		if s != "" && (s[0] < 'A' || s[0] > 'Z') {
			out = append(out, s)
		}
	}
	if len(out) > 0 && path != "" && path[0] >= 'a' && path[0] <= 'z' {
		out = out[1:] // the library begins with the type in lower case when it checks
	}
	return out
}

func step(n element.Node, segment string) element.Node {
	name, index, indexed := strings.Cut(strings.TrimSuffix(segment, "]"), "[")
	next := n.Get(name)
	if !next.Exists() {
		next, _ = n.Choice(name)
	}
	if !next.Exists() {
		next = n.Get("_" + name)
	}
	if indexed && next.Kind() == element.Array {
		if i, err := strconv.Atoi(index); err == nil {
			return next.At(i)
		}
	}
	return next
}

var (
	missing = regexp.MustCompile(`missing required field "([A-Za-z]+)"`)
	quoted  = regexp.MustCompile(`"[^"]*"`)
)

func codeOf(text string) finding.Code {
	switch {
	case strings.Contains(text, "missing required field"), strings.Contains(text, "cardinality"):
		return "document-cardinality"
	case strings.Contains(text, "reference"):
		return "document-reference"
	case strings.Contains(text, "expected"), strings.Contains(text, "mismatch"), strings.Contains(text, "invalid"), strings.Contains(text, "code"):
		return "document-value"
	}
	return "document-structure"
}

// withoutValues keeps names of elements and drops anything quoted that could
// be a value of the document.
func withoutValues(text string) string {
	if missing.MatchString(text) {
		return text
	}
	return quoted.ReplaceAllString(text, "a value")
}

func wanted(text string) string {
	switch {
	case missing.MatchString(text):
		return fmt.Sprintf("the required element %s", missing.FindStringSubmatch(text)[1])
	case strings.Contains(text, "unknown field"):
		return "only elements that FHIR R4 defines here, spelled as there"
	case strings.Contains(text, "want "):
		return "a reference to " + text[strings.Index(text, "want ")+5:]
	case strings.Contains(text, "expected "):
		return "a value of type " + text[strings.Index(text, "expected ")+9:]
	}
	return "what FHIR R4 defines for this element"
}
