package api

import (
	"context"
	"errors"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
)

// mostIncluded bounds what comes with one page. More is refused: a page from
// which something was left out would look complete.
const mostIncluded = 2000

// included reads what the matches refer to and what refers to them, each once
// and none that is a match itself. What is not stored here is left out, as
// FHIR has it.
func (d *door) included(ctx context.Context, q question, found []match) ([]match, *refusal) {
	have := map[string]bool{}
	for _, m := range found {
		have[m.ref] = true
	}
	var out []match
	for _, ref := range refersTo(q, found) {
		if have[ref] {
			continue
		}
		have[ref] = true
		kind, id, _ := strings.Cut(ref, "/")
		one, err := d.Store.Get(ctx, kind, id)
		var missing *adapter.NotFound
		switch {
		case errors.As(err, &missing):
			continue
		case err != nil:
			return nil, failed(err)
		case len(out) == mostIncluded:
			return nil, tooCostly("more would come with this page than is given")
		}
		out = append(out, match{ref, stamp(one)})
	}
	if !q.revinclude || len(found) == 0 {
		return out, nil
	}
	c := adapter.Criterion{Name: "target", Few: true}
	for _, m := range found {
		c.Any = append(c.Any, adapter.Match{Op: adapter.OpEqual, Text: m.ref})
	}
	page := adapter.Page{Limit: mostChoices}
	for {
		slice, err := d.Store.Search(ctx, adapter.Query{Type: "Provenance", All: []adapter.Criterion{c}}, page)
		if err != nil {
			return nil, failed(err)
		}
		for _, one := range slice.Resources {
			if ref := "Provenance/" + one.ID; !have[ref] {
				have[ref] = true
				out = append(out, match{ref, stamp(one)})
			}
		}
		if len(out) > mostIncluded {
			return nil, tooCostly("more would come with this page than is given")
		}
		if page.After = slice.Next; page.After == "" {
			return out, nil
		}
	}
}

// refersTo are the references, as Type/id, that the includes ask for.
func refersTo(q question, found []match) []string {
	var out []string
	if len(q.includes) == 0 {
		return nil
	}
	for _, m := range found {
		doc, _ := element.Read(element.Compact(m.body), element.Limit{})
		_, values := index.Of(doc.Root())
		for _, v := range values {
			kind, id, _ := strings.Cut(v.Text, "/")
			if typeForm.MatchString(kind) && resourceID.MatchString(id) &&
				slices.ContainsFunc(q.includes, func(i include) bool { return i.parameter == v.Name && (i.target == "" || i.target == kind) }) {
				out = append(out, v.Text)
			}
		}
	}
	return out
}
