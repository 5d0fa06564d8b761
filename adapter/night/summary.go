package night

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance"
	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/worksheet"
)

// Summary is the last line of the answer.
type Summary struct {
	Now             string              `json:"now"`
	TransactionTime string              `json:"transactionTime,omitempty"`
	Lines           int                 `json:"lines"`
	Failed          int                 `json:"failed"`
	Orders          Orders              `json:"orders"`
	AutoRelease     string              `json:"autoRelease"` // allowed, blocked
	Findings        []worksheet.Finding `json:"findings"`
	Found           Found               `json:"found"`
	Before          *Earlier            `json:"before,omitempty"`

	Worst finding.Gate `json:"-"`
}

// Orders counts orders by what became of them.
type Orders struct {
	Total     int `json:"total"`
	New       int `json:"new"`
	Changed   int `json:"changed"`
	Unchanged int `json:"unchanged"`
	Absent    int `json:"absent"`
	Older     int `json:"older,omitempty"`
}

// Found counts orders by the strictest gate of what was found or could not be
// judged of them.
type Found struct {
	Block int `json:"block"`
	Hold  int `json:"hold"`
	Warn  int `json:"warn"`
	Note  int `json:"note"`
	New   int `json:"new"` // with a block or a hold of which none of the code stood before
}

// Earlier is the run before, for comparison.
type Earlier struct {
	Now         string `json:"now"`
	Lines       int    `json:"lines"`
	Failed      int    `json:"failed"`
	Orders      Orders `json:"orders"`
	Found       Found  `json:"found"`
	AutoRelease string `json:"autoRelease"`
}

// Last is what the record keeps of the last run: its summary, and where the
// worst of its report is. The lines themselves stay with the patients, so that
// an erased patient is in no report.
type Last struct {
	Night   string     `json:"run"`
	Summary Summary    `json:"summary"`
	Worst   []Kept     `json:"worst"`  // of patients, worst first
	More    int        `json:"more"`   // patients with findings, for whom there was no room
	Failed  []FailedAt `json:"failed"` // lines, the first of them
}

// Kept names the stored lines of one patient.
type Kept struct {
	Key   string `json:"key"`             // adapter.FeedLine
	Again bool   `json:"again,omitempty"` // passed over: nothing of it was new
	Seen  string `json:"seen,omitempty"`  // the run that had judged him, when this one passed him over

	rank int
}

// FailedAt is a line that could not be read, without anything that stood in it.
type FailedAt struct {
	File string `json:"file"`
	Line int    `json:"line"`
	Code string `json:"code"`
}

// Bounds of what is kept of a run.
const (
	mostKept   = 400
	mostFailed = 100
)

// lastKey is the key of what is kept of the last run.
const lastKey = "night|last"

// ReadLast reads what is kept of the last run; false when there was none.
func ReadLast(ctx context.Context, r adapter.Feeds) (Last, bool, error) {
	lines, err := r.FeedLines(ctx, []string{lastKey})
	if err != nil {
		return Last{}, false, err
	}
	f, ok := lines[lastKey]
	if !ok {
		return Last{}, false, nil
	}
	var last Last
	if err := json.Unmarshal(f.Report, &last); err != nil {
		return Last{}, false, &adapter.Damaged{Kind: "feed"}
	}
	return last, true, nil
}

// Lines gives the stored lines of the report's worst orders, as the run said
// them, a patient at a time. Moved counts patients of whom a later run has
// said something else meanwhile, and gone those whose lines are not there any
// more.
func (l Last) Lines(ctx context.Context, r adapter.Feeds) (lines [][]byte, moved, gone int, err error) {
	var keys []string
	for _, k := range l.Worst {
		keys = append(keys, k.Key)
	}
	have, err := r.FeedLines(ctx, keys)
	if err != nil {
		return nil, 0, 0, err
	}
	for _, k := range l.Worst {
		f, ok := have[k.Key]
		_, text := unsealed(f.Report)
		switch {
		case !ok:
			gone++
			continue
		case f.Night != cmp.Or(k.Seen, l.Night):
			moved++
		case k.Again:
			text = again(text)
		}
		lines = append(lines, text)
	}
	return lines, moved, gone, nil
}

// keep remembers where the worst of the report is.
func (x *running) keep(key string, passed bool, text []byte) {
	rank := 0
	for l := range bytes.Lines(text) {
		if failed, ok := x.counts.add(l); ok {
			if len(x.last.Failed) < mostFailed {
				x.last.Failed = append(x.last.Failed, failed)
			}
		} else {
			rank = max(rank, x.counts.rank)
		}
	}
	x.worst(Kept{Key: key, Again: passed, rank: rank})
}

