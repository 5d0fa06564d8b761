package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/testdata/orders"
)

const (
	bulkLines  = "../../testdata/bulk/orders.ndjson"
	bulkFolder = "../../testdata/bulk/export"
)

// bulk are the files of testdata/bulk, made from the scenario documents.
func bulk(t *testing.T) map[string]string {
	files := map[string]string{}
	for _, name := range []string{"s1-cefazolin-elastomeric", "s3-fluorouracil-46h", "s4-ceftriaxone-child"} {
		f, err := orders.Load(name)
		require.NoError(t, err)
		files["orders.ndjson"] += string(f.Line()) + "\n"
		for _, r := range f.Resources(name[:3]) {
			files["export/"+r.Type+".ndjson"] += string(r.Line) + "\n"
		}
	}
	return files
}

// The files beside the scenarios are the scenarios: WEIR_UPDATE=1 makes them
// anew when a scenario changes.
func TestBulkFilesAreTheScenarios(t *testing.T) {
	root := filepath.Dir(bulkLines)
	want := bulk(t)
	if os.Getenv("WEIR_UPDATE") != "" {
		require.NoError(t, os.RemoveAll(bulkFolder))
		require.NoError(t, os.MkdirAll(bulkFolder, 0o755))
		for name, text := range want {
			require.NoError(t, os.WriteFile(filepath.Join(root, name), []byte(text), 0o644))
		}
	}
	names, err := filepath.Glob(filepath.Join(bulkFolder, "*"))
	require.NoError(t, err)
	require.Len(t, names, len(want)-1, "no file more")
	for name, text := range want {
		file, err := os.ReadFile(filepath.Join(root, name))
		require.NoError(t, err)
		assert.True(t, text == string(file), "%s is not what the scenarios give: WEIR_UPDATE=1 go test ./cmd/weir -run Bulk", name)
	}
}

func temporary(t *testing.T, files map[string]string) string {
	dir := t.TempDir()
	for name, text := range files {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	return dir
}

func TestExitCodesOfLinesAndFolders(t *testing.T) {
	good := strings.SplitAfter(bulk(t)["orders.ndjson"], "\n")[0]
	patient := `{"resourceType":"Patient","id":"p1"}` + "\n"
	dir := temporary(t, map[string]string{
		"good.ndjson": good, "some.ndjson": good + "{\n" + good, "none.ndjson": "{\n\n[]\n", "empty.ndjson": "\n",
		"no-orders/Patient.ndjson": patient, "some/MedicationRequest.ndjson": "{\n", "misnamed/patients.ndjson": patient,
		"lost/Patient.ndjson": patient + "{\n", "readable/README": "",
	})
	for name, text := range bulk(t) {
		if file, found := strings.CutPrefix(name, "export/"); found {
			require.NoError(t, os.WriteFile(filepath.Join(dir, "readable", file), []byte(text), 0o600))
			require.NoError(t, os.WriteFile(filepath.Join(dir, "lost", file), []byte(text), 0o600))
		}
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "lost", "Flag.ndjson"), []byte("{\n"), 0o600))
	for _, x := range []struct {
		args []string
		code int
	}{
		{[]string{"good.ndjson"}, 1},
		{[]string{"--fail-on", "never", "good.ndjson"}, 0},
		{[]string{"some.ndjson"}, 1},
		{[]string{"--fail-on", "never", "some.ndjson"}, 4},
		{[]string{"--fail-on", "never", "none.ndjson"}, 3},
		{[]string{"none.ndjson"}, 3},
		{[]string{"empty.ndjson"}, 3},
		{[]string{"--fail-on", "never", "empty.ndjson", "good.ndjson"}, 4},
		{[]string{"readable"}, 1},
		{[]string{"--fail-on", "never", "readable"}, 0},
		{[]string{"--fail-on", "never", "lost"}, 4},
		{[]string{"no-orders"}, 3},
		{[]string{"some"}, 3},
		{[]string{"misnamed"}, 3},
		{[]string{"good.ndjson", "none-there.ndjson"}, 2},
	} {
		args := []string{"verify", "--now", s1Now, "--output", "ndjson"}
		for _, a := range x.args {
			if a != "never" && !strings.HasPrefix(a, "--") {
				a = filepath.Join(dir, a)
			}
			args = append(args, a)
		}
		r := weir(t, "", args...)
		assert.Equal(t, x.code, r.code, "%v\n%s", x.args, r.err)
		for line := range strings.Lines(r.out) {
			assert.True(t, json.Valid([]byte(line)))
		}
		if x.code == 2 {
			assert.Empty(t, r.out, "wrong use writes no data, also of files before it")
		}
	}
}

