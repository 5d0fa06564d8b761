package r4

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
)

//go:embed inputs.json
var inputsFile []byte

// InputRow is one fact with the R4 elements it is read from: First, then
// those of Then in order. Words are remarks for people.
type InputRow struct {
	Group, Fact, Words string
	First, Then        []string
}

// Inputs returns the table of where each fact is read.
var Inputs = sync.OnceValue(func() []InputRow {
	var file struct{ Rows []InputRow }
	if err := json.Unmarshal(inputsFile, &file); err != nil || len(file.Rows) == 0 {
		panic(fmt.Sprint("table of inputs: ", err)) // a fault of this build, caught by the first test
	}
	return file.Rows
})

// InputTypes are the resource types that are read, sorted.
func InputTypes() []string {
	var out []string
	for _, r := range Inputs() {
		for _, p := range slices.Concat(r.First, r.Then) {
			kind, _, _ := strings.Cut(p, ".")
			out = append(out, kind)
		}
	}
	slices.Sort(out)
	return slices.DeleteFunc(slices.Compact(out), func(kind string) bool { return kind == "Bundle" })
}

// InputTable writes the table in Markdown, as it stands in DEVELOPERS.md.
func InputTable() string {
	var b strings.Builder
	b.WriteString("| | fact | read first | then |\n|---|---|---|---|\n")
	group := ""
	for _, r := range Inputs() {
		name := ""
		if r.Group != group {
			name, group = r.Group, r.Group
		}
		fact := r.Fact
		if r.Words != "" {
			fact += " (" + r.Words + ")"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", name, fact, code(r.First), code(r.Then))
	}
	return b.String()
}

func code(paths []string) string {
	var out []string
	for _, p := range paths {
		p = strings.Replace(p, "MedicationRequest.", "MR.", 1)
		p = strings.Replace(p, "dosageInstruction.", "DI.", 1)
		out = append(out, "`"+p+"`")
	}
	return strings.Join(out, ", ")
}
