package adapter

import (
	"fmt"
	"strings"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/finding"
)

// Explain is the page of one code as plain text, with what its rule needs,
// and false when the table has no such code.
func Explain(code finding.Code) (string, bool) {
	row, _ := finding.Lookup(code)
	return finding.Explain(code, finding.Section{Name: "Rule", Text: ruleOf(row)})
}

// ExplainAll is the page of every code, in the order of the table.
func ExplainAll() string {
	var pages []string
	for _, row := range finding.Codes() {
		page, _ := Explain(row.Code)
		pages = append(pages, page)
	}
	return strings.Join(pages, "\n"+strings.Repeat("-", 78)+"\n\n")
}

// factWords are the facts whose short names say too little to a reader.
var factWords = map[verification.Fact]string{
	verification.Order: "the order", verification.Case: "the patient's record", verification.Policy: "the site's policy", verification.Now: "the clock",
	verification.Agreement: "the numbers of the order compared with each other", verification.Quantities: "the numbers worked out",
	verification.Plan: "the plan of doses and deliveries", verification.Kit: "the kit", verification.DrugRow: "the drug's row in the table",
	verification.Hazard: "the assessment of hazard",
}

// ruleOf says in a sentence or two what asks the code and what it needs.
func ruleOf(row finding.Row) string {
	switch {
	case row.Group == "document":
		return "Asked of every document before any order in it is judged."
	case row.Gate == finding.NoGate:
		return "Asked of the tables in force with every answer."
	case row.Group == "nightly":
		return "Asked by the nightly comparison with what is held, not of a single document."
	}
	for _, r := range verification.Rules() {
		if r.Code != row.Code {
			continue
		}
		var needs []string
		for _, f := range r.Needs {
			words := factWords[f]
			if words == "" {
				words = string(f)
			}
			needs = append(needs, words)
		}
		text := "Needs " + list(needs) + ". Without one of them the rule is not checked, and the answer says which is missing."
		if r.Applies == nil {
			return "Asked of every order. " + text
		}
		return "Asked of orders it applies to. " + text
	}
	return "No rule of this version asks it: that it is not found means nothing. A person checks it."
}

func list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// RulesMarkdown writes the documentation of all codes in Markdown: a table of them,
// then for each what `weir explain` shows.
func RulesMarkdown() string {
	var b strings.Builder
	b.WriteString("# Finding codes\n\nEvery finding of Weir has one of these codes. A finding gates from its stage on; before that it is an open task.\n")
	fmt.Fprintf(&b, "There are %d, made from `codes.json` beside this file and the registry of rules by\n", len(finding.Codes()))
	b.WriteString("`go run ./cmd/weir explain --all --output markdown`; a test holds the two together.\n")
	group := ""
	for _, row := range finding.Codes() {
		if row.Group != group {
			group = row.Group
			fmt.Fprintf(&b, "\n## Codes: %s\n\n| code | gate | stage | says |\n|---|---|---|---|\n", group)
		}
		fmt.Fprintf(&b, "| [%s](#%s) | %s | %s | %s |\n", row.Code, row.Code, gateWord(row), stageWord(row), cell(row.Title))
	}
	for _, row := range finding.Codes() {
		fmt.Fprintf(&b, "\n### %s\n\n%s.\n\n%s\n\n", row.Code, row.Title, row.Meaning)
		for _, x := range [][2]string{{"Gate", gateWord(row) + ". " + row.Gate.Passes()}, {"Stage", stageWord(row)}, {"Severity", row.Severity}, {"Rule", ruleOf(row)}, {"Practice row", row.Practice},
			{"What to do", row.Remedy}, {"Fires", row.Fires}, {"Does not fire", row.Quiet}, {"Source", row.Citation + " (" + row.Standing + ")"}} {
			if x[1] != "" {
				fmt.Fprintf(&b, "* **%s:** %s\n", x[0], x[1])
			}
		}
	}
	return b.String()
}

func gateWord(row finding.Row) string {
	if row.Gate == finding.NoGate {
		return "none"
	}
	return string(row.Gate)
}

func stageWord(row finding.Row) string {
	switch row.Stage {
	case "":
		return ""
	case finding.Every:
		return "every"
	}
	return string(row.Stage)
}

// cell keeps a text inside its cell of a Markdown table.
func cell(text string) string { return strings.ReplaceAll(text, "|", `\|`) }
