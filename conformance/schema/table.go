package schema

import (
	_ "embed"
	"slices"
	"strings"
	"sync"
)

//go:embed r4.txt
var r4File string

// definition is one element of a type.
type definition struct {
	path     string // below the type, e.g. "dispenseRequest.quantity"; choices end in [x]
	name     string // last part without [x]
	min      int
	many     bool // may repeat
	choice   bool
	types    []string // with reference targets: Reference(Patient|Group)
	codes    []string // required codes, sorted; nil when not bound or not enumerable
	nested   bool     // its children stand in the same type
	children *level   // of a nested element
	bit      uint64   // one of the definitions of its level
}

// kind is one resource or datatype.
type kind struct {
	name     string
	resource bool
	top      *level
	below    map[string]*level // by path of the parent; "" is the top
}

// level is the children of one element.
type level struct {
	list   []*definition
	byName map[string]*child // by JSON name, choices spelt out
}

// child is one JSON name: of a choice, one type of it.
type child struct {
	def     *definition
	typ     string       // dateTime, Reference, #Bundle.link, …
	targets []string     // of a Reference; nil means any resource
	kind    func() *kind // of a complex type, nil for primitives
	format  format       // of a primitive
}

type table struct {
	kinds map[string]func() *kind
	sets  map[string]string // required codes, separated by blanks
	names []string          // of all resources that can be sent
}

// r4 finds the types in the table. Each type is parsed when it is first met:
// a document uses a few of them.
var r4 = sync.OnceValue(func() *table {
	t := &table{kinds: make(map[string]func() *kind, 256), sets: make(map[string]string, 256)}
	for block := range strings.SplitSeq(r4File, "\nT\t") {
		head, rest, _ := strings.Cut(block, "\n")
		name, what, ok := strings.Cut(head, "\t")
		if !ok || what == "primitive-type" {
			continue
		}
		resource := what == "resource"
		if resource && name != "Resource" && name != "DomainResource" { // abstract
			t.names = append(t.names, name)
		}
		t.kinds[name] = sync.OnceValue(func() *kind { return t.parse(name, resource, rest) })
		if sets := strings.Index(rest, "\nV\t"); sets >= 0 {
			for line := range strings.SplitSeq(rest[sets+1:], "\n") {
				if f := strings.Split(line, "\t"); len(f) == 3 {
					t.sets[f[1]] = f[2]
				}
			}
		}
	}
	slices.Sort(t.names)
	return t
})

// resourceKind gives a resource's definition, nil when R4 has no such one.
func (t *table) resourceKind(name string) *kind {
	if !t.isResource(name) {
		return nil
	}
	return t.kinds[name]()
}

func (t *table) isResource(name string) bool {
	_, found := slices.BinarySearch(t.names, name)
	return found
}

func (t *table) parse(name string, resource bool, lines string) *kind {
	k := &kind{name: name, resource: resource, top: &level{byName: map[string]*child{}}}
	k.below = map[string]*level{"": k.top}
	for line := range strings.SplitSeq(lines, "\n") {
		f := strings.Split(line, "\t")
		if f[0] != "E" {
			continue
		}
		d := &definition{path: f[1], min: int(f[2][0] - '0'), many: f[3] == "*", types: splitTypes(f[4])}
		if f[5] != "" && t.sets[f[5]] != "" {
			d.codes = strings.Split(t.sets[f[5]], " ")
		}
		up, last := cutLast(d.path)
		if d.name, d.choice = strings.CutSuffix(last, "[x]"); !d.choice {
			d.name = last
		}
		l := k.below[up]
		d.bit = 1 << len(l.list)
		l.list = append(l.list, d)
		if len(d.types) == 1 && (d.types[0] == "BackboneElement" || d.types[0] == "Element") {
			d.nested, d.children = true, &level{byName: map[string]*child{}}
			k.below[d.path] = d.children
		}
		for _, typ := range d.types {
			c := t.child(d, typ)
			if d.choice {
				l.byName[d.name+suffix(c.typ)] = c
			} else {
				l.byName[d.name] = c
			}
		}
	}
	return k
}

func (t *table) child(d *definition, typ string) *child {
	base, targets, limited := strings.Cut(typ, "(")
	c := &child{def: d, typ: base, format: formats[base]}
	if limited {
		c.targets = strings.Split(strings.TrimSuffix(targets, ")"), "|")
	}
	if !c.format.known() {
		c.kind = t.kinds[base]
	}
	return c
}

// suffix is how a type is written behind the name of a choice.
func suffix(typ string) string {
	if typ == "SimpleQuantity" {
		return "Quantity"
	}
	return strings.ToUpper(typ[:1]) + typ[1:]
}

// content gives the level in which an element's children stand, and the type
// they belong to.
func (c *child) content(k *kind) (*kind, *level) {
	if owner, ok := strings.CutPrefix(c.typ, "#"); ok { // #Bundle.link: as defined elsewhere
		name, path, _ := strings.Cut(owner, ".")
		other := r4().kinds[name]()
		return other, other.below[path]
	}
	if c.def.nested {
		return k, c.def.children
	}
	if c.kind == nil {
		return nil, nil
	}
	other := c.kind()
	return other, other.top
}

func splitTypes(s string) []string {
	if s == "" {
		return nil
	}
	return strings.Split(s, ",")
}

func cutLast(path string) (parent, last string) {
	if i := strings.LastIndexByte(path, '.'); i >= 0 {
		return path[:i], path[i+1:]
	}
	return "", path
}

// Known reports whether R4 defines an element path, with the JSON name of a
// choice or its [x] form: MedicationRequest.dosageInstruction.doseAndRate.doseQuantity.
// Brackets with an index are not part of a path.
func Known(path string) bool {
	parts := strings.Split(path, ".")
	find := r4().kinds[parts[0]]
	if find == nil {
		return false
	}
	k := find()
	l := k.top
	for i, name := range parts[1:] {
		if l == nil {
			return false
		}
		if stem, isChoice := strings.CutSuffix(name, "[x]"); isChoice {
			return i == len(parts)-2 && slices.ContainsFunc(l.list, func(d *definition) bool { return d.choice && d.name == stem })
		}
		c := l.byName[name]
		if c == nil {
			return false
		}
		k, l = c.content(k)
	}
	return true
}
