package finding

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"sync"
)

//go:embed codes.json
var codesFile []byte

// Row is one code of THE table.
type Row struct {
	Code     Code   `json:"code"`
	Group    string `json:"group"`
	Gate     Gate   `json:"gate"`     // "none" in the file is NoGate here
	Severity string `json:"severity"` // high moderate low; "" for documents and for no gate
	Stage    Stage  `json:"stage"`    // from which stage it gates; "" for documents
	Practice string `json:"practice"` // rows of the practice table, e.g. "d1"
	Title    string `json:"title"`    // short, for people
	Meaning  string `json:"meaning"`  // what it says and why it matters
	Remedy   string `json:"remedy"`   // who does what next
	Citation string `json:"citation"` // published source, or "common practice, no source"
	Standing string `json:"standing"` // sourced memory
	Fires    string `json:"fires"`    // an example that fires
	Quiet    string `json:"quiet"`    // one that does not
}

// Codes returns the table in its order. The caller may not change it.
var Codes = sync.OnceValue(func() []Row {
	var file struct{ Rows []Row }
	if err := json.Unmarshal(codesFile, &file); err != nil || len(file.Rows) == 0 {
		panic(fmt.Sprint("table of codes: ", err)) // a fault of this build, caught by the first test
	}
	for i := range file.Rows {
		if file.Rows[i].Gate == "none" {
			file.Rows[i].Gate = NoGate
		}
	}
	return file.Rows
})

var positions = sync.OnceValue(func() map[Code]int {
	index := make(map[Code]int, len(Codes()))
	for i, row := range Codes() {
		if _, twice := index[row.Code]; twice {
			panic(fmt.Sprintf("table of codes: %s stands twice", row.Code))
		}
		index[row.Code] = i
	}
	return index
})

// CodesFile returns the bytes of the table, for its schema check and for the
// hash of the program that stands in every result.
func CodesFile() []byte { return codesFile }

// Lookup returns the row of a code, and false when the table has none.
func Lookup(c Code) (Row, bool) {
	i, ok := positions()[c]
	if !ok {
		return Row{}, false
	}
	return Codes()[i], true
}

// Rows returns the codes of a group ("dose", "nightly") in table order.
func Rows(group string) []Row {
	var out []Row
	for _, r := range Codes() {
		if r.Group == group {
			out = append(out, r)
		}
	}
	return out
}

// Gate is the gate of the finding's code. A code outside the table is a
// fault of this program; it blocks, since a finding that nobody classified
// must not pass.
func (f Finding) Gate() Gate {
	row, ok := Lookup(f.Code)
	if !ok {
		return Block
	}
	return row.Gate
}
