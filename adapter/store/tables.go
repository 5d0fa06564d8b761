package store

import "slices"

// kind is the type of a column.
type kind byte

const (
	letters kind = 't' // text
	count   kind = 'n' // integer
	octets  kind = 'b' // bytes
	maybe   kind = 'm' // text or null
	ordinal kind = 's' // number of a shelf
)

type column struct {
	name string
	kind kind
}

// table is a table of the schema, with its columns as they are copied. The
// first key columns are its primary key.
type table struct {
	name    string
	key     int
	columns []column
}

// tables are all tables, those that others refer to first. A test compares
// them with the schema of each database.
var tables = []table{
	{"document", 1, []column{{"id", 't'}, {"sha256", 'b'}, {"received", 'n'}, {"media", 't'}, {"size", 'n'}, {"body", 'b'}}},
	{"document_patient", 2, []column{{"patient", 't'}, {"document", 't'}}},
	{"shelf", 1, []column{{"n", 's'}, {"version", 'n'}, {"patient", 't'}, {"label", 't'}, {"part", 'n'}, {"updated", 'n'}, {"members", 'n'}, {"body", 'b'}}},
	{"shelf_past", 2, []column{{"shelf", 's'}, {"version", 'n'}, {"body", 'b'}}},
	{"identifier", 5, []column{{"type", 't'}, {"value", 't'}, {"system", 't'}, {"shelf", 's'}, {"slot", 'n'}, {"once", 'n'}}},
	{"search_value", 6, []column{{"param", 'n'}, {"text", 't'}, {"low", 'n'}, {"high", 'n'}, {"shelf", 's'}, {"system", 'n'}, {"bits", 'b'}}},
	{"patient_case", 1, []column{{"patient", 't'}, {"version", 'n'}, {"schema", 'n'}, {"updated", 'n'}, {"body", 'b'}}},
	{"order_head", 1, []column{{"key", 't'}, {"number", 'n'}, {"version", 't'}, {"patient", 't'}, {"resource", 't'}, {"drug", 't'}, {"state", 't'},
		{"verdict", 't'}, {"stage", 't'}, {"weight", 'n'}, {"due", 'n'}, {"updated", 'n'}}},
	{"order_version", 2, []column{{"key", 't'}, {"number", 'n'}, {"version", 't'}, {"again", 'n'}, {"document", 'm'}, {"sent", 'n'}, {"at", 'n'}}},
	{"worksheet", 1, []column{{"id", 't'}, {"key", 't'}, {"number", 'n'}, {"stage", 't'}, {"verdict", 't'}, {"made", 'n'}, {"patient", 't'}, {"body", 'b'}}},
	{"outbox", 1, []column{{"id", 't'}, {"kind", 't'}, {"target", 't'}, {"patient", 't'}, {"made", 'n'}, {"sent", 'n'}, {"body", 'b'}}},
	{"work", 1, []column{{"id", 't'}, {"kind", 't'}, {"patient", 't'}, {"made", 'n'}, {"done", 'n'}, {"body", 'b'}}},
	{"reply", 1, []column{{"key", 't'}, {"sha256", 'b'}, {"status", 'n'}, {"patient", 't'}, {"made", 'n'}, {"body", 'b'}}},
	{"feed_line", 1, []column{{"key", 't'}, {"patient", 't'}, {"sum", 'b'}, {"basis", 'b'}, {"watch", 'n'}, {"at", 'n'}, {"night", 't'}, {"orders", 'n'}, {"report", 'b'}, {"place", 'n'}}},
	{"feed_memory", 2, []column{{"kind", 't'}, {"number", 'n'}, {"body", 'b'}}},
	{"audit", 1, []column{{"id", 't'}, {"at", 'n'}, {"action", 't'}, {"outcome", 't'}, {"agent", 't'}, {"patient", 't'}, {"entity", 't'},
		{"request", 't'}, {"detail", 't'}, {"private", 'b'}, {"also", 't'}}},
}

// made are tables that are made of what shelves hold: they are not copied, but
// made anew.
var made = []table{
	{"resource_run", 1, []column{{"n", 'n'}, {"tier", 'n'}, {"places", 'n'}}},
	{"resource_place", 2, []column{{"run", 'n'}, {"first", 'b'}, {"body", 'b'}}},
}

// Columns are the tables of the schema and the columns of each, in order.
func Columns() map[string][]string {
	out := map[string][]string{}
	for _, t := range slices.Concat(tables, made) {
		for _, c := range t.columns {
			out[t.name] = append(out[t.name], c.name)
		}
	}
	return out
}
