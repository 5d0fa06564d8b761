package schema

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"weir.example/weir/mapping/quantity"
)

// settings turns a YAML file (https://yaml.org/spec/1.2.2/) into what JSON
// could say, with the place of every node. Numbers keep their digits.
type settings struct {
	at map[string][2]int // line and column by JSON Pointer
}

func readSettings(data []byte) (any, func(string) (line, column int), *Fault) {
	d := yaml.NewDecoder(bytes.NewReader(data))
	var first, second yaml.Node
	if err := d.Decode(&first); err != nil && !errors.Is(err, io.EOF) {
		return nil, nil, &Fault{Line: 1, Column: 1, Problem: "the text is no YAML: " + err.Error(), Expected: "settings as in the default policy"}
	}
	if err := d.Decode(&second); !errors.Is(err, io.EOF) {
		return nil, nil, &Fault{Line: max(1, second.Line), Column: max(1, second.Column), Problem: "the file holds a second document, which would not be read", Expected: "one document"}
	}
	s := settings{at: map[string][2]int{}}
	if len(first.Content) == 0 { // nothing but comments: all defaults
		return map[string]any{}, func(string) (int, int) { return 1, 1 }, nil
	}
	v, fault := s.value(first.Content[0], "")
	return v, s.place, fault
}

// place finds a pointer, or the nearest node above it that exists.
func (s settings) place(pointer string) (line, column int) {
	for {
		if at, ok := s.at[pointer]; ok {
			return at[0], at[1]
		}
		up := strings.LastIndexByte(pointer, '/')
		if up < 0 {
			return 1, 1
		}
		pointer = pointer[:up]
	}
}

func (s settings) value(n *yaml.Node, pointer string) (any, *Fault) {
	if _, ok := s.at[pointer]; !ok { // a key already has its own place
		s.at[pointer] = [2]int{n.Line, n.Column}
	}
	wrong := func(problem, expected string) (any, *Fault) {
		return nil, &Fault{Pointer: pointer, Line: n.Line, Column: n.Column, Problem: problem, Expected: expected}
	}
	switch n.Kind {
	case yaml.MappingNode:
		out := map[string]any{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			key := n.Content[i]
			below := pointer + "/" + escaped(key.Value)
			if _, twice := out[key.Value]; twice || key.Kind != yaml.ScalarNode {
				return nil, &Fault{Pointer: below, Line: key.Line, Column: key.Column, Problem: fmt.Sprintf("the key %.40q stands twice or is no plain word", key.Value), Expected: "each key once"}
			}
			s.at[below] = [2]int{key.Line, key.Column}
			v, fault := s.value(n.Content[i+1], below)
			if fault != nil {
				return nil, fault
			}
			out[key.Value] = v
		}
		return out, nil
	case yaml.SequenceNode:
		out := []any{}
		for i, c := range n.Content {
			v, fault := s.value(c, pointer+"/"+strconv.Itoa(i))
			if fault != nil {
				return nil, fault
			}
			out = append(out, v)
		}
		return out, nil
	case yaml.ScalarNode:
		return scalar(n, wrong)
	}
	return wrong("an alias is not read here", "the value itself")
}

func scalar(n *yaml.Node, wrong func(problem, expected string) (any, *Fault)) (any, *Fault) {
	switch n.ShortTag() {
	case "!!null":
		return nil, nil
	case "!!bool":
		return n.Value == "true" || n.Value == "True" || n.Value == "TRUE", nil
	case "!!int", "!!float":
		// As the program reads it: no exponent, and no more digits than a number
		// has. The validator would write 1e-99999999 out.
		if _, err := quantity.ParseNumber(n.Value); err != nil || strings.ContainsAny(n.Value, "eE") || !json.Valid([]byte(n.Value)) {
			return wrong(fmt.Sprintf("the number %.40q is not written in plain decimal digits", n.Value), "digits, and a point before decimals")
		}
		return json.Number(n.Value), nil
	case "!!str", "!!timestamp": // a date stays the text it is
		return n.Value, nil
	}
	return wrong(fmt.Sprintf("a value of the kind %.40q is not read here", n.ShortTag()), "text, a number, true or false")
}
