package night

import (
	"bytes"
	"encoding/json"

	strictly "github.com/go-json-experiment/json"

	"weir.example/weir/adapter/intake"
	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/worksheet"
)

// What a night says of one order is one line of JSON, as the outside contract
// has it. It is kept beside the patient, so that an unchanged one is said
// again without being judged again.

type orderLine struct {
	Order    orderName              `json:"order"`
	State    string                 `json:"state"`
	Verdict  string                 `json:"verdict"`
	Findings []foundLine            `json:"findings"`
	Tasks    []worksheet.Task       `json:"tasks"`
	Unasked  []worksheet.NotChecked `json:"notChecked,omitempty"`
}

type orderName struct {
	Key        string `json:"key"`
	Identifier string `json:"identifier"`
	Drug       string `json:"drug"`
	PatientRef string `json:"patientRef"`
}

type foundLine struct {
	New bool `json:"new"`
	worksheet.Finding
}

// What an unfinished night said as new is new still.
func reportOf(states []intake.State, said []byte) []byte {
	var out []byte
	before := map[string]untold{}
	for l := range bytes.Lines(said) {
		var u untold
		if json.Unmarshal(l, &u) == nil && u.Order.Key != "" {
			before[u.Order.Key] = u
		}
	}
	for _, s := range states {
		l := orderLine{Order: orderName{s.Order.Key, s.Order.Identifier, s.Order.Drug, s.Order.PatientRef}, State: s.State, Verdict: s.Verdict, Findings: []foundLine{}, Tasks: s.Tasks, Unasked: s.NotChecked}
		for i, f := range s.Findings {
			l.Findings = append(l.Findings, foundLine{s.New[i] || before[s.Order.Key].fresh(f.Code), f})
		}
		if was := before[s.Order.Key].State; was != "" && l.State == string(reconciliation.Unchanged) {
			l.State = was
		}
		out = append(out, encoded(l)...)
	}
	return out
}

// untold is what matters of a line that was written and not given to anybody.
type untold struct {
	Order    struct{ Key string }
	State    string
	Findings []struct {
		New  bool
		Code string
	}
}

func (u untold) fresh(code string) bool {
	for _, f := range u.Findings {
		if f.New && f.Code == code {
			return true
		}
	}
	return false
}

// encoded writes a line of JSON without escaping for HTML.
func encoded(v any) []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		panic(err) // a fault of this build: only plain values are encoded
	}
	return b.Bytes()
}

func failedLine(file string, line int, outcome element.Value) []byte {
	return element.EncodeLine(element.Obj(element.F("file", element.Str(file)), element.F("line", element.Int(line)), element.F("outcome", outcome)))
}

// again is a report of an earlier night as it is said tonight, when nothing
// changed: nothing of it is new. A quote within a text is escaped, so what is
// replaced can only be a member.
func again(report []byte) []byte {
	for _, r := range repeats {
		if bytes.Contains(report, r[0]) {
			report = bytes.ReplaceAll(report, r[0], r[1])
		}
	}
	return report
}

// repeats are what again replaces, and what with.
var repeats = [][2][]byte{
	{[]byte(`"new":true`), []byte(`"new":false`)},
	{[]byte(`},"state":"new"`), []byte(`},"state":"unchanged"`)},
	{[]byte(`},"state":"changed"`), []byte(`},"state":"unchanged"`)},
	{[]byte(`},"state":"older"`), []byte(`},"state":"unchanged"`)},
}

// tally counts the lines of a report.
type tally struct {
	orders                              map[string]int // by state
	failed, blocks, holds, warns, notes int
	found                               Found
	rank                                int // of the line counted last
}

// Ranks of an order: the gate, and within it what is new.
const (
	noteRank  = 2
	warnRank  = 4
	holdRank  = 6
	blockRank = 8
)

// worst is the strictest gate of all findings.
func (t *tally) worst() finding.Gate {
	switch {
	case t.blocks > 0:
		return finding.Block
	case t.holds > 0:
		return finding.Hold
	case t.warns > 0:
		return finding.Warn
	case t.notes > 0:
		return finding.Note
	}
	return finding.NoGate
}

// join adds what another counted.
func (t *tally) join(o tally) {
	for state, n := range o.orders {
		if t.orders == nil {
			t.orders = map[string]int{}
		}
		t.orders[state] += n
	}
	t.failed, t.blocks, t.holds, t.warns, t.notes = t.failed+o.failed, t.blocks+o.blocks, t.holds+o.holds, t.warns+o.warns, t.notes+o.notes
	t.found.Block, t.found.Hold, t.found.Warn, t.found.Note, t.found.New = t.found.Block+o.found.Block, t.found.Hold+o.found.Hold, t.found.Warn+o.found.Warn, t.found.Note+o.found.Note, t.found.New+o.found.New
}

// all counts the lines of one patient and gives the strictest rank.
func (t *tally) all(text []byte) int {
	rank := 0
	for l := range bytes.Lines(text) {
		if _, failed := t.add(l); !failed {
			rank = max(rank, t.rank)
		}
	}
	return rank
}

// add counts a line; true when it is one that could not be read.
func (t *tally) add(line []byte) (FailedAt, bool) {
	t.rank = 0
	if bytes.HasPrefix(line, []byte(`{"file":`)) {
		t.failed++
		var x struct {
			File    string
			Line    int
			Outcome struct {
				Issue []struct {
					Details struct{ Coding []struct{ Code string } }
				}
			}
		}
		_ = json.Unmarshal(line, &x)
		f := FailedAt{File: x.File, Line: x.Line}
		if len(x.Outcome.Issue) > 0 && len(x.Outcome.Issue[0].Details.Coding) > 0 {
			f.Code = x.Outcome.Issue[0].Details.Coding[0].Code
		}
		return f, true
	}
	var x struct {
		State    string `json:"state"`
		Findings []struct {
			New  bool   `json:"new"`
			Gate string `json:"gate"`
		} `json:"findings"`
		NotChecked []struct {
			Gate string `json:"gate"`
		} `json:"notChecked"`
	}
	if strictly.Unmarshal(line, &x) != nil {
		return FailedAt{}, false
	}
	if t.orders == nil {
		t.orders = map[string]int{}
	}
	t.orders[x.State]++
	fresh := false
	gate := func(gate string, isNew bool) {
		rank := 0
		switch gate {
		case "block":
			t.blocks++
			rank = blockRank
		case "hold":
			t.holds++
			rank = holdRank
		case "warn":
			t.warns++
			rank = warnRank
		case "note":
			t.notes++
			rank = noteRank
		}
		fresh = fresh || isNew && rank >= holdRank
		if isNew && rank > 0 {
			rank++
		}
		t.rank = max(t.rank, rank)
	}
	for _, f := range x.Findings {
		gate(f.Gate, f.New)
	}
	for _, n := range x.NotChecked {
		gate(n.Gate, false) // what could not be judged holds as a finding does
	}
	switch t.rank &^ 1 {
	case blockRank:
		t.found.Block++
	case holdRank:
		t.found.Hold++
	case warnRank:
		t.found.Warn++
	case noteRank:
		t.found.Note++
	}
	if fresh {
		t.found.New++
	}
	return FailedAt{}, false
}
