package schema

import (
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// Judge says what is wrong with a document as FHIR R4. Ours and others have
// this shape, so that changing judges is one line where they are wired.
type Judge func(*element.Document) []finding.Finding

// Check judges a document by our own Tables, Invariants and References and by
// the judges given, and joins what they say into one sorted list. Every
// finding has an expression, line and column, what was observed and expected,
// and what to do. None means the document is FHIR R4 as far as anything here
// can see.
//
// One fault gives one finding. What is wrong beneath an element whose
// structure is wrong follows from it and is not repeated; and what another
// judge says of an element that ours has faulted is dropped, because ours
// names the element and its line.
func Check(d *element.Document, judges ...Judge) []finding.Finding {
	out := withoutFollowing(ours(d, structures|invariants|references))
	for _, judge := range judges {
		known := index(out)
		for _, f := range judge(d) {
			if len(out) < mostFaults && !known.covers(f) {
				out = append(out, f)
			}
		}
	}
	for i := range out {
		complete(&out[i], d)
	}
	finding.Sort(out)
	return out
}

// Tables judges the structure alone: elements, JSON kinds, cardinality,
// formats, required codes and choices, as the R4 definitions have them.
func Tables(d *element.Document) []finding.Finding { return ours(d, structures) }

// Invariants judges what R4 forbids between elements that are each well
// formed, the constraints of error level of the types read and emitted.
func Invariants(d *element.Document) []finding.Finding { return ours(d, invariants) }

// References judges the form and the type of references, that `#id` is
// contained, and that nothing refers to itself round a loop. A reference to
// something that is not in the document is allowed: R4 allows it, and an
// order that needs the target says so itself.
func References(d *element.Document) []finding.Finding { return ours(d, references) }

func ours(d *element.Document, what aspect) []finding.Finding {
	w := newWalker(what)
	w.document(d.Root())
	finding.Sort(w.out)
	return w.out
}

// complete gives a judge's finding what a person needs and it may lack.
func complete(f *finding.Finding, d *element.Document) {
	if f.Place.Line == 0 {
		line, column := d.Root().Position()
		f.Place.Line, f.Place.Column = line, column
	}
	if f.Place.Expression == "" {
		f.Place.Expression = d.Root().Expression()
	}
	if f.Observed == "" {
		f.Observed = "something else"
	}
	if f.Expected == "" {
		f.Expected = "what FHIR R4 defines for this element"
	}
	if f.Remedy == "" {
		row, _ := finding.Lookup(f.Code)
		f.Remedy = row.Remedy
	}
}

// placed tells what has been said about which element.
type placed struct {
	at    map[string][]finding.Code // by expression
	below map[string][]finding.Code // by the expression of the parent
}

func index(list []finding.Finding) placed {
	p := placed{map[string][]finding.Code{}, map[string][]finding.Code{}}
	for _, f := range list {
		e := f.Place.Expression
		p.at[e] = append(p.at[e], f.Code)
		if up, ok := parent(e); ok {
			p.below[up] = append(p.below[up], f.Code)
		}
	}
	return p
}

// covers says whether a finding of another judge is known: the same element;
// the same code at one of its children (other judges place a fault at the
// parent); or anything beneath an element whose structure is wrong.
func (p placed) covers(f finding.Finding) bool {
	e := f.Place.Expression
	if len(p.at[e]) > 0 {
		return true
	}
	for _, code := range p.below[e] {
		if code == f.Code {
			return true
		}
	}
	return p.beneath(e)
}

// beneath says whether an element stands inside one whose structure is wrong.
func (p placed) beneath(e string) bool {
	for up, ok := parent(e); ok; up, ok = parent(up) {
		for _, code := range p.at[up] {
			if structural(code) {
				return true
			}
		}
	}
	return false
}

func structural(code finding.Code) bool {
	return code == "document-structure" || code == "document-value"
}

// withoutFollowing drops findings at or beneath an element whose structure is
// wrong, save that structure's own.
func withoutFollowing(list []finding.Finding) []finding.Finding {
	if len(list) < 2 {
		return list
	}
	p := index(list)
	kept := list[:0:0]
	for _, f := range list {
		follows := p.beneath(f.Place.Expression)
		for _, code := range p.at[f.Place.Expression] {
			follows = follows || structural(code) && !structural(f.Code)
		}
		if !follows {
			kept = append(kept, f)
		}
	}
	return kept
}

// parent is the expression one element up: of a[1].b it is a[1], of a[1] it
// is a.
func parent(e string) (string, bool) {
	if strings.HasSuffix(e, "`") { // a delimited name may hold anything
		if i := strings.LastIndex(e, ".`"); i >= 0 {
			return e[:i], true
		}
	}
	i := strings.LastIndexAny(e, ".[")
	if i < 0 {
		return "", false
	}
	return e[:i], true
}
