package adapter

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/sig"
)

// File is one embedded file of a table, as a person reads and signs it.
type File struct {
	Name string // what it decides, in words; "" where the table is one file
	Data []byte
}

// Rules are the embedded files that decide something clinical and state no
// fact about a drug: they are signed together as one table. Files that only
// say where FHIR puts a thing, time zones, and how names are shown are none.
func Rules() []File {
	return []File{
		{"findings with their gates, stages and texts", finding.CodesFile()},
		{"supplies of a delivery", fulfillment.KitFile()},
		{"tasks and their times", fulfillment.TasksFile()},
		{"what is customary, by which explanations of a slip are ranked", arithmetic.CustomsFile()},
		{"words of directions", sig.WordsFile()},
		{"units in words", sig.UnitsFile()},
		{"codes of timing", schedule.AbbreviationsFile()},
		{"codes of measurements, and what no living person exceeds", r4.MeasurementsFile()},
		{"codes and words of lines", r4.AccessTypesFile()},
		{"what a laboratory order measures", r4.LaboratoryFile()},
		{"what is asked and answered", r4.AnswersFile()},
	}
}

// rulesHash is the hash of all rules. A file counts with its name, and its
// length keeps two files from running together.
var rulesHash = sync.OnceValue(func() string { return hashOf(Rules()) })

func hashOf(files []File) string {
	sum := sha256.New()
	for _, f := range files {
		fmt.Fprintf(sum, "%s %d\n", f.Name, len(f.Data))
		sum.Write(f.Data)
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// TableFiles are the files of a table as it is signed; false for a name that
// is none. Drugs are read one by one, and a site has its policy itself.
func TableFiles(table string) ([]File, bool) {
	if table == policy.RulesTable {
		return Rules(), true
	}
	data, ok := compendium.File(table)
	return []File{{Data: data}}, ok
}

// Shown are the tables that TableFiles knows, in the order of the list.
func Shown() []string {
	return slices.DeleteFunc(slices.Clone(tableOrder), func(name string) bool { _, ok := TableFiles(name); return !ok })
}

// rulesCount counts the rows of all rules. A row or file that states no
// standing counts as recalled: nothing here is taken for read.
func rulesCount() compendium.Count {
	c := compendium.Count{Standing: map[string]int{compendium.Sourced: 0, compendium.Corroborated: 0, compendium.Memory: 0}}
	var editions []string
	for _, f := range Rules() {
		var file map[string]any
		d := json.NewDecoder(bytes.NewReader(f.Data))
		if err := d.Decode(&file); err != nil {
			panic(fmt.Sprintf("rules: %s: %v", f.Name, err)) // a fault of this build, caught by the first test
		}
		if e, ok := file["edition"].(string); ok {
			editions = append(editions, e)
		}
		whole, _ := file["standing"].(string)
		for _, row := range rowsOf(file) {
			c.Rows++
			c.Standing[standingOf(row, whole)]++
		}
	}
	slices.Sort(editions)
	c.Edition = strings.Join(slices.Compact(editions), ", ")
	return c
}

// rowsOf are the rows of a file: the elements of its lists and the members
// of its objects.
func rowsOf(file map[string]any) (out []any) {
	for _, v := range file {
		switch v := v.(type) {
		case []any:
			out = append(out, v...)
		case map[string]any:
			for _, x := range v {
				out = append(out, x)
			}
		}
	}
	return out
}

// standingOf is the standing of a row, else that of its file. Code tables
// write S for what was read in a public guide.
func standingOf(row any, whole string) string {
	said := whole
	if m, ok := row.(map[string]any); ok {
		if s, ok := m["standing"].(string); ok {
			said = s
		}
	}
	switch said {
	case compendium.Sourced, "S":
		return compendium.Sourced
	case compendium.Corroborated:
		return compendium.Corroborated
	}
	return compendium.Memory
}
