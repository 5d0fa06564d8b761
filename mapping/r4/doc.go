// Package r4 translates between FHIR R4 (4.0.1, https://hl7.org/fhir/R4/) and
// the canonical model: documents into cases (https://hl7.org/fhir/R4/medicationrequest.html,
// https://hl7.org/fhir/R4/dosage.html and the pages of the resources named in
// inputs.json), worksheets into Bundles. It knows the names of FHIR elements
// and codes; it imports no FHIR library and judges no dose.
package r4
