package night

import (
	"context"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
)

// CompareAt says what a night at a clock would write of one patient.
func (w Worker) CompareAt(ctx context.Context, now time.Time, g Group) (adapter.Effect, []intake.State, error) {
	c := work{Night: "x", Now: now, Feed: "https://feed.example/fhir/"}
	one, _ := w.tonight(c, patientOf(g))
	e, _, states, err := w.compare(ctx, now.String()+g.Key, c, intake.Night{Patients: []intake.Tonight{one}}, linesOf(one.Items))
	return e, states, err
}

// MostWaiting sets how many jobs may wait, and gives how many could before.
func MostWaiting(n int) int {
	defer func() { mostWaiting = n }()
	return mostWaiting
}

// Learn is what a run does when the groups of a feed have been handed out.
func (f *Feed) Learn(ctx context.Context, record adapter.Feeds) error { return f.remember(ctx, record) }

// Standing is what a record has of a patient of whom nothing was found, after a
// night with a name.
func Standing(g Group, patient, night string, basis [32]byte, report []byte) adapter.FeedLine {
	return adapter.FeedLine{Key: g.Key, Patient: patient, Sum: g.Sum, Basis: basis, At: 1, Night: night, Orders: 1, Place: standing(g.Key), Report: sealed(night, laid{}, report)}
}

// Answered notes that a night's answer was given.
func Answered(night string, now time.Time) adapter.Reply {
	return adapter.Reply{Key: replyKey(night), Status: 200, Made: now, Body: []byte("{}")}
}

// ReadAgain has everything read and judged again, changed or not.
func (w *Worker) ReadAgain() { w.afresh = true }

// Looked tells each patient's states.
func (w *Worker) Looked(f func([]intake.State)) { w.looked = f }
