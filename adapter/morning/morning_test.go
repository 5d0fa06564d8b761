package morning_test

import (
	"bytes"
	"context"
	"fmt"
	"html"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/morning"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/queue"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4/googlefhir"
)

// nights runs two nights of a small hospital and gives the record, and the
// answer of the second.
func nights(t testing.TB, workers int) (*sqlite.Store, []byte) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "weir.db"), store.Options{Migrate: true})
	require.NoError(t, err)
	q, err := queue.Open(ctx, s, queue.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, q.Close()); require.NoError(t, s.Close()) })
	ref, err := adapter.Reference(policy.Default(), nil, nil)
	require.NoError(t, err)
	w := night.Worker{Intake: intake.Service{Store: s, Reference: ref, Judges: []schema.Judge{googlefhir.Judge}}}
	working, stop := context.WithCancel(ctx)
	done := make(chan error, 1)
	go func() { done <- q.Run(working, workers, w.Handle) }()
	h := nightgen.Hospital{Orders: 14, Seed: 11, Churn: 400, Broken: 2}
	var out bytes.Buffer
	for n := range 2 {
		out.Reset()
		path := t.TempDir()
		_, err := h.Write(n, nightgen.Layout{}, func(name string) (io.WriteCloser, error) { return os.Create(filepath.Join(path, name)) })
		require.NoError(t, err)
		aside, err := os.OpenRoot(t.TempDir())
		require.NoError(t, err)
		f, err := night.Open(ctx, os.DirFS(path), aside, workers)
		require.NoError(t, err)
		_, err = night.Run{Record: s, Queue: q, Worker: w, Now: nightgen.Clock(0).Add(time.Duration(n) * 24 * time.Hour), Address: "https://feed.example/fhir/"}.Do(ctx, f, &out)
		require.NoError(t, err)
		require.NoError(t, f.Close())
		require.NoError(t, aside.Close())
	}
	stop()
	require.NoError(t, <-done)
	return s, out.Bytes()
}

func written(t testing.TB, format string, o morning.Options, lines []byte) string {
	var out bytes.Buffer
	w := morning.New(&out, format, o)
	for len(lines) > 0 { // in pieces that are no lines
		n := min(len(lines), 1000)
		_, err := w.Write(lines[:n])
		require.NoError(t, err)
		lines = lines[n:]
	}
	require.NoError(t, w.Close())
	return out.String()
}

func golden(t testing.TB, name, have string) {
	path := filepath.Join("testdata", name)
	if os.Getenv("WEIR_UPDATE") != "" {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(have), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), have, "run WEIR_UPDATE=1 go test ./adapter/morning")
}

func denver(t testing.TB) *time.Location {
	ref, err := adapter.Reference(policy.Default(), nil, nil)
	require.NoError(t, err)
	z, err := ref.Zones.Zone("America/Denver")
	require.NoError(t, err)
	return z.Location
}

// A night as it is read in every form, byte for byte, and the same with
// another number of workers.
func TestAReportOfANight(t *testing.T) {
	o := morning.Options{Name: "Lanternlight", Zone: denver(t)}
	s, lines := nights(t, 1)
	o.Store = s
	assert.Equal(t, string(lines), written(t, morning.NDJSON, o, lines))
	table, page, bundle := written(t, morning.Table, o, lines), written(t, morning.HTML, o, lines), written(t, morning.FHIR, o, lines)
	golden(t, "night.txt", table)
	golden(t, "night.html", page)

	other, again := nights(t, 4)
	o.Store = other
	assert.True(t, table == written(t, morning.Table, o, again))
	assert.True(t, page == written(t, morning.HTML, o, again))
	assert.True(t, bundle == written(t, morning.FHIR, o, again))

	doc, faults := element.Read([]byte(bundle), element.Limit{})
	require.Empty(t, faults)
	assert.Empty(t, googlefhir.Judge(doc))
	kinds := map[string]int{}
	for _, e := range doc.Root().Get("entry").Each() {
		r := e.Get("resource")
		kinds[r.Get("resourceType").Text()]++
		assert.NotEqual(t, "cancelled", r.Get("status").Text())
	}
	assert.Positive(t, kinds["DetectedIssue"])
	assert.Positive(t, kinds["Task"])
	assert.Equal(t, 4, kinds["OperationOutcome"], "two lines, and two things said of the feed")
	assert.Contains(t, table, "(yesterday 14)")
	assert.Contains(t, page, "<th scope=\"col\">Yesterday</th>")
}

// What we write ourselves has no error-prone abbreviation.
func TestTheWordsAreClean(t *testing.T) {
	_, lines := nights(t, 2)
	for _, format := range []string{morning.Table, morning.HTML} {
		text := written(t, format, morning.Options{}, lines)
		if format == morning.HTML {
			_, text, _ = strings.Cut(text, "</head>")
			text = html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(strings.NewReplacer("<code>", "`", "</code>", "`").Replace(text), " "))
		}
		for _, problem := range notation.Scan(text) {
			t.Error(format, problem)
		}
	}
}

const hostile = `<script>alert(1)</script>"'><img src=x onerror=alert(1)> ` + "\x1b[31m\x1b]0;x\x07\u202e\u2066\u200b" + `{{.}} </style> --> &lt;`

