package adapter

import (
	"encoding/json"
	"slices"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/worksheet"
)

// Table is one reference table as a person signs it.
type Table struct {
	Name      string            `json:"name"`
	Edition   string            `json:"edition"`
	Rows      int               `json:"rows"`
	Standing  map[string]int    `json:"standing"` // values by standing
	Hash      string            `json:"hash"`     // SHA-256 of what is signed
	State     string            `json:"state"`    // signed, unsigned, void: signed once, and changed since
	Signature *policy.Signature `json:"signature,omitempty"`
}

// The states of a table.
const (
	SignedTable   = "signed"
	UnsignedTable = "unsigned"
	VoidTable     = "void"
)

// tableOrder is the order in which tables are listed: the site's own last.
var tableOrder = []string{"drugs", "hazards", "devices", "access", "sterility", "pairs", "interactions", "solutes", policy.PolicyTable}

// Tables lists the reference tables with edition, size, standing and
// signature.
func Tables(ref policy.Reference) []Table {
	counts := ref.Tables.Counts()
	counts[policy.PolicyTable] = ref.Policy.Count()
	hashes := ref.Hashes()
	var out []Table
	for name := range hashes {
		c := counts[name]
		t := Table{Name: name, Edition: c.Edition, Rows: c.Rows, Standing: c.Standing, Hash: hashes[name], State: UnsignedTable}
		switch valid, void := ref.Signatures.Of(name, hashes[name]); {
		case valid != nil:
			t.State, t.Signature = SignedTable, valid
		case void != nil:
			t.State, t.Signature = VoidTable, void
		}
		out = append(out, t)
	}
	slices.SortFunc(out, func(a, b Table) int { return slices.Index(tableOrder, a.Name) - slices.Index(tableOrder, b.Name) })
	return out
}

// TablesJSON is the list as JSON.
func TablesJSON(list []Table) []byte {
	data, _ := json.MarshalIndent(list, "", "  ") // plain data
	return append(data, '\n')
}

// Edition is what one set of tables and policy changes against another.
type Edition struct {
	Tables []compendium.Difference
	Orders []conformance.Change
	Judged int // orders judged by both
}

// Compare judges the same documents by two references and lists what
// differs: the cells of the tables, and the answers to orders.
func Compare(documents [][]byte, before, after policy.Reference, r Request) Edition {
	e := Edition{Tables: compendium.Compare(before.Tables, after.Tables)}
	judge := func(ref policy.Reference) (out []worksheet.Worksheet) {
		for _, d := range documents {
			r.Reference = ref
			out = append(out, Verify(d, r).Worksheets...)
		}
		return out
	}
	was := judge(before)
	e.Judged = len(was)
	e.Orders = conformance.Changed(was, judge(after))
	return e
}
