package night

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

const (
	somebody = `{"resourceType":"Patient","id":"p","active":true}`
	anOrder  = `{"resourceType":"MedicationRequest","id":"m","status":"active","subject":{"reference":"Patient/p"}}`
	fine     = `{"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/p"}}`
)

func text(lines ...string) *fstest.MapFile {
	return &fstest.MapFile{Data: []byte(strings.Join(lines, "\n") + "\n")}
}

// A damaged line is reported where it stands, by the code of its fault; when
// it still says whose it is, that patient knows; and the night goes on.
func TestDamagedLines(t *testing.T) {
	for name, c := range map[string]struct {
		line, code string
		lost       bool
	}{
		"no JSON":             {`not JSON at all`, "document-json", false},
		"cut":                 {`{"resourceType":"Observation","id":"x","subject":{"reference":"Patient/p"},"status":"fin`, "document-json", true},
		"cut before owner":    {`{"resourceType":"Observation","id":"x","sub`, "document-json", false},
		"mark":                {"\xef\xbb\xbf" + fine, "document-json", true},
		"bytes":               {strings.Replace(fine, "final", "fin\xffal", 1), "document-json", true},
		"name twice":          {strings.Replace(fine, `"status"`, `"status":"final","status"`, 1), "document-json", true},
		"two on a line":       {fine + fine, "document-json", true},
		"wrong type":          {strings.Replace(fine, "Observation", "Procedure", 1), "document-", true},
		"no id":               {strings.Replace(fine, `"id":"o",`, "", 1), "document-", true},
		"no type":             {`{"id":"x","status":"final"}`, "document-structure", false},
		"a list":              {`[` + fine + `]`, "document-structure", false},
		"empty object inside": {strings.Replace(fine, `"status":"final"`, `"code":{}`, 1), "document-structure", true},
		"overlong":            {`{"resourceType":"Observation","note":"` + strings.Repeat("x", element.MostLine) + `"}`, "document-limit", false},
		"digits":              {strings.Replace(fine, `"status":"final"`, `"valueInteger":1234567890123456789012`, 1), "document-limit", true},
		"a Bundle":            {`{"resourceType":"Bundle","id":"x","type":"collection"}`, "document-", false},
	} {
		t.Run(name, func(t *testing.T) {
			files := fstest.MapFS{"Patient.ndjson": text(somebody), "MedicationRequest.ndjson": text(anOrder), "Observation.ndjson": text(fine, c.line, strings.Replace(fine, `"o"`, `"q"`, 1))}
			f := opened(t, files, 2)
			list := failed(t, f)
			require.Len(t, list, 1)
			assert.Equal(t, "Observation.ndjson", list[0].File)
			assert.Equal(t, 2, list[0].Line)
			require.NotEmpty(t, list[0].Findings)
			assert.True(t, strings.HasPrefix(string(list[0].Findings[0].Code), c.code), "%+v", list[0].Findings[0])
			assert.Equal(t, 2, list[0].Findings[0].Place.Line)
			got := groups(t, f)
			require.Len(t, got, 1)
			assert.Len(t, got[0].Lines, 4)
			facts := f.Facts()
			assert.Equal(t, []int{5, 1}, []int{facts.Lines, facts.Failed})
			if c.lost {
				assert.Equal(t, []Lost{{"Observation.ndjson", 2}}, got[0].Lost)
				assert.Zero(t, facts.Nobodys)
			} else {
				assert.Empty(t, got[0].Lost)
				assert.Equal(t, 1, facts.Nobodys)
			}
			whole := groups(t, opened(t, fstest.MapFS{"Patient.ndjson": text(somebody), "MedicationRequest.ndjson": text(anOrder), "Observation.ndjson": text(fine, strings.Replace(fine, `"o"`, `"q"`, 1))}, 1))
			assert.Equal(t, !c.lost, whole[0].Sum == got[0].Sum, "a patient of whom a line is lost is not the patient of yesterday")
		})
	}
}

