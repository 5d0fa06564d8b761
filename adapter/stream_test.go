package adapter_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/testdata/orders"
)

var streamNow = time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC)

// NDJSON of documents gives, byte for byte, what the documents give one by
// one: every scenario and variant, in both outputs a line each.
func TestNDJSONIsTheDocumentsOneByOne(t *testing.T) {
	r := request(t, streamNow)
	var in bytes.Buffer
	var answers []adapter.Answer
	for _, f := range orders.All() {
		a := adapter.Verify(f.Line(), r)
		if len(a.Faults) > 0 { // its places are in the file: another test
			continue
		}
		in.Write(f.Line())
		in.WriteByte('\n')
		answers = append(answers, a)
	}
	require.GreaterOrEqual(t, len(answers), 55)
	for _, workers := range []int{1, 4} {
		for output, want := range map[string][]byte{"ndjson": documents("ndjson", answers), "fhir": documents("fhir", answers)} {
			got := written(t, adapter.LineJobs(bytes.NewReader(in.Bytes()), adapter.Row{Document: 1}, r), output, workers)
			require.True(t, string(want) == got, output)
		}
	}
	var list []any
	require.NoError(t, json.Unmarshal([]byte(written(t, adapter.LineJobs(bytes.NewReader(in.Bytes()), adapter.Row{}, r), "worksheet", 4)), &list))
	assert.Equal(t, strings.Count(string(documents("ndjson", answers)), "\n"), len(list))
}

// badLines are lines that no order can be read from, each with its code.
func badLines(good string) map[string]struct{ line, code string } {
	return map[string]struct{ line, code string }{
		"cut off":              {good[:len(good)/2], "document-json"},
		"two documents":        {good + good, "document-json"},
		"two documents, comma": {good + "," + good, "document-json"},
		"10 MB":                {`{"resourceType":"Bundle","id":"` + strings.Repeat("a", 10<<20) + `"}`, "document-limit"},
		"10 MB in one string":  {good + strings.Repeat(" ", 10<<20), "document-limit"},
		"no UTF-8":             {strings.Replace(good, "Okonkwo", "Oko\xffnkwo", 1), "document-json"},
		"no Bundle":            {`{"resourceType":"Patient","id":"a"}`, "document-unsupported"},
		"a member twice":       {strings.Replace(good, `"resourceType"`, `"type":"batch","resourceType"`, 1), "document-json"},
		"a byte order mark":    {"\ufeff" + good, "document-json"},
		"a list":               {"[" + good + "]", "document-structure"},
		"a word":               {"null", "document-structure"},
		"deep":                 {strings.Repeat(`{"a":`, 100_000), "document-limit"},
		"XML":                  {`<Bundle xmlns="http://hl7.org/fhir"/>`, "document-json"},
		"a NUL":                {"\x00", "document-json"},
	}
}

// A bad line is answered in its place with its number in the file, also in
// the place of each fault; the others are judged as if it were not there.
func TestBadLinesStandInTheirPlace(t *testing.T) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	r := request(t, f.Now)
	good := string(f.Line())
	alone := written(t, adapter.LineJobs(strings.NewReader(good), adapter.Row{}, r), "ndjson", 2)
	for name, bad := range badLines(good) {
		text := good + "\r\n\n" + bad.line + "\n  \n" + good
		got := strings.SplitAfter(written(t, adapter.LineJobs(strings.NewReader(text), adapter.Row{}, r), "ndjson", 2), "\n")
		require.Len(t, got, 4, name)
		assert.Equal(t, alone, got[0], name)
		assert.Equal(t, alone, got[2], name)
		var row struct {
			Line    int
			File    *string
			Outcome struct {
				ResourceType string
				Issue        []struct {
					Details   struct{ Coding []struct{ Code string } }
					Extension []struct {
						URL          string
						ValueInteger int
					}
				}
			}
		}
		require.NoError(t, json.Unmarshal([]byte(got[1]), &row), name)
		assert.Equal(t, 3, row.Line, name)
		assert.Nil(t, row.File, "one file needs no name")
		require.NotEmpty(t, row.Outcome.Issue, name)
		assert.Equal(t, bad.code, row.Outcome.Issue[0].Details.Coding[0].Code, name)
		for _, issue := range row.Outcome.Issue {
			for _, x := range issue.Extension {
				if strings.HasSuffix(x.URL, "issue-line") {
					assert.Equal(t, 3, x.ValueInteger, name)
				}
			}
		}
		assert.Less(t, len(got[1]), 1<<20, "%s: an answer is not larger than what it refuses", name)
		lines := strings.SplitAfter(written(t, adapter.LineJobs(strings.NewReader(text), adapter.Row{}, r), "fhir", 2), "\n")
		require.Len(t, lines, 4, name)
		assert.Contains(t, lines[1], "OperationOutcome", name)
		var list []map[string]any
		require.NoError(t, json.Unmarshal([]byte(written(t, adapter.LineJobs(strings.NewReader(text), adapter.Row{}, r), "worksheet", 2)), &list))
		require.Len(t, list, 3)
		assert.EqualValues(t, 3, list[1]["line"])
	}
}

