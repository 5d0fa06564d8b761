package night

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/queue"
	"weir.example/weir/conformance"
	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/worksheet"
)

// Record is the store of a night.
type Record interface {
	adapter.Store
	adapter.Feeds
	queue.Record
}

// Run is one run over one feed. Running it again goes on where it ended: what
// was written is passed over.
type Run struct {
	Record   Record
	Queue    *queue.Queue // its workers are run by the caller, here or elsewhere
	Worker   Worker
	Now      time.Time
	Address  string // stands for the feed's own address: https://feed.example/fhir/
	Recalled []reconciliation.Recalled
	Progress func(Progress) // may be nil
}

// Progress is how far a run is, by what is written.
type Progress struct {
	Patients, Unchanged, Jobs, Done int
}

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

// pending are the patients of one chunk of the feed, in order.
type pending struct {
	job  string          // "" when all were passed over
	keys []string        // of the feed's patients
	seen map[string]bool // passed over
}

// Do compares a whole feed with the record and writes what was found of each
// order to out, a line each, in the order of the feed, then the summary. The
// error is one of the feed, the store or the context.
func (r Run) Do(ctx context.Context, f *Feed, out io.Writer) (Summary, error) {
	active, err := r.Record.Active(ctx)
	if err != nil {
		return Summary{}, err
	}
	open, err := ReadRecalls(ctx, r.Record)
	if err != nil {
		return Summary{}, err
	}
	r.Recalled = append(slices.Clip(r.Recalled), open.lots()...)
	x := &running{Run: r, night: nightOf(r.Now), shared: map[[32]byte]bool{}, out: out}
	for g, err := range f.Groups(ctx) {
		if err != nil {
			return Summary{}, err
		}
		if err := x.take(ctx, g); err != nil {
			return Summary{}, err
		}
	}
	if err := x.send(ctx); err != nil {
		return Summary{}, err
	}
	if err := x.report(ctx); err != nil {
		return Summary{}, err
	}
	if err := x.missing(ctx); err != nil {
		return Summary{}, err
	}
	return x.close(ctx, f, int(active))
}

// nightOf names a run by its clock: the same clock again is the same night.
func nightOf(now time.Time) string { return now.UTC().Format("20060102T150405.000000Z") }

type running struct {
	Run
	night  string
	chunk  []patient
	size   int
	shared map[[32]byte]bool // what is nobody's and was taken in
	list   []pending
	counts tally
	made   Progress
	out    io.Writer
	last   Last
}

// take puts a patient into the chunk, which is sent when it is full.
func (x *running) take(ctx context.Context, g Group) error {
	p := patientOf(g)
	for _, l := range p.Lines {
		x.size += len(l.Data)
	}
	x.chunk = append(x.chunk, p)
	if x.made.Patients++; len(x.chunk) < mostPatients && x.size < mostBytes {
		return nil
	}
	return x.send(ctx)
}

// send passes over the patients of the chunk of whom nothing changed, and
// asks for the work on the others.
func (x *running) send(ctx context.Context) error {
	if len(x.chunk) == 0 {
		return nil
	}
	all := x.chunk
	x.chunk, x.size = nil, 0
	one := pending{seen: map[string]bool{}}
	for _, p := range all {
		one.keys = append(one.keys, p.Key)
	}
	have, err := x.Record.FeedLines(ctx, one.keys)
	if err != nil {
		return err
	}
	basis := x.Worker.Basis(x.Now)
	e := adapter.Effect{At: x.Now, Seen: adapter.Seen{Night: x.night}}
	var rest []patient
	for _, p := range all {
		f, known := have[p.Key]
		if known && p.Single && f.Sum == [32]byte(p.Sum) && f.Basis == basis && f.At == f.Now && (f.Watch.IsZero() || x.Now.Before(f.Watch)) {
			one.seen[p.Key] = true
			e.Seen.Keys = append(e.Seen.Keys, p.Key)
			continue
		}
		rest = append(rest, p)
	}
	x.made.Unchanged += len(e.Seen.Keys)
	ids := idsOf(x.night + "|" + all[0].Key)
	if len(rest) > 0 {
		if err := x.nobodys(ctx, rest, x.night+"|shared|"+all[0].Key); err != nil {
			return err
		}
		one.job = ids()
		e.Queue = []adapter.Queued{{ID: one.job, Kind: JobKind, Made: x.Now, Body: encoded(x.work(rest, nil))}}
		x.made.Jobs++
	}
	x.list = append(x.list, one)
	e.Audit = []adapter.AuditRow{{ID: ids(), At: x.Now, Action: "E", Outcome: "0", Agent: agent, Entity: "Night/" + x.night, Detail: "compared with the hospital's state"}}
	return x.commit(ctx, e)
}