// worst keeps a patient's place if his report is among the worst.
func (x *running) worst(k Kept) {
	if k.rank < warnRank || k.Key == "" {
		return
	}
	x.last.Worst = append(x.last.Worst, k)
	if len(x.last.Worst) >= 2*mostKept {
		x.cut()
	}
}

func (x *running) cut() {
	slices.SortStableFunc(x.last.Worst, func(a, b Kept) int { return b.rank - a.rank })
	if n := len(x.last.Worst) - mostKept; n > 0 {
		x.last.More += n
		x.last.Worst = slices.Delete(x.last.Worst, mostKept, len(x.last.Worst))
	}
}

// settle puts the run before beside the summary, and gives what is kept of
// the run once its answer was given in full. The same run again keeps what it
// said first.
func (x *running) settle(ctx context.Context, s *Summary) (adapter.FeedLine, error) {
	before, ok, err := ReadLast(ctx, x.Record)
	var damaged *adapter.Damaged
	if err != nil && !errors.As(err, &damaged) {
		return adapter.FeedLine{}, err
	}
	switch {
	case ok && before.Night == x.night:
		s.Before = before.Summary.Before
	case ok:
		b := before.Summary
		s.Before = &Earlier{Now: b.Now, Lines: b.Lines, Failed: b.Failed, Orders: b.Orders, Found: b.Found, AutoRelease: b.AutoRelease}
	}
	x.cut()
	x.last.Night, x.last.Summary = x.night, *s
	return adapter.FeedLine{Key: lastKey, Night: x.night, Report: encoded(x.last)}, nil
}

// close judges the feed as a whole and writes the summary.
func (x *running) close(ctx context.Context, f *Feed, active int) (Summary, error) {
	facts := f.Facts()
	s := Summary{Now: x.Now.Format(time.RFC3339), Lines: facts.Lines, AutoRelease: "allowed", Findings: []worksheet.Finding{}}
	for one, err := range f.Failures() {
		if err != nil {
			return s, err
		}
		if err := x.say("", false, failedLine(one.File, one.Line, outcome(one.Findings))); err != nil {
			return s, err
		}
	}
	s.Failed = x.counts.failed
	s.Orders = Orders{New: x.counts.orders["new"], Changed: x.counts.orders["changed"], Unchanged: x.counts.orders["unchanged"], Absent: x.counts.orders["absent"], Older: x.counts.orders["older"]}
	s.Orders.Total = s.Orders.New + s.Orders.Changed + s.Orders.Unchanged + s.Orders.Older + s.Orders.Absent
	d := reconciliation.Delivered{Now: x.Now, Time: facts.Time, Lines: facts.Lines, Failed: s.Failed, Active: active, Absent: s.Orders.Absent}
	if !facts.Time.IsZero() {
		s.TransactionTime = facts.Time.Format(time.RFC3339)
	}
	for _, one := range facts.Files {
		if one.Stated > one.Lines {
			d.Short = append(d.Short, one.Type)
		}
		if one.Truncated {
			d.Broken = append(d.Broken, one.Type)
		}
	}
	for _, name := range facts.Missing {
		kind, _, _ := strings.Cut(name, ".")
		d.Missing = append(d.Missing, kind)
	}
	judged := reconciliation.Feed(d, x.Worker.Intake.Reference.Policy)
	s.Findings = conformance.FindingLines(judged.Findings, x.Worker.Intake.Reference)
	if !judged.Allowed {
		s.AutoRelease = "blocked"
	}
	s.Worst = x.counts.worst()
	lines := d
	lines.Failed = 0
	// Lines that failed have an exit code of their own; what else is wrong with
	// the feed is a finding.
	if !reconciliation.Feed(lines, x.Worker.Intake.Reference.Policy).Allowed {
		for _, one := range s.Findings {
			if g := finding.Gate(one.Gate); g.Weight() > s.Worst.Weight() {
				s.Worst = g
			}
		}
	}
	s.Found = x.counts.found
	last, err := x.settle(ctx, &s)
	if err != nil {
		return s, err
	}
	text, err := json.Marshal(map[string]Summary{"night": s})
	if err != nil {
		return s, err
	}
	if _, err := x.out.Write(append(text, '\n')); err != nil {
		return s, err
	}
	return s, x.end(ctx, text, last)
}
