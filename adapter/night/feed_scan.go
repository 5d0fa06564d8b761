package night

import (
	"bytes"
	"unicode/utf8"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
)

// key is a text of r4.Keys, or a patient by the key that owns his lines, as a
// number. Its low bits are free for a role. Two texts with one key, which
// chance gives once in some ten thousand nights of 10^7 lines, would only let
// two patients be read together.
type key uint64

// roleBits of a key hold the role of a fact.
const roleBits = 7

// keyOf is the 64-bit FNV-1a hash of the parts, mixed so that its high bits
// are even, too. The same text has the same key on every machine.
func keyOf(kind byte, parts ...[]byte) key {
	const prime = 1099511628211
	h := (uint64(14695981039346656037) ^ uint64(kind)) * prime
	h = (h ^ ':') * prime
	for _, p := range parts {
		for _, c := range p {
			h = (h ^ uint64(c)) * prime
		}
	}
	h ^= h >> 33
	h *= 0xff51afd7ed558ccd
	h ^= h >> 33
	h *= 0xc4ceb9fe1a85ec53
	return key((h ^ h>>33) &^ roleBits)
}

// textKey is keyOf for a text of r4.Keys, "r:Patient/p".
func textKey(s string) key { return keyOf(s[0], []byte(s[2:])) }

// facts is what is taken from a line: what r4.Remember takes of it, as keys.
// It is used again for the next line.
type facts struct {
	kind, id, updated []byte // of the line
	owned, failed     bool
	owner             []byte // the text that owns it, with its prefix
	ties, points      []key
	carries           []key
	name              key // 0 for none
}

// reference is what a Reference says, in the bytes of the line.
type reference struct {
	there, object         bool
	literal, display      []byte
	system, value         []byte // of its identifier
	named                 bool   // it has an identifier with a value
	ownSystem, ownValue   []byte // of an object that is itself an Identifier
	lastUpdated, resource []byte // of a meta; of a resource
}

// The elements that say whose a resource is, in the order of mapping/r4.
var subjects = [...]string{"subject", "patient", "for", "individual", "beneficiary", "deliverTo"}

// scanner reads one line in one pass without a tree. It takes what is plain,
// and gives up on everything else: what is not strict JSON, what a FHIR
// element may not be, an escape where it matters, and resources whose owner
// is not one reference. Then the strict reader has the word. So it accepts
// nothing that the strict reader refuses, and takes the same from it
// (FuzzScan).
type scanner struct {
	in      []byte
	at      int
	nodes   int
	names   []span // of the objects that are open
	f       *facts
	subject [len(subjects)]reference
	called  span // the names of a Patient
	linked  bool // a Patient has links
	tied    []key
	small   []byte
}

type span struct{ from, to int }

// Bounds of element.DefaultLimit, or less: behind them the strict reader has
// the word.
const (
	mostDepth, mostName, mostString = 60, 200, 1 << 20
	mostNodes, mostElements         = 900_000, 50
	mostDigits                      = 17
)

// scan fills f and reports whether the line was plain.
func (s *scanner) scan(line []byte, f *facts) bool {
	*f = facts{ties: f.ties[:0], points: f.points[:0], carries: f.carries[:0], owner: f.owner[:0]}
	if len(line) > element.MostLine || !utf8.Valid(line) {
		return false
	}
	s.in, s.at, s.nodes, s.names, s.f = line, 0, 0, s.names[:0], f
	clear(s.subject[:])
	s.called, s.linked, s.tied = span{}, false, s.tied[:0]
	s.blank()
	if s.at == len(line) || line[s.at] != '{' || !s.root() {
		return false
	}
	s.blank()
	return s.at == len(line) && s.settle()
}

// root reads the resource's own elements.
func (s *scanner) root() bool {
	from := len(s.names)
	seen := uint64(0)
	for more := s.open(); more; {
		name, ok := s.name(from, &seen)
		if !ok {
			return false
		}
		begin := s.at
		switch string(name) {
		case "resourceType":
			s.f.kind, ok = s.text()
		case "id":
			if s.peek() == '"' {
				s.f.id, ok = s.text()
			} else {
				ok = s.value(1, name, nil)
			}
		case "meta":
			var r reference
			ok = s.value(1, name, &r)
			s.f.updated = r.lastUpdated
		case "identifier":
			ok = s.identifiers()
		case "name":
			ok = s.value(1, name, nil)
			s.called = span{begin, s.at}
		default:
			ok = s.element(name)
		}
		if !ok || s.at == begin {
			return false
		}
		if more, ok = s.next('}'); !ok {
			return false
		}
	}
	s.names = s.names[:from]
	return seen != 0
}

