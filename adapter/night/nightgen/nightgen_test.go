package nightgen_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/conformance"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/schedule"
)

type file struct {
	bytes.Buffer
	name  string
	files fstest.MapFS
}

func (f *file) Close() error {
	f.files[f.name] = &fstest.MapFile{Data: f.Bytes()}
	return nil
}

func written(t testing.TB, h nightgen.Hospital, night int, layout nightgen.Layout) (fstest.MapFS, nightgen.Totals) {
	files := fstest.MapFS{}
	totals, err := h.Write(night, layout, func(name string) (io.WriteCloser, error) { return &file{name: name, files: files}, nil })
	require.NoError(t, err)
	return files, totals
}

func read(t testing.TB, files fstest.MapFS) (*night.Feed, []night.Group) {
	root, err := os.OpenRoot(t.TempDir())
	require.NoError(t, err)
	f, err := night.Open(context.Background(), files, root, 2)
	require.NoError(t, err)
	t.Cleanup(func() { _ = f.Close(); _ = root.Close() })
	var list []night.Group
	for g, err := range f.Groups(context.Background()) {
		require.NoError(t, err)
		list = append(list, g)
	}
	return f, list
}

var everything = nightgen.Hospital{Orders: 400, Seed: 7, Churn: 500, Noise: true}

// Whatever a night holds is R4, stands where it belongs and is counted.
func TestEveryLineIsR4(t *testing.T) {
	h := everything
	h.Orders = 150
	for hour := range 4 {
		files, totals := written(t, h, hour, nightgen.Layout{Parts: 2, Packed: hour%2 == 1})
		f, list := read(t, files)
		facts := f.Facts()
		assert.Equal(t, totals.Lines, facts.Lines)
		assert.Zero(t, facts.Failed)
		assert.Equal(t, nightgen.Transaction(hour), facts.Time.UTC())
		for _, one := range facts.Files {
			assert.Equal(t, one.Lines, one.Stated, one.Name)
		}
		for _, g := range list {
			for _, l := range g.Lines {
				_, faults := conformance.Resource(l.Data, l.Line, l.Type, nil)
				require.Empty(t, faults, "%s", l.Data)
			}
			for _, l := range g.Lines {
				if l.Type == "MedicationRequest" {
					assert.Len(t, g.Keys, 0, "each patient alone")
				}
			}
		}
	}
}

// Each kind happens, each order is spoken of once, and what the folder holds
// agrees with the state that is said of it.
func TestTheTruthIsThatOfTheFolder(t *testing.T) {
	seen := map[nightgen.Kind]int{}
	before := map[string]string{}
	for hour := range 3 {
		files, totals := written(t, everything, hour, nightgen.Layout{})
		now := map[string]string{}
		for line := range strings.Lines(string(files["MedicationRequest.ndjson"].Data)) {
			doc, faults := element.ReadLine([]byte(line), element.Limit{}, 1)
			require.Empty(t, faults)
			id := doc.Root().Get("identifier").At(0)
			now[id.Get("system").Text()+"|"+id.Get("value").Text()] = string(element.Canonical(doc.Root(), "meta"))
		}
		assert.Len(t, now, totals.Orders)
		told := map[string]bool{}
		for truth := range everything.Truth(hour) {
			require.False(t, told[truth.Key], truth.Key)
			told[truth.Key] = true
			seen[truth.Kind]++
			was, stood := before[truth.Key]
			is, stands := now[truth.Key]
			switch truth.State {
			case nightgen.New:
				assert.True(t, stands && !stood, "%+v", truth)
			case nightgen.Absent:
				assert.False(t, stands, "%+v", truth)
			case nightgen.Unchanged:
				assert.True(t, stands, "%+v", truth)
				assert.Equal(t, was, is, "%+v", truth)
			case nightgen.Changed, nightgen.Older:
				assert.NotEqual(t, was, is, "%+v", truth)
				assert.True(t, stands, "%+v", truth)
			}
			if truth.State == nightgen.Older {
				now[truth.Key] = was // it is never applied
			}
			for _, code := range slices.Concat(truth.Codes, truth.OneOf, truth.May) {
				_, known := finding.Lookup(finding.Code(code))
				assert.True(t, known, code)
			}
		}
		for k := range now {
			assert.True(t, told[k], "nothing is said of %s", k)
		}
		before = now
	}
	for _, kind := range append(nightgen.Kinds(), nightgen.Unseen, nightgen.Fresh, nightgen.Revived) {
		assert.Positive(t, seen[kind], "%s", kind)
	}
}

