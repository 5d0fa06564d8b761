// Package element reads strict JSON into a flat tree in which every value
// keeps its literal, its FHIRPath and its line and column, and writes such
// values back in a fixed order. It knows JSON and the naming of FHIR paths,
// nothing of what a resource means.
package element

import "weir.example/weir/mapping/finding"

// Kind is the JSON kind of a node.
type Kind byte

// The kinds. None is the kind of the zero Node: nothing there.
const (
	None Kind = iota
	Null
	Bool
	Number
	String
	Array
	Object
)

// Limit bounds what Read accepts. The zero value means DefaultLimit.
type Limit struct {
	Bytes   int // document
	Depth   int
	String  int // bytes of one string
	Nodes   int
	Entries int // Bundle.entry
}

// Document is one JSON document as a flat tree.
type Document struct {
	data  []byte
	nodes []node
}

type node struct{}

// Node is one place in the tree; the zero Node is "nothing there", and every
// method of it answers nothing.
type Node struct {
	doc *Document
	at  int32
}

// Read is written by the element package's author.
func Read(data []byte, limit Limit) (*Document, []finding.Finding) { return nil, nil }

// Root is the document's value.
func (d *Document) Root() Node { return Node{} }

func (n Node) Kind() Kind                        { return None }
func (n Node) Exists() bool                      { return n.doc != nil }
func (n Node) Get(name string) Node              { return Node{} } // member of an object
func (n Node) At(i int) Node                     { return Node{} } // element of an array
func (n Node) Len() int                          { return 0 }      // elements or members
func (n Node) Each() []Node                      { return nil }    // elements of an array; a lone object or value gives itself once; absent gives none
func (n Node) Members() []Node                   { return nil }    // members of an object in document order
func (n Node) Name() string                      { return "" }     // member name, "" for array elements and the root
func (n Node) Parent() Node                      { return Node{} }
func (n Node) Choice(stem string) (Node, string) { return Node{}, "" } // value[x]: the node and its type suffix, "Quantity"
func (n Node) Literal() string                   { return "" }         // number or bool as written; string unquoted
func (n Node) Text() string                      { return "" }         // string value, "" otherwise
func (n Node) Expression() string                { return "" }         // FHIRPath from the root resource's type: Bundle.entry[3].resource.dosageInstruction[0].text
func (n Node) Position() (line, column int)      { return 0, 0 }
func (n Node) Place() finding.Place              { return finding.Place{} }
func (n Node) Raw() []byte                       { return nil } // the bytes of the value as received
