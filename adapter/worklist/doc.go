// Package worklist serves the pages that a pharmacy's staff read: the list of
// orders, worst first, and one order with everything that its judgement rests
// on. The pages only read. They are HTML from templates, with one style sheet,
// no script, and nothing loaded from elsewhere; an address holds ids that we
// made and never a word about a patient, and so does a title, since both stay
// in the browser's history. What the sender wrote stands in boxes marked as
// received; every other word goes through mapping/notation.
package worklist
