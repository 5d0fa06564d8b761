package element

import (
	"strconv"
	"strings"
	"sync"

	"weir.example/weir/mapping/finding"
)

// block is the distance in bytes between two remembered positions.
const block = 4096

// positions remembers line and column at every block of the text, so that a
// place in a document of one long line costs no more than any other. It is
// made when the first place is asked for.
type positions struct {
	once  sync.Once
	marks []mark
}

type mark struct{ line, column int32 }

// advance moves from the position of text's first byte to the one behind it.
// Only the first byte of a character moves the column; LF ends a line.
func (m mark) advance(text string) mark {
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case c == '\n':
			m.line++
			m.column = 1
		case c&0xC0 != 0x80:
			m.column++
		}
	}
	return m
}

func (d *Document) position(offset int) (line, column int) {
	d.positions.once.Do(func() {
		m := mark{1, 1}
		d.positions.marks = append(make([]mark, 0, len(d.text)/block+1), m)
		for at := block; at <= len(d.text); at += block {
			m = m.advance(d.text[at-block : at])
			d.positions.marks = append(d.positions.marks, m)
		}
	})
	b := min(max(offset, 0), len(d.text)) / block
	m := d.positions.marks[b].advance(d.text[b*block : min(max(offset, 0), len(d.text))])
	return int(m.line) + d.line, int(m.column)
}

// Position is where the value begins: line and column from 1, the column in
// Unicode characters; 0, 0 for the zero Node.
func (n Node) Position() (line, column int) {
	if n.doc == nil {
		return 0, 0
	}
	return n.doc.position(int(n.node().start))
}

// Place is the node's expression, line and column.
func (n Node) Place() finding.Place {
	line, column := n.Position()
	return finding.Place{Expression: n.Expression(), Line: line, Column: column}
}

// Expression is the FHIRPath of the node from the type of the root resource,
// in the member names of the document:
// Bundle.entry[3].resource.dosageInstruction[0].text. Without a resourceType
// it begins with $this. A name that is no FHIRPath identifier stands in
// backquotes.
func (n Node) Expression() string {
	if n.doc == nil {
		return ""
	}
	var b strings.Builder
	b.Grow(64)
	n.doc.appendExpression(&b, n.at)
	return b.String()
}

func (d *Document) appendExpression(b *strings.Builder, at int32) {
	c := &d.nodes[at]
	if c.parent < 0 {
		b.WriteString(d.rootType())
		return
	}
	d.appendExpression(b, c.parent)
	if d.nodes[c.parent].kind == Array {
		b.WriteByte('[')
		b.WriteString(strconv.Itoa(int(c.index)))
		b.WriteByte(']')
		return
	}
	b.WriteByte('.')
	name := d.nameOf(c)
	if isIdentifier(name) {
		b.WriteString(name)
		return
	}
	b.WriteString(delimited(name))
}

func (d *Document) rootType() string {
	if d.root != "" {
		return d.root
	}
	t := d.Root().Get("resourceType").Text()
	if isIdentifier(t) {
		return t
	}
	return "$this"
}

// isIdentifier is FHIRPath's IDENTIFIER (https://hl7.org/fhirpath/N1/), not
// longer than any name of FHIR would be.
func isIdentifier(s string) bool {
	if s == "" || len(s) > 64 {
		return false
	}
	for i := 0; i < len(s); i++ {
		c := s[i]
		if !isLetter(c) && c != '_' && (i == 0 || c < '0' || c > '9') {
			return false
		}
	}
	return true
}

func isLetter(c byte) bool { return c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' }

// delimited is FHIRPath's delimited identifier, cut after 64 characters.
func delimited(name string) string {
	b := []byte{'`'}
	length := 0
	for _, r := range name {
		if length++; length > 64 {
			b = append(b, "…"...)
			break
		}
		switch {
		case r == '`' || r == '\\':
			b = append(b, '\\', byte(r))
		case r < 0x20 || r == 0x7F:
			b = append(b, `\u00`...)
			b = append(b, "0123456789abcdef"[r>>4], "0123456789abcdef"[r&15])
		default:
			b = append(b, string(r)...)
		}
	}
	return string(append(b, '`'))
}
