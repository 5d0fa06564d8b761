// Package schema asks whether a document is FHIR R4 (4.0.1,
// https://hl7.org/fhir/R4/resource.html): elements, cardinality, formats and
// required codes from a table made of the official definitions (r4.txt), the
// error-level invariants of the types that are read and emitted, and
// references inside the document. It joins its own answer with that of other
// judges into one sorted list, and validates data of our own by JSON Schema
// (https://json-schema.org/draft/2020-12/schema).
//
// It has no clinical sense: a dose that cannot be right passes here, and so
// does a unit that is no UCUM. What an order lacks, or points at and does not
// find, is said where orders are read.
package schema
