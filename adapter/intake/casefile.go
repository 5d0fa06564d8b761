package intake

import (
	"bytes"
	"cmp"
	"encoding/json"
	"slices"
	"time"

	jsonv2 "github.com/go-json-experiment/json"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/worksheet"
)

// file is a patient's stored case: every resource that the next order of the
// patient is judged with, and what was made of each order. It is the JSON of
// adapter.StoredCase; adapter.CaseSchema counts its forms.
type file struct {
	Resources []entry  `json:"resources"`
	Orders    []line   `json:"orders"`
	Lost      []string `json:"lost,omitempty"` // lines of the last feed about the patient that could not be read
	// Since is the version of the case after which nothing came but how far tasks
	// are; 0: what is held was judged with this version.
	Since int64 `json:"since,omitempty"`
}

// entry is one resource as it was last read.
type entry struct {
	Type    string          `json:"type"`
	ID      string          `json:"id"`
	Version int64           `json:"version"`
	Sum     string          `json:"sum"`              // of the content without id and meta
	Shared  bool            `json:"shared,omitempty"` // belongs to nobody
	Key     string          `json:"key,omitempty"`    // of an order
	Order   string          `json:"order,omitempty"`  // version of an order as received
	Body    json.RawMessage `json:"body"`

	reading *reading
}

// reading is the body of an entry as read, once for it and its copies.
type reading struct{ doc *element.Document }

func (e *entry) document() *element.Document {
	if e.reading == nil {
		e.reading = &reading{}
	}
	if e.reading.doc == nil {
		e.reading.doc = element.ReadAgain(e.Body, 1)
	}
	return e.reading.doc
}

func (e entry) place() string { return e.Type + "/" + e.ID }

// line is one order and what was made of it.
type line struct {
	Key      string   `json:"key"`
	Version  string   `json:"version"`
	Number   int64    `json:"number"`
	Resource string   `json:"resource"`
	State    string   `json:"state"`
	Over     bool     `json:"over,omitempty"` // ended, or replaced: nothing of it is planned on
	Had      []string `json:"had"`            // every content it ever had
	Sheet    string   `json:"sheet"`          // sum of its worksheet without the clock
	Outputs  []output `json:"outputs"`

	Received time.Time `json:"received"`        // when it first came
	Opened   time.Time `json:"opened,omitzero"` // when a person first looked at it
	Standing []string  `json:"standing"`        // codes of all that was found
	Night    nightly   `json:"night"`
	Clock    time.Time `json:"clock,omitzero"` // by which its worksheet was worked out, but for what a night says
	Refs     *refs     `json:"refs,omitempty"`

	said worksheet.Worksheet // what it says after this run
	late []byte              // which of its tasks were overdue before its outputs
}

// nightly is what comparisons with what was held before left standing.
type nightly struct {
	Findings []worksheet.Finding `json:"findings,omitempty"`
	Tasks    []worksheet.Task    `json:"tasks,omitempty"`
	Told     []plan.Move         `json:"told,omitempty"`
	Kept     bool                `json:"kept,omitempty"` // some of it was seen by an earlier comparison alone
}

// refs are what the outputs of an order refer to.
type refs struct {
	Patient   ref `json:"patient"`
	Order     ref `json:"order"`
	Encounter ref `json:"encounter,omitzero"`
	Pharmacy  ref `json:"pharmacy,omitzero"`
}

type ref struct {
	Type    string `json:"type,omitempty"`
	URL     string `json:"url,omitempty"`
	System  string `json:"system,omitempty"`
	Value   string `json:"value,omitempty"`
	Display string `json:"display,omitempty"`
}

func refOf(r order.Reference) ref {
	return ref{r.Type, r.URL, r.Identifier.System, r.Identifier.Value, r.Display}
}

func (r ref) reference() order.Reference {
	return order.Reference{Type: r.Type, URL: r.URL, Identifier: order.Identifier{System: r.System, Value: r.Value}, Display: r.Display}
}

func refsOf(w worksheet.Worksheet) *refs {
	return &refs{refOf(w.Refs.Patient), refOf(w.Refs.Order), refOf(w.Refs.Encounter), refOf(w.Refs.Pharmacy)}
}

// output is one resource of ours. Gone: it was cancelled when it no longer
// followed from the order.
type output struct {
	Type    string `json:"type"`
	ID      string `json:"id"`
	Version int64  `json:"version"`
	Sum     string `json:"sum"`
	Gone    bool   `json:"gone,omitempty"`
	Done    bool   `json:"done,omitempty"` // a task that somebody has done or cancelled

	moved bool // somebody says now how far it is

	// Of an open task that somebody is asked to do.
	Code string    `json:"code,omitempty"`
	Role string    `json:"role,omitempty"`
	Due  time.Time `json:"due,omitzero"`
}

// find gives a resource of the case.
func (f *file) find(kind, id string) *entry {
	for i := range f.Resources {
		if f.Resources[i].Type == kind && f.Resources[i].ID == id {
			return &f.Resources[i]
		}
	}
	return nil
}

// put replaces or adds a resource.
func (f *file) put(e entry) {
	if have := f.find(e.Type, e.ID); have != nil {
		*have = e
		return
	}
	f.Resources = append(f.Resources, e)
}

func (f *file) order(key string) *line {
	for i := range f.Orders {
		if f.Orders[i].Key == key {
			return &f.Orders[i]
		}
	}
	return nil
}

// readCase opens a stored case.
func readCase(stored adapter.StoredCase) (*file, error) {
	up, err := adapter.UpgradeCase(stored)
	if err != nil {
		return nil, err
	}
	f := &file{}
	if err := jsonv2.Unmarshal(up.JSON, f); err != nil {
		return nil, &adapter.Damaged{Kind: "case"}
	}
	for i := range f.Resources {
		f.Resources[i].reading = &reading{}
	}
	return f, nil
}

// write gives the case in one form for one content.
func (f *file) write() ([]byte, error) {
	slices.SortFunc(f.Resources, func(a, b entry) int { return cmp.Or(cmp.Compare(a.Type, b.Type), cmp.Compare(a.ID, b.ID)) })
	slices.SortFunc(f.Orders, func(a, b line) int { return cmp.Compare(a.Key, b.Key) })
	if f.Resources == nil {
		return json.Marshal(f)
	}
	size := 4096
	for i := range f.Resources {
		size += len(f.Resources[i].Body) + 256
	}
	out := append(make([]byte, 0, size), `{"resources":[`...)
	for i, e := range f.Resources {
		if i > 0 {
			out = append(out, ',')
		}
		var err error
		if out, err = e.append(out); err != nil {
			return nil, err
		}
	}
	rest := *f
	rest.Resources = nil
	text, err := json.Marshal(rest)
	if err != nil {
		return nil, err
	}
	return append(append(out, ']'), bytes.TrimPrefix(text, []byte(`{"resources":null`))...), nil
}

// append writes the entry as json.Marshal does, which would look through the
// whole body for what is neither compact nor escaped. It is compact.
func (e entry) append(out []byte) ([]byte, error) {
	body := e.Body
	if !bytes.ContainsAny(body, "<>&\u2028\u2029") && len(body) > 0 {
		e.Body = nil
	}
	text, err := json.Marshal(e)
	if out = append(out, text...); err != nil || len(e.Body) > 0 || len(body) == 0 {
		return out, err
	}
	out = append(bytes.TrimSuffix(out, []byte("null}")), body...)
	return append(out, '}'), nil
}
