package element

import "math"

// Limit bounds what Read accepts. A field that is zero takes the value of
// DefaultLimit.
type Limit struct {
	Bytes      int // of the document
	Depth      int // arrays and objects open at once
	String     int // bytes of one string as written, without its quotes
	Nodes      int // values of every kind
	Entries    int // elements of one `entry` (Bundle.entry)
	Contained  int // elements of one `contained`
	Extensions int // elements of one `extension` or `modifierExtension`
	Codings    int // elements of one `coding`
}

// DefaultLimit is for a Bundle. FHIR gives only the 1 MiB of a string
// (https://hl7.org/fhir/R4/datatypes.html#string); the others are our own
// decision, no source, far above what an order needs.
var DefaultLimit = Limit{
	Bytes: 50 << 20, Depth: 64, String: 1 << 20, Nodes: 1_000_000,
	Entries: 5_000, Contained: 100, Extensions: 200, Codings: 50,
}

// A number may have 18 digits that count (R4 asks for at least 18,
// https://hl7.org/fhir/R4/datatypes.html#decimal), as many zeros before them
// as the exponent could have written, and an exponent of at most 20. All of
// this is judged on the text. mapping/quantity has the same bounds.
const (
	maxDigits   = 18
	maxExponent = 20
	maxName     = 256 // bytes of a member name; the longest of R4 has fewer than 40
	maxFaults   = 1_000
)

func (l Limit) withDefaults() Limit {
	fill := func(field *int, value int) {
		if *field <= 0 {
			*field = value
		}
	}
	fill(&l.Bytes, DefaultLimit.Bytes)
	fill(&l.Depth, DefaultLimit.Depth)
	fill(&l.String, DefaultLimit.String)
	fill(&l.Nodes, DefaultLimit.Nodes)
	fill(&l.Entries, DefaultLimit.Entries)
	fill(&l.Contained, DefaultLimit.Contained)
	fill(&l.Extensions, DefaultLimit.Extensions)
	fill(&l.Codings, DefaultLimit.Codings)
	l.Bytes = min(l.Bytes, math.MaxInt32-1) // offsets are 32 bits
	l.Nodes = min(l.Nodes, math.MaxInt32-1)
	return l
}

// elements is how many elements an array of that name may have, 0 when only
// the number of nodes bounds it.
func (l Limit) elements(name string) int {
	switch name {
	case "entry":
		return l.Entries
	case "contained":
		return l.Contained
	case "extension", "modifierExtension":
		return l.Extensions
	case "coding":
		return l.Codings
	}
	return 0
}
