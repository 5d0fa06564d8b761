// Package googlefhir asks google/fhir's jsonformat
// (https://pkg.go.dev/github.com/google/fhir/go/jsonformat) whether a
// document is FHIR R4 (4.0.1, https://hl7.org/fhir/R4/json.html). It judges
// the bytes that were received and models nothing; no other package imports
// that library.
//
// What the library does not see (empty strings, duplicate names, invariants,
// references by address) is listed in the page of traps and judged elsewhere.
package googlefhir

import (
	"slices"
	"strings"
	"sync"

	"github.com/google/fhir/go/fhirversion"
	"github.com/google/fhir/go/jsonformat"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// The library is given our own depth limit, so that it never takes the time
// it needs for deeper documents, which grows with the square of the depth.
// Ours speaks first: it counts arrays too, the library does not.
var maxDepth = element.DefaultLimit.Depth

// mostReports bounds what is placed of one resource: a hostile document can
// hold any number of faults, and the first thousand refuse it as well.
const mostReports = 1_000

// unmarshaller is built when it is first needed: its tables take tens of
// milliseconds, and many commands never judge a document.
var unmarshaller = sync.OnceValues(func() (*jsonformat.Unmarshaller, error) {
	u, err := jsonformat.NewUnmarshaller("UTC", fhirversion.R4)
	if err == nil {
		u.MaxNestingDepth = maxDepth
	}
	return u, err
})

// Judge gives the library's faults as findings, placed in our tree and in one
// fixed order; the library's own differs from run to run.
//
// It stops checking required elements and reference types once anything
// could not be parsed, and never looks into contained resources for them. So
// contained resources are always asked alone, and in a Bundle with a fault
// every resource is.
func Judge(d *element.Document) []finding.Finding {
	root := d.Root()
	if root.Kind() != element.Object {
		return nil // said when the document was read
	}
	out := ask(root)
	if len(out) > 0 {
		out = append(out, each(root, askWithEntries)...)
	}
	out = append(out, askContained(root)...)
	finding.Sort(out)
	return slices.CompactFunc(out, func(a, b finding.Finding) bool {
		return a.Code == b.Code && a.Place == b.Place && a.Detail == b.Detail
	})
}

// askWithEntries asks one resource of a Bundle, and those of a Bundle in it.
func askWithEntries(n element.Node) []finding.Finding {
	return append(ask(n), each(n, askWithEntries)...)
}

// askContained asks every contained resource of a document.
func askContained(n element.Node) []finding.Finding {
	var out []finding.Finding
	for _, c := range n.Get("contained").Each() {
		if c.Kind() == element.Object {
			out = append(out, ask(c)...)
		}
	}
	return append(out, each(n, askContained)...)
}

// each asks for every resource in the entries of a Bundle.
func each(bundle element.Node, question func(element.Node) []finding.Finding) []finding.Finding {
	if bundle.Get("resourceType").Text() != "Bundle" {
		return nil
	}
	var out []finding.Finding
	for _, e := range bundle.Get("entry").Each() {
		if r := e.Get("resource"); r.Kind() == element.Object {
			out = append(out, question(r)...)
		}
	}
	return out
}

func ask(n element.Node) []finding.Finding {
	u, err := unmarshaller()
	if err != nil {
		return []finding.Finding{{Code: "document-unsupported", Place: n.Place(), Observed: "a reader that cannot be built",
			Expected: "the R4 reader of this program", Remedy: "Report this as a fault of the program; nothing was judged.",
			Detail: "the R4 reader cannot be built", Diagnostic: err.Error()}}
	}
	if _, err = u.UnmarshalR4(n.Raw()); err == nil {
		return nil
	}
	var out []finding.Finding
	var doubled []string
	list := reports(err)
	slices.SortFunc(list, report.compare)
	for _, r := range list[:min(len(list), mostReports)] {
		out = append(out, r.finding(n))
		if r.isChoice() {
			for _, m := range r.choice(follow(n, r.path)) {
				doubled = append(doubled, m.Expression()+".")
			}
		}
	}
	// Of two types of one choice the library reads the one its map gives
	// first, so what is wrong inside is said or not as it happens.
	return slices.DeleteFunc(out, func(f finding.Finding) bool {
		return slices.ContainsFunc(doubled, func(inside string) bool { return strings.HasPrefix(f.Place.Expression, inside) })
	})
}
