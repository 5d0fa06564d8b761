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

// ReadAgain has everything read and judged again, changed or not.
func (w *Worker) ReadAgain() { w.afresh = true }

// Looked tells each patient's states.
func (w *Worker) Looked(f func([]intake.State)) { w.looked = f }
