package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"runtime"
	"sync/atomic"
	"time"

	"github.com/google/uuid"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/morning"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/queue"
	"weir.example/weir/adapter/settings"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4/googlefhir"
)

// nightly is what serve does besides answering: it works on background jobs,
// whoever asked for them, and runs the night when its time has come.
//
// A night is due from its time of day on until a run with a later clock is in
// the record, so one that was missed is made up. Several servers of one
// record agree by a row of the audit, which can be written once: whoever
// wrote it runs the night, and half an hour later another may.
type nightly struct {
	record  night.Record
	queue   *queue.Queue
	worker  night.Worker
	workers int
	folder  string
	at      string         // HH:MM, "" for no night
	zone    *time.Location // of at
	now     func() time.Time
	pause   func(context.Context, time.Duration) bool // false: the server stops
	log     *slog.Logger

	runs, failures atomic.Int64 // of this process
	took           atomic.Int64 // of its last run, in milliseconds

	claimed string
	retry   time.Time
}

// Times of the schedule. Our own decisions, no source.
const (
	nightLook  = 20 * time.Second // between looks at the clock
	nightRetry = 5 * time.Minute  // after a run that failed
	nightClaim = 30 * time.Minute // for which one server alone runs it, and how long at most one waits that was ended meanwhile
)

func newNightly(ctx context.Context, record kept, ref policy.Reference, set settings.Settings, now func() time.Time, log *slog.Logger) (*nightly, error) {
	able, ok := record.(night.Record)
	if !ok {
		return nil, usageError{errors.New("this store cannot do background work")}
	}
	n := &nightly{record: able, workers: set.Workers, folder: set.Night.Folder, at: set.Night.At, zone: siteZone(ref), now: now, pause: wait, log: log,
		worker: night.Worker{Intake: intake.Service{Store: able, Reference: ref, Judges: []schema.Judge{googlefhir.Judge}}, Accepted: night.NewAccepted()}}
	if n.workers == 0 {
		n.workers = runtime.GOMAXPROCS(0)
	}
	switch {
	case (n.folder == "") != (n.at == ""):
		return nil, usageError{errors.New("night.folder and night.at need each other: where the export is, and when it is compared")}
	case n.at != "" && n.zone == nil:
		return nil, usageError{errors.New("night.at is by the clock of the site: the policy must name its zone (home.zone)")}
	}
	var err error
	n.queue, err = queue.Open(ctx, able, queue.Options{Poll: 500 * time.Millisecond, Logger: log})
	return n, err
}

// wait sleeps; false when the server stops meanwhile.
func wait(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}

// work does background jobs until the server stops.
func (n *nightly) work(ctx context.Context) {
	for {
		err := n.queue.Run(ctx, n.workers, n.worker.Handle)
		if ctx.Err() != nil {
			return
		}
		n.log.Error("background work stopped; it is begun again", "error", err)
		if !n.pause(ctx, nightLook) {
			return
		}
	}
}

// schedule runs each night in its time until the server stops.
func (n *nightly) schedule(ctx context.Context) {
	if n.at == "" {
		return
	}
	for {
		n.look(ctx)
		if !n.pause(ctx, nightLook) {
			return
		}
	}
}

// look runs the night when it is due and nobody else runs it.
func (n *nightly) look(ctx context.Context) {
	now := n.now().Truncate(time.Second)
	at := n.due(now)
	if now.Before(n.retry) {
		return
	}
	last, ok, err := night.ReadLast(ctx, n.record)
	if err == nil && ok {
		if before, parsed := time.Parse(time.RFC3339, last.Summary.Now); parsed == nil && !before.Before(at) && !before.After(now) { // a clock ahead of ours is no run of tonight
			return
		}
	}
	mine := false
	if err == nil {
		mine, err = n.claim(ctx, at, now)
	}
	if err == nil && mine {
		err = n.run(ctx, now)
	}
	if err != nil && ctx.Err() == nil {
		n.failures.Add(1)
		n.retry = now.Add(nightRetry)
		n.log.Error("the night could not be run; it is tried again", "error", err, "again", n.retry.Format(time.RFC3339))
	}
}

// due is the last instant up to now at which a night was to run.
func (n *nightly) due(now time.Time) time.Time {
	of, _ := time.Parse("15:04", n.at) // checked with the settings
	here := now.In(n.zone)
	at := time.Date(here.Year(), here.Month(), here.Day(), of.Hour(), of.Minute(), 0, 0, n.zone)
	if at.After(now) {
		at = time.Date(here.Year(), here.Month(), here.Day()-1, of.Hour(), of.Minute(), 0, 0, n.zone)
	}
	return at
}

// claims is the namespace of the ids of claims.
var claims = uuid.MustParse("9f1ea0d7-dc47-5cc8-b021-f5437e5a5aa9")

// claim says whether this server runs the night of an instant.
func (n *nightly) claim(ctx context.Context, at, now time.Time) (bool, error) {
	name := fmt.Sprintf("night-claim|%s|%d", at.UTC().Format(time.RFC3339), now.Sub(at)/nightClaim)
	if n.claimed == name {
		return true, nil
	}
	err := n.record.Commit(ctx, adapter.Effect{At: now, Audit: []adapter.AuditRow{{ID: uuid.NewSHA1(claims, []byte(name)).String(), At: now, Action: "E", Outcome: "0", Agent: "nightly-job",
		Entity: "Night/" + at.UTC().Format("20060102T1504Z"), Detail: "the night is begun by its schedule"}}})
	var duplicate *adapter.Duplicate
	if errors.As(err, &duplicate) {
		return false, nil
	}
	if err == nil {
		n.claimed = name
	}
	return err == nil, err
}

// run compares the newest export with the record.
func (n *nightly) run(ctx context.Context, now time.Time) error {
	began := time.Now()
	files, name, err := newestExport(os.DirFS(n.folder), now)
	if err != nil {
		return fmt.Errorf("night.folder: %w", cause(err))
	}
	aside, err := os.MkdirTemp("", "weir-night-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(aside)
	temporary, err := os.OpenRoot(aside)
	if err != nil {
		return err
	}
	defer temporary.Close()
	feed, err := night.OpenAgain(ctx, files, temporary, n.workers, n.record)
	if err != nil {
		return err
	}
	s, err := night.Run{Record: n.record, Queue: n.queue, Worker: n.worker, Now: now, Address: placer}.Do(ctx, feed, io.Discard)
	if err = errors.Join(err, feed.Close()); err != nil {
		return err
	}
	n.runs.Add(1)
	n.took.Store(time.Since(began).Milliseconds())
	n.log.Info("the night was run", "export", name, "orders", s.Orders.Total, "new", s.Orders.New, "changed", s.Orders.Changed, "absent", s.Orders.Absent,
		"block", s.Found.Block, "hold", s.Found.Hold, "failed", s.Failed, "autoRelease", s.AutoRelease, "seconds", n.took.Load()/1000)
	return nil
}

// nightPage shows the last night.
func nightPage(record night.Record, ref policy.Reference, now func() time.Time) http.Handler {
	return morning.Pages{Store: record, Now: now, Name: ref.Policy.Pharmacy.Name, Zone: siteZone(ref)}.Handler()
}
