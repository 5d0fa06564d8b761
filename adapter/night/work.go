package night

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	jsonv2 "github.com/go-json-experiment/json"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/queue"
	"weir.example/weir/conformance"
	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
)

// agent acts in the audit rows of the night.
const agent = "nightly-job"

// Worker does the jobs of a night.
type Worker struct {
	Intake   intake.Service       // its NewID is not used
	Accepted *Accepted            // for the judges of Intake; nil: every line is judged
	afresh   bool                 // what did not change is read again, too: for comparison
	looked   func([]intake.State) // is told of each patient, for tests
}

// Basis is a hash of everything but the documents and the clock that a
// judgement rests on.
func (w Worker) Basis(now time.Time, recalled []reconciliation.Recalled) [32]byte {
	ref := w.Intake.Reference.At(now)
	parts := []string{ref.Tables.Hash, ref.SignedBy(), ref.Policy.Hash, ref.Zones.Hash(), conformance.Program()}
	for _, r := range recalled {
		parts = append(parts, r.Lot, r.Drug)
	}
	return sha256.Sum256([]byte(strings.Join(parts, "|")))
}

// Do computes what one job gives. It writes nothing.
func (w Worker) Do(ctx context.Context, id string, body []byte) (adapter.Effect, error) {
	var c work
	if err := jsonv2.Unmarshal(body, &c); err != nil {
		return adapter.Effect{}, errors.New("the work of the night cannot be read")
	}
	n := intake.Night{Recalled: c.recalled()}
	failures := make([][]byte, len(c.Patients))
	have, err := w.before(ctx, c)
	if err != nil {
		return adapter.Effect{}, err
	}
	for i, p := range c.Patients {
		one, as := w.same(c, p, have[p.Key])
		if p.Same = p.Same && !w.afresh; !as {
			one, failures[i] = w.tonight(c, p)
		}
		n.Patients = append(n.Patients, one)
	}
	for _, id := range c.Absent {
		n.Patients = append(n.Patients, intake.Tonight{ID: id})
	}
	for _, id := range c.Here {
		n.Patients = append(n.Patients, intake.Tonight{ID: id, Here: true})
	}
	return w.each(ctx, id, c, n, failures)
}

// traced gives an effect without an audit row one.
func (w Worker) traced(e adapter.Effect, id string, c work) adapter.Effect {
	e.At = c.Now
	if len(e.Audit) == 0 {
		e.Audit = []adapter.AuditRow{{ID: idsOf(id + "|traced")(), At: c.Now, Action: "E", Outcome: "0", Agent: agent, Entity: "Night/" + c.Night, Detail: "compared with the hospital's state: nothing to write"}}
	}
	return e
}

// compare runs the comparison of some patients without writing.
func (w Worker) compare(ctx context.Context, id string, c work, n intake.Night, in []byte) (adapter.Effect, []intake.Seen, []intake.State, error) {
	var out adapter.Effect
	s := w.Intake
	s.Fresh = func() func() string { return idsOf(id) }
	ids, states, err := s.Compare(ctx, intake.Call{Now: c.Now, Agent: agent, Request: c.Night, Media: "application/fhir+ndjson", Bytes: in,
		Commit: func(_ context.Context, e adapter.Effect) error { out = e; return nil }}, n)
	return out, ids, states, err
}

