package night

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/queue"
	"weir.example/weir/conformance/reconciliation"
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
	Of                              int // patients of the feed, by its lines
	Patients, Unchanged, Jobs, Done int
	Answered                        int // patients of whom it was said what became of them
}

// Do compares a whole feed with the record and writes what was found of each
// order to out, a line each, in the order of the feed, then the summary. The
// error is one of the feed, the store or the context.
func (r Run) Do(ctx context.Context, f *Feed, out io.Writer) (Summary, error) {
	open, err := ReadRecalls(ctx, r.Record)
	if err != nil {
		return Summary{}, err
	}
	r.Recalled = append(slices.Clip(r.Recalled), open.lots()...)
	x := &running{Run: r, basis: r.Worker.Basis(r.Now, r.Recalled), shared: map[uint64]bool{}, closed: map[string]bool{}, out: out}
	x.night = nightOf(r.Now, f.Facts().Sum, x.basis)
	active, err := x.before(ctx)
	if err != nil {
		return Summary{}, err
	}
	if err := x.abandon(ctx); err != nil {
		return Summary{}, err
	}
	err = f.recognise(ctx, r.Record, func(l adapter.FeedLine, sum [32]byte) bool {
		judged, _ := unsealed(l.Report)
		return !(l.Night == x.night && judged == x.night) && x.stays(l, Group{Sum: sum})
	})
	if err != nil {
		return Summary{}, err
	}
	x.aside = f.said
	for _, one := range f.Facts().Files {
		if one.Type == "Patient" {
			x.made.Of += one.Lines
		}
	}
	if err := x.each(ctx, f, func(c looked) error { return x.send(ctx, c) }); err != nil {
		return Summary{}, err
	}
	if err := x.upTo(ctx, 0); err != nil {
		return Summary{}, err
	}
	if err := x.missing(ctx); err != nil {
		return Summary{}, err
	}
	if err := f.remember(ctx, r.Record); err != nil {
		return Summary{}, err
	}
	return x.close(ctx, f, active)
}

// nightOf names a run by its clock, by what the feed says and by what it is
// judged with: all of them again is the same night.
func nightOf(now time.Time, feed, basis [32]byte) string {
	sum := sha256.Sum256(append(feed[:], basis[:]...))
	return now.UTC().Format(nightForm) + "-" + hex.EncodeToString(sum[:8])
}

// nightForm is how the clock stands in the name of a night.
const nightForm = "20060102T150405.000000Z"

type running struct {
	Run
	night  string
	basis  [32]byte
	shared map[uint64]bool // what is nobody's and was taken in
	closed map[string]bool // nights, by whether their answer was given in full
	asking sync.Mutex      // of closed
	list   []pending
	waits  int      // jobs of those
	aside  *journal // what is said of those who are passed over, until it is their turn
	passed people
	counts tally
	made   Progress
	out    io.Writer
	last   Last
}

// send passes over the patients of a chunk of whom nothing changed, and asks
// for the work on the others.
func (x *running) send(ctx context.Context, c looked) error {
	one := pending{said: -1, patients: len(c.groups)}
	e := adapter.Effect{At: x.Now}
	rest := map[int]patient{}
	x.made.Patients += len(c.groups)
	for i, g := range c.groups {
		if c.over[i] {
			x.made.Unchanged++
			continue
		}
		f, known := c.have[g.Key]
		one.keys = append(one.keys, g.Key)
		judged, said := unsealed(f.Report)
		done := known && f.Basis == x.basis && f.Night == x.night && judged == x.night // by this night, before it was interrupted
		if one.seen = append(one.seen, done); done {
			x.mark(g.Lines)
			x.made.Unchanged++
			continue
		}
		p := patientOf(g)
		p.Same = known && f.Basis == x.basis && f.Sum == g.Sum
		if told, err := x.over(ctx, judged); err != nil {
			return err
		} else if known && !told {
			p.Said = said
		}
		rest[i] = p
	}
	if work := parts(c.groups, rest); len(work) > 0 {
		var list []patient
		for _, part := range work {
			list = append(list, part.list...)
		}
		if err := x.nobodys(ctx, list, x.night+"|shared|"+c.groups[0].Key); err != nil {
			return err
		}
		for _, part := range work {
			job, err := x.job(ctx, &e, JobKind, part.of, x.work(part.list, nil))
			if err != nil {
				return err
			}
			one.jobs = append(one.jobs, job)
		}
	}
	if err := x.commit(ctx, e, "compared with the hospital's state"); err != nil {
		return err
	}
	if len(e.Queue) == 0 && x.Progress != nil {
		x.Progress(x.made)
	}
	x.counts.join(c.counts)
	for _, id := range c.people {
		x.passed.add(id)
	}
	if len(one.keys) == 0 && len(x.list) == 0 { // nobody is waited for
		x.made.Answered += one.patients
		return x.speak(ctx, one, nil, c.said)
	}
	at, err := x.aside.add(c.said)
	if one.said = at; err != nil {
		return err
	}
	x.wait(one)
	return x.upTo(ctx, mostWaiting)
}

