package night_test

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/queue"
)

// One order as an unchanged night says it: with a finding and a task.
const reportLine = `{"order":{"key":"https://hospital.example/order|O-%d","identifier":"https://hospital.example/order|O-%d","drug":"clindamycin","patientRef":"Patient/%s"},"state":"new","verdict":"hold","findings":[{"new":true,"code":"nightly-unseen","gate":"hold","severity":"moderate","title":"A new order nobody has looked at","expression":"MedicationRequest.where(id='94e07369-2278-502a-8807-9d57feda9a72')","observed":"written or sent Mon 11 Jan 2027 22:00 PST; nobody here has looked at it","expected":"looked at within 2 hours","remedy":"Pharmacist: judge it now.","citation":"common practice, no source"}],"tasks":[{"code":"judge-order","role":"pharmacist","due":"2027-01-12T03:00:00-08:00","title":"Judge the order as it stands now, with what changed","priority":"urgent","closes":"pharmacist's name and decision on every finding","prepares":false,"says":"written or sent Mon 11 Jan 2027 22:00 PST; nobody here has looked at it"}]}` + "\n"

// BenchmarkUnchanged is a night in which nothing changed, all in: unpacking,
// reading, comparing with the last feed, the record, the report. Its patients
// are put into the record without being judged, so that many take no hours.
// WEIR_NIGHT_ORDERS adds a size.
func BenchmarkUnchanged(b *testing.B) {
	sizes := []int{1000, 10000}
	if more, _ := strconv.Atoi(os.Getenv("WEIR_NIGHT_ORDERS")); more > 0 {
		sizes = append(sizes, more)
	}
	for _, size := range sizes {
		for _, name := range []string{"sqlite", "postgres"} {
			b.Run(fmt.Sprint(name, "/", size), func(b *testing.B) { unchanged(b, records()[name](b), size) })
		}
	}
}

func unchanged(b *testing.B, record night.Record, size int) {
	ctx := context.Background()
	path := b.TempDir()
	_, err := nightgen.Hospital{Orders: size, Seed: 1}.Write(0, nightgen.Layout{Parts: 4, Packed: true}, func(name string) (io.WriteCloser, error) { return os.Create(filepath.Join(path, name)) })
	require.NoError(b, err)
	q, err := queue.Open(ctx, record, queue.Options{})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, q.Close()) })
	worker, now := newWorker(b, record), nightgen.Clock(0)
	root, err := os.OpenRoot(path)
	require.NoError(b, err)
	defer root.Close()
	temporary, err := os.OpenRoot(b.TempDir())
	require.NoError(b, err)
	defer temporary.Close()
	populate(b, record, worker, root, temporary, now)
	debug.FreeOSMemory()
	_ = os.WriteFile("/proc/self/clear_refs", []byte("5"), 0o600) // the peak is that of the night alone: proc(5)

	wall, used := time.Now(), processTime()
	for b.Loop() {
		now = now.Add(time.Minute)
		f, err := night.OpenAgain(ctx, root.FS(), temporary, 2, record)
		require.NoError(b, err)
		passed := 0
		s, err := night.Run{Record: record, Queue: q, Worker: worker, Now: now, Address: "https://feed.example/fhir/", Progress: func(p night.Progress) { passed = p.Unchanged }}.Do(ctx, f, io.Discard)
		require.NoError(b, err)
		require.NoError(b, f.Close())
		require.Equal(b, size, passed)
		require.Equal(b, size, s.Orders.Unchanged)
	}
	orders := float64(b.N * size)
	b.ReportMetric(float64((processTime()-used).Microseconds())/orders, "µs-cpu/order")
	b.ReportMetric(orders/time.Since(wall).Seconds(), "orders/s")
	b.ReportMetric(peak(), "MiB-peak")
	b.ReportMetric(0, "ns/op")
}

// populate puts the patients of a folder into the record, as a night leaves
// those of whom nothing was found.
func populate(b *testing.B, record night.Record, worker night.Worker, root, temporary *os.Root, now time.Time) {
	ctx := context.Background()
	f, err := night.OpenAgain(ctx, root.FS(), temporary, 2, record)
	require.NoError(b, err)
	n := 0
	e := adapter.Effect{At: now, Replies: []adapter.Reply{night.Answered("first", now)}}
	basis := worker.Basis(now, nil)
	written := 0
	write := func() {
		written++
		e.Audit = []adapter.AuditRow{{ID: fmt.Sprint("populate-", written), At: now, Action: "E", Outcome: "0", Agent: "test"}}
		require.NoError(b, record.Commit(ctx, e))
		e = adapter.Effect{At: now}
	}
	for g, err := range f.Groups(ctx) {
		require.NoError(b, err)
		id := uuid.NewSHA1(uuid.Nil, []byte(g.Key)).String()
		n++
		e.Cases = append(e.Cases, adapter.StoredCase{Patient: id, Version: 1, Schema: adapter.CaseSchema, Updated: now, JSON: []byte(strings.Repeat(`{"what a case is about as long as":"`+id+`"}`, 200))})
		e.Orders = append(e.Orders, adapter.OrderWrite{Change: adapter.OrderNew, OrderLine: adapter.OrderLine{Key: fmt.Sprint("O-", n), Number: 1, Version: "v", Patient: id, Resource: id, Drug: "x", State: "active", Verdict: "hold", Stage: "intake", Updated: now}})
		e.Feeds = append(e.Feeds, night.Standing(g, id, "first", basis, fmt.Appendf(nil, reportLine, n, n, id)))
		if n%200 == 0 {
			write()
		}
	}
	write()
	require.NoError(b, f.Learn(ctx, record))
	require.NoError(b, f.Close())
}

// processTime is the processor time of this process; a database server has its own.
func processTime() time.Duration {
	var r syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &r)
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}

// peak is the most memory that this process had, in MiB, where the system
// says so.
func peak() float64 {
	text, _ := os.ReadFile("/proc/self/status")
	for l := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(l, "VmHWM:"); ok {
			kib, _ := strconv.ParseFloat(strings.Fields(rest)[0], 64)
			return kib / 1024
		}
	}
	return 0
}