// each does a job patient by patient, so that one who is refused never sinks
// the others, and each has his own document. Effects of patients join: they
// share nothing that one of them creates.
func (w Worker) each(ctx context.Context, id string, c work, n intake.Night, failures [][]byte) (adapter.Effect, error) {
	var out adapter.Effect
	for i, one := range n.Patients {
		name := fmt.Sprintf("%s|%d", id, i)
		in := linesOf(one.Items)
		if one.Same {
			in = c.Patients[i].bytes()
		}
		e, ids, states, err := w.compare(ctx, name, c, intake.Night{Recalled: n.Recalled, Patients: []intake.Tonight{one}}, in)
		if errors.Is(err, intake.ErrOther) {
			one, failures[i] = w.tonight(c, c.Patients[i])
			e, ids, states, err = w.compare(ctx, name, c, intake.Night{Recalled: n.Recalled, Patients: []intake.Tonight{one}}, linesOf(one.Items))
		}
		var refused *intake.Refused
		switch {
		case errors.As(err, &refused) && i < len(c.Patients):
			file, line := placeOf(refused.At, c.Patients[i])
			text := append(failures[i], failedLine(file, line, r4.WriteNotice(r4.Refusal{Issue: "processing", Code: "not-taken-in", What: "the patient's lines were not taken in: " + string(refused.Reason), Todo: "Person: look at the line in the hospital's record."}))...)
			known, err := w.known(ctx, c.Patients[i].Key)
			if err != nil {
				return adapter.Effect{}, err
			}
			out.Feeds = append(out.Feeds, adapter.FeedLine{Key: c.Patients[i].Key, Patient: known, Night: c.Night, Report: sealed(c.Night, laid{}, text)})
			continue
		case err != nil:
			return adapter.Effect{}, err
		}
		if w.looked != nil {
			w.looked(states)
		}
		var said []byte
		if i < len(c.Patients) {
			said = c.Patients[i].Said
		}
		report := reportOf(states, said)
		if i < len(c.Patients) {
			e.Feeds = append(e.Feeds, w.kept(c, c.Patients[i], ids[0], append(failures[i], report...), states, len(failures[i]) == 0))
			e.Feeds = append(e.Feeds, others(c, ids[0].ID, states)...)
		} else {
			e.Feeds = append(e.Feeds, unfed(one, c.Night, report))
		}
		out.Received, out.Resources, out.Cases, out.Orders = append(out.Received, e.Received...), append(out.Resources, e.Resources...), append(out.Cases, e.Cases...), append(out.Orders, e.Orders...)
		out.Worksheets, out.Feeds, out.Audit = append(out.Worksheets, e.Worksheets...), append(out.Feeds, e.Feeds...), append(out.Audit, e.Audit...)
	}
	return w.traced(out, id, c), nil
}

// tonight judges the lines of a patient as R4 and makes items of them. A line
// that is none is a failure, and lost to the patient.
func (w Worker) tonight(c work, p patient) (intake.Tonight, []byte) {
	var out intake.Tonight
	var failed []byte
	for _, l := range p.Lost {
		out.Lost = append(out.Lost, lostWords(l.File, l.Line))
	}
	last := map[string]int{}
	for _, l := range p.Lines {
		doc, faults := (*element.Document)(nil), []finding.Finding(nil)
		var sum *[32]byte
		known := p.Same
		if !known {
			sum, known = w.Accepted.asked(l)
		}
		if known { // accepted before, and nothing that judges is another
			doc = element.ReadAgain([]byte(l.Data), l.Line)
		} else if doc, faults = conformance.Line([]byte(l.Data), l.Line, l.Type, w.Intake.Judges); len(faults) == 0 {
			w.Accepted.add(sum)
		}
		if len(faults) > 0 {
			failed = append(failed, failedLine(l.File, l.Line, outcome(faults))...)
			if !l.Shared {
				out.Lost = append(out.Lost, lostWords(l.File, l.Line))
			}
			continue
		}
		item := intake.Item{Way: intake.Feed, Resource: doc.Root(), FullURL: c.Feed + l.Type + "/" + l.ID, At: fmt.Sprintf("%s:%d", l.File, l.Line)}
		if before, twice := last[item.FullURL]; twice {
			switch newer := r4.Newer(doc.Root(), out.Items[before].Resource); {
			case newer > 0:
				out.Items[before] = item
			case newer == 0: // nothing says which of the two stands
				out.Lost = append(out.Lost, lostWords(l.File, l.Line))
			}
			continue
		}
		last[item.FullURL] = len(out.Items)
		out.Items = append(out.Items, item)
	}
	slices.Sort(out.Lost)
	return out, failed
}