// portion is the work of one job, and the patients among whom it was found,
// by whom it is named: what was looked up while others wrote may be of two
// moments, and who did not seem done yet is no name for what was to be done.
type portion struct {
	of   []string
	list []patient
}

// parts cuts patients into the work of one job each: by where they stand
// among all that were looked up, so that a run that goes on asks for the same
// work as the one that was cut off.
func parts(all []Group, rest map[int]patient) []portion {
	var out []portion
	var part portion
	size := 0
	for i, g := range all {
		if p, ok := rest[i]; ok {
			part.list = append(part.list, p)
		}
		part.of = append(part.of, g.Key)
		for _, l := range g.Lines {
			size += len(l.Data)
		}
		if len(part.of) == mostPatients || size > mostBytes || i == len(all)-1 {
			if len(part.list) > 0 {
				out = append(out, part)
			}
			part, size = portion{}, 0
		}
	}
	return out
}

// job puts work into the effect, unless it waits already, and gives its id,
// which is made from names. When work of that name is done and did not do
// this, something changed meanwhile.
func (x *running) job(ctx context.Context, e *adapter.Effect, kind string, names []string, w work) (string, error) {
	x.made.Jobs++
	ids := idsOf(x.night + "|" + kind + "|" + strings.Join(names, "|"))
	for {
		id := ids()
		q, done, err := x.Record.Work(ctx, id)
		var missing *adapter.NotFound
		switch {
		case errors.As(err, &missing):
			e.Queue = append(e.Queue, adapter.Queued{ID: id, Kind: kind, Made: x.Now, Body: encoded(w)})
			return id, nil
		case err != nil:
			return id, err
		case !done:
			var waits work
			if json.Unmarshal(q.Body, &waits) == nil && w.within(waits) {
				return id, nil
			}
			continue // somebody changed meanwhile who was not to be looked at
		}
		if now, err := x.stands(ctx, w); err != nil || now {
			return id, err
		}
	}
}

// stands reports whether all patients of some work are judged by this night as
// they are now: then it was done between two looks.
func (x *running) stands(ctx context.Context, w work) (bool, error) {
	if len(w.Here) > 0 {
		return false, nil // between two nights nothing is passed over
	}
	keys := w.keys()
	have, err := x.Record.FeedLines(ctx, keys)
	if err != nil {
		return false, err
	}
	for _, key := range keys {
		f := have[key]
		judged, _ := unsealed(f.Report)
		if judged != x.night || f.Patient != "" && f.Basis == x.basis && f.At != f.Now {
			return false, nil
		}
	}
	return true, nil
}

// commit writes an effect of the run itself, when there is anything in it.
// One that is written already, by a run that ended early, is as good.
func (x *running) commit(ctx context.Context, e adapter.Effect, says string) error {
	name := ""
	for _, q := range e.Queue {
		name += "|" + q.ID
	}
	for _, id := range e.Finished {
		name += "|" + id
	}
	for _, r := range e.Replies {
		name += "|" + r.Key
	}
	for _, f := range e.Feeds {
		name += "|" + f.Key
	}
	if name == "" {
		return nil
	}
	e.Audit = []adapter.AuditRow{{ID: idsOf(x.night + "|audit|" + name)(), At: x.Now, Action: "E", Outcome: "0", Agent: agent, Entity: "Night/" + x.night, Detail: says}}
	err := x.Record.Commit(ctx, e)
	var duplicate *adapter.Duplicate
	if errors.As(err, &duplicate) {
		err = nil
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
			if l.Shared && x.first(l.sum) {
				lines = append(lines, l)
			}
		}
	}
	if len(lines) == 0 {
		return nil
	}
	one, _ := x.Worker.tonight(x.work(nil, nil), patient{Lines: lines})
	s := x.Worker.Intake
	s.Fresh = func() func() string { return idsOf(name) }
	_, err := s.Receive(ctx, intake.Call{Now: x.Now, Agent: agent, Request: x.night, Media: "application/fhir+ndjson", Bytes: linesOf(one.Items), Behind: true, Alone: true}, one.Items)
	var refused *intake.Refused
	if errors.As(err, &refused) {
		return nil // each patient's own work says so, with the line
	}
	return err
}
