package element

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"

	"weir.example/weir/mapping/finding"
)

// Read reads one FHIR R4 resource in JSON. The tree is returned as far as it
// could be read, also when there are findings; with none the document is
// strict JSON, within the limits, and obeys the rules that FHIR's JSON form
// has for every element. All findings are of group document and so refuse
// the input; they are sorted by place. Whether the elements exist in R4 is
// not judged here.
func Read(data []byte, limit Limit) (*Document, []finding.Finding) { return read(data, limit, 1) }

func read(data []byte, limit Limit, line int) (*Document, []finding.Finding) {
	limit = limit.withDefaults()
	d := &Document{line: line - 1}
	f := &faults{doc: d}
	if len(data) > limit.Bytes {
		f.add(fault{code: limits, what: oversize(len(data), limit.Bytes)})
		return d, f.findings()
	}
	d.text = string(data)
	if what, other := recognise(d.text); other {
		f.add(fault{code: syntax, what: what})
		return d, f.findings()
	}
	scan(d, data, limit, f)
	inspect(d, f)
	return d, f.findings()
}

// separators stand between tokens: white space, comma and colon.
const separators = " \t\r\n,:"

// frame is an array or object that is open while reading.
type frame struct {
	at    int32 // its node
	last  int32 // its last child so far, 0 when none
	limit int   // elements it may have, 0 when unbounded
}

type scanner struct {
	doc   *Document
	limit Limit
	f     *faults
	dec   *jsontext.Decoder
	open  []frame
	valid bool // the whole text is UTF-8
	pos   int  // behind the last token

	name, nameEnd int32 // the member name read last
	nameEscaped   bool
}

// scan fills the tree from the data, of which d.text is the copy, with the
// faults that JSON itself and the limits have. Duplicate names and bad UTF-8
// are let through by the decoder because it could not go on after them; bad
// UTF-8 is found here, duplicates in inspect, where both places are known.
func scan(d *Document, data []byte, limit Limit, f *faults) {
	text := d.text
	base := 0
	if strings.HasPrefix(text, byteOrderMark) {
		f.add(fault{code: syntax, what: marked})
		base = len(byteOrderMark)
	}
	s := &scanner{doc: d, limit: limit, f: f, valid: utf8.ValidString(text), pos: base, open: make([]frame, 0, 16)}
	s.dec = jsontext.NewDecoder(bytes.NewBuffer(data[base:]), // read in place, not copied or changed
		jsontext.AllowDuplicateNames(true), jsontext.AllowInvalidUTF8(true))
	d.nodes = make([]node, 0, expectedNodes(text, limit))
	for s.step(base) {
	}
	for _, open := range s.open {
		c := &d.nodes[open.at]
		c.open, c.end = true, int32(min(s.pos, len(text)))
	}
}

// expectedNodes is a guess that spares growing: every value but the first
// follows a comma or an opening sign, and few values are shorter than 16
// bytes with their name.
func expectedNodes(text string, limit Limit) int {
	n := 1 + strings.Count(text, ",") + strings.Count(text, "{") + strings.Count(text, "[")
	return min(n, len(text)/16+16, limit.Nodes)
}

// step reads one token and says whether there may be another.
func (s *scanner) step(base int) bool {
	token, err := s.dec.ReadToken()
	if err != nil {
		s.stop(err, base)
		return false
	}
	start := s.pos
	for strings.IndexByte(separators, s.doc.text[start]) >= 0 {
		start++
	}
	s.pos = base + int(s.dec.InputOffset())
	switch token.Kind() {
	case jsontext.KindEndObject, jsontext.KindEndArray:
		last := len(s.open) - 1
		s.doc.nodes[s.open[last].at].end = int32(s.pos)
		s.open = s.open[:last]
	case jsontext.KindBeginObject:
		return s.push(Object, start)
	case jsontext.KindBeginArray:
		return s.push(Array, start)
	case jsontext.KindString:
		escaped := s.text(start)
		if s.expectsName() {
			s.name, s.nameEnd, s.nameEscaped = int32(start+1), int32(s.pos-1), escaped
			s.measureName(start)
			return true
		}
		return s.value(node{kind: String, start: int32(start), end: int32(s.pos), escaped: escaped}) && s.more()
	case jsontext.KindNumber:
		return s.value(node{kind: Number, start: int32(start), end: int32(s.pos)}) && s.more()
	case jsontext.KindNull:
		return s.value(node{kind: Null, start: int32(start), end: int32(s.pos)}) && s.more()
	default:
		return s.value(node{kind: Bool, start: int32(start), end: int32(s.pos)}) && s.more()
	}
	return s.more()
}

