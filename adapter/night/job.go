package night

import (
	"encoding/json"
	"slices"
	"time"

	"github.com/google/uuid"

	"weir.example/weir/conformance/reconciliation"
)

// JobKind and AbsentKind are the work of a night: patients of the feed, and
// patients with active orders whom the feed does not have. RecallKind is that
// of a recall between two nights: patients as they stand.
const (
	JobKind    = "night"
	AbsentKind = "night-absent"
	RecallKind = "night-recall"
)

// work is the work of one job: what it needs stands in it, so that any
// worker on any machine can do it.
type work struct {
	Night    string    `json:"night"`
	Now      time.Time `json:"now"`
	Feed     string    `json:"feed"` // the address that stands for the feed's own
	Recalled []recall  `json:"recalled,omitempty"`
	Patients []patient `json:"patients,omitempty"`
	Absent   []string  `json:"absent,omitempty"` // our ids
	Here     []string  `json:"here,omitempty"`   // our ids
}

// keys are those of the lines that are kept of its patients.
func (w work) keys() []string {
	var keys []string
	for _, p := range w.Patients {
		keys = append(keys, p.Key)
	}
	for _, id := range w.Absent {
		keys = append(keys, "absent|"+id)
	}
	for _, id := range w.Here {
		keys = append(keys, recallKey(id))
	}
	return keys
}

// within reports whether other work is of all patients of this.
func (w work) within(other work) bool {
	all := other.keys()
	for _, k := range w.keys() {
		if !slices.Contains(all, k) {
			return false
		}
	}
	return true
}

type recall struct {
	Lot  string `json:"lot"`
	Drug string `json:"drug,omitempty"`
}

func (w work) recalled() []reconciliation.Recalled {
	var out []reconciliation.Recalled
	for _, r := range w.Recalled {
		out = append(out, reconciliation.Recalled{Lot: r.Lot, Drug: r.Drug})
	}
	return out
}

// patient is one group of the feed.
type patient struct {
	Key    string     `json:"key"`
	Sum    []byte     `json:"sum"`
	Single bool       `json:"single"`         // one patient: he may be passed over when nothing changes
	Same   bool       `json:"same,omitempty"` // every line is as it was when all of them were accepted, by what judges now
	Lost   []Lost     `json:"lost,omitempty"`
	Said   []byte     `json:"said,omitempty"` // what an unfinished night found and told nobody
	Lines  []feedLine `json:"lines"`
}

type feedLine struct {
	Type   string `json:"type"`
	ID     string `json:"id"`
	File   string `json:"file"`
	Line   int    `json:"line"`
	Shared bool   `json:"shared,omitempty"`
	Data   string `json:"data"`

	sum [32]byte // while the run has it
}

// Bounds of one job: it must end within a minute, and what it writes must fit
// the memory that SQLite has for one transaction.
const (
	mostPatients = 20
	mostBytes    = 4 << 20
)

// Bounds of what a run looks up and passes over in one transaction.
const (
	mostLooked = 500
	mostHeld   = 16 << 20
)

var namespace = uuid.MustParse("9f1ea0d7-dc47-5cc8-b021-f5437e5a5aa9")

// idsOf makes ids from a name: the same work gives the same ids, whoever does
// it and however often.
func idsOf(name string) func() string {
	n := 0
	return func() string {
		n++
		text, _ := json.Marshal([]any{"night", name, n})
		return uuid.NewSHA1(namespace, text).String()
	}
}

func patientOf(g Group) patient {
	p := patient{Key: g.Key, Sum: g.Sum[:], Single: len(g.Keys) <= 1, Lost: g.Lost}
	for _, l := range g.Lines {
		p.Lines = append(p.Lines, feedLine{Type: l.Type, ID: l.ID, File: l.File, Line: l.Line, Shared: l.Shared, Data: string(l.Data), sum: l.Sum})
	}
	return p
}