// A file that ends inside a line is cut; one whose last line only lacks its
// end is not.
func TestFilesThatEndInside(t *testing.T) {
	cut := func(data []byte, name string) (FileFacts, []Failed) {
		f := opened(t, fstest.MapFS{"Patient.ndjson": text(somebody), name: {Data: data}}, 2)
		got := groups(t, f)
		require.NotEmpty(t, got)
		return f.Facts().Files[0], failed(t, f)
	}
	whole := []byte(fine + "\n" + strings.Replace(fine, `"o"`, `"q"`, 1))
	facts, bad := cut(whole, "Observation.ndjson")
	assert.False(t, facts.Truncated)
	assert.Empty(t, bad)
	assert.Equal(t, 2, facts.Lines)
	facts, bad = cut(whole[:len(whole)-1], "Observation.ndjson")
	assert.True(t, facts.Truncated)
	assert.Len(t, bad, 1)
	facts, bad = cut(append(whole[:len(whole)-1:len(whole)-1], '\n'), "Observation.ndjson")
	assert.False(t, facts.Truncated, "a whole line that is no JSON")
	assert.Len(t, bad, 1)
	facts, bad = cut(nil, "Observation.ndjson")
	assert.Equal(t, FileFacts{Name: "Observation.ndjson", Type: "Observation", Stated: -1}, facts)
	assert.Empty(t, bad)

	long := bytes.Repeat([]byte(fine+"\n"), 4000)
	for i := range long { // not to be packed to nothing
		if long[i] == 'o' && i+1 < len(long) && long[i+1] == '"' && long[i-1] == '"' {
			long[i] = 'a' + byte(i%26)
		}
	}
	zip := packed(long)
	facts, bad = cut(zip, "Observation.ndjson.gz")
	assert.False(t, facts.Truncated)
	assert.Empty(t, bad)
	for _, at := range []int{0, 5, len(zip) / 2, len(zip) - 4} {
		facts, bad = cut(zip[:at], "Observation.ndjson.gz")
		assert.True(t, facts.Truncated, at)
		require.Len(t, bad, 1)
		assert.Equal(t, facts.Lines, bad[0].Line, "the line in which it broke")
		assert.Less(t, facts.Lines, 4002)
	}
	spoiled := bytes.Clone(zip)
	spoiled[len(zip)-6] ^= 1 // the checksum
	facts, bad = cut(spoiled, "Observation.ndjson.gz")
	assert.True(t, facts.Truncated)
	assert.Len(t, bad, 1)
}

func TestTheManifest(t *testing.T) {
	read := func(manifest string) (Facts, []Failed) {
		files := fstest.MapFS{"Patient.ndjson": text(strings.Replace(somebody, `"active"`, `"meta":{"lastUpdated":"2026-11-25T20:00:00+01:00"},"active"`, 1)), "Observation.1.ndjson.gz": {Data: packed([]byte(fine))}}
		if manifest != "" {
			files["manifest.json"] = &fstest.MapFile{Data: []byte(manifest)}
		}
		f := opened(t, files, 1)
		return f.Facts(), failed(t, f)
	}
	newest := time.Date(2026, 11, 25, 19, 0, 0, 0, time.UTC)
	facts, bad := read("")
	assert.Empty(t, bad)
	assert.True(t, newest.Equal(facts.Time))
	assert.False(t, facts.Stated || facts.Manifest)

	facts, bad = read(`{"transactionTime":"2026-11-26T01:00:00Z","requiresAccessToken":true,"output":[{"type":"Patient","url":"https://h/x/Patient.ndjson?a=b","count":2},
		{"type":"Observation","url":"https://h/x/Observation.1.ndjson"},{"type":"Condition","url":"https://h/x/Condition.ndjson","count":7}],"error":[{"type":"OperationOutcome","url":"https://h/e.ndjson"}]}`)
	assert.Empty(t, bad)
	assert.True(t, facts.Stated && facts.Manifest && !facts.BadManifest)
	assert.Equal(t, "2026-11-26T01:00:00Z", facts.Time.Format(time.RFC3339))
	assert.Equal(t, []FileFacts{{Name: "Observation.1.ndjson.gz", Type: "Observation", Lines: 1, Stated: -1, Listed: true}, {Name: "Patient.ndjson", Type: "Patient", Lines: 1, Stated: 2, Listed: true}}, facts.Files)
	assert.Equal(t, []string{"Condition.ndjson"}, facts.Missing)
	assert.Equal(t, 7, facts.MissingLines)
	assert.Equal(t, 1, facts.Errors)

	for _, broken := range []string{`{`, `[]`, `{"transactionTime":"yesterday"}`, `{"transactionTime":5}`, `{}`} {
		facts, bad = read(broken)
		require.Len(t, bad, 1, broken)
		assert.Equal(t, "manifest.json", bad[0].File)
		assert.True(t, facts.BadManifest && !facts.Stated)
		assert.True(t, newest.Equal(facts.Time), "a broken manifest makes nothing newer")
		assert.Equal(t, 2, facts.Lines)
	}
	_, bad = read(`{"transactionTime":"2026-11-26T01:00:00Z","output":[{"type":"Group","url":"Patient.ndjson"}]}`)
	assert.Len(t, bad, 1)
}

