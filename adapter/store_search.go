package adapter

import "time"

// Op is how a value is compared. Texts are compared byte for byte: folding
// case and accents is the caller's, on both sides.
type Op string

// Comparisons of texts, and of spans of time as FHIR search defines them
// (R4 search.html, prefixes): the span searched for is [Low, High), that of
// the resource likewise.
const (
	OpEqual    Op = "eq"  // a text that is equal; a span that lies within
	OpPrefix   Op = "pre" // a text that begins so
	OpContains Op = "has" // a text that contains it
	OpInSystem Op = "sys" // any text of the system
	OpPresent  Op = "any" // has the parameter at all
	OpUnequal  Op = "ne"  // a span that does not lie within
	OpAfter    Op = "gt"  // a span that reaches beyond
	OpBefore   Op = "lt"  // a span that begins earlier
	OpNotBelow Op = "ge"  // OpAfter or OpEqual
	OpNotAbove Op = "le"  // OpBefore or OpEqual
	OpStarts   Op = "sa"  // a span that begins after its end
	OpEnds     Op = "eb"  // a span that ends before its start
)

// Match is one alternative of a criterion. System nil takes any system, ""
// none. A match with Low or High compares spans.
type Match struct {
	Op        Op
	System    *string
	Text      string
	Low, High time.Time
}

// Criterion is met when any of Any is met, or, with Not, when none is. Name
// is a search parameter; _id, _lastUpdated, identifier and _patient, the id of
// the patient it belongs to, are the store's own.
//
// Few says that few resources meet it, such as those of one patient: it
// changes how fast the answer comes, and never what is in it.
type Criterion struct {
	Name string
	Not  bool
	Few  bool
	Any  []Match
}

// Sort is the order of the answer: when Name is empty the order in which
// resources came to be, roughly; by _id, by _lastUpdated, or by the values of a
// parameter (ByTime: its spans, else its texts). Resources without a value come
// last. In the first order and by _id no page ever repeats or skips a resource;
// by the others a resource may move while it is being replaced. A page in the
// first order costs what is on it; the others look at all that meet the
// criteria.
type Sort struct {
	Name       string
	ByTime     bool
	Descending bool
}

// Query is a search over the current resources of one type. At most 500
// matches are taken.
type Query struct {
	Type string
	All  []Criterion
	Sort Sort
}

// Asked is one text value of a parameter of a type: see Store.ByValues.
type Asked struct{ Type, Name, Text string }

// Earliest and Latest stand for a span that is open at one end.
var (
	Earliest = time.Date(1, 1, 2, 0, 0, 0, 0, time.UTC)
	Latest   = time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC)
)
