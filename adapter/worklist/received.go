package worklist

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"html/template"
	"regexp"
	"slices"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// place is where in the hospital's document a thing stands. Address is "" for
// what is not stored.
type place struct{ Expression, Label, Address string }

// received is the hospital's document as far as the order rests on it: each
// resource that the order or its answer names, with the elements marked that
// were read, and those that a finding is about.
type received struct {
	Resources []resource
	Words     []direction
	Left      int // resources that are named and not shown, for their number
	pins      map[target][]pin
	addresses map[string]string
}

// resource is one resource as received.
type resource struct {
	Type, ID string
	Role     string // of the order
	Changed  string // when it changed after the answer was made, in words
	Missing  bool   // named, and not in the record
	Open     bool
	Found    map[string]bool // findings that point into it
	HTML     template.HTML
}

// direction is one text of the order's directions in the sender's words, with
// what was read from it.
type direction struct {
	HTML     template.HTML
	Address  string
	Readings []reading
}

// reading is one thing taken from words.
type reading struct{ Field, Value string }

func readingOf(r worksheet.Reading) reading {
	out := reading{Field: notation.Name(r.Field)}
	if r.Role != "" {
		out.Field += " (" + words(r.Role) + ")"
	}
	if r.Low != "" || r.High != "" {
		out.Value = value(r.Low, r.Unit) + " to " + value(r.High, r.Unit)
	} else {
		out.Value = value(r.Value, r.Unit)
	}
	return out
}

// target is a resource of the record and a path inside it.
type target struct{ typ, id, path string }

// pin marks a place: for a finding with its gate, or for a number or a
// reading, in Unicode characters of the text where it has a span.
type pin struct {
	class, label, back string
	span               *[2]int
	weight             int
}

// mostReceived bounds the resources of one page. Our own decision, no source.
const mostReceived = 200

var named = regexp.MustCompile(`^([A-Z][A-Za-z]{0,63})\.where\(id='([A-Za-z0-9.-]{1,64})'[^)']*(?:'[^']*')?\)(.*)$`)

func targetOf(expression string) (target, bool) {
	m := named.FindStringSubmatch(expression)
	if m == nil {
		return target{}, false
	}
	return target{m[1], m[2], m[3]}, true
}

