package adapter_test

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/orders"
)

func request(t testing.TB, now time.Time) adapter.Request {
	p, err := policy.Load(nil)
	require.NoError(t, err)
	ref, err := adapter.Reference(p, nil, nil)
	require.NoError(t, err)
	return adapter.Request{Now: now, Stage: "release", Reference: ref, Judges: []schema.Judge{googlefhir.Judge}}
}

// layout writes resources as a folder, one file a type.
func layout(lists ...[]orders.Resource) fstest.MapFS {
	files := fstest.MapFS{}
	for _, r := range slices.Concat(lists...) {
		add(files, r.Type+".ndjson", string(r.Line)+"\n")
	}
	return files
}

func add(files fstest.MapFS, name, text string) {
	if files[name] == nil {
		files[name] = &fstest.MapFile{}
	}
	files[name].Data = append(files[name].Data, text...)
}

// judged runs a folder through the writer of one output.
func judged(t testing.TB, files fstest.MapFS, r adapter.Request, output string) (string, *adapter.Folder) {
	f, err := adapter.OpenFolder(context.Background(), files, r, 3)
	require.NoError(t, err)
	return written(t, f.Jobs(adapter.Row{Document: 1}, r), output, 3), f
}

func written(t testing.TB, jobs adapter.Jobs, output string, workers int) string {
	var out bytes.Buffer
	w := adapter.NewWriter(&out, output, false)
	require.NoError(t, adapter.JudgeAll(context.Background(), workers, jobs, w, func(adapter.Row) {}))
	require.NoError(t, w.Close())
	return out.String()
}

var entry = regexp.MustCompile(`Bundle\.entry\[(\d+)\]\.resource`)

func nameOf(t testing.TB, r orders.Resource) string {
	var head struct{ ID string }
	require.NoError(t, json.Unmarshal(r.Line, &head))
	return fmt.Sprintf("%s.where(id='%s')", r.Type, head.ID)
}

// placed orders resources so that their places in a Bundle sort, as text, as
// their names do: of two places that state one number the first is shown.
func placed(t testing.TB, list []orders.Resource) []orders.Resource {
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b orders.Resource) int { return cmp.Compare(nameOf(t, a), nameOf(t, b)) })
	at := make([]int, len(list))
	for i := range at {
		at[i] = i
	}
	slices.SortFunc(at, func(i, j int) int { return cmp.Compare(fmt.Sprintf("[%d]", i), fmt.Sprintf("[%d]", j)) })
	out := make([]orders.Resource, len(list))
	for k, i := range at {
		out[i] = list[k]
	}
	return out
}

// asSet makes the worksheets of a Bundle comparable with those of a folder:
// places by type and id alone, and no hash of the document.
func asSet(t testing.TB, lines string, list []orders.Resource) []map[string]any {
	var names []string
	for _, r := range list {
		names = append(names, nameOf(t, r))
	}
	lines = entry.ReplaceAllStringFunc(lines, func(m string) string {
		i, _ := strconv.Atoi(entry.FindStringSubmatch(m)[1])
		return names[i]
	})
	var out []map[string]any
	for line := range strings.Lines(lines) {
		var w map[string]any
		require.NoError(t, json.Unmarshal([]byte(line), &w), line)
		require.NotContains(t, w, "outcome", line)
		w["sources"].(map[string]any)["document"] = ""
		for _, f := range w["findings"].([]any) {
			delete(f.(map[string]any), "line")
			delete(f.(map[string]any), "column")
		}
		out = append(out, w)
	}
	slices.SortFunc(out, func(a, b map[string]any) int { return cmp.Compare(id(a), id(b)) })
	return out
}

func id(w map[string]any) string {
	o := w["order"].(map[string]any)
	return fmt.Sprint(o["identifier"], o["expression"])
}

// unusedOf takes what was not used out of the worksheets, as a sorted list.
func unusedOf(list []map[string]any) []string {
	seen := map[string]bool{}
	for _, w := range list {
		for _, u := range w["unused"].([]any) {
			m := u.(map[string]any)
			seen[fmt.Sprint(m["expression"], ": ", m["reason"])] = true
		}
		delete(w, "unused")
	}
	var out []string
	for s := range seen {
		out = append(out, s)
	}
	slices.Sort(out)
	return out
}

// What a folder needs in memory: the text of its lines and a little beside
// each, nothing that grows while it is judged.
func TestMemoryOfAFolder(t *testing.T) {
	if testing.Short() {
		t.Skip("reads 3,600 lines")
	}
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	r := request(t, f.Now)
	files := fstest.MapFS{}
	size, lines := 0, 0
	const patients = 150
	for i := range patients {
		for _, one := range f.Resources(fmt.Sprintf("p%d-", i)) {
			text := strings.ReplaceAll(string(one.Line), "MG-004417", fmt.Sprint("MG-", i))
			text = strings.ReplaceAll(text, "88213007", fmt.Sprint("882", i)) + "\n"
			add(files, one.Type+".ndjson", text)
			size, lines = size+len(text), lines+1
		}
	}
	before := heap()
	folder, err := adapter.OpenFolder(context.Background(), files, r, runtime.GOMAXPROCS(0))
	require.NoError(t, err)
	held := heap() - before
	beside := (held - size) / lines
	most, rows := 0, 0
	require.NoError(t, adapter.JudgeAll(context.Background(), runtime.GOMAXPROCS(0), folder.Jobs(adapter.Row{}, r), adapter.NewWriter(io.Discard, "ndjson", false), func(row adapter.Row) {
		if len(row.Worksheets) > 0 {
			rows++
		}
		if rows%30 == 0 {
			most = max(most, heap()-before)
		}
	}))
	require.Equal(t, patients, rows)
	t.Logf("%d lines, %d bytes of text: %d bytes held, %d beside each line; while judging at most %d", lines, size, held, beside, most)
	assert.Less(t, beside, 1_500, "bytes beside each line")
	assert.Less(t, most-held, 16<<20, "grows while it is judged")
	runtime.KeepAlive(folder)
	runtime.KeepAlive(files)
}

// heap is what is reachable now, in bytes.
func heap() int {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int(m.HeapAlloc)
}
