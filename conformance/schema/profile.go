package schema

import "weir.example/weir/mapping/element"

// profiles refuses a resource that says of itself, in meta.profile, that it
// is of another FHIR release.
func (w *walker) profiles(n element.Node) {
	for _, p := range n.Get("meta").Get("profile").Each() {
		if release := releaseOfProfile(p.Text()); release != "" {
			w.add("document-unsupported", p.Place(), "a profile of FHIR "+release, "a resource of FHIR R4 (4.0.1)",
				"Sender: send the document in FHIR R4.", "the resource says it is FHIR "+release+": the document does not look like R4")
		}
	}
}