func TestAnEmptyFileIsRefused(t *testing.T) {
	r := request(t, streamNow)
	for _, text := range []string{"", "\n\n", "  \r\n"} {
		got := written(t, adapter.LineJobs(strings.NewReader(text), adapter.Row{}, r), "ndjson", 2)
		assert.Contains(t, got, `{"line":1,"outcome":{"resourceType":"OperationOutcome"`)
		assert.Contains(t, got, "document is empty")
	}
}

// Changing any one byte of a line never disturbs the other lines.
func FuzzOneBadLine(f *testing.F) {
	one, err := orders.Load("s4-ceftriaxone-child")
	require.NoError(f, err)
	r := request(f, one.Now)
	r.Judges = nil
	good := string(one.Line())
	alone := written(f, adapter.LineJobs(strings.NewReader(good), adapter.Row{}, r), "ndjson", 1)
	f.Add([]byte("{}"))
	f.Add([]byte(good))
	f.Fuzz(func(t *testing.T, bad []byte) {
		bad = bytes.ReplaceAll(bad, []byte("\n"), nil)
		text := good + "\n" + string(bad) + "\n" + good + "\n"
		got := written(t, adapter.LineJobs(strings.NewReader(text), adapter.Row{}, r), "ndjson", 2)
		require.True(t, strings.HasPrefix(got, alone) && strings.HasSuffix(got, alone))
		for line := range strings.Lines(got) {
			require.True(t, json.Valid([]byte(line)))
		}
	})
}

// repeated gives n documents without holding them.
type repeated struct {
	line []byte
	n    int
	rest []byte
}

func (r *repeated) Read(p []byte) (int, error) {
	if len(r.rest) == 0 {
		if r.n == 0 {
			return 0, io.EOF
		}
		r.n--
		r.rest = r.line
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}

// Memory is flat: what is reachable does not grow with the number of lines,
// whatever output is written. WEIR_LINES=20000 makes the long run.
func TestMemoryIsFlat(t *testing.T) {
	n := 200
	if v := os.Getenv("WEIR_LINES"); v != "" {
		_, err := fmt.Sscan(v, &n)
		require.NoError(t, err)
	}
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	r := request(t, f.Now)
	workers := runtime.GOMAXPROCS(0)
	for _, output := range []string{"ndjson", "fhir", "worksheet"} {
		in := &repeated{line: append(f.Line(), '\n'), n: n}
		w := adapter.NewWriter(io.Discard, output, false)
		rows := 0
		var samples []int // least of several: what is at work in the moment varies
		begun := time.Now()
		require.NoError(t, adapter.JudgeAll(context.Background(), workers, adapter.LineJobs(in, adapter.Row{}, r), w, func(row adapter.Row) {
			require.Empty(t, row.Faults)
			if rows++; rows%(n/20) == 0 {
				samples = append(samples, heap())
			}
		}))
		require.NoError(t, w.Close())
		require.Equal(t, n, rows)
		early, late := slices.Min(samples[1:6]), slices.Min(samples[15:])
		t.Logf("%s: %d lines of %d bytes, %d workers: heap %d KiB in the first quarter, %d KiB in the last; %.0f lines a second", output, n, len(in.line), workers,
			early>>10, late>>10, float64(n)/time.Since(begun).Seconds())
		assert.Less(t, late-early, 2<<20, "bytes more than in the first quarter")
	}
}

// Lines a second with one worker and with all: the ratio in one run.
func BenchmarkNDJSON(b *testing.B) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(b, err)
	r := request(b, f.Now)
	line := append(f.Line(), '\n')
	rate := func(workers int) float64 {
		begun := time.Now()
		in := &repeated{line: line, n: b.N}
		w := adapter.NewWriter(io.Discard, "ndjson", false)
		require.NoError(b, adapter.JudgeAll(context.Background(), workers, adapter.LineJobs(in, adapter.Row{}, r), w, func(adapter.Row) {}))
		return float64(b.N) / time.Since(begun).Seconds()
	}
	b.ReportAllocs()
	one := rate(1)
	all := rate(runtime.GOMAXPROCS(0))
	b.ReportMetric(one, "lines/s-1-worker")
	b.ReportMetric(all, "lines/s-all")
	b.ReportMetric(all/one, "ratio")
}

func BenchmarkLineReader(b *testing.B) {
	line := append(bytes.Repeat([]byte("a"), 10_000), '\n')
	b.SetBytes(int64(len(line)))
	in := adapter.NewLineReader(&repeated{line: line, n: b.N})
	for range b.N {
		_, err := in.Next()
		require.NoError(b, err)
	}
}