// commit writes an effect of the run itself. One that is written already, by
// a run that ended early, is as good.
func (x *running) commit(ctx context.Context, e adapter.Effect) error {
	err := x.Record.Commit(ctx, e)
	var duplicate *adapter.Duplicate
	if errors.As(err, &duplicate) {
		err = nil
		if len(e.Seen.Keys) > 0 {
			again := adapter.Effect{At: e.At, Seen: e.Seen, Audit: e.Audit}
			again.Audit[0].ID += "-again"
			if err = x.Record.Commit(ctx, again); errors.As(err, &duplicate) {
				err = nil
			}
		}
	}
	if err == nil && x.Progress != nil {
		x.Progress(x.made)
	}
	return err
}

func (x *running) work(list []patient, absent []string) work {
	w := work{Night: x.night, Now: x.Now, Feed: x.Address, Patients: list, Absent: absent}
	for _, r := range x.Recalled {
		w.Recalled = append(w.Recalled, recall{r.Lot, r.Drug})
	}
	return w
}

// nobodys takes in what belongs to nobody before the patients that refer to
// it, once a run, so that no two jobs make the same thing.
func (x *running) nobodys(ctx context.Context, list []patient, name string) error {
	var lines []feedLine
	for _, p := range list {
		for _, l := range p.Lines {
			if sum := sumLine(l); l.Shared && !x.shared[sum] {
				x.shared[sum] = true
				lines = append(lines, l)
			}
		}
	}
	if len(lines) == 0 {
		return nil
	}
	var in bytes.Buffer
	one, _ := x.Worker.tonight(x.work(nil, nil), patient{Lines: lines}, &in)
	s := x.Worker.Intake
	s.Fresh = func() func() string { return idsOf(name) }
	_, err := s.Receive(ctx, intake.Call{Now: x.Now, Agent: agent, Request: x.night, Media: "application/fhir+ndjson", Bytes: in.Bytes(), Behind: true, Alone: true}, one.Items)
	var refused *intake.Refused
	if errors.As(err, &refused) {
		return nil // each patient's own work says so, with the line
	}
	return err
}

// report waits for the work of the night in the order of the feed, and says
// what became of each order.
func (x *running) report(ctx context.Context) error {
	for _, p := range x.list {
		if err := x.wait(ctx, p.job); err != nil {
			return err
		}
		lines, err := x.Record.FeedLines(ctx, p.keys)
		if err != nil {
			return err
		}
		for _, key := range p.keys {
			text := lines[key].Report
			if p.seen[key] {
				text = again(text)
			}
			if err := x.say(key, p.seen[key], text); err != nil {
				return err
			}
		}
	}
	x.list = nil
	return nil
}

func sumLine(l feedLine) [32]byte { return sha256.Sum256([]byte(l.Type + "\n" + l.Data)) }

func (x *running) say(key string, passed bool, text []byte) error {
	x.keep(key, passed, text)
	_, err := x.out.Write(text)
	return err
}

// pause is how long a run waits before it asks again whether work is done.
const pause = 20 * time.Millisecond

func (x *running) wait(ctx context.Context, id string) error {
	if id == "" {
		return nil
	}
	for {
		_, done, err := x.Record.Work(ctx, id)
		if err != nil {
			return err
		}
		if done {
			x.made.Done++
			if x.Progress != nil {
				x.Progress(x.made)
			}
			return nil
		}
		failed, err := x.Queue.Failed(ctx, 1000)
		if err != nil {
			return err
		}
		for _, f := range failed {
			if f.ID == id {
				return &adapter.Unavailable{Code: "work of the night failed for good: " + f.Reason}
			}
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause):
		}
	}
}

// missing compares the orders that are active here and not in the feed.
func (x *running) missing(ctx context.Context) error {
	after := ""
	for {
		ids, err := x.Record.NotSeen(ctx, x.night, after, mostPatients)
		if err != nil || len(ids) == 0 {
			return err
		}
		after = ids[len(ids)-1]
		fresh := idsOf(x.night + "|absent|" + ids[0])
		one := pending{job: fresh()}
		for _, id := range ids {
			one.keys = append(one.keys, "absent|"+id)
		}
		x.made.Jobs++
		err = x.commit(ctx, adapter.Effect{At: x.Now, Queue: []adapter.Queued{{ID: one.job, Kind: AbsentKind, Made: x.Now, Body: encoded(x.work(nil, ids))}},
			Audit: []adapter.AuditRow{{ID: fresh(), At: x.Now, Action: "E", Outcome: "0", Agent: agent, Entity: "Night/" + x.night, Detail: "orders that the hospital does not have"}}})
		if err != nil {
			return err
		}
		x.list = append(x.list, one)
		if err := x.report(ctx); err != nil {
			return err
		}
	}
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
	for _, one := range s.Findings {
		if g := finding.Gate(one.Gate); g.Weight() > s.Worst.Weight() {
			s.Worst = g
		}
	}
	s.Found = x.counts.found
	if err := x.settle(ctx, &s); err != nil {
		return s, err
	}
	text, err := json.Marshal(map[string]Summary{"night": s})
	if err == nil {
		_, err = x.out.Write(append(text, '\n'))
	}
	return s, err
}
