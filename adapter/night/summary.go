package night

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"slices"

	"weir.example/weir/adapter"
)

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
		switch {
		case !ok:
			gone++
			continue
		case f.Night != l.Night:
			moved++
		case k.Again:
			f.Report = again(f.Report)
		}
		lines = append(lines, f.Report)
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
	if rank < warnRank || key == "" {
		return
	}
	x.last.Worst = append(x.last.Worst, Kept{Key: key, Again: passed, rank: rank})
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

// settle puts the run before beside the summary, and keeps the run. The same
// run again keeps what it said first.
func (x *running) settle(ctx context.Context, s *Summary) error {
	before, ok, err := ReadLast(ctx, x.Record)
	var damaged *adapter.Damaged
	if err != nil && !errors.As(err, &damaged) {
		return err
	}
	same := ok && before.Night == x.night
	switch {
	case same:
		s.Before = before.Summary.Before
	case ok:
		b := before.Summary
		s.Before = &Earlier{Now: b.Now, Lines: b.Lines, Failed: b.Failed, Orders: b.Orders, Found: b.Found, AutoRelease: b.AutoRelease}
	}
	if same {
		return nil
	}
	x.cut()
	x.last.Night, x.last.Summary = x.night, *s
	return x.commit(ctx, adapter.Effect{At: x.Now, Feeds: []adapter.FeedLine{{Key: lastKey, Night: x.night, Report: encoded(x.last)}},
		Audit: []adapter.AuditRow{{ID: idsOf(x.night + "|last")(), At: x.Now, Action: "E", Outcome: "0", Agent: agent, Entity: "Night/" + x.night, Detail: "the whole of the hospital's state was compared"}}})
}