func orderLine(n int, gate, text string) string {
	encoded := strings.NewReplacer(`"`, `\"`, "\x1b", `\u001b`, "\x07", `\u0007`).Replace(text)
	return fmt.Sprintf(`{"order":{"key":"k%d","identifier":"https://h.example/%s|O-%d%s","drug":"%s","patientRef":"Patient/%s"},"state":"changed","verdict":"%s",`+
		`"findings":[{"new":true,"code":"nightly-stopped","gate":"%s","title":"%s","observed":"%s","expected":"%s","remedy":"%s"}],`+
		`"tasks":[{"code":"call-patient","role":"%s","due":"%s","title":"%s","says":"%s"}],"notChecked":[{"code":"x","gate":"%s","missing":["%s"]}]}`+"\n",
		n, encoded, n, encoded, encoded, encoded, gate, gate, encoded, encoded, encoded, encoded, encoded, encoded, encoded, encoded, gate, encoded)
}

// Words of a sender steer neither a terminal nor a browser.
func TestHostileWordsAreShownAsWords(t *testing.T) {
	bad := strings.NewReplacer(`"`, `\"`, "\x1b", `\u001b`, "\x07", `\u0007`).Replace(hostile)
	lines := orderLine(1, "block", hostile) + orderLine(2, "warn", hostile) +
		`{"file":"` + bad + `","line":3,"outcome":{"issue":[{"details":{"text":"` + bad + `"},"diagnostics":"` + bad + `","expression":["` + bad + `"]}]}}` + "\n" +
		`{"night":{"now":"` + bad + `","transactionTime":"` + bad + `","autoRelease":"` + bad + `","findings":[{"gate":"block","code":"` + bad + `","title":"` + bad + `"}]}}` + "\n"
	table := written(t, morning.Table, morning.Options{Name: hostile}, []byte(lines))
	for _, r := range table {
		assert.False(t, r == 0x1b || r == 0x07 || r == 0x202e || r == 0x2066 || r == 0x200b, "%U", r)
	}
	page := written(t, morning.HTML, morning.Options{Name: hostile}, []byte(lines))
	assert.False(t, strings.Contains(page, "<script"), `"<script"`)
	assert.False(t, strings.Contains(page, "<img"), `"<img"`)
	assert.Equal(t, 1, strings.Count(page, "</style>"))
	assert.False(t, strings.Contains(page, "\x1b"), `"\x1b"`)
	assert.False(t, strings.Contains(page, "\u202e"), `"\u202e"`)
	assert.Contains(t, page, "[U+202E]")
	assert.Contains(t, table, "BLOCKED", "a word that is not allowed blocks")
}

// A night that broke off, and answers that cannot be read, are never silent.
func TestANightThatDidNotEnd(t *testing.T) {
	for _, lines := range []string{"", orderLine(1, "hold", "a"), "nonsense\n{\"night\":7}\n", `{"order":{}}`} {
		for _, format := range []string{morning.Table, morning.HTML, morning.FHIR} {
			if format == morning.FHIR && strings.Contains(lines, "k1") {
				continue // needs the record
			}
			assert.Contains(t, written(t, format, morning.Options{}, []byte(lines)), "did not come to its end", "%s %q", format, lines)
		}
	}
	var out bytes.Buffer
	w := morning.New(&out, morning.FHIR, morning.Options{})
	_, err := w.Write([]byte(orderLine(1, "hold", "a")))
	assert.Error(t, err, "without the record there is no Bundle")
}

// The worst of a great many is shown, and how many are not. What is kept does
// not grow with the night.
func TestAHundredThousandOrders(t *testing.T) {
	var out bytes.Buffer
	w := morning.New(&out, morning.Table, morning.Options{Most: 50})
	filler := strings.Repeat("x", 2000)
	write := func(text string) {
		_, err := io.WriteString(w, text)
		require.NoError(t, err)
	}
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	for n := range 100_000 {
		gate := []string{"hold", "warn", "note"}[n%3]
		if n == 99_999 {
			gate = "block"
		}
		write(orderLine(n, gate, filler[:200]))
		if n%1000 == 0 {
			write(`{"file":"a.ndjson","line":` + fmt.Sprint(n) + `,"outcome":{}}` + "\n")
			write(`{"file":"b.ndjson","line":` + fmt.Sprint(n) + `,"outcome":{}}` + "\n")
		}
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	assert.Less(t, int64(after.HeapAlloc)-int64(before.HeapAlloc), int64(4<<20), "bytes kept")
	write(`{"night":{"now":"2027-01-12T11:00:00Z","autoRelease":"allowed","findings":[]}}` + "\n")
	require.NoError(t, w.Close())
	text := out.String()
	assert.Less(t, strings.Index(text, "O-99999"), strings.Index(text, "HOLD: 49 orders"))
	assert.Contains(t, text, "and 33,284 more orders with a hold, 33,283 more orders with a warning")
	assert.Contains(t, text, "LINES THAT COULD NOT BE READ: 200")
	assert.Contains(t, text, "and 100 more lines")
}
