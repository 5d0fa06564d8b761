package queue

import (
	"context"
	"encoding/json"
	"time"

	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
)

// rescues gives work of dead workers to others. Every process does it, not
// only River's leader, which may itself be the dead one, and often enough that
// no work waits much longer than the rescue time.
func (q *Queue) rescues(ctx context.Context) {
	t := time.NewTicker(min(max(q.o.Rescue/10, 50*time.Millisecond), 10*time.Second))
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
			if err := q.rescue(ctx); err != nil && ctx.Err() == nil {
				q.o.Logger.Error("work of dead workers could not be looked for", "code", unavailable(err))
			}
		}
	}
}

// rescue ends the attempts that are older than the rescue time. Two may do it
// at once: an attempt ends once.
func (q *Queue) rescue(ctx context.Context) error {
	now, err := q.now(ctx)
	if err != nil {
		return err
	}
	before := now.Add(-q.o.Rescue)
	stuck, err := q.exec.JobGetStuck(ctx, &riverdriver.JobGetStuckParams{Max: 1000, StuckHorizon: before})
	if err != nil || len(stuck) == 0 {
		return err
	}
	p := &riverdriver.JobRescueManyParams{StuckHorizon: before}
	for _, j := range stuck {
		reason, err := json.Marshal(rivertype.AttemptError{At: now.UTC(), Attempt: j.Attempt, Error: "its worker did not answer within the rescue time"})
		if err != nil {
			return err
		}
		state, end := rivertype.JobStateAvailable, (*time.Time)(nil)
		if j.Attempt >= j.MaxAttempts {
			state, end = rivertype.JobStateDiscarded, &now
		}
		p.ID = append(p.ID, j.ID)
		p.Error = append(p.Error, reason)
		p.FinalizedAt = append(p.FinalizedAt, end)
		p.ScheduledAt = append(p.ScheduledAt, now)
		p.State = append(p.State, string(state))
	}
	if _, err := q.exec.JobRescueMany(ctx, p); err != nil {
		return err
	}
	for _, j := range stuck {
		q.o.Observe(Event{Outcome: Rescued, ID: workOf(j), Job: j.ID, Attempt: j.Attempt, Last: j.Attempt >= j.MaxAttempts})
	}
	return nil
}

// fencing is a River driver that lets the end of an attempt change only that
// attempt. River itself looks at the job alone: a worker that comes back after
// its work was given away would end, with its own failure, the attempt of the
// one who has it now, and that one the next.
type fencing[T any] struct{ riverdriver.Driver[T] }

func (d fencing[T]) GetExecutor() riverdriver.Executor { return ending{d.Driver.GetExecutor()} }

type ending struct{ riverdriver.Executor }

// JobSetStateIfRunningMany leaves out failures of attempts that do not run any
// more, and what has ended: the store writes successes itself, fenced.
func (e ending) JobSetStateIfRunningMany(ctx context.Context, p *riverdriver.JobSetStateIfRunningManyParams) ([]*rivertype.JobRow, error) {
	rows, err := e.JobGetByIDMany(ctx, &riverdriver.JobGetByIDManyParams{ID: p.ID, Schema: p.Schema})
	if err != nil {
		return nil, err
	}
	runs := map[int64]int{}
	for _, r := range rows {
		if r.State == rivertype.JobStateRunning {
			runs[r.ID] = r.Attempt
		}
	}
	keep := &riverdriver.JobSetStateIfRunningManyParams{Now: p.Now, Schema: p.Schema}
	for i, id := range p.ID {
		failed := rivertype.AttemptError{Attempt: runs[id]}
		if len(p.ErrData[i]) > 0 && json.Unmarshal(p.ErrData[i], &failed) != nil || failed.Attempt == 0 || failed.Attempt != runs[id] {
			continue
		}
		keep.ID = append(keep.ID, id)
		keep.Attempt = append(keep.Attempt, p.Attempt[i])
		keep.ErrData = append(keep.ErrData, p.ErrData[i])
		keep.FinalizedAt = append(keep.FinalizedAt, p.FinalizedAt[i])
		keep.MetadataDoMerge = append(keep.MetadataDoMerge, p.MetadataDoMerge[i])
		keep.MetadataUpdates = append(keep.MetadataUpdates, p.MetadataUpdates[i])
		keep.ScheduledAt = append(keep.ScheduledAt, p.ScheduledAt[i])
		keep.State = append(keep.State, p.State[i])
	}
	if len(keep.ID) == 0 {
		return nil, nil
	}
	return e.Executor.JobSetStateIfRunningMany(ctx, keep)
}