// linesOf is the document that items came in.
func linesOf(items []intake.Item) []byte {
	var out bytes.Buffer
	for _, i := range items {
		out.Write(i.Resource.Raw())
		out.WriteByte('\n')
	}
	return out.Bytes()
}

func lostWords(file string, line int) string { return fmt.Sprintf("line %d of %s", line, file) }

// placeOf is the line that a refusal is about.
func placeOf(at string, p patient) (string, int) {
	for _, l := range p.Lines {
		if at == fmt.Sprintf("%s:%d", l.File, l.Line) {
			return l.File, l.Line
		}
	}
	if len(p.Lines) > 0 {
		return p.Lines[0].File, p.Lines[0].Line
	}
	return "", 0
}

func outcome(faults []finding.Finding) element.Value {
	doc, _ := element.Read(r4.WriteOutcomeLine(faults), element.Limit{})
	return element.RawNode(doc.Root())
}

// kept is what stays of a patient, so that the next night can pass him over.
func (w Worker) kept(c work, p patient, id intake.Seen, report []byte, states []intake.State, whole bool) adapter.FeedLine {
	f := adapter.FeedLine{Key: p.Key, Patient: id.ID, At: id.Case, Basis: w.Basis(c.Now, c.recalled()), Night: c.Night}
	if whole && p.Single && len(p.Lost) == 0 {
		f.Sum, f.Place = [32]byte(p.Sum), standing(p.Key)
	}
	var judge time.Time
	for _, s := range states {
		f.Orders++
		f.Watch, judge = sooner(f.Watch, s.Watch), sooner(judge, s.Judge)
	}
	f.Report = sealed(c.Night, laid{judge, f.Basis}, report)
	return f
}

// sooner is the earlier of two instants, of which a zero one is none.
func sooner(a, b time.Time) time.Time {
	if a.IsZero() || !b.IsZero() && b.Before(a) {
		return b
	}
	return a
}

// others are the lines of further patients who are read together with one:
// they were seen, too.
func others(c work, first string, states []intake.State) []adapter.FeedLine {
	var out []adapter.FeedLine
	seen := map[string]bool{first: true}
	for _, s := range states {
		if id := strings.TrimPrefix(s.Patient, "Patient/"); !seen[id] {
			seen[id] = true
			out = append(out, adapter.FeedLine{Key: "with|" + id, Patient: id, Night: c.Night, Report: sealed(c.Night, laid{}, nil)})
		}
	}
	return out
}

// known is our id of a patient of an earlier night: one who could not be
// taken in tonight is not absent.
func (w Worker) known(ctx context.Context, key string) (string, error) {
	feeds, ok := w.Intake.Store.(adapter.Feeds)
	if !ok {
		return "", nil
	}
	have, err := feeds.FeedLines(ctx, []string{key})
	return have[key].Patient, err
}

// unfed is what stays of a patient who did not come with a feed.
func unfed(p intake.Tonight, run string, report []byte) adapter.FeedLine {
	if !p.Here {
		return adapter.FeedLine{Key: "absent|" + p.ID, Night: run, Report: sealed(run, laid{}, report)}
	}
	var about []byte // only what the recall is about
	for l := range bytes.Lines(report) {
		if bytes.Contains(l, []byte(`"code":"`+recallCode+`"`)) {
			about = append(about, l...)
		}
	}
	return adapter.FeedLine{Key: recallKey(p.ID), Patient: p.ID, Night: run, Report: sealed(run, laid{}, about)}
}

// Handle is Do for a queue.
func (w Worker) Handle(ctx context.Context, j queue.Job) (adapter.Effect, error) {
	if j.Kind != JobKind && j.Kind != AbsentKind && j.Kind != RecallKind {
		return adapter.Effect{}, errors.New("work of a kind that is not known")
	}
	return w.Do(ctx, j.ID, j.Args)
}
