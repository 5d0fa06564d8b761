package queue

import (
	"context"
	"encoding/json"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// Counts are the numbers of pieces of work.
type Counts struct {
	Waiting int // also those that are tried again later
	Running int
	Failed  int // for good
}

// Counts counts the work that is not done.
func (q *Queue) Counts(ctx context.Context) (Counts, error) {
	by, err := q.exec.JobCountByAllStates(ctx, &riverdriver.JobCountByAllStatesParams{})
	if err != nil {
		return Counts{}, unavailable(err)
	}
	return Counts{
		Waiting: by[rivertype.JobStateAvailable] + by[rivertype.JobStateRetryable] + by[rivertype.JobStateScheduled] + by[rivertype.JobStatePending],
		Running: by[rivertype.JobStateRunning],
		Failed:  by[rivertype.JobStateDiscarded] + by[rivertype.JobStateCancelled],
	}, nil
}

// Failure is work that has failed for good.
type Failure struct {
	ID       string // of the work; the store has the rest
	Job      int64  // for Again
	Attempts int
	At       time.Time
	Reason   string // of the last attempt
}

// Failed lists work that has failed for good, oldest first, at most limit
// (1 to 1000). It stays until it is tried again.
func (q *Queue) Failed(ctx context.Context, limit int) ([]Failure, error) {
	list, err := q.lists.JobList(ctx, river.NewJobListParams().States(rivertype.JobStateDiscarded).
		OrderBy(river.JobListOrderByID, river.SortOrderAsc).First(min(max(limit, 1), 1000)))
	if err != nil {
		return nil, unavailable(err)
	}
	var out []Failure
	for _, j := range list.Jobs {
		f := Failure{ID: workOf(j), Job: j.ID, Attempts: j.Attempt}
		if j.FinalizedAt != nil {
			f.At = j.FinalizedAt.UTC()
		}
		if n := len(j.Errors); n > 0 {
			f.Reason = j.Errors[n-1].Error
		}
		out = append(out, f)
	}
	return out, nil
}

// workOf is the id of a job's work, "" when it cannot be read.
func workOf(j *rivertype.JobRow) string {
	var args store.JobArgs
	_ = json.Unmarshal(j.EncodedArgs, &args)
	return args.ID
}

// Again has work tried once more that has failed for good.
func (q *Queue) Again(ctx context.Context, job int64) error {
	row, err := q.exec.JobGetByID(ctx, &riverdriver.JobGetByIDParams{ID: job})
	if err != nil || row.State != rivertype.JobStateDiscarded {
		return &adapter.NotFound{Kind: "failed work"}
	}
	_, err = q.lists.JobRetry(ctx, job)
	return unavailable(err)
}
