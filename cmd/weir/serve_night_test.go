package main

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/api"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/settings"
)

func writeNight(t testing.TB, h nightgen.Hospital, n int, path string) {
	require.NoError(t, os.MkdirAll(path, 0o755))
	_, err := h.Write(n, nightgen.Layout{}, func(name string) (io.WriteCloser, error) { return os.Create(filepath.Join(path, name)) })
	require.NoError(t, err)
}

// A folder of exports: the newest one that is complete.
func TestTheNewestExport(t *testing.T) {
	now := time.Date(2027, 1, 12, 9, 0, 0, 0, time.UTC)
	manifest := func(at string, files ...string) *fstest.MapFile {
		text := `{"transactionTime":"` + at + `","output":[`
		for i, f := range files {
			text += map[bool]string{true: ",", false: ""}[i > 0] + `{"type":"Patient","url":"https://h.example/out/` + f + `"}`
		}
		return &fstest.MapFile{Data: []byte(text + "]}"), ModTime: now}
	}
	line := func(before time.Duration) *fstest.MapFile { return &fstest.MapFile{ModTime: now.Add(-before)} }
	for _, c := range []struct {
		name, want, err string
		files           fstest.MapFS
	}{
		{"the folder itself", ".", "", fstest.MapFS{"Patient.ndjson": line(settled)}},
		{"being written", "", "still being written", fstest.MapFS{"Patient.ndjson": line(settled - time.Second)}},
		{"its manifest misses a file: the night says so", ".", "", fstest.MapFS{"manifest.json": manifest("2027-01-12T08:00:00Z", "Patient.ndjson")}},
		{"the later manifest, whatever the name", "a", "", fstest.MapFS{"a/manifest.json": manifest("2027-01-12T08:00:00Z", "Patient.ndjson"), "a/Patient.ndjson.gz": line(0),
			"b/manifest.json": manifest("2027-01-11T08:00:00Z"), "b/Patient.ndjson": line(0)}},
		{"a file is missing", "b", "", fstest.MapFS{"a/manifest.json": manifest("2027-01-12T08:00:00Z", "Patient.ndjson", "Group.ndjson"), "a/Patient.ndjson": line(0),
			"b/manifest.json": manifest("2027-01-11T08:00:00Z"), "b/Patient.ndjson": line(0)}},
		{"by the newest file", "2027-01-12", "", fstest.MapFS{"2027-01-11/Patient.ndjson": line(30 * time.Hour), "2027-01-12/Patient.ndjson": line(6 * time.Hour), "2027-01-12/Group.ndjson": line(40 * time.Hour)}},
		{"the newest is being written", "2027-01-11", "", fstest.MapFS{"2027-01-11/Patient.ndjson": line(30 * time.Hour), "2027-01-12/Patient.ndjson": line(time.Second)}},
		{"of equal ones the last by name", "b", "", fstest.MapFS{"a/Patient.ndjson": line(time.Hour), "b/Patient.ndjson": line(time.Hour)}},
		{"not these", "a", "", fstest.MapFS{"a/Patient.ndjson": line(time.Hour), ".b/Patient.ndjson": line(settled), "c.part/Patient.ndjson": line(settled), "d.tmp/Patient.ndjson": line(settled), "e/readme": line(settled)}},
		{"none", "", "no export in it", fstest.MapFS{"a/readme": line(settled)}},
		{"none complete", "", "complete yet", fstest.MapFS{"a/Patient.ndjson": line(0)}},
		{"a broken manifest is not complete", "", "complete yet", fstest.MapFS{"a/manifest.json": &fstest.MapFile{Data: []byte("{")}, "a/Patient.ndjson": line(time.Hour)}},
	} {
		_, name, err := newestExport(c.files, now)
		if c.err != "" {
			assert.ErrorContains(t, err, c.err, c.name)
			continue
		}
		if assert.NoError(t, err, c.name) {
			assert.Equal(t, c.want, name, c.name)
		}
	}
}

// A night is due at its time of day by the clock of the site, whatever the
// clocks there do.
func TestWhenANightIsDue(t *testing.T) {
	ref, err := reference("")
	require.NoError(t, err)
	zone, err := ref.Zones.Zone("America/New_York")
	require.NoError(t, err)
	n := nightly{at: "02:30", zone: zone.Location}
	for now, want := range map[string]string{
		"2027-01-12T07:29:59Z": "2027-01-11T07:30:00Z", "2027-01-12T07:30:00Z": "2027-01-12T07:30:00Z",
		"2027-07-12T06:30:00Z": "2027-07-12T06:30:00Z", "2027-07-12T06:29:59Z": "2027-07-11T06:30:00Z",
		"2027-11-07T12:00:00Z": "2027-11-07T07:30:00Z", // 02:30 comes once: the hour that comes twice is 01:00 to 02:00
	} {
		at, err := time.Parse(time.RFC3339, now)
		require.NoError(t, err)
		assert.Equal(t, want, n.due(at).UTC().Format(time.RFC3339), now)
	}
	jump, _ := time.Parse(time.RFC3339, "2027-03-14T12:00:00Z") // 02:30 does not exist: one instant of that night all the same
	assert.WithinDuration(t, time.Date(2027, 3, 14, 7, 0, 0, 0, time.UTC), n.due(jump), time.Hour)
}

