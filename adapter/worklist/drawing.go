package worklist

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
	"unicode/utf16"

	"weir.example/weir/mapping/element"
)

// drawing writes one resource as JSON for people, two blanks an indent, with
// the places that the answer names as anchors.
type drawing struct {
	in      *received
	typ, id string
	next    *int            // anchors given so far on the page
	found   map[string]bool // findings that point into it
	b       strings.Builder
}

// draw writes a resource. One that is no strict JSON is written as it stands.
func (d *drawing) draw(data []byte) template.HTML {
	doc, faults := element.ReadLine(data, element.Limit{}, 1)
	if len(faults) > 0 || !doc.Root().Exists() {
		d.in.addresses[(target{d.typ, d.id, ""}).key()] = d.anchor()
		fmt.Fprintf(&d.b, `<span id="%s">%s</span>`, d.in.addresses[(target{d.typ, d.id, ""}).key()], marked(string(data), nil, shownRune))
		return template.HTML(d.b.String())
	}
	d.value(doc.Root(), "", 0)
	return template.HTML(d.b.String())
}

func (d *drawing) anchor() string {
	*d.next++
	return fmt.Sprintf("e%d", *d.next)
}

// value writes a value at a path; where the answer names it, as an anchor.
func (d *drawing) value(n element.Node, path string, depth int) {
	at := target{d.typ, d.id, path}
	pins, named := d.in.pins[at]
	if named || path == "" {
		id := d.anchor()
		d.in.addresses[at.key()] = id
		fmt.Fprintf(&d.b, `<span id="%s" class="%s">`, id, classOf(pins))
		defer d.close(pins)
	}
	inner := "\n" + strings.Repeat("  ", depth+1)
	switch n.Kind() {
	case element.Object:
		d.b.WriteByte('{')
		for i, m := range n.Members() {
			d.separate(i, inner)
			d.b.WriteString(`<span class="key">"` + escaped(m.Name(), jsonRune) + `"</span>: `)
			d.value(m, path+m.Expression()[len(n.Expression()):], depth+1)
		}
		d.b.WriteString("\n" + strings.Repeat("  ", depth) + "}")
	case element.Array:
		d.b.WriteByte('[')
		for i, m := range n.Each() {
			d.separate(i, inner)
			d.value(m, fmt.Sprintf("%s[%d]", path, i), depth+1)
		}
		d.b.WriteString("\n" + strings.Repeat("  ", depth) + "]")
	case element.String:
		d.b.WriteString(`<span class="text">"` + string(marked(n.Text(), pins, jsonRune)) + `"</span>`)
	default:
		d.b.WriteString(template.HTMLEscapeString(string(n.Raw())))
	}
}

func (d *drawing) separate(i int, inner string) {
	if i > 0 {
		d.b.WriteByte(',')
	}
	d.b.WriteString(inner)
}

// close ends an anchor, with the way back to what named it.
func (d *drawing) close(pins []pin) {
	d.b.WriteString("</span>")
	seen := map[string]bool{}
	for _, p := range pins {
		if p.back == "" || seen[p.back] || p.weight == 0 {
			continue
		}
		seen[p.back] = true
		d.found[p.label] = true
		fmt.Fprintf(&d.b, ` <a class="back" href="%s">%s</a>`, template.HTMLEscapeString(p.back), template.HTMLEscapeString(p.label))
	}
}

// classOf is how a place looks: after the strictest gate that names it whole,
// else as read, else as nothing.
func classOf(pins []pin) string {
	best := pin{class: "at"}
	for _, p := range pins {
		if p.weight > best.weight && p.span == nil || best.class == "at" && p.class == "read" {
			best = p
		}
	}
	return "at " + best.class
}

// marked writes a text with the parts marked that were read from it or that
// a finding is about.
func marked(text string, pins []pin, write func(rune) string) template.HTML {
	runes := []rune(text)
	cuts := []int{0, len(runes)}
	var spans []pin
	for _, p := range pins {
		if p.span == nil || p.span[0] < 0 || p.span[1] > len(runes) || p.span[0] >= p.span[1] {
			continue
		}
		spans = append(spans, p)
		cuts = append(cuts, p.span[0], p.span[1])
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	var b strings.Builder
	for i := 0; i+1 < len(cuts); i++ {
		class, weight := "", -1
		for _, p := range spans {
			if p.span[0] <= cuts[i] && cuts[i+1] <= p.span[1] && p.weight > weight {
				class, weight = p.class, p.weight
			}
		}
		part := escaped(string(runes[cuts[i]:cuts[i+1]]), write)
		if class == "" {
			b.WriteString(part)
			continue
		}
		fmt.Fprintf(&b, `<mark class="%s">%s</mark>`, class, part)
	}
	return template.HTML(b.String())
}

// escaped writes characters one by one and makes them harmless in HTML.
func escaped(text string, write func(rune) string) string {
	var b strings.Builder
	for _, r := range text {
		b.WriteString(write(r))
	}
	return template.HTMLEscapeString(b.String())
}

// shownRune is a character of a quotation.
func shownRune(r rune) string {
	if r == '\n' {
		return "\n"
	}
	return shown(string(r))
}

// jsonRune is a character inside a JSON string.
func jsonRune(r rune) string {
	switch {
	case r == '"' || r == '\\':
		return `\` + string(r)
	case r == '\n':
		return `\n`
	case r == '\r':
		return `\r`
	case r == '\t':
		return `\t`
	case r > 0xffff && obeyed(r):
		high, low := utf16.EncodeRune(r)
		return fmt.Sprintf(`\u%04x\u%04x`, high, low)
	case obeyed(r):
		return fmt.Sprintf(`\u%04x`, r)
	}
	return string(r)
}
