package schema

import (
	_ "embed"
	"strings"
	"sync"
)

//go:embed releases.txt
var releasesFile string

// otherRelease names the FHIR release that has a resource type or an element
// path which R4 lacks, "" when none is known. It serves only the words of a
// refusal.
func otherRelease(path string) string { return releases()[path] }

var releases = sync.OnceValue(func() map[string]string {
	known := map[string]string{}
	for line := range strings.SplitSeq(releasesFile, "\n") {
		if name, release, ok := strings.Cut(line, "\t"); ok && line[0] != '#' {
			known[name] = release
		}
	}
	return known
})

// releaseOfProfile names the release in the address of a core profile of
// another FHIR release, such as http://hl7.org/fhir/5.0/StructureDefinition/Patient.
func releaseOfProfile(url string) string {
	rest, ok := strings.CutPrefix(url, "http://hl7.org/fhir/")
	if !ok {
		return ""
	}
	version, _, _ := strings.Cut(rest, "/")
	return map[string]string{"1.0": "DSTU2", "DSTU2": "DSTU2", "3.0": "STU3", "STU3": "STU3", "4.3": "R4B", "R4B": "R4B",
		"5.0": "R5", "R5": "R5", "6.0": "R6", "R6": "R6"}[version]
}