// The night runs once when its time has come, is made up when it was missed,
// is tried again after a failure, and one of two servers runs it.
func TestTheScheduleOfNights(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	folder := t.TempDir()
	set := settings.Settings{Store: "sqlite:" + filepath.Join(t.TempDir(), "weir.db"), Workers: 1}
	set.Night.Folder, set.Night.At = folder, "04:30"
	record, err := openStore(ctx, set, opening{make: true})
	require.NoError(t, err)
	defer record.Close()
	ref, err := reference("")
	require.NoError(t, err)
	ref.Policy.Home.Zone = "America/Denver"
	clock := nightgen.Clock(0) // 04:00 there
	server := func() *nightly {
		n, err := newNightly(ctx, record, ref, set, func() time.Time { return clock }, slog.New(slog.DiscardHandler))
		require.NoError(t, err)
		return n
	}
	a, b := server(), server()
	var working sync.WaitGroup
	working.Go(func() { a.work(ctx) })
	last := func() string {
		l, _, err := night.ReadLast(ctx, record.(night.Record))
		require.NoError(t, err)
		return l.Summary.Now
	}

	a.look(ctx) // due since yesterday, and there is nothing to run it with
	assert.Equal(t, int64(1), a.failures.Load())
	writeNight(t, nightgen.Hospital{Orders: 5, Seed: 3}, 0, filepath.Join(folder, "2027-01-12"))
	a.look(ctx)
	assert.Empty(t, last(), "not before the time to try again")
	b.look(ctx)
	assert.Empty(t, last(), "the other one has it")
	clock = clock.Add(nightRetry)
	a.look(ctx)
	assert.Equal(t, "2027-01-12T11:05:00Z", last())
	assert.Equal(t, int64(1), a.runs.Load())

	clock = clock.Add(20 * time.Minute) // 04:25
	a.look(ctx)
	b.look(ctx)
	assert.Equal(t, "2027-01-12T11:05:00Z", last(), "not due")
	clock = clock.Add(5 * time.Minute) // 04:30
	b.look(ctx)
	assert.Equal(t, "2027-01-12T11:30:00Z", last())
	a.look(ctx)
	assert.Equal(t, int64(1), a.runs.Load(), "it was run")

	clock = clock.Add(-24 * time.Hour) // a run by a clock that was ahead does not put off tonight's
	b.look(ctx)
	assert.Equal(t, "2027-01-11T11:30:00Z", last())
	clock = clock.Add(24*time.Hour + nightClaim)
	b.look(ctx)
	assert.Equal(t, "2027-01-12T12:00:00Z", last())

	m := api.NewMetrics()
	m.Register(a)
	inner := httptest.NewServer(m.Inner(&atomic.Bool{}))
	defer inner.Close()
	text := body(t, inner.URL+"/metrics")
	for _, want := range []string{"weir_night_last_run_timestamp_seconds 1.7997552e+09", `weir_night_orders{state="unchanged"} 5`, `weir_night_orders{state="new"} 0`,
		`weir_night_orders_found{gate="hold"}`, "weir_night_failed_lines 0", "weir_night_autorelease ", `weir_night_runs_total{outcome="done"} 1`, `weir_night_runs_total{outcome="failed"} 1`,
		`weir_queue_jobs{state="waiting"} 0`, `weir_queue_jobs{state="failed"} 0`, "weir_night_record_readable 1"} {
		assert.Contains(t, text, want)
	}
	assert.NotContains(t, text, "hospital.example")
	stop()
	working.Wait()
	require.NoError(t, a.queue.Close())
	require.NoError(t, b.queue.Close())
}

func TestTheScheduleNeedsAllOfIt(t *testing.T) {
	for _, args := range [][]string{{"--night-at", "02:30"}, {"--night-folder", "x"}, {"--night-at", "2:30"}, {"--night-at", "24:00"}, {"--night-folder", "x", "--night-at", "02:30"}} {
		got := weir(t, "", append([]string{"serve", "--listen", "127.0.0.1:0", "--store", "sqlite:" + filepath.Join(t.TempDir(), "weir.db")}, args...)...)
		assert.Equal(t, 2, got.code, args)
		assert.Contains(t, got.err, "night", args)
	}
}

// The server works on jobs of others, shows the last night, and counts it.
func TestServeShowsTheNight(t *testing.T) {
	path := filepath.Join(t.TempDir(), "weir.db")
	folder := t.TempDir()
	writeNight(t, nightgen.Hospital{Orders: 4, Seed: 3}, 0, folder)
	outside, inside, stop := start(t, "--store", "sqlite:"+path)
	base := strings.TrimSuffix(outside, "/fhir")
	assert.Contains(t, body(t, base+"/night"), "No night yet")
	got := weir(t, "", "reconcile", "--store", "sqlite:"+path, "--now", "2027-01-12T11:00:00Z", "--fail-on", "never", "--output", "table", folder)
	require.Zero(t, got.code, got.err)
	assert.Contains(t, got.out, "MORNING REPORT")
	assert.Contains(t, body(t, base+"/night"), "Automatic release")
	assert.Contains(t, body(t, base+"/style.css"), "@media print")
	assert.Contains(t, body(t, inside+"/metrics"), `weir_night_orders{state="new"} 4`)
	assert.Zero(t, stop())
}

func body(t testing.TB, address string) string {
	r, err := http.Get(address)
	require.NoError(t, err)
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	return string(text)
}