// failing is a file system that breaks in one file, or stops the reader.
type failing struct {
	fs.FS
	name string
	do   func() error
}

func (f failing) Open(name string) (fs.File, error) {
	file, err := f.FS.Open(name)
	if name == f.name {
		return failingFile{file, f.do}, err
	}
	return file, err
}

func (f failing) ReadDir(name string) ([]fs.DirEntry, error) { return fs.ReadDir(f.FS, name) }

type failingFile struct {
	fs.File
	do func() error
}

func (f failingFile) Read(p []byte) (int, error) {
	if err := f.do(); err != nil {
		return 0, err
	}
	return f.File.Read(p)
}

// What goes wrong outside the lines ends the reading, says what it was, and
// leaves nothing in the temporary folder (see private).
func TestNothingIsLeftOfANightThatEnds(t *testing.T) {
	files := folder(population(t, 2))
	files["Observation.2.ndjson.gz"] = &fstest.MapFile{Data: packed(files["Observation.ndjson"].Data)}
	spoiled := errors.New("the disk is gone")
	for _, name := range []string{"Observation.ndjson", "Observation.2.ndjson.gz"} {
		_, err := Open(context.Background(), failing{files, name, func() error { return spoiled }}, private(t), 3)
		require.ErrorIs(t, err, spoiled)
		assert.Contains(t, err.Error(), name)
	}
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	_, err := Open(ctx, failing{files, "Patient.ndjson", func() error { stop(); return nil }}, private(t), 3)
	require.ErrorIs(t, err, context.Canceled)

	ctx, enough := context.WithCancel(context.Background())
	defer enough()
	f := opened(t, files, 2)
	var last error
	for _, err := range f.Groups(ctx) {
		last = err
		enough()
	}
	require.ErrorIs(t, last, context.Canceled)
	require.NoError(t, f.Close())
	require.NoError(t, f.Close(), "twice is no fault")

	f = opened(t, files, 2)
	for range f.Groups(context.Background()) {
		break
	}
	for _, err := range f.Groups(context.Background()) {
		assert.Error(t, err, "the groups are handed out once")
	}

	root := private(t)
	file, err := root.Create("shared")
	require.NoError(t, err)
	require.NoError(t, file.Close())
	_, err = Open(context.Background(), files, root, 1)
	require.ErrorIs(t, err, fs.ErrExist, "a folder that is in use")
	require.NoError(t, root.Remove("shared"))
}

func TestFoldersThatAreRefused(t *testing.T) {
	for name, files := range map[string]fstest.MapFS{
		"empty":   {},
		"strange": {"Patient.ndjson": text(somebody), "allergies.ndjson": text(fine)},
		"zip":     {"Patient.ndjson.zip": text(somebody)},
	} {
		_, err := Open(context.Background(), files, private(t), 1)
		var fault adapter.FolderFault
		assert.ErrorAs(t, err, &fault, name)
	}
	_, err := Open(context.Background(), os.DirFS(t.TempDir()+"/none"), private(t), 1)
	assert.ErrorIs(t, err, fs.ErrNotExist)
	assert.Len(t, groups(t, opened(t, fstest.MapFS{"Patient.ndjson": text(somebody)}, 1)), 1, "a hospital without an order is a state")
}

// One text that would make one patient of a whole hospital is not followed,
// and that is counted.
func TestADummyNumberDoesNotUniteAHospital(t *testing.T) {
	var lines []string
	for i := range mostTogether + 1 {
		lines = append(lines, fmt.Sprintf(`{"resourceType":"Patient","id":"p%d","identifier":[{"system":"urn:x","value":"0"}]}`, i))
	}
	f := opened(t, fstest.MapFS{"Patient.ndjson": text(lines...)}, 2)
	assert.Len(t, groups(t, f), mostTogether+1)
	assert.Equal(t, 1, f.Facts().Crowded)
	f = opened(t, fstest.MapFS{"Patient.ndjson": text(lines[1:]...)}, 2)
	got := groups(t, f)
	require.Len(t, got, 1)
	assert.Len(t, got[0].Keys, mostTogether)
	assert.Zero(t, f.Facts().Crowded)
}
