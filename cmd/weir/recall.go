package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/morning"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/settings"
	"weir.example/weir/conformance/reconciliation"
)

type recallFlags struct {
	drug, now, output       string
	workers                 int
	settled, quiet, noColor bool
}

func newRecall(s streams) *cobra.Command {
	var f recallFlags
	c := &cobra.Command{
		Use: "recall LOT", Short: "Who has units of a recalled lot, where they are, and whom to call by when",
		Long: "recall looks at every patient of the record for units of a lot that are made, on the way, at home, set apart or given.\n" +
			"What it finds, and whom it asks to act, is stored; every night looks for the lot again until it is settled (--settled).\n" +
			"Exit 1 when anybody has or had units of it, 0 when nobody has by what is on record.",
		Example: "  weir recall LL-261217-D\n  weir recall LL-261217-D --drug daptomycin --output ndjson > affected.ndjson\n  weir recall LL-261217-D --settled",
		Args:    exactly(1, 1, "recall needs the LOT, as it stands on the notice"),
	}
	from := addSettings(c, "recall")
	flags := c.Flags()
	flags.StringVar(&f.drug, "drug", "", "generic name of the drug of the notice; units of the lot of another drug do not count")
	flags.StringVar(&f.now, "now", "", "the clock (RFC 3339); default: the computer's")
	flags.StringVar(&f.output, "output", "", "table or ndjson; default: table on a terminal, else ndjson")
	flags.IntVar(&f.workers, "workers", runtime.GOMAXPROCS(0), "how many patients' chunks are looked at at one time")
	flags.BoolVar(&f.settled, "settled", false, "the recall is settled: look for the lot no more, and take back what was said of it")
	flags.BoolVar(&f.quiet, "quiet", false, "no progress and no words on standard error")
	flags.BoolVar(&f.noColor, "no-color", false, "no colour")
	c.RunE = func(c *cobra.Command, args []string) error {
		set, err := from.load(s)
		if err != nil {
			return err
		}
		return recall(c.Context(), s, set.Settings, f, args[0])
	}
	return c
}

// check settles the flags.
func (f *recallFlags) check(s streams, lot string) (time.Time, error) {
	if f.output == "" {
		f.output = map[bool]string{true: "table", false: "ndjson"}[s.terminal]
	}
	switch {
	case !slices.Contains([]string{"table", "ndjson"}, f.output):
		return time.Time{}, fmt.Errorf("--output %q: need table or ndjson", f.output)
	case f.workers < 1 || f.workers > 256:
		return time.Time{}, fmt.Errorf("--workers %d: need 1 to 256", f.workers)
	case strings.TrimSpace(lot) == "" || len(lot) > 200:
		return time.Time{}, errors.New("LOT: need the number on the notice, of at most 200 characters")
	case f.now == "":
		return s.now(), nil
	}
	now, err := time.Parse(time.RFC3339, f.now)
	if err != nil {
		return now, fmt.Errorf("--now %q: need RFC 3339 with a zone, for example 2026-11-25T02:00:00-05:00", f.now)
	}
	return now, nil
}

func recall(ctx context.Context, s streams, set settings.Settings, f recallFlags, lot string) (err error) {
	now, err := f.check(s, lot)
	if err != nil {
		return usageError{err}
	}
	ref, err := reference(set.Policy)
	if err != nil {
		return usageError{err}
	}
	record, err := openStore(ctx, set, opening{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, record.Close()) }()
	work, err := workNights(ctx, record, ref, f.workers)
	if err != nil {
		return err
	}
	var out io.WriteCloser = morning.New(s.out, morning.NDJSON, morning.Options{})
	if f.output == "table" {
		out = morning.NewRecall(s.out, morning.Options{Zone: siteZone(ref), Color: s.terminal && !f.noColor})
	}
	shown := newNightProgress(s, f.quiet)
	found, err := night.Run{Record: work.record, Queue: work.queue, Worker: work.worker, Now: now, Progress: shown.say}.
		Recall(ctx, reconciliation.Recalled{Lot: lot, Drug: f.drug}, f.settled, out)
	shown.clear()
	err = errors.Join(err, work.stop())
	if ctx.Err() != nil {
		return exit{exitInterrupt}
	}
	var none *adapter.NotFound
	if f.settled && errors.As(err, &none) {
		return usageError{errors.New("--settled: no recall of this LOT, with this --drug, is open")}
	}
	if err = errors.Join(err, out.Close()); err != nil {
		return err
	}
	if found.Orders > 0 {
		return exit{exitFound}
	}
	return nil
}
