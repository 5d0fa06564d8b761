package element

import "weir.example/weir/mapping/finding"

// MostLine bounds one line of NDJSON in bytes, its line feed not counted. Our
// own decision, no source: an order with everything about its patient has
// less than a hundredth of it.
const MostLine = 5 << 20

// ReadLine is Read for a document that is one line of a file: places count
// from that line (the first is 1), and MostLine bounds it.
func ReadLine(data []byte, limit Limit, line int) (*Document, []finding.Finding) {
	if limit.Bytes <= 0 || limit.Bytes > MostLine {
		limit.Bytes = MostLine
	}
	return read(data, limit, max(line, 1))
}

// Overlong is the finding of a line that was not read because it has more
// than MostLine bytes; size is how many it has.
func Overlong(size, line int) finding.Finding {
	d := &Document{line: max(line, 1) - 1}
	f := &faults{doc: d}
	f.add(fault{code: limits, what: oversize(size, MostLine)})
	return f.findings()[0]
}

// Rename gives the root another name in expressions than its type, so that
// places in several documents that are read as one can be told apart:
// Observation.where(id='w1').valueQuantity. It is called before the document
// is shared.
func (d *Document) Rename(root string) { d.root = root }
