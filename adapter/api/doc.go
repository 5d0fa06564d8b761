// Package api is the FHIR R4 door over HTTP (https://hl7.org/fhir/R4/http.html).
//
// It answers what needs no store: $verify judges a document and keeps
// nothing, metadata says what is served, and the definitions of ours are read
// at their addresses. Nothing that a request holds is repeated in a refusal or
// written to the log: refusals point at the element, the log has the method,
// the route, the status, the time taken and the request's id.
package api
