package conformance_test

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
	official "weir.example/weir/testdata/r4"
)

// Every answer, judged by our reader, by google/fhir and by the official
// JSON Schema of FHIR R4; and the references in it lead somewhere.
func TestEveryAnswerIsFHIRR4(t *testing.T) {
	resources := 0
	for _, f := range orders.All() {
		for _, stage := range f.Stages() {
			t.Run(f.Name+" at "+stage, func(t *testing.T) {
				j := judge(t, f, stage)
				out := r4.WriteOutcome(j.Faults)
				if len(j.Faults) == 0 {
					out = r4.WriteBundles(j.Worksheets)
					again := judge(t, f, stage)
					assert.Equal(t, string(out), string(r4.WriteBundles(again.Worksheets)), "two runs give equal bytes")
				}
				d, faults := element.Read(out, element.Limit{})
				require.Empty(t, faults)
				assert.Empty(t, schema.Check(d, schema.Tables, googlefhir.Judge))
				assert.Empty(t, official.Errors(out))
				resources += len(d.Root().Get("entry").Each())
				if len(j.Faults) == 0 {
					references(t, d.Root(), f.Document)
				}
			})
		}
	}
	t.Logf("%d resources judged by three judges", resources)
}

func references(t *testing.T, bundle element.Node, input []byte) {
	ids := map[string]bool{}
	for _, e := range bundle.Get("entry").Each() {
		if r := e.Get("resource"); r.Get("resourceType").Text() == "Bundle" { // several orders: each has its own
			references(t, r, input)
			continue
		}
		url := e.Get("fullUrl").Text()
		assert.False(t, ids[url], "id twice: %s", url)
		assert.Equal(t, "urn:uuid:"+e.Get("resource").Get("id").Text(), url)
		ids[url] = true
	}
	for _, name := range []string{"total", "link"} {
		assert.False(t, bundle.Get(name).Exists())
	}
	var walk func(n element.Node)
	walk = func(n element.Node) {
		for _, m := range n.Members() {
			if m.Name() == "reference" && m.Kind() == element.String && n.Get("type").Exists() {
				ref := m.Text()
				absolute := strings.Contains(ref, "://") || strings.HasPrefix(ref, "urn:uuid:")
				assert.True(t, absolute, "relative reference %s", ref)
				if !ids[ref] {
					assert.Contains(t, string(input), `"`+ref+`"`, "leads neither to the answer nor to the input")
				}
			}
			for _, v := range m.Each() {
				if v.Kind() == element.Object {
					walk(v)
				}
			}
		}
	}
	if len(ids) > 0 {
		walk(bundle)
	}
}

// Everything a person reads, scanned for error-prone designations. The
// sender's own words are left out: they stand as received.
func TestNothingErrorProneIsWritten(t *testing.T) {
	for _, f := range orders.All() {
		j := judge(t, f, f.Stage)
		for _, w := range j.Worksheets {
			var texts []string
			for _, x := range w.Findings {
				texts = append(texts, x.Title, x.Remedy, x.Sentence, x.Expected)
			}
			for _, x := range w.Tasks {
				texts = append(texts, x.Title, x.Says, x.Closes)
			}
			for _, x := range w.Kit {
				texts = append(texts, x.Name, x.Formula)
			}
			for _, q := range w.Quantities {
				for _, d := range q.Derivation {
					texts = append(texts, d.Text)
				}
			}
			texts = append(texts, w.Cautions...)
			texts = append(texts, w.Schedule.Says...)
			for _, text := range texts {
				assert.Empty(t, notation.Scan(text), "%s: %s", f.Name, text)
			}
		}
	}
}

// The findings of S1 and S3 are these and no others.
func TestTheFirstScenariosSayNothingElse(t *testing.T) {
	want := map[string][]string{
		// stability-no-data is the note of row f3: the table has nothing on cefazolin in a worn reservoir.
		"s1-cefazolin-elastomeric": {"device-family", "record-text-contradicts", "access-lock-missing", "schedule-quantity-explained", "stability-no-data"},
		// hazard-listed is the note that checks.md asks for from intake on;
		// record-total-only its warning for a total over 46 hours (row d2).
		"s3-fluorouracil-46h": {"dose-arithmetic", "dose-slip", "second-check", "device-missing", "record-total-only", "schedule-clock-change", "therapy-genotype-unknown", "hazard-listed"},
	}
	for name, codes := range want {
		f, err := orders.Load(name)
		require.NoError(t, err)
		j := judge(t, f, "release")
		var have []string
		for _, x := range j.Worksheets[0].Findings {
			have = append(have, x.Code)
		}
		assert.Equal(t, codes, have, name)
	}
}

// Orders keep their meaning when the entries of the Bundle come in another
// order: ids, findings and numbers are the same.
func TestTheOrderOfEntriesNeverMatters(t *testing.T) {
	for _, name := range []string{"s1-cefazolin-elastomeric", "s3-fluorouracil-46h", "s4-ceftriaxone-child"} {
		f, err := orders.Load(name)
		require.NoError(t, err)
		before := judge(t, f, f.Stage)
		var b map[string]json.RawMessage
		require.NoError(t, json.Unmarshal(f.Document, &b))
		var entries []json.RawMessage
		require.NoError(t, json.Unmarshal(b["entry"], &entries))
		for i, j := 0, len(entries)-1; i < j; i, j = i+1, j-1 {
			entries[i], entries[j] = entries[j], entries[i]
		}
		b["entry"], err = json.Marshal(entries)
		require.NoError(t, err)
		f.Document, err = json.Marshal(b)
		require.NoError(t, err)
		after := judge(t, f, f.Stage)
		require.Len(t, after.Worksheets, len(before.Worksheets), "%v", after.Faults)
		for i := range before.Worksheets {
			x, y := before.Worksheets[i], after.Worksheets[i]
			assert.Equal(t, x.Order.Version, y.Order.Version)
			assert.Equal(t, x.Verdict, y.Verdict)
			require.Len(t, y.Findings, len(x.Findings))
			for k := range x.Findings {
				assert.Equal(t, x.Findings[k].Code, y.Findings[k].Code)
				assert.Equal(t, x.Findings[k].Observed, y.Findings[k].Observed)
			}
			assert.Equal(t, x.Schedule, y.Schedule)
			assert.Equal(t, x.Kit, y.Kit)
			assert.Equal(t, x.Tasks, y.Tasks)
		}
	}
}

// A zone that nobody knows is listed, and the next source is asked.
func TestAZoneNobodyKnowsIsListed(t *testing.T) {
	f, err := orders.Load("s3-fluorouracil-46h")
	require.NoError(t, err)
	before := judge(t, f, "release").Worksheets[0]
	for _, name := range []string{"../../etc/passwd", "America/Nowhere", "Local"} {
		require.Contains(t, string(f.Document), `"America/New_York"`)
		g := f
		g.Document = bytes.ReplaceAll(f.Document, []byte(`"America/New_York"`), []byte(`"`+name+`"`))
		after := judge(t, g, "release").Worksheets[0]
		listed := slices.ContainsFunc(after.Unused, func(u worksheet.Unused) bool { return strings.Contains(u.Reason, "time zone database") })
		assert.True(t, listed, "%s: %v", name, after.Unused)
		assert.Equal(t, before.Verdict, after.Verdict)
	}
}