// pinned collects every place that the answer names.
func pinned(w worksheet.Worksheet) map[target][]pin {
	out := map[target][]pin{}
	add := func(expression string, p pin) {
		if t, ok := targetOf(expression); ok {
			out[t] = append(out[t], p)
		}
	}
	for i, f := range w.Findings {
		p := pin{class: badge(f.Gate).Class, label: fmt.Sprintf("finding %d", i+1), back: "#" + anchorOf(i), span: f.Span, weight: finding.Gate(f.Gate).Weight()}
		add(f.Expression, p)
		p.span = nil
		for _, e := range f.Evidence {
			add(e, p)
		}
	}
	names := make([]string, 0, len(w.Quantities))
	for n := range w.Quantities {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, n := range names {
		q, to := w.Quantities[n], "#n-"+anchorText(n)
		for _, s := range q.StatedAs {
			add(s.Expression, pin{class: "read", back: to, label: n, span: s.Span})
		}
		add(q.Expression, pin{class: "read", span: q.Span})
		for _, d := range q.Derivation {
			for _, i := range d.Inputs {
				add(i.Expression, pin{class: "read"})
			}
		}
	}
	for _, r := range w.Readings {
		add(r.Expression, pin{class: "read", label: r.Field, span: &r.Span})
	}
	for _, r := range w.Related {
		add(r.Expression, pin{})
	}
	for _, u := range w.Unused {
		add(u.Expression, pin{})
	}
	add(w.Order.Expression, pin{})
	add(w.Order.PatientRef, pin{})
	return out
}

// receive reads the order's request and what it and its answer name.
func (p Pages) receive(ctx context.Context, request adapter.Resource, w worksheet.Worksheet, made time.Time) (*received, error) {
	out := &received{pins: pinned(w), addresses: map[string]string{}}
	roots := out.roots(request)
	if len(roots) > mostReceived {
		out.Left, roots = len(roots)-mostReceived, roots[:mostReceived]
	}
	anchors := 0
	for i, t := range roots {
		r := request
		if i > 0 {
			var err error
			var none *adapter.NotFound
			switch r, err = p.Store.Get(ctx, t.typ, t.id); {
			case errors.As(err, &none), err == nil && r.Patient != "" && r.Patient != request.Patient:
				out.Resources = append(out.Resources, resource{Type: t.typ, ID: t.id, Missing: true}) // never another patient's
				continue
			case err != nil:
				return nil, err
			}
		}
		one := resource{Type: t.typ, ID: t.id, Open: i == 0}
		if !made.IsZero() && r.Updated.After(made) {
			one.Changed = p.moment(r.Updated)
		}
		d := drawing{in: out, typ: t.typ, id: t.id, next: &anchors, found: map[string]bool{}}
		one.HTML = d.draw(r.JSON)
		one.Found = d.found
		out.Resources = append(out.Resources, one)
		if i == 0 {
			out.directions(r.JSON, t, w)
		}
	}
	return out, nil
}

// roots are the resources to be shown: the order, what findings are about,
// the rest by type and id.
func (o *received) roots(request adapter.Resource) []target {
	weight := map[target]int{}
	for t, pins := range o.pins {
		root := target{typ: t.typ, id: t.id}
		most := weight[root]
		for _, p := range pins {
			most = max(most, p.weight)
		}
		weight[root] = most
	}
	for _, m := range references.FindAllSubmatch(request.JSON, -1) {
		root := target{typ: string(m[1]), id: string(m[2])}
		weight[root] = max(weight[root], 0)
	}
	own := target{typ: request.Type, id: request.ID}
	delete(weight, own)
	out := make([]target, 0, len(weight)+1)
	for t := range weight {
		out = append(out, t)
	}
	slices.SortFunc(out, func(a, b target) int {
		return cmp.Or(weight[b]-weight[a], strings.Compare(a.typ, b.typ), strings.Compare(a.id, b.id))
	})
	return append([]target{own}, out...)
}

// references are the references of a stored resource, Type/id.
var references = regexp.MustCompile(`"reference"\s*:\s*"([A-Z][A-Za-z]{0,63})/([A-Za-z0-9.-]{1,64})(?:/_history/[^"]*)?"`)

// directions are the texts of the order's directions.
func (o *received) directions(data []byte, t target, w worksheet.Worksheet) {
	doc, _ := element.ReadLine(data, element.Limit{}, 1)
	for i, d := range doc.Root().Get("dosageInstruction").Each() {
		for _, member := range []string{"text", "patientInstruction"} {
			text := d.Get(member)
			if text.Kind() != element.String || text.Text() == "" {
				continue
			}
			at := target{t.typ, t.id, fmt.Sprintf(".dosageInstruction[%d].%s", i, member)}
			one := direction{Address: o.addresses[at.key()], HTML: marked(text.Text(), o.pins[at], shownRune)}
			for _, r := range w.Readings {
				if to, ok := targetOf(r.Expression); ok && to == at {
					one.Readings = append(one.Readings, readingOf(r))
				}
			}
			o.Words = append(o.Words, one)
		}
	}
}

func (t target) key() string { return t.typ + "/" + t.id + t.path }

// find is the place of an expression: on this page where its resource is
// shown. An element that is not there leads to the nearest that is.
func (o *received) find(expression string) place {
	if expression == "" {
		return place{}
	}
	t, ok := targetOf(expression)
	if !ok {
		return place{Expression: expression, Label: expression}
	}
	out := place{Expression: expression, Label: t.typ + t.path}
	for path := t.path; ; path = path[:strings.LastIndexAny(path, ".[")] {
		if a, shown := o.addresses[(target{t.typ, t.id, path}).key()]; shown {
			out.Address = "#" + a
			return out
		}
		if path == "" || strings.LastIndexAny(path, ".[") < 0 {
			return out
		}
	}
}
