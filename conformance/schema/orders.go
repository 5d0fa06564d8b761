package schema

import (
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// Orders says that a document which is FHIR R4 holds no order that could be
// judged: it is neither a MedicationRequest nor a Bundle with one in it. It
// gives one finding, or none. Saying nothing of such a document would look
// like a pass.
func Orders(d *element.Document) []finding.Finding {
	root := d.Root()
	name := root.Get("resourceType").Text()
	if name == "MedicationRequest" || holdsOrder(root) {
		return nil
	}
	observed := "a document of type " + token(name)
	if name == "Bundle" {
		observed = "a Bundle of " + count(root.Get("entry").Len(), "resource")
	}
	const detail = "not an order document: there is no MedicationRequest in it"
	return []finding.Finding{{Code: "document-unsupported", Place: root.Place(), Observed: observed,
		Expected: "a MedicationRequest, or a Bundle that holds at least one",
		Remedy:   "Sender: send the order itself, as a MedicationRequest in a Bundle with what it refers to.",
		Detail:   detail, Diagnostic: detail}}
}

// holdsOrder looks through a Bundle and the Bundles in it.
func holdsOrder(bundle element.Node) bool {
	if bundle.Get("resourceType").Text() != "Bundle" {
		return false
	}
	for _, e := range bundle.Get("entry").Each() {
		r := e.Get("resource")
		if r.Get("resourceType").Text() == "MedicationRequest" || holdsOrder(r) {
			return true
		}
	}
	return false
}
