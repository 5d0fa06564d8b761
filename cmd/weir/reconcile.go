package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/settings"
	"weir.example/weir/mapping/finding"
)

// placer stands for the address of the hospital's own server, which a folder
// does not name. Nothing is ever asked there.
const placer = "https://placer.invalid/fhir/"

// jobTime bounds one job of at most 20 patients, which takes some seconds.
// Work of a process that was killed goes on a quarter later than that. A
// variable, so that a test need not wait so long.
var jobTime = time.Minute

type reconcileFlags struct {
	now, output, failOn string
	workers             int
	quiet, noColor      bool
}

// nightOutputs are what reconcile can write.
var nightOutputs = []string{"ndjson", "table", "fhir", "html"}

func newReconcile(s streams) *cobra.Command {
	var f reconcileFlags
	c := &cobra.Command{
		Use: "reconcile FOLDER", Short: "Compare one whole state of the hospital with the record: the nightly job",
		Long: "reconcile reads a folder of NDJSON by resource type (Type[.PART].ndjson[.gz], FHIR Bulk Data layout) as the\n" +
			"whole state of the hospital tonight, and compares it with what is held: what is new, changed, stopped or absent,\n" +
			"what lies at home, what is overdue, and whom to call by when. An order that is not there is absent, never stopped.\n" +
			"Run it again after an interruption and it goes on where it was; the same folder at the same time changes nothing.",
		Example: "  weir reconcile /exports/2026-11-25\n  weir reconcile --workers 4 --output ndjson /exports/2026-11-25 > night.ndjson",
		Args:    exactly(1, 1, "reconcile needs the FOLDER of one export"),
	}
	from := addSettings(c, "reconcile")
	flags := c.Flags()
	flags.StringVar(&f.now, "now", "", "the clock (RFC 3339); default: the computer's")
	flags.StringVar(&f.output, "output", "", "ndjson, table, fhir or html; default: table on a terminal, else ndjson")
	flags.StringVar(&f.failOn, "fail-on", "hold", "exit 1 from this gate up: block, hold, warn or never")
	flags.IntVar(&f.workers, "workers", runtime.GOMAXPROCS(0), "how many patients' chunks are compared at one time")
	flags.BoolVar(&f.quiet, "quiet", false, "no progress and no words on standard error")
	flags.BoolVar(&f.noColor, "no-color", false, "no colour")
	c.RunE = func(c *cobra.Command, args []string) error {
		set, err := from.load(s)
		if err != nil {
			return err
		}
		return reconcile(c.Context(), s, set.Settings, f, args[0])
	}
	return c
}

// check settles the flags.
func (f *reconcileFlags) check(s streams) (time.Time, error) {
	if f.output == "" {
		f.output = map[bool]string{true: "table", false: "ndjson"}[s.terminal]
	}
	switch {
	case !slices.Contains(nightOutputs, f.output):
		return time.Time{}, fmt.Errorf("--output %q: need one of %s", f.output, strings.Join(nightOutputs, ", "))
	case !slices.Contains(gates, f.failOn):
		return time.Time{}, fmt.Errorf("--fail-on %q: need %s", f.failOn, strings.Join(gates, ", "))
	case f.workers < 1 || f.workers > 256:
		return time.Time{}, fmt.Errorf("--workers %d: need 1 to 256", f.workers)
	case f.now == "":
		return s.now(), nil
	}
	now, err := time.Parse(time.RFC3339, f.now)
	if err != nil {
		return now, fmt.Errorf("--now %q: need RFC 3339 with a zone, for example 2026-11-25T02:00:00-05:00", f.now)
	}
	return now, nil
}

func reconcile(ctx context.Context, s streams, set settings.Settings, f reconcileFlags, path string) (err error) {
	now, err := f.check(s)
	if err != nil {
		return usageError{err}
	}
	ref, err := reference(set.Policy)
	if err != nil {
		return usageError{err}
	}
	folder, err := os.OpenRoot(path)
	if err != nil {
		return usageError{err}
	}
	defer folder.Close()
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
	record, err := openStore(ctx, set, opening{make: true})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, record.Close()) }()
	nights, _ := record.(adapter.Feeds)
	feed, err := night.OpenAgain(ctx, folder.FS(), temporary, f.workers, nights)
	var refused adapter.FolderFault
	if errors.As(err, &refused) {
		return unreadableError{errors.New(adapter.Refusal(refused.Finding))}
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, feed.Close()) }()
	work, err := workNights(ctx, record, ref, f.workers)
	if err != nil {
		return err
	}
	shown := newNightProgress(s, f.quiet)
	out := nightWriter(s, f, set, work.record, ref)
	summary, err := night.Run{Record: work.record, Queue: work.queue, Worker: work.worker, Now: now, Address: placer, Progress: shown.say}.Do(ctx, feed, out)
	shown.clear()
	err = errors.Join(err, work.stop())
	if ctx.Err() != nil {
		if !f.quiet {
			fmt.Fprintln(s.err, "weir: interrupted; what was written stays, and the same command goes on from there")
		}
		return exit{exitInterrupt}
	}
	if err != nil {
		return err
	}
	if err := out.Close(); err != nil {
		return err
	}
	return nightOutcome(f, summary)
}

// nightOutcome is the exit of a night: findings, else lines that failed.
func nightOutcome(f reconcileFlags, n night.Summary) error {
	if f.failOn != "never" && n.Worst.Weight() >= finding.Gate(f.failOn).Weight() {
		return exit{exitFound}
	}
	if n.Failed > 0 {
		return exit{exitSomeFailed}
	}
	return nil
}
