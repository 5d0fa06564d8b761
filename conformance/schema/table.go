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
	path   string // below the type, e.g. "dispenseRequest.quantity"; choices end in [x]
	name   string // last part without [x]
	min    int
	many   bool // max is *
	types  []string
	codes  []string // required codes; nil when not bound or not enumerable
	choice bool
}

// kind is one resource or datatype.
type kind struct {
	name, kind string
	elements   []*definition
	below      map[string]*level // by parent path; "" is the top
}

// level is the children of one element, by JSON name.
type level struct {
	list   []*definition
	byName map[string]child
}

type child struct {
	def *definition
	typ string // type for this name: of a choice, the one chosen
}

// r4 returns the table, parsed once.
var r4 = sync.OnceValue(func() map[string]*kind {
	kinds, sets := map[string]*kind{}, map[string][]string{}
	bound := map[*definition]string{}
	var k *kind
	for line := range strings.SplitSeq(r4File, "\n") {
		f := strings.Split(line, "\t")
		switch f[0] {
		case "T":
			k = &kind{name: f[1], kind: f[2], below: map[string]*level{}}
			kinds[f[1]] = k
		case "E":
			d := &definition{path: f[1], min: int(f[2][0] - '0'), many: f[3] != "1" && f[3] != "0", types: splitTypes(f[4])}
			_, d.name = cutLast(d.path)
			if stem, ok := strings.CutSuffix(d.name, "[x]"); ok {
				d.name, d.choice = stem, true
			}
			if f[5] != "" {
				bound[d] = f[5]
			}
			k.elements = append(k.elements, d)
		case "V":
			sets[f[1]] = strings.Split(f[2], " ")
		}
	}
	for d, set := range bound {
		d.codes = sets[set]
	}
	for _, k := range kinds {
		for _, d := range k.elements {
			parent, _ := cutLast(d.path)
			l := k.below[parent]
			if l == nil {
				l = &level{byName: map[string]child{}}
				k.below[parent] = l
			}
			l.list = append(l.list, d)
			if !d.choice {
				typ := ""
				if len(d.types) > 0 {
					typ = d.types[0]
				}
				l.byName[d.name] = child{d, typ}
				continue
			}
			for _, t := range d.types {
				base, _, _ := strings.Cut(t, "(")
				l.byName[d.name+strings.ToUpper(base[:1])+base[1:]] = child{d, t}
			}
		}
	}
	return kinds
})

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
func Known(path string) bool {
	parts := strings.Split(path, ".")
	k := r4()[parts[0]]
	if k == nil {
		return false
	}
	at := ""
	for i, name := range parts[1:] {
		l := k.below[at]
		if l == nil {
			return false
		}
		c, ok := l.byName[name]
		if stem, isChoice := strings.CutSuffix(name, "[x]"); isChoice {
			return i == len(parts)-2 && slices.ContainsFunc(l.list, func(d *definition) bool { return d.choice && d.name == stem })
		}
		if !ok {
			return false
		}
		k, at = descend(k, c)
		if k == nil && i < len(parts)-2 {
			return false
		}
	}
	return true
}

// descend gives the type and path in which the children of an element stand.
func descend(k *kind, c child) (*kind, string) {
	base, _, _ := strings.Cut(c.typ, "(")
	switch {
	case strings.HasPrefix(base, "#"): // content of another element: #Bundle.link
		owner, path, _ := strings.Cut(base[1:], ".")
		return r4()[owner], path
	case base == "BackboneElement" || base == "Element":
		if _, nested := k.below[c.def.path]; nested {
			return k, c.def.path
		}
	}
	return r4()[base], ""
}
