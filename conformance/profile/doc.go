// Package profile makes the FHIR R4 conformance resources of this program
// from its own tables: CodeSystems and ValueSets, extensions, profiles of
// what is accepted and emitted, search parameters, the operation, the
// messages and the capability statement; and packs them as one FHIR package
// (https://hl7.org/fhir/R4/packages.html).
package profile
