package settings

import (
	"bytes"
	"errors"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"weir.example/weir/mapping/policy"
)

type fileReader struct {
	values map[string]found
	faults policy.Faults
}

func (r *fileReader) refuse(line, column int, key, problem, expected string) {
	r.faults = append(r.faults, policy.Fault{Line: max(1, line), Column: max(1, column), Key: key, Problem: problem, Expected: expected})
}

var lineOf = regexp.MustCompile(`line (\d+)`)

// read walks the file node by node: the library would stop at the first
// fault, and let a key that stands twice win.
func (r *fileReader) read(data []byte) {
	if !utf8.Valid(data) {
		r.refuse(1, 1, "", "is no UTF-8 text", "a text file in UTF-8")
		return
	}
	d := yaml.NewDecoder(bytes.NewReader(data))
	var root yaml.Node
	switch err := d.Decode(&root); {
	case errors.Is(err, io.EOF):
		return
	case err != nil:
		line := 1
		if m := lineOf.FindStringSubmatch(err.Error()); m != nil {
			line, _ = strconv.Atoi(m[1])
		}
		r.refuse(line, 1, "", "is no YAML", "lines of NAME: VALUE")
		return
	}
	if err := d.Decode(&yaml.Node{}); !errors.Is(err, io.EOF) {
		r.refuse(1, 1, "", "holds more than one document", "one, without ---")
	}
	if len(root.Content) > 0 {
		r.section(root.Content[0], "")
	}
}

// section reads one level of names.
func (r *fileReader) section(n *yaml.Node, above string) {
	if n.Kind == yaml.ScalarNode && n.Tag == "!!null" {
		return // nothing stands in it
	}
	if n.Kind != yaml.MappingNode || n.Anchor != "" {
		r.refuse(n.Line, n.Column, strings.TrimSuffix(above, "."), "holds no names with values", "lines such as "+strings.Join(below(above), ": …, ")+": …")
		return
	}
	seen := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		name := above + key.Value
		if line, twice := seen[key.Value]; twice {
			r.refuse(key.Line, key.Column, name, "stands twice, first in line "+strconv.Itoa(line), "it once")
			continue
		}
		seen[key.Value] = key.Line
		at := slices.IndexFunc(table, func(s Setting) bool { return s.Name == name })
		switch {
		case at >= 0:
			r.value(table[at], value)
		case slices.ContainsFunc(table, func(s Setting) bool { return strings.HasPrefix(s.Name, name+".") }):
			r.section(value, name+".")
		default:
			r.refuse(key.Line, key.Column, name, "is no setting", "one of "+strings.Join(below(above), ", "))
		}
	}
}

// below are the names that may stand in a section.
func below(above string) []string {
	var out []string
	for _, s := range table {
		if rest, ok := strings.CutPrefix(s.Name, above); ok {
			first, _, _ := strings.Cut(rest, ".")
			if !slices.Contains(out, first) {
				out = append(out, first)
			}
		}
	}
	return out
}

func (r *fileReader) value(s Setting, n *yaml.Node) {
	wrong := func(at *yaml.Node, problem string) { r.refuse(at.Line, at.Column, s.Name, problem, s.Need) }
	if n.Anchor != "" || n.Kind == yaml.AliasNode {
		wrong(n, "is said by reference")
		return
	}
	if s.Kind == Many {
		if n.Kind != yaml.SequenceNode {
			wrong(n, "is no list")
			return
		}
		out := found{line: n.Line, column: n.Column}
		for _, e := range n.Content {
			if e.Kind != yaml.ScalarNode || e.Tag != "!!str" || e.Value == "" {
				wrong(e, "holds what is no text")
				return
			}
			out.text = append(out.text, e.Value)
		}
		r.values[s.Name] = out
		return
	}
	want := "!!str"
	if s.Kind == Number {
		want = "!!int"
	}
	switch {
	case n.Kind != yaml.ScalarNode:
		wrong(n, "holds more than one value")
	case n.Tag == "!!null" && s.Kind != Number:
		wrong(n, "has no value")
	case n.Tag != want && want == "!!int":
		wrong(n, strconv.Quote(n.Value)+" is no whole number")
	case n.Tag != want:
		wrong(n, "is no text")
	default:
		r.values[s.Name] = found{text: []string{n.Value}, line: n.Line, column: n.Column}
	}
}
