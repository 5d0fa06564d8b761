// Package finding holds what Weir says about a document or an order: one
// type for every fault and every clinical finding, and the one table of
// codes (codes.json) that the CodeSystem, `weir explain` and the
// documentation are made from.
package finding

// Code names one requirement. It is the same in the rule's file, its
// fixture folder, its documentation and every output.
type Code string

// Gate says who may pass a finding.
type Gate string

// The gates, from the strictest. Refused belongs to documents only: the
// input could not be accepted and no order was judged.
const (
	Refused Gate = "refused"
	Block   Gate = "block" // nobody can pass: fix at source
	Hold    Gate = "hold"  // a licensed pharmacist passes, with a coded reason
	Warn    Gate = "warn"  // acknowledged by one licensed person
	Note    Gate = "note"  // recorded, no click
	NoGate  Gate = ""      // not checked for want of a table row or a relation
)

// Weight orders gates: the larger, the stricter. NoGate weighs nothing.
func (g Gate) Weight() int {
	switch g {
	case Refused:
		return 5
	case Block:
		return 4
	case Hold:
		return 3
	case Warn:
		return 2
	case Note:
		return 1
	}
	return 0
}

// Place is where in a document a thing stands. Expression is FHIRPath (in a
// Bundle it begins `Bundle.entry[n]`). Line and Column count from 1; 0 means
// unknown. Span, when its second number is greater than its first, is a
// half-open range of Unicode characters inside the string at Expression.
type Place struct {
	Expression string
	Line       int
	Column     int
	Span       [2]int
}

// Culprit is one explanation of a disagreement: the stated value that, once
// withdrawn (with those in With, if any), lets all the others agree.
type Culprit struct {
	Name       string   // the contract's NAME of the quantity
	With       []string // NAMEs that must be withdrawn together with it
	Stated     string   // decimal as text, in Unit
	Consistent string   // the value that would agree, decimal as text, in Unit
	Unit       string   // UCUM
	Signature  string   // how it came to be typed: tenfold, neighbouring-field, …, none
	Named      bool     // leads clearly; else "one of these"
	Reading    string   // another meaning of the field that closes every relation
	Expression string   // where the stated value stands
	Sentence   string   // the same, for a person
}

// Finding is one thing that is wrong, missing or to be known. Detail never
// holds patient data and may be logged; Diagnostic may hold it and goes only
// into the response.
type Finding struct {
	Code       Code
	Place      Place
	Observed   string
	Expected   string
	Remedy     string // empty: the table's remedy; else the same with the number filled in
	Culprits   []Culprit
	Detail     string
	Diagnostic string
	Evidence   []string // expressions of the other elements it rests on
	Standing   string   // of the table value it rests on; "" when it rests on none
	AtMost     Gate     // of the table value it rests on: no more than this gate; "" when it sets none
}
