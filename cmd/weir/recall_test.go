package main

import (
	"context"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/settings"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/orders"
)

// stored puts a scenario into a store, through intake, and gives the setting.
func stored(t testing.TB, name string) (string, orders.Fixture) {
	ctx := context.Background()
	where := "sqlite:" + filepath.Join(t.TempDir(), "weir.db")
	s, err := openStore(ctx, settings.Settings{Store: where}, opening{make: true})
	require.NoError(t, err)
	ref, err := reference("")
	require.NoError(t, err)
	for _, f := range orders.All() {
		if f.Name != name {
			continue
		}
		doc, faults := element.Read(f.Document, element.Limit{})
		require.Empty(t, faults)
		newest := map[string]int{} // a document may hold several versions of one resource
		for i, e := range doc.Root().Get("entry").Each() {
			newest[e.Get("fullUrl").Text()] = i
		}
		var items []intake.Item
		for i, e := range doc.Root().Get("entry").Each() {
			if e.Get("resource").Get("resourceType").Text() != "MessageHeader" && newest[e.Get("fullUrl").Text()] == i {
				items = append(items, intake.Item{Way: intake.Create, Resource: e.Get("resource"), FullURL: e.Get("fullUrl").Text()})
			}
		}
		desk := intake.Service{Store: s, Reference: ref, Judges: []schema.Judge{googlefhir.Judge}, NewID: uuid.NewString}
		_, err := desk.Receive(ctx, intake.Call{Now: f.Now, Agent: "operator", Media: "application/fhir+json", Bytes: f.Document}, items)
		require.NoError(t, err)
		require.NoError(t, s.Close())
		return where, f
	}
	t.Fatal("no such scenario")
	return "", orders.Fixture{}
}

// issues are the stored findings of a code, by status.
func issues(t testing.TB, where, code string) map[string]int {
	ctx := context.Background()
	s, err := openStore(ctx, settings.Settings{Store: where}, opening{})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	found, err := s.Search(ctx, adapter.Query{Type: "DetectedIssue", All: []adapter.Criterion{{Name: "code", Any: []adapter.Match{{Op: adapter.OpEqual, Text: code}}}}}, adapter.Page{Limit: 100})
	require.NoError(t, err)
	out := map[string]int{}
	for _, r := range found.Resources {
		var x struct{ Status string }
		require.NoError(t, json.Unmarshal(r.JSON, &x))
		out[x.Status]++
	}
	return out
}

// Eight containers of one lot are made for the scenario of the slipped
// discharge: whoever recalls the lot is told, whom to call, and by when; the
// nights after say so until it is settled.
func TestARecalledLot(t *testing.T) {
	where, f := stored(t, "s7-daptomycin-discharge")
	now := f.Now.Add(time.Hour).Format(time.RFC3339)
	args := func(more ...string) []string {
		return append([]string{"recall", "--store", where, "--now", now, "--workers", "2"}, more...)
	}
	got := weir(t, "", args("--output", "table", "LL-000000-X")...)
	assert.Zero(t, got.code, got.err)
	assert.Contains(t, got.out, "Nobody has units of it")
	got = weir(t, "", args("--drug", "cefazolin", "LL-261217-D")...)
	assert.Zero(t, got.code, "a lot of another drug is another lot")
	assert.Empty(t, issues(t, where, "nightly-recall"))

	got = weir(t, "", args("--output", "table", "ll-261217-d ")...)
	assert.Equal(t, exitFound, got.code, got.err)
	for _, want := range []string{"RECALL of lot ll-261217-d", "DAPTOmycin", "8 units", "+1-555-0611, mobile", "+1-555-0613, mobile, of a contact", "Who calls whom by when", "pharmacist: "} {
		assert.Contains(t, got.out, want)
	}
	assert.NotContains(t, got.out, "could not be read")
	assert.Equal(t, map[string]int{"final": 1}, issues(t, where, "nightly-recall"))
	// With the block of the recall, tasks that prepare wait and are overdue no more; from then on nothing changes.
	again := weir(t, "", args("--output", "table", "ll-261217-d ")...)
	assert.Contains(t, again.out, "8 units")
	assert.Equal(t, again.out, weir(t, "", args("--output", "table", "ll-261217-d ")...).out, "the same again changes nothing")
	assert.Equal(t, map[string]int{"final": 1}, issues(t, where, "nightly-recall"))
	lines := strings.Split(strings.TrimSpace(weir(t, "", args("LL-261217-D", "--output", "ndjson")...).out), "\n")
	require.Len(t, lines, 2)
	var line struct {
		Phones   []string
		Findings []struct{ Code string }
		Tasks    []struct{ Code string }
	}
	require.NoError(t, json.Unmarshal([]byte(lines[0]), &line))
	require.Len(t, line.Findings, 1)
	assert.NotEmpty(t, line.Tasks)
	assert.Len(t, line.Phones, 3)
	assert.Contains(t, lines[1], `"orders":1`)

	// A night of a hospital that does not know the patient: absent, and the lot is said again.
	folder := t.TempDir()
	writeNight(t, nightgen.Hospital{Orders: 2, Seed: 3}, 0, folder)
	night := weir(t, "", "reconcile", "--store", where, "--now", f.Now.Add(12*time.Hour).Format(time.RFC3339), "--output", "ndjson", folder)
	assert.Equal(t, exitFound, night.code, night.err)
	var of string
	for l := range strings.Lines(night.out) {
		if strings.Contains(l, `"nightly-recall"`) {
			of = l
		}
	}
	assert.Contains(t, of, `"state":"absent"`)
	assert.Contains(t, of, `"nightly-absent"`)

	// A recall between two nights takes nothing back that a night said.
	now = f.Now.Add(13 * time.Hour).Format(time.RFC3339)
	assert.Zero(t, weir(t, "", args("LL-999999-Z")...).code)
	assert.Equal(t, map[string]int{"final": 1}, issues(t, where, "nightly-absent"))
	assert.Equal(t, map[string]int{"final": 1}, issues(t, where, "nightly-recall"))

	got = weir(t, "", args("--settled", "LL-261217-D", "--output", "table")...)
	assert.Zero(t, got.code, got.err)
	assert.Contains(t, got.out, "The recall is settled")
	assert.Equal(t, map[string]int{"cancelled": 1}, issues(t, where, "nightly-recall"))
	assert.Equal(t, exitUsage, weir(t, "", args("--settled", "LL-261217-D")...).code, "it is not open any more")
}

func TestARecallNeedsALot(t *testing.T) {
	for _, args := range [][]string{{"recall"}, {"recall", " "}, {"recall", "a", "b"}, {"recall", "a", "--output", "fhir"}, {"recall", "a", "--workers", "0"}, {"recall", "a", "--now", "yesterday"},
		{"recall", "a", "--store", "sqlite:" + filepath.Join(t.TempDir(), "none.db")}} {
		assert.Equal(t, exitUsage, weir(t, "", args...).code, args)
	}
}
