package worklist

import (
	"context"
	"errors"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
)

// alike is another patient of the record who could be taken for the one of the
// page: twins and namesakes are where orders go to the wrong person (Adelman
// and others, JAMA Pediatr 2019, PMC6714004, on multiple births). It says no
// more of the other than tells the two apart.
type alike struct {
	Given   string // as sent; "" for none
	Same    bool   // the given name, too
	Swapped bool   // the birth date is this one with day and month exchanged
}

// others are those patients. Unknown: it could not be looked for.
type others struct {
	List    []alike
	More    bool
	Unknown bool
}

// mostAlike bounds what one page names. Our own decision, no source.
const mostAlike = 5

// alike looks for other patients with the family name of the patient and his
// birth date, or that with day and month exchanged. Names are compared without
// case, accents and space. Who is linked with the patient is the same person.
func (p Pages) alike(ctx context.Context, patient string) (others, error) {
	r, err := p.Store.Get(ctx, "Patient", patient)
	var none *adapter.NotFound
	if errors.As(err, &none) {
		return others{Unknown: true}, nil
	}
	if err != nil {
		return others{}, err
	}
	n := element.ReadAgain(r.JSON, 1).Root()
	families, born := texts(n, "family"), birthDates(n.Get("birthDate").Text())
	if len(families) == 0 || len(born) == 0 {
		return others{Unknown: true}, nil
	}
	q := adapter.Query{Type: "Patient", All: []adapter.Criterion{{Name: "birthdate", Any: born}, {Name: "family"}}}
	for _, f := range families {
		q.All[1].Any = append(q.All[1].Any, adapter.Match{Op: adapter.OpEqual, Text: f})
	}
	var out others
	page := adapter.Page{Limit: 50}
	for {
		slice, err := p.Store.Search(ctx, q, page)
		if err != nil {
			return others{}, err
		}
		for _, other := range slice.Resources {
			o := element.ReadAgain(other.JSON, 1).Root()
			if other.ID == patient || linked(n, other.ID) || linked(o, patient) {
				continue
			}
			if len(out.List) == mostAlike {
				out.More = true
				return out, nil
			}
			low, _, _ := index.Span(o.Get("birthDate").Text())
			out.List = append(out.List, alike{Given: given(o), Same: meet(texts(n, "given"), texts(o, "given")), Swapped: low.Before(born[0].Low) || !low.Before(born[0].High)})
		}
		if page.After = slice.Next; page.After == "" {
			return out, nil
		}
	}
}

// texts are the parts of all names of a patient, folded.
func texts(patient element.Node, part string) []string {
	var out []string
	for _, name := range patient.Get("name").Each() {
		for _, x := range name.Get(part).Each() {
			if text := index.Fold(x.Text()); text != "" && !slices.Contains(out, text) {
				out = append(out, text)
			}
		}
	}
	return out
}

// given are the given names of the first name that has any, as sent.
func given(patient element.Node) string {
	for _, name := range patient.Get("name").Each() {
		var out []string
		for _, x := range name.Get("given").Each() {
			out = append(out, x.Text())
		}
		if len(out) > 0 {
			return strings.Join(out, " ")
		}
	}
	return ""
}

func meet(a, b []string) bool {
	return slices.ContainsFunc(a, func(x string) bool { return slices.Contains(b, x) })
}

// birthDates are the date, and that with day and month exchanged where there
// is one.
func birthDates(text string) []adapter.Match {
	low, high, ok := index.Span(text)
	if !ok {
		return nil
	}
	out := []adapter.Match{{Op: adapter.OpEqual, Low: low, High: high}}
	if len(text) == len("2006-01-02") && text[5:7] != text[8:10] {
		if low, high, ok = index.Span(text[:5] + text[8:10] + "-" + text[5:7]); ok {
			out = append(out, adapter.Match{Op: adapter.OpEqual, Low: low, High: high})
		}
	}
	return out
}

func linked(patient element.Node, id string) bool {
	return slices.ContainsFunc(patient.Get("link").Each(), func(l element.Node) bool { return l.Get("other").Get("reference").Text() == "Patient/"+id })
}
