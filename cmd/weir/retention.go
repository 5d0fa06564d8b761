package main

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"weir.example/weir/adapter"
)

// How often a running server looks for records past their retention, and how
// many it erases at one time.
const (
	retentionEvery = time.Hour
	retentionBatch = 100
)

// retain erases, until the context ends, what is older than the retention
// setting. Each erasure leaves an audit row that names the patient's id alone.
func retain(ctx context.Context, s kept, days int, now func() time.Time, newID func() string, log *slog.Logger) {
	tick := time.NewTicker(retentionEvery)
	defer tick.Stop()
	for {
		if n, err := retainOnce(ctx, s, days, now(), newID); err != nil {
			log.Warn("retention", "erased", n, "error", err.Error())
		} else if n > 0 {
			log.Info("retention", "erased", n)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// retainOnce erases every record whose newest entry is too old at the clock
// now, and counts them.
func retainOnce(ctx context.Context, s adapter.Keeper, days int, now time.Time, newID func() string) (int, error) {
	before, some := adapter.Retention{Days: days}.Before(now)
	if !some {
		return 0, nil
	}
	erased := 0
	for {
		patients, err := s.Expired(ctx, before, retentionBatch)
		if err != nil || len(patients) == 0 {
			return erased, err
		}
		at := erased
		for _, p := range patients {
			_, err := s.Erase(ctx, adapter.Erasure{Patient: p, Before: before,
				Audit: adapter.AuditRow{ID: newID(), At: now, Action: "D", Outcome: "0", Agent: "weir retention", Patient: p, Entity: "Patient/" + p, Detail: "the record is older than the retention setting"}})
			var young *adapter.Retained
			var gone *adapter.NotFound
			var lingers *adapter.Lingering
			switch {
			case err == nil, errors.As(err, &lingers):
				erased++
			case errors.As(err, &young), errors.As(err, &gone): // somebody wrote or erased meanwhile
			default:
				return erased, err
			}
		}
		if erased == at {
			return erased, nil
		}
	}
}
