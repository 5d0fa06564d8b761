package element_test

import (
	"fmt"

	"weir.example/weir/mapping/element"
)

// Reading gives a tree and the faults, each with its place.
func ExampleRead() {
	document, findings := element.Read([]byte(`{
  "resourceType": "MedicationRequest",
  "status": "",
  "dosageInstruction": [{"text": "2 g over 30 minutes", "doseAndRate": [{"doseQuantity": {"value": 2.0}}]}]
}`), element.Limit{})

	for _, f := range findings {
		fmt.Printf("%s %s %d:%d: %s\n", f.Code, f.Place.Expression, f.Place.Line, f.Place.Column, f.Detail)
	}
	for _, instruction := range document.Root().Get("dosageInstruction").Each() {
		dose, suffix := instruction.Get("doseAndRate").At(0).Choice("dose")
		fmt.Println(suffix, dose.Get("value").Literal(), dose.Expression())
	}
	// Output:
	// document-value MedicationRequest.status 3:13: a string is empty
	// Quantity 2.0 MedicationRequest.dosageInstruction[0].doseAndRate[0].doseQuantity
}

// A resource is built from its elements; what has no value is left out.
func Example_write() {
	volume, note := "250", ""
	task := element.Obj(
		element.F("resourceType", element.Str("Task")),
		element.F("status", element.Str("requested")),
		element.F("note", element.List(element.Obj(element.F("text", element.Str(note))))),
		element.F("input", element.List(element.Obj(
			element.F("valueQuantity", element.Obj(
				element.F("value", element.Num(volume)),
				element.F("code", element.Str("mL")),
			)),
		))),
	)
	fmt.Print(string(element.Encode(task)))
	fmt.Print(string(element.EncodeLine(task)))
	// Output:
	// {
	//   "resourceType": "Task",
	//   "status": "requested",
	//   "input": [
	//     {
	//       "valueQuantity": {
	//         "value": 250,
	//         "code": "mL"
	//       }
	//     }
	//   ]
	// }
	// {"resourceType":"Task","status":"requested","input":[{"valueQuantity":{"value":250,"code":"mL"}}]}
}

// An order is hashed without its meta, whatever the order of its members.
func ExampleCanonical() {
	document, _ := element.Read([]byte(`{"resourceType":"MedicationRequest", "meta":{"versionId":"3"}, "id":"a"}`), element.Limit{})
	fmt.Println(string(element.Canonical(document.Root(), "meta")))
	// Output: {"id":"a","resourceType":"MedicationRequest"}
}
