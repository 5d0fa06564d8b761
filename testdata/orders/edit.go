package orders

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// apply makes the changes in order and writes the document again. A change
// that finds nothing, or more than one thing, to change is an error: a
// variant that changes nothing would test its base.
func apply(document []byte, edits []edit) ([]byte, error) {
	root, err := parse(document)
	if err != nil {
		return nil, err
	}
	for _, e := range edits {
		if err := change(root, e); err != nil {
			return nil, fmt.Errorf("line %d: %s: %w", e.line, e.verb, err)
		}
	}
	return root.text()
}

func change(root *node, e edit) error {
	word, rest, _ := strings.Cut(e.rest, " ")
	rest = strings.TrimSpace(rest)
	if e.verb == "resource" {
		return addEntry(root, word, rest)
	}
	at, target, err := find(root, word)
	if err != nil {
		return err
	}
	if e.verb == "drop" {
		if at < 0 || rest != "" {
			return errors.New("drop takes one entry of the Bundle")
		}
		entries := root.member("entry")
		entries.values = slices.Delete(entries.values, at, at+1)
		return nil
	}
	where, text, _ := strings.Cut(rest, " ")
	steps, err := split(where)
	if err != nil {
		return err
	}
	last := steps[len(steps)-1]
	for _, s := range steps[:len(steps)-1] {
		if target = s.in(target); target == nil {
			return fmt.Errorf("%s: nothing at %s", where, s)
		}
	}
	if e.verb == "delete" {
		return last.remove(target)
	}
	value, err := parse([]byte(text))
	if err != nil {
		return fmt.Errorf("the value: %w", err)
	}
	if e.verb == "set" {
		return last.replace(target, value)
	}
	return last.add(target, value)
}

// step is one part of a path: a member of an object, or a place in an array.
type step struct {
	name  string
	index int // -1 for a member
}

func (s step) String() string {
	if s.index >= 0 {
		return "[" + strconv.Itoa(s.index) + "]"
	}
	return s.name
}

// split reads dosageInstruction[0].text.
func split(path string) ([]step, error) {
	var out []step
	for part := range strings.SplitSeq(path, ".") {
		name, places, _ := strings.Cut(part, "[")
		if name == "" {
			return nil, fmt.Errorf("%q is no path", path)
		}
		out = append(out, step{name, -1})
		if places == "" {
			continue
		}
		for place := range strings.SplitSeq(strings.TrimSuffix(places, "]"), "][") {
			i, err := strconv.Atoi(place)
			if err != nil || i < 0 {
				return nil, fmt.Errorf("%q is no place in an array", place)
			}
			out = append(out, step{"", i})
		}
	}
	return out, nil
}

// place gives where in n the step leads, or -1.
func (s step) place(n *node) int {
	if s.index >= 0 {
		if n.kind == '[' && s.index < len(n.values) {
			return s.index
		}
		return -1
	}
	return slices.Index(n.names, s.name)
}

func (s step) in(n *node) *node {
	if i := s.place(n); i >= 0 {
		return n.values[i]
	}
	return nil
}

func (s step) replace(n, value *node) error {
	i := s.place(n)
	if i < 0 {
		return fmt.Errorf("nothing at %s to set; use add", s)
	}
	n.values[i] = value
	return nil
}

// add appends to an array, or makes a member that is not there yet.
func (s step) add(n, value *node) error {
	there := s.in(n)
	switch {
	case there != nil && there.kind == '[':
		there.values = append(there.values, value)
	case there != nil:
		return fmt.Errorf("something stands at %s already; use set", s)
	case s.index >= 0 || n.kind != '{':
		return fmt.Errorf("nothing at %s to add to", s)
	default:
		n.put(s.name, value)
	}
	return nil
}

func (s step) remove(n *node) error {
	i := s.place(n)
	if i < 0 {
		return fmt.Errorf("nothing at %s to delete", s)
	}
	n.values = slices.Delete(n.values, i, i+1)
	if n.kind == '{' {
		n.names = slices.Delete(n.names, i, i+1)
	}
	return nil
}
