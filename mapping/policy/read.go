package policy

import (
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// reader compares a settings file with the Go types it is read into, node by
// node. The YAML library would stop at the first fault, tell its line only,
// cut 7.5 days to 7 and let a second key of the same name win.
type reader struct {
	at     places
	unread map[string]bool // keys whose value was taken out of the tree
	faults Faults
	looked int // how often a near name was looked for
}

// readOver decodes a file over what p already holds and tells every place
// where it could not.
func readOver(data []byte, p *Policy) *reader {
	r := &reader{at: places{}, unread: map[string]bool{}}
	root, faults := parse(data)
	r.faults = faults
	if root == nil || len(root.Content) == 0 {
		return r
	}
	if top := root.Content[0]; top.Kind != yaml.MappingNode {
		r.faults = append(r.faults, Fault{Line: top.Line, Column: top.Column, Problem: "the file holds " + kindOf(top), Expected: "sections such as delivery: with their keys below"})
		return r
	}
	r.value(root.Content[0], reflect.TypeFor[Policy](), "")
	if err := root.Decode(p); err != nil { // not reached as far as we know: the shape was compared
		r.faults = append(r.faults, unreadable(err, data))
	}
	return r
}

// refuse notes a fault at a key and marks its value as not read.
func (r *reader) refuse(key, problem, expected string) bool {
	line, column := r.at.of(key)
	r.faults = append(r.faults, Fault{Line: line, Column: column, Key: key, Problem: problem, Expected: expected})
	r.unread[key] = true
	return false
}

// value reports whether a node can be read into a type. What cannot is taken
// out below it, so that the rest of the file is still read and checked.
func (r *reader) value(n *yaml.Node, t reflect.Type, key string) bool {
	if n.Anchor != "" {
		r.refuse(key, "carries the anchor &"+n.Anchor, "the value without a mark: nothing may be said twice by reference")
		r.unread[key], n.Anchor = false, ""
	}
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch {
	case n.Kind == yaml.AliasNode:
		return r.refuse(key, "is the alias *"+n.Value, "the value itself, written out")
	case n.Kind == yaml.ScalarNode && n.ShortTag() == "!!null":
		return r.refuse(key, "is empty", "a value, or no such key")
	case t == reflect.TypeFor[Span]() && n.Kind == yaml.ScalarNode:
		// One number may stand without the word value.
		if !r.scalar(n, reflect.TypeFor[Amount](), key) {
			return false
		}
		alone := *n
		*n = yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Content: []*yaml.Node{{Kind: yaml.ScalarNode, Tag: "!!str", Value: "value"}, &alone}}
		return true
	case t == reflect.TypeFor[Fraction]():
		return r.scalar(n, t, key)
	}
	switch t.Kind() {
	case reflect.Struct:
		if n.Kind != yaml.MappingNode {
			return r.refuse(key, "is "+kindOf(n), "keys below it")
		}
		known := fieldsOf(t)
		r.pairs(n, key, func(name string, v *yaml.Node, below string) bool {
			i := slices.IndexFunc(known, func(f field) bool { return f.name == name })
			if i < 0 {
				return r.unknown(name, below, known)
			}
			return r.value(v, known[i].t, below)
		})
		return true
	case reflect.Map:
		if n.Kind != yaml.MappingNode {
			return r.refuse(key, "is "+kindOf(n), "pairs of a name and a value")
		}
		r.pairs(n, key, func(_ string, v *yaml.Node, below string) bool { return r.value(v, t.Elem(), below) })
		return true
	case reflect.Slice:
		if n.Kind != yaml.SequenceNode {
			return r.refuse(key, "is "+kindOf(n), "a list: [ ] around it, or a line with - for each")
		}
		for i, item := range n.Content {
			below := key + "[" + strconv.Itoa(i) + "]"
			r.at[below] = [2]int{item.Line, item.Column}
			if !r.value(item, t.Elem(), below) {
				*item = placeholder(t.Elem())
			}
		}
		return true
	}
	return r.scalar(n, t, key)
}

// placeholder stands for an entry that could not be read, so that those
// behind it keep their places. Nothing is said of it again (see refuse of
// checker).
func placeholder(t reflect.Type) yaml.Node {
	if t.Kind() == reflect.Struct && t != reflect.TypeFor[Fraction]() {
		return yaml.Node{Kind: yaml.MappingNode, Tag: "!!map"}
	}
	return yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: "0"}
}

// pairs goes over the keys of a section and keeps those that could be read.
func (r *reader) pairs(n *yaml.Node, key string, read func(name string, v *yaml.Node, below string) bool) {
	first := map[string]int{}
	var kept []*yaml.Node
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, v := n.Content[i], n.Content[i+1]
		below := strings.TrimPrefix(key+"."+plain(k.Value), ".")
		line, twice := first[k.Value]
		switch {
		case k.Kind != yaml.ScalarNode || k.Anchor != "" || k.ShortTag() != "!!str" && k.ShortTag() != "!!merge":
			r.faults = append(r.faults, Fault{Line: k.Line, Column: k.Column, Key: key, Problem: "has " + kindOf(k) + " in the place of a key", Expected: "a plain word before the colon"})
		case twice:
			r.faults = append(r.faults, Fault{Line: k.Line, Column: k.Column, Key: below, Problem: fmt.Sprintf("stands twice, first in line %d", line), Expected: "each key once"})
		default:
			first[k.Value] = k.Line
			r.at[below] = [2]int{k.Line, k.Column}
			if read(k.Value, v, below) {
				kept = append(kept, k, v)
			}
		}
	}
	n.Content = kept
}

// plain is a key as it is shown.
func plain(key string) string {
	if word.MatchString(key) {
		return key
	}
	return fmt.Sprintf("%.40q", key)
}

var word = regexp.MustCompile(`^[\pL\pN][\pL\pN _'()/+-]{0,60}$`)

// mostLooked is how often a near name is looked for in one file: a file of
// ten thousand slips is none that names help with.
const mostLooked = 1000

func (r *reader) near(typed string, names []string, within int) string {
	if r.looked++; r.looked > mostLooked {
		return ""
	}
	return nearest(typed, names, within)
}

func (r *reader) unknown(name, below string, known []field) bool {
	var names []string
	for _, f := range known {
		names = append(names, f.name)
	}
	problem := "is not known"
	if near := r.near(name, names, 2); near != "" {
		problem += ", probably " + near + " was meant"
	}
	slices.Sort(names)
	return r.refuse(below, problem, "one of "+strings.Join(names, ", "))
}

// field is one key of a section.
type field struct {
	name string
	t    reflect.Type
}

// fieldsOf lists the keys of a type as the YAML library reads them.
func fieldsOf(t reflect.Type) []field {
	var out []field
	for i := range t.NumField() {
		f := t.Field(i)
		name, option, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		switch {
		case name == "-" || !f.IsExported():
		case option == "inline":
			out = append(out, fieldsOf(f.Type)...)
		case name == "":
			out = append(out, field{strings.ToLower(f.Name), f.Type})
		default:
			out = append(out, field{name, f.Type})
		}
	}
	return out
}
