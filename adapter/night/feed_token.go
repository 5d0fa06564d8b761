package night

import "bytes"

// The grammar under scanner: each function reads one thing and is false where
// the line is not plain.

func (s *scanner) peek() byte {
	if s.at < len(s.in) {
		return s.in[s.at]
	}
	return 0
}

func (s *scanner) blank() {
	for s.at < len(s.in) {
		switch s.in[s.at] {
		case ' ', '\t', '\r', '\n':
			s.at++
		default:
			return
		}
	}
}

// open steps into an array or object and is false when it is empty, which no
// FHIR element may be; then nothing is read and the caller gives up.
func (s *scanner) open() bool {
	s.nodes++
	s.at++
	s.blank()
	c := s.peek()
	return c != '}' && c != ']'
}

// next steps over a comma, or over the end, which closes.
func (s *scanner) next(end byte) (more, ok bool) {
	s.blank()
	switch s.peek() {
	case ',':
		s.at++
		s.blank()
		return true, true
	case end:
		s.at++
		return false, true
	}
	return false, false
}

// name reads a member's name and the colon. seen holds a bit of each name of
// the object, so that names are compared only where two share one.
func (s *scanner) name(from int, seen *uint64) ([]byte, bool) {
	if s.peek() != '"' {
		return nil, false
	}
	begin := s.at + 1
	if !s.skipString() || s.at-begin > mostName {
		return nil, false
	}
	name := s.in[begin : s.at-1]
	if len(name) == 0 || name[0] == '_' || bytes.IndexByte(name, '\\') >= 0 { // with _ it stands beside another
		return nil, false
	}
	bit := uint64(1) << ((uint(name[0]) ^ uint(name[len(name)-1])*3 ^ uint(len(name))*11) & 63)
	if *seen&bit != 0 {
		for _, n := range s.names[from:] {
			if bytes.Equal(s.in[n.from:n.to], name) {
				return nil, false
			}
		}
	}
	*seen |= bit
	s.names = append(s.names, span{begin, s.at - 1})
	s.blank()
	if s.peek() != ':' {
		return nil, false
	}
	s.at++
	s.blank()
	return name, true
}

// text reads a string whose value is needed: without an escape.
func (s *scanner) text() ([]byte, bool) {
	if s.peek() != '"' {
		return nil, false
	}
	begin := s.at + 1
	if !s.stringValue() {
		return nil, false
	}
	t := s.in[begin : s.at-1]
	return t, bytes.IndexByte(t, '\\') < 0
}

// stringValue reads a string that FHIR allows: not empty, and not such that
// it could be blank.
func (s *scanner) stringValue() bool {
	s.nodes++
	begin := s.at + 1
	if !s.skipString() {
		return false
	}
	first := s.in[begin]
	return s.at-1 > begin && s.at-begin <= mostString && first > ' ' && first < 0x80 && first != '\\'
}

// skipString steps over a string. One with \u is not plain.
func (s *scanner) skipString() bool {
	in := s.in
	for i := s.at + 1; i < len(in); i++ {
		switch c := in[i]; {
		case c == '"':
			s.at = i + 1
			return true
		case c == '\\':
			i++
			if i == len(in) || bytes.IndexByte([]byte(`"\/nrt`), in[i]) < 0 {
				return false
			}
		case c < ' ':
			return false
		}
	}
	return false
}

// value reads any value. Of an object it gives what a Reference, an
// Identifier or a meta has, when r is not nil.
func (s *scanner) value(depth int, name []byte, r *reference) bool {
	if s.nodes > mostNodes || depth > mostDepth {
		return false
	}
	switch c := s.peek(); c {
	case '{':
		return s.object(depth, r)
	case '[':
		return s.array(depth, name)
	case '"':
		return s.stringValue()
	case 't':
		return s.word("true")
	case 'f':
		return s.word("false")
	default:
		return (c == '-' || c >= '0' && c <= '9') && s.number()
	}
}

func (s *scanner) word(w string) bool {
	s.nodes++
	if len(s.in)-s.at < len(w) || string(s.in[s.at:s.at+len(w)]) != w {
		return false
	}
	s.at += len(w)
	return true
}

// number reads one without exponent and with few digits; -0 is not plain.
func (s *scanner) number() bool {
	s.nodes++
	begin := s.at
	if s.in[s.at] == '-' {
		s.at++
	}
	whole := s.digits()
	if whole == 0 || whole > 1 && s.in[s.at-whole] == '0' || s.in[begin] == '-' && s.in[s.at-whole] == '0' {
		return false
	}
	if s.peek() == '.' {
		s.at++
		if s.digits() == 0 {
			return false
		}
	}
	c := s.peek()
	return c != 'e' && c != 'E' && s.at-begin <= mostDigits
}

func (s *scanner) digits() int {
	begin := s.at
	for s.at < len(s.in) && s.in[s.at] >= '0' && s.in[s.at] <= '9' {
		s.at++
	}
	return s.at - begin
}

func (s *scanner) array(depth int, name []byte) bool {
	if len(name) == 0 { // in an array
		return false
	}
	bounded := string(name) == "contained" || string(name) == "extension" || string(name) == "modifierExtension" || string(name) == "coding" || string(name) == "entry"
	count := 0
	for more := s.open(); more; {
		if count++; bounded && count > mostElements {
			return false
		}
		ok := s.value(depth+1, nil, nil)
		if !ok {
			return false
		}
		if more, ok = s.next(']'); !ok {
			return false
		}
	}
	return count > 0
}

// object reads one below the root and lists what it refers to.
func (s *scanner) object(depth int, r *reference) bool {
	var own, inner reference
	if r == nil {
		r = &own
	}
	r.object = true
	from := len(s.names)
	seen := uint64(0)
	for more := s.open(); more; {
		name, ok := s.name(from, &seen)
		if !ok {
			return false
		}
		var to *[]byte
		switch string(name) {
		case "reference":
			to = &r.literal
		case "display":
			to = &r.display
		case "system":
			to = &r.ownSystem
		case "value":
			to = &r.ownValue
		case "lastUpdated":
			to = &r.lastUpdated
		case "resourceType":
			to = &r.resource
		}
		switch {
		case to != nil && s.peek() == '"':
			if *to, ok = s.text(); !ok {
				return false
			}
		case len(name) == 10 && string(name) == "identifier" && s.peek() == '{':
			inner = reference{}
			if !s.value(depth+1, name, &inner) {
				return false
			}
			r.system, r.value, r.named = inner.ownSystem, inner.ownValue, len(inner.ownValue) > 0
		case !s.value(depth+1, name, nil):
			return false
		}
		if more, ok = s.next('}'); !ok {
			return false
		}
	}
	s.names = s.names[:from]
	if seen == 0 || string(r.resource) == "Patient" {
		return false
	}
	if len(r.literal) > 0 && r.literal[0] != '#' {
		plain, _, _ := bytes.Cut(r.literal, []byte("/_history/"))
		s.f.points = append(s.f.points, keyOf('r', plain))
	}
	if r.named {
		s.f.points = append(s.f.points, keyOf('i', r.system, []byte{'|'}, r.value))
	}
	return true
}
