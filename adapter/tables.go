package adapter

import (
	"encoding/json"
	"slices"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/policy"
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
	Says      string            `json:"says,omitempty"` // why a signature that stands there does not count
}

// The states of a table.
const (
	SignedTable   = "signed"
	UnsignedTable = "unsigned"
	VoidTable     = "void"
	FutureTable   = "dated in the future" // signed with a day that has not come
)

// tableOrder is the order in which tables are listed: the site's own last.
var tableOrder = []string{"drugs", "hazards", "devices", "access", "sterility", "pairs", "interactions", "allergies", "solutes", policy.RulesTable, policy.PolicyTable}

// Tables lists the reference tables with edition, size, standing and
// signature.
func Tables(ref policy.Reference) []Table {
	counts := ref.Tables.Counts()
	counts[policy.RulesTable] = rulesCount()
	counts[policy.PolicyTable] = ref.Policy.Count()
	hashes := ref.Hashes()
	var out []Table
	for name := range hashes {
		c := counts[name]
		t := Table{Name: name, Edition: c.Edition, Rows: c.Rows, Standing: c.Standing, Hash: hashes[name], State: UnsignedTable, Says: ref.Later(name)}
		switch valid, void := ref.Signatures.Of(name, hashes[name]); {
		case valid != nil:
			t.State, t.Signature = SignedTable, valid
		case ref.Later(name) != "":
			t.State = FutureTable
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

// Document is one document with orders, and the name of its file.
type Document struct {
	Name string
	Data []byte
}

// Edition is what one set of tables and policy changes against another.
type Edition struct {
	Tables  []compendium.Difference
	Orders  []Changed
	Judged  int       // orders judged by both
	Refused []Refused // documents in which nothing was judged
	Shipped []string  // tables that differ, and by which no order was judged: their look-ups ask those this program was built with
}

// Changed is one order whose answer differs, and where it stands.
type Changed struct {
	Document string
	conformance.Change
}

// Refused is a document that could not be accepted, with its faults as lines.
type Refused struct {
	Document string
	Faults   []string
}

// Compare judges the same documents by two references and lists what
// differs: the rows of the tables, and the answers to orders. A document that
// is refused is named: nothing in it was compared.
func Compare(documents []Document, before, after policy.Reference, r Request) Edition {
	e := Edition{Tables: compendium.Compare(before.Tables, after.Tables)}
	for _, name := range compendium.AskedAsShipped() {
		if slices.ContainsFunc(e.Tables, func(d compendium.Difference) bool { return d.Table == name }) {
			e.Shipped = append(e.Shipped, name)
		}
	}
	judge := func(d Document, ref policy.Reference) Answer {
		r.Reference = ref
		return Verify(d.Data, r)
	}
	for _, d := range documents {
		was, is := judge(d, before), judge(d, after)
		if faults := append(was.Faults, is.Faults...); len(faults) > 0 {
			no := Refused{Document: d.Name}
			for _, f := range faults {
				no.Faults = append(no.Faults, Refusal(f))
			}
			slices.Sort(no.Faults)
			no.Faults = slices.Compact(no.Faults)
			e.Refused = append(e.Refused, no)
			continue
		}
		e.Judged += len(was.Worksheets)
		for _, c := range conformance.Changed(was.Worksheets, is.Worksheets) {
			e.Orders = append(e.Orders, Changed{d.Name, c})
		}
	}
	return e
}