// The same seed gives the same bytes; how a night is cut, and noise, change
// nothing that is said of a patient.
func TestNightsAreSeeded(t *testing.T) {
	h := nightgen.Hospital{Orders: 60, Seed: 3, Churn: 300}
	a, _ := written(t, h, 2, nightgen.Layout{Parts: 3})
	b, _ := written(t, h, 2, nightgen.Layout{Parts: 3})
	assert.Equal(t, a, b)
	h.Seed = 4
	c, _ := written(t, h, 2, nightgen.Layout{Parts: 3})
	assert.NotEqual(t, a["MedicationRequest.0.ndjson"], c["MedicationRequest.0.ndjson"])
	sums := func(files fstest.MapFS) map[string][32]byte {
		_, list := read(t, files)
		out := map[string][32]byte{}
		for _, g := range list {
			out[g.Key] = g.Sum
		}
		return out
	}
	d, _ := written(t, h, 2, nightgen.Layout{Packed: true})
	assert.Equal(t, sums(c), sums(d))
	h.Churn = 0
	quiet, _ := written(t, h, 0, nightgen.Layout{})
	again, _ := written(t, h, 1, nightgen.Layout{})
	assert.Equal(t, sums(quiet), sums(again), "an unchanged night")
	h.Noise = true
	noisy, _ := written(t, h, 2, nightgen.Layout{})
	assert.Equal(t, slices.Sorted(maps.Keys(sums(quiet))), slices.Sorted(maps.Keys(sums(noisy))))
	assert.NotEqual(t, sums(quiet), sums(noisy))
	plain := func(files fstest.MapFS) []string {
		var out []string
		for name, f := range files {
			if name == "manifest.json" {
				continue
			}
			for line := range strings.Lines(string(f.Data)) {
				doc, _ := element.ReadLine([]byte(strings.TrimSpace(line)), element.Limit{}, 1)
				out = append(out, string(element.Canonical(doc.Root(), "meta")))
			}
		}
		slices.Sort(out)
		return slices.Compact(out)
	}
	assert.Equal(t, plain(quiet), plain(noisy), "noise says the same")
}

func TestBrokenLinesAreBroken(t *testing.T) {
	files, totals := written(t, nightgen.Hospital{Orders: 50, Seed: 1, Broken: 40}, 0, nightgen.Layout{Parts: 2})
	f, list := read(t, files)
	assert.Equal(t, 40, totals.Broken)
	assert.Equal(t, 40, f.Facts().Failed)
	assert.Equal(t, 40, f.Facts().Nobodys)
	assert.Len(t, list, 50)
}

// The population is quiet when it is judged from its folder, too.
func TestThePopulationIsQuiet(t *testing.T) {
	text, err := os.ReadFile("../../../testdata/orders/policy-lanternlight.yaml")
	require.NoError(t, err)
	p, err := policy.Load(text)
	require.NoError(t, err)
	ref := policy.Reference{Tables: compendium.Embedded(), Policy: p, Zones: schedule.LoadZones()}
	s, err := policy.NewSignature("J. Example", "pharmacist", "EX 000000", "2026-09-01", ref.Hashes())
	require.NoError(t, err)
	ref.Signatures = policy.Signatures{s}
	h := nightgen.Hospital{Orders: 150, Seed: 2, Churn: 0, Noise: true}
	for _, hour := range []int{0, 3} {
		files, _ := written(t, h, hour, nightgen.Layout{})
		r := adapter.Request{Reference: ref, Now: nightgen.Clock(hour), Stage: finding.Release}
		folder, err := adapter.OpenFolder(context.Background(), files, r, 2)
		require.NoError(t, err)
		require.Empty(t, folder.Failed)
		next := folder.Jobs(adapter.Row{}, r)
		judged := 0
		for {
			job, err := next()
			if err == io.EOF {
				break
			}
			require.NoError(t, err)
			row := job.Do()
			for _, w := range row.Worksheets {
				judged++
				for _, f := range w.Findings {
					assert.NotContains(t, []string{"block", "hold", "warn"}, f.Gate, fmt.Sprint(w.Order.Drug, f.Code, f.Observed))
				}
			}
		}
		assert.Equal(t, h.Orders, judged)
	}
}