// Arguments are answered in their order, whatever they are; a line that
// failed names its file when there are several.
func TestSeveralKindsOfArguments(t *testing.T) {
	dir := temporary(t, map[string]string{"b.ndjson": "{\n"})
	r := weir(t, "", "verify", "--now", s1Now, "--output", "ndjson", s3, bulkLines, filepath.Join(dir, "b.ndjson"), bulkFolder, s1)
	require.Equal(t, 1, r.code)
	var got []string
	for line := range strings.Lines(r.out) {
		var w struct {
			File  string
			Line  int
			Order struct{ Expression string }
		}
		require.NoError(t, json.Unmarshal([]byte(line), &w))
		got = append(got, w.File+w.Order.Expression)
	}
	require.Len(t, got, 1+3+1+3+1)
	assert.Equal(t, "b.ndjson", got[4])
	for _, i := range []int{0, 1, 8} {
		assert.Regexp(t, `^Bundle\.entry`, got[i])
	}
	for _, e := range got[5:8] {
		assert.Regexp(t, `^MedicationRequest\.where\(id='s\d-`, e)
	}
	assert.Contains(t, r.err, `"b.ndjson" line 1: document-json`)

	r = weir(t, "", "verify", "--now", s1Now, s1, bulkLines, bulkFolder)
	assert.Equal(t, 5, strings.Count(r.out, "\n"), "FHIR is a line a document: one, three, and the folder")
	r = weir(t, "", "verify", "--now", s1Now, bulkFolder)
	var bundle struct {
		Entry []struct{ Resource struct{ ResourceType string } }
	}
	require.NoError(t, json.Unmarshal([]byte(r.out), &bundle), "a folder alone is one Bundle")
	require.Len(t, bundle.Entry, 3)
	r = weir(t, "", "verify", "--now", s1Now, "--output", "table", filepath.Join(dir, "b.ndjson"))
	assert.Contains(t, r.out, "line 1 of b.ndjson")
	assert.Contains(t, r.out, "REFUSED")
}

// What a folder holds and no order leads to is counted on standard error.
func TestWhatIsNotUsedOfAFolderIsSaid(t *testing.T) {
	files := map[string]string{"README": "x", "Patient.2.ndjson": `{"resourceType":"Patient","id":"other"}`}
	for name, text := range bulk(t) {
		if file, found := strings.CutPrefix(name, "export/"); found {
			files[file] = text
		}
	}
	dir := temporary(t, files)
	r := weir(t, "", "verify", "--now", s1Now, dir)
	assert.Contains(t, r.err, "not used: 1 Patient: it belongs to a patient without an order in the folder")
	assert.Contains(t, r.err, "not read: 1 files")
	assert.Empty(t, weir(t, "", "verify", "--quiet", "--now", s1Now, dir).err)
}

// A name in a folder that leads out of it is not followed.
func TestAFolderIsNotLeft(t *testing.T) {
	outside := temporary(t, map[string]string{"orders.ndjson": bulk(t)["export/MedicationRequest.ndjson"]})
	dir := t.TempDir()
	if err := os.Symlink(filepath.Join(outside, "orders.ndjson"), filepath.Join(dir, "MedicationRequest.ndjson")); err != nil {
		t.Skip("no symbolic links here")
	}
	r := weir(t, "", "verify", dir)
	assert.Equal(t, 2, r.code)
	assert.Empty(t, r.out)
	assert.Contains(t, r.err, "MedicationRequest.ndjson")
}

// stopAfter cancels the run once so many lines were written.
type stopAfter struct {
	bytes.Buffer
	lines int
	stop  func()
}

func (s *stopAfter) Write(p []byte) (int, error) {
	n, err := s.Buffer.Write(p)
	if bytes.Count(s.Bytes(), []byte("\n")) >= s.lines {
		s.stop()
	}
	return n, err
}

// Interrupted, standard output ends with a whole line, and the exit says so.
func TestInterruptedOutputIsWholeLines(t *testing.T) {
	line := strings.SplitAfter(bulk(t)["orders.ndjson"], "\n")[0]
	dir := temporary(t, map[string]string{"many.ndjson": strings.Repeat(line, 60)})
	for _, output := range []string{"ndjson", "fhir"} {
		ctx, stop := context.WithCancel(context.Background())
		out, errs := &stopAfter{lines: 7, stop: stop}, &bytes.Buffer{}
		clock := func() time.Time { return time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC) }
		code := run(ctx, []string{"verify", "--output", output, filepath.Join(dir, "many.ndjson")}, streams{in: strings.NewReader(""), out: out, err: errs, now: clock})
		stop()
		assert.Equal(t, 130, code, output)
		assert.Equal(t, 7, strings.Count(out.String(), "\n"))
		for l := range strings.Lines(out.String()) {
			assert.True(t, strings.HasSuffix(l, "\n") && json.Valid([]byte(l)), output)
		}
		assert.Contains(t, errs.String(), "interrupted after 7 answers")
	}
}

// Standard input is one JSON document: what a sender meant is not guessed
// from its content, and the refusal says how to send lines.
func TestStandardInputIsOneDocument(t *testing.T) {
	r := weir(t, bulk(t)["orders.ndjson"], "verify", "-")
	assert.Equal(t, 3, r.code)
	assert.Contains(t, r.out, ".ndjson")
}