// more is false behind the root value; what stands there is a fault.
func (s *scanner) more() bool {
	if len(s.open) > 0 {
		return true
	}
	rest := strings.TrimLeft(s.doc.text[s.pos:], " \t\r\n")
	if rest != "" {
		s.f.add(fault{code: syntax, offset: len(s.doc.text) - len(rest), what: trailing(rest)})
	}
	return false
}

func (s *scanner) expectsName() bool {
	if len(s.open) == 0 {
		return false
	}
	top := s.open[len(s.open)-1]
	return s.doc.nodes[top.at].kind == Object && s.nameEnd == 0
}

// push opens an array or object; too deep a one ends the reading.
func (s *scanner) push(kind Kind, start int) bool {
	deep := len(s.open) == s.limit.Depth
	before := len(s.doc.nodes)
	bound := 0
	if kind == Array && s.nameEnd > 0 {
		bound = s.limit.elements(s.doc.text[s.name:s.nameEnd])
	}
	if !s.value(node{kind: kind, start: int32(start), end: int32(s.pos)}) {
		return false
	}
	at := int32(before)
	if deep {
		s.doc.nodes[at].open = true
		s.f.add(fault{code: limits, offset: start, at: at, what: tooDeep(s.limit.Depth)})
		return false
	}
	s.open = append(s.open, frame{at: at, limit: bound})
	return true
}

// value adds a node below the innermost open one. False ends the reading.
func (s *scanner) value(c node) bool {
	d := s.doc
	at := int32(len(d.nodes))
	c.parent = -1
	if len(s.open) > 0 {
		c.parent = s.open[len(s.open)-1].at
	}
	if len(d.nodes) == s.limit.Nodes {
		s.f.add(fault{code: limits, offset: int(c.start), at: max(c.parent, 0), what: tooMany(s.limit.Nodes, "values in one document")})
		return false
	}
	if c.parent >= 0 {
		top := &s.open[len(s.open)-1]
		parent := &d.nodes[top.at]
		if top.limit > 0 && int(parent.count) == top.limit {
			s.f.add(fault{code: limits, offset: int(c.start), at: top.at, what: tooMany(top.limit, "elements in an array of this name")})
			return false
		}
		c.index = parent.count
		parent.count++
		if top.last > 0 {
			d.nodes[top.last].next = at
		}
		top.last = at
	}
	c.name, c.nameEnd, c.nameEscaped = s.name, s.nameEnd, s.nameEscaped
	s.name, s.nameEnd, s.nameEscaped = 0, 0, false
	d.nodes = append(d.nodes, c)
	return true
}

// stop places the error of the decoder.
func (s *scanner) stop(err error, base int) {
	text := s.doc.text
	offset := len(text)
	var bad *jsontext.SyntacticError
	if errors.As(err, &bad) && !errors.Is(err, io.ErrUnexpectedEOF) {
		offset = min(base+int(bad.ByteOffset), offset)
	}
	at, inside := int32(0), ""
	if len(s.open) > 0 {
		at = s.open[len(s.open)-1].at
		line, column := s.doc.position(int(s.doc.nodes[at].start))
		inside = fmt.Sprintf("line %d column %d", line, column)
	}
	begin := s.pos
	for begin < offset && strings.IndexByte(separators, text[begin]) >= 0 {
		begin++
	}
	if last := len(s.doc.nodes) - 1; last >= 0 && s.pos == offset && s.doc.nodes[last].kind == Number {
		s.doc.nodes[last].open = true // 01, 1x: perhaps half a number
	}
	inString := begin < offset && text[begin] == '"'
	s.f.add(fault{code: syntax, offset: offset, at: at, what: malformed(text, offset, inString, inside)})
	s.pos = max(s.pos, offset)
}
