package orders

import (
	"bytes"
	"fmt"
	"io"

	"github.com/go-json-experiment/json/jsontext"
)

// node is one JSON value with the order of its members and the sender's own
// literals: a number is never read as a number, so 82.40 stays 82.40.
type node struct {
	kind    jsontext.Kind
	literal []byte // of a string, number, true, false or null
	names   []string
	values  []*node // of an object or an array
}

func parse(data []byte) (*node, error) {
	d := jsontext.NewDecoder(bytes.NewReader(data))
	n, err := readNode(d)
	if err != nil {
		return nil, err
	}
	if _, err := d.ReadToken(); err != io.EOF {
		return nil, fmt.Errorf("text after the JSON value at byte %d", d.InputOffset())
	}
	return n, nil
}

func readNode(d *jsontext.Decoder) (*node, error) {
	kind := d.PeekKind()
	if kind != '{' && kind != '[' {
		raw, err := d.ReadValue()
		return &node{kind: kind, literal: bytes.Clone(raw)}, err
	}
	if _, err := d.ReadToken(); err != nil {
		return nil, err
	}
	n := &node{kind: kind}
	for d.PeekKind() != '}' && d.PeekKind() != ']' {
		if kind == '{' {
			name, err := d.ReadToken()
			if err != nil {
				return nil, err
			}
			n.names = append(n.names, name.String())
		}
		v, err := readNode(d)
		if err != nil {
			return nil, err
		}
		n.values = append(n.values, v)
	}
	_, err := d.ReadToken()
	return n, err
}

// text writes the value, two spaces a level, as the base documents stand.
func (n *node) text() ([]byte, error) {
	var out bytes.Buffer
	e := jsontext.NewEncoder(&out, jsontext.WithIndent("  "), jsontext.PreserveRawStrings(true))
	if err := n.write(e); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

func (n *node) write(e *jsontext.Encoder) error {
	if n.literal != nil {
		return e.WriteValue(n.literal)
	}
	open, shut := jsontext.BeginObject, jsontext.EndObject
	if n.kind == '[' {
		open, shut = jsontext.BeginArray, jsontext.EndArray
	}
	if err := e.WriteToken(open); err != nil {
		return err
	}
	for i, v := range n.values {
		if n.kind == '{' {
			if err := e.WriteToken(jsontext.String(n.names[i])); err != nil {
				return err
			}
		}
		if err := v.write(e); err != nil {
			return err
		}
	}
	return e.WriteToken(shut)
}

// member gives the value called name of an object, or nil.
func (n *node) member(name string) *node {
	if n == nil {
		return nil
	}
	for i, m := range n.names {
		if m == name {
			return n.values[i]
		}
	}
	return nil
}

// items gives the elements of an array, none for anything else.
func (n *node) items() []*node {
	if n == nil || n.kind != '[' {
		return nil
	}
	return n.values
}

// str gives the text of a JSON string, or "".
func (n *node) str() string {
	if n == nil || n.kind != '"' {
		return ""
	}
	s, err := jsontext.AppendUnquote(nil, n.literal)
	if err != nil {
		return ""
	}
	return string(s)
}

func quoted(s string) *node {
	raw, err := jsontext.AppendQuote(nil, s)
	if err != nil {
		panic(err) // only for bytes that are not UTF-8
	}
	return &node{kind: '"', literal: raw}
}

func (n *node) put(name string, v *node) {
	n.names = append(n.names, name)
	n.values = append(n.values, v)
}
