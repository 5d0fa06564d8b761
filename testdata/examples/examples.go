// Package examples holds 40 official FHIR R4 examples
// (https://hl7.org/fhir/R4/downloads.html), for tests only. README.md tells
// where they come from. The folder is named testdata, so `./...` passes it
// by.
package examples

import "embed"

// Files are the examples, by file name.
//
//go:embed *.json
var Files embed.FS