// element reads another of the resource's own elements.
func (s *scanner) element(name []byte) bool {
	s.linked = s.linked || string(name) == "link"
	for i := range subjects {
		if string(name) == subjects[i] {
			s.subject[i].there = true
			return s.value(1, name, &s.subject[i])
		}
	}
	return s.value(1, name, nil)
}

// identifiers reads the resource's identifiers, one or a list.
func (s *scanner) identifiers() bool {
	one := func(depth int, name []byte) bool {
		var r reference
		if s.peek() != '{' || !s.value(depth, name, &r) {
			return false
		}
		if len(r.ownValue) > 0 {
			k := keyOf('i', r.ownSystem, []byte{'|'}, r.ownValue)
			s.f.carries = append(s.f.carries, k)
			if len(r.ownSystem) > 0 && r.ownSystem[0] != '|' {
				s.tied = append(s.tied, k)
			}
		}
		return true
	}
	if s.peek() != '[' {
		return one(1, []byte("identifier")) // no list: the strict reader takes it as one
	}
	some := false
	for more := s.open(); more; some = true {
		var ok bool
		if !one(2, nil) {
			return false
		}
		if more, ok = s.next(']'); !ok {
			return false
		}
	}
	return some
}

// settle says whose the resource is, as mapping/r4 does.
func (s *scanner) settle() bool {
	f := s.f
	if len(f.kind) == 0 || len(f.id) == 0 || f.kind[0] < 'A' || f.kind[0] > 'Z' {
		return false
	}
	for _, c := range f.kind {
		if c < 'A' || c > 'z' || c > 'Z' && c < 'a' {
			return false
		}
	}
	switch string(f.kind) {
	case "Appointment", "SupplyRequest":
		return false
	case "Patient":
		return s.patient()
	}
	for i := range s.subject {
		if r := &s.subject[i]; r.there && r.object {
			s.tie(r)
			break
		}
	}
	f.owned = f.owned || string(f.kind) == "MedicationRequest"
	if f.owned && len(f.owner) == 0 {
		f.owner = append(append(append(append(f.owner, "r:"...), f.kind...), '/'), f.id...)
	}
	return true
}

// patient takes what a Patient is united by. What his name is, of several,
// and how it is folded, the strict reader says of the names alone.
func (s *scanner) patient() bool {
	f := s.f
	if s.linked {
		return false
	}
	f.owned = true
	f.owner = append(append(f.owner, "r:Patient/"...), f.id...)
	f.ties = append(f.ties, s.tied...)
	if s.called.to == 0 {
		return true
	}
	s.small = append(append(append(s.small[:0], `{"resourceType":"Patient","name":`...), s.in[s.called.from:s.called.to]...), '}')
	doc, _ := element.ReadLine(s.small, element.Limit{}, 1)
	if name := r4.Remember(doc).Keys().Name; name != "" {
		f.name = textKey(name)
	}
	return true
}

func (s *scanner) tie(r *reference) {
	literal, _, _ := bytes.Cut(r.literal, []byte("/_history/"))
	if kind := typeIn(literal); len(kind) > 0 && string(kind) != "Patient" {
		return
	}
	display := bytes.TrimSpace(r.display)
	switch {
	case len(literal) == 0 && !r.named && len(display) == 0:
		return
	case len(literal) > 0 && literal[0] != '#':
		s.own('r', literal)
	case len(literal) == 0 && !r.named:
		s.own('d', display)
	}
	if r.named {
		s.own('i', r.system, []byte{'|'}, r.value)
	}
	s.f.owned = true
}

func (s *scanner) own(kind byte, parts ...[]byte) {
	f := s.f
	f.ties = append(f.ties, keyOf(kind, parts...))
	if len(f.owner) == 0 {
		f.owner = append(f.owner, kind, ':')
		for _, p := range parts {
			f.owner = append(f.owner, p...)
		}
	}
}

// typeIn is the type a literal reference names.
func typeIn(literal []byte) []byte {
	last := bytes.LastIndexByte(literal, '/')
	if last < 0 {
		return nil
	}
	before := literal[:last]
	t := before[bytes.LastIndexByte(before, '/')+1:]
	if len(t) > 0 && t[0] >= 'A' && t[0] <= 'Z' {
		return t
	}
	return nil
}
