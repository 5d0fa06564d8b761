package profile

import (
	_ "embed"
	"encoding/json"
	"slices"
	"strings"
	"sync"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/r4"
)

//go:embed systems.json
var systemsFile []byte

type code struct{ Code, Display, Definition string }

type system struct {
	ID, Title, Description string
	Codes                  []code
}

// written are the code systems of the file.
var written = sync.OnceValue(func() []system {
	var file struct{ Systems []system }
	must(json.Unmarshal(systemsFile, &file))
	return file.Systems
})

// must is for files of this build: a fault in them is caught by the first test.
func must(err error) {
	if err != nil {
		panic("conformance/profile: " + err.Error())
	}
}

// made are the code systems whose codes are rows of a table of the program.
func made() []system {
	findings := system{ID: "finding", Title: "Finding of a home-infusion check", Description: "Every code a check can give, with the meaning of its row."}
	for _, row := range finding.Codes() {
		findings.Codes = append(findings.Codes, code{string(row.Code), row.Title, row.Meaning})
	}
	tasks := system{ID: "task", Title: "Task of a home infusion", Description: "Planned tasks, and findings that gate only at a later stage: until then each is an open task of the same code.",
		Codes: []code{{"fulfill", "Fulfil the home-infusion order", ""}, {"review-unapplied-change", "Review a change that was not applied", "An order was sent again with other content under a key that is already stored."},
			{"calcium-phosphate-check", "Check that calcium and phosphate stay dissolved", "Completed by a person for one amino acid product; its output is the answer."}}}
	for _, row := range fulfillment.TaskRows() {
		tasks.add(code{row.Code, row.Title, row.Closes})
	}
	for _, row := range finding.Codes() {
		tasks.add(code{string(row.Code), row.Title, ""})
	}
	kit := system{ID: "kit-item", Title: "Item of a kit", Description: "What is handed over with an infusion at home."}
	for _, row := range fulfillment.KitRows() {
		kit.add(code{row.Item, row.Name, ""})
	}
	facts := system{ID: "patient-fact", Title: "Fact about the patient", Description: "For Observation.code where LOINC has none: what is asked before some drugs, and the weight they are reckoned by.",
		Codes: []code{{"dosing-weight", "Fixed dosing weight", ""}}}
	var answers struct {
		Answers []struct{ Name, Asks string }
	}
	must(json.Unmarshal(r4.AnswersFile(), &answers))
	for _, a := range answers.Answers {
		facts.add(code{a.Name, strings.ToUpper(a.Asks[:1]) + a.Asks[1:], ""})
	}
	return []system{findings, tasks, kit, facts}
}

// add takes a code once: the first row of several says its words.
func (s *system) add(c code) {
	if !slices.ContainsFunc(s.Codes, func(have code) bool { return have.Code == c.Code }) {
		s.Codes = append(s.Codes, c)
	}
}

// systems makes each CodeSystem with the ValueSet of all its codes.
func (m maker) systems() []Resource {
	var out []Resource
	for _, s := range append(made(), written()...) {
		var codes []element.Value
		for _, c := range s.Codes {
			codes = append(codes, element.Obj(element.F("code", element.Str(c.Code)), element.F("display", element.Str(c.Display)), element.F("definition", element.Str(c.Definition))))
		}
		out = append(out, m.head("CodeSystem", s.ID, s.Title, s.Description,
			element.F("caseSensitive", element.Boolean(true)),
			element.F("valueSet", element.Str(valueSet(s.ID))),
			element.F("content", element.Str("complete")),
			element.F("count", element.Int(len(s.Codes))),
			element.F("concept", element.List(codes...))),
			m.head("ValueSet", s.ID, s.Title, s.Description, element.F("compose", element.Obj(element.F("include", element.List(
				element.Obj(element.F("system", element.Str(Canonical+"CodeSystem/"+s.ID)))))))))
	}
	return out
}

func valueSet(id string) string { return Canonical + "ValueSet/" + id }
