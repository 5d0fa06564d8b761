// Package schema asks whether a document is FHIR R4 (4.0.1,
// https://hl7.org/fhir/R4/): structure, cardinality, primitive formats and
// required codes from a table made of the official definitions (r4.txt),
// the invariants of the types that are read and emitted, and references. It
// combines its own answer with that of other judges into one sorted list,
// and validates our own data files by JSON Schema. It has no clinical sense.
package schema
