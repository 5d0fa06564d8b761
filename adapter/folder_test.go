package adapter_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	cmpdiff "github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/testdata/orders"
)

// A folder gives each order what a Bundle of the same resources gives it:
// every number, finding, dose and task, of every scenario and variant. What
// nothing leads to is counted in the folder and listed in the Bundle.
func TestAFolderIsTheBundleOfItsResources(t *testing.T) {
	compared := 0
	for _, f := range orders.All() {
		list := placed(t, f.Resources(""))
		r := request(t, f.Now)
		bundle := adapter.Verify(orders.BundleOf(list), r)
		if len(bundle.Faults) > 0 { // a variant that is refused: some line of it is too, or its Bundle is
			continue
		}
		got, folder := judged(t, layout(list), r, "ndjson")
		want, have := asSet(t, string(documents("ndjson", []adapter.Answer{bundle})), list), asSet(t, got, nil)
		listed, ours := unusedOf(want), unusedOf(have)
		require.Empty(t, cmpdiff.Diff(want, have), f.Name)
		for line := range strings.Lines(got) {
			require.NoError(t, schema.Own("worksheet", []byte(line)), f.Name)
		}
		left := 0
		for _, l := range folder.Left {
			if !strings.Contains(l.Reason, "a newer version") { // a Bundle reads both
				left += l.Count
			}
		}
		for _, u := range ours {
			assert.Contains(t, listed, u, f.Name)
		}
		missing := slices.DeleteFunc(listed, func(s string) bool { return slices.Contains(ours, s) })
		for _, m := range missing {
			assert.Regexp(t, `^\w+\.where\(id='[^']+'\)(\.contained\[\d+\])?: not used: (nothing that is read points at|no rule reads|nothing in this|it belongs to)`, m, f.Name)
		}
		whole := slices.DeleteFunc(missing, func(s string) bool { return strings.Contains(s, ".contained[") })
		assert.Equal(t, len(whole), left, "%s: %v %v", f.Name, whole, folder.Left)
		compared++
	}
	require.GreaterOrEqual(t, compared, 55)
}

// Patients of one folder do not touch each other: all seven scenarios in one
// folder give what each gives alone.
func TestPatientsOfAFolderAreJudgedApart(t *testing.T) {
	now := time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC)
	r := request(t, now)
	var lists [][]orders.Resource
	alone := map[string]map[string]any{}
	for i, name := range bases(t) {
		f, err := orders.Load(name)
		require.NoError(t, err)
		lists = append(lists, f.Resources(fmt.Sprintf("k%d-", i)))
		text, _ := judged(t, layout(lists[i]), r, "ndjson")
		for _, w := range asSet(t, text, nil) {
			alone[id(w)] = w
		}
	}
	text, folder := judged(t, layout(lists...), r, "ndjson")
	together := asSet(t, text, nil)
	require.Len(t, together, len(alone))
	for _, w := range together {
		require.Empty(t, cmpdiff.Diff(alone[id(w)], w), id(w))
	}
	assert.Empty(t, folder.Failed)
}

func bases(t testing.TB) []string {
	var out []string
	for _, f := range orders.All() {
		if f.Base == "" && !slices.ContainsFunc(out, func(o string) bool { return o[:2] == f.Name[:2] }) {
			out = append(out, f.Name)
		}
	}
	require.Len(t, out, 7)
	return out
}

func everyScenario(t testing.TB) [][]orders.Resource {
	var lists [][]orders.Resource
	for i, name := range bases(t) {
		f, err := orders.Load(name)
		require.NoError(t, err)
		lists = append(lists, f.Resources(fmt.Sprintf("k%d-", i)))
	}
	return lists
}

// Order of lines and files has no meaning: shuffled, cut into parts and
// compressed, a folder gives the same bytes in every output.
func TestOrderOfLinesAndFilesHasNoMeaning(t *testing.T) {
	lists := everyScenario(t)
	r := request(t, time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC))
	random := rand.New(rand.NewPCG(11, 7))
	for _, output := range []string{"ndjson", "worksheet", "fhir"} {
		want, _ := judged(t, layout(lists...), r, output)
		for range 3 {
			all := slices.Concat(lists...)
			random.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
			files := fstest.MapFS{}
			for _, one := range all {
				add(files, fmt.Sprintf("%s.%d.ndjson", one.Type, random.IntN(3)), string(one.Line)+"\r\n\n")
			}
			for _, name := range slices.Sorted(maps.Keys(files)) {
				file := files[name]
				if random.IntN(2) == 0 {
					files[name+".gz"] = &fstest.MapFile{Data: zipped(file.Data)}
					delete(files, name)
				}
			}
			got, _ := judged(t, files, r, output)
			require.True(t, want == got, output)
		}
	}
}

func zipped(data []byte) []byte {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, _ = w.Write(data)
	_ = w.Close()
	return b.Bytes()
}

// small is a folder of one patient with one order.
func small(t testing.TB) ([]orders.Resource, adapter.Request) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	return f.Resources(""), request(t, f.Now)
}

func verdicts(t testing.TB, lines string) (list []map[string]any) {
	for line := range strings.Lines(lines) {
		var v map[string]any
		require.NoError(t, json.Unmarshal([]byte(line), &v))
		list = append(list, v)
	}
	return list
}

func codes(w map[string]any) (out []string) {
	for _, f := range w["findings"].([]any) {
		out = append(out, f.(map[string]any)["code"].(string))
	}
	return out
}

// A line about the patient that cannot be read holds the patient's orders,
// since an allergy may stand in it; another patient's does not. One that does
// not say whose it is is named with every order.
func TestALineThatFailsHoldsItsPatientOnly(t *testing.T) {
	list, r := small(t)
	bad := `{"resourceType":"AllergyIntolerance","id":"x1","patient":{"reference":"Patient/pat-004417"},"code":{"text":""}}`
	files := layout(list)
	add(files, "AllergyIntolerance.late.ndjson", bad+"\n")
	text, folder := judged(t, files, r, "ndjson")
	rows := verdicts(t, text)
	require.Len(t, rows, 2)
	assert.Equal(t, "AllergyIntolerance.late.ndjson", rows[0]["file"])
	assert.EqualValues(t, 1, rows[0]["line"])
	assert.Contains(t, codes(rows[1]), "record-reference-unresolved")
	assert.Contains(t, text, "line 1 of AllergyIntolerance.late.ndjson")
	require.Len(t, folder.Failed, 1)

	files = layout(list)
	add(files, "AllergyIntolerance.late.ndjson", "\n"+strings.Replace(bad, "pat-004417", "someone-else", 1))
	text, _ = judged(t, files, r, "ndjson")
	rows = verdicts(t, text)
	assert.EqualValues(t, 2, rows[0]["line"], "empty lines count")
	assert.NotContains(t, codes(rows[1]), "record-reference-unresolved")

	files = layout(list)
	add(files, "AllergyIntolerance.late.ndjson", bad[:40])
	text, _ = judged(t, files, r, "ndjson")
	rows = verdicts(t, text)
	assert.NotContains(t, codes(rows[1]), "record-reference-unresolved")
	assert.Contains(t, text, "do not say whose they are: 1")
	fhir, _ := judged(t, files, r, "fhir")
	assert.Contains(t, fhir, "Line 1 of AllergyIntolerance.late.ndjson")
	var bundle struct {
		Entry []struct{ Resource map[string]any }
	}
	require.NoError(t, json.Unmarshal([]byte(fhir), &bundle))
	require.Len(t, bundle.Entry, 2)
	assert.Equal(t, "Bundle", bundle.Entry[0].Resource["resourceType"])
	assert.Equal(t, "OperationOutcome", bundle.Entry[1].Resource["resourceType"])
}

// Of several versions the greatest meta.lastUpdated is read; the same line
// twice is one; without a time both stand and the disagreement holds.
func TestVersionsInAFolder(t *testing.T) {
	list, r := small(t)
	base, _ := judged(t, layout(list), r, "ndjson")
	order := slices.IndexFunc(list, func(x orders.Resource) bool { return x.Type == "MedicationRequest" })
	line := string(list[order].Line)
	version := func(text, updated string) string {
		var m map[string]json.RawMessage
		require.NoError(t, json.Unmarshal([]byte(text), &m))
		m["meta"] = json.RawMessage(`{"lastUpdated":"` + updated + `"}`)
		delete(m, "resourceType")
		rest, err := json.Marshal(m)
		require.NoError(t, err)
		return `{"resourceType":"MedicationRequest",` + string(rest[1:])
	}
	older := strings.Replace(line, "88213007", "88213006", 1)
	require.NotEqual(t, line, older)
	files := layout(list)
	files["MedicationRequest.ndjson"].Data = []byte(version(older, "2026-11-09T00:00:00Z") + "\n" + version(line, "2026-11-09T00:00:01Z") + "\n")
	text, folder := judged(t, files, r, "ndjson")
	require.Len(t, verdicts(t, text), 1)
	assert.Contains(t, text, "88213007")
	assert.NotContains(t, text, "88213006")
	assert.Contains(t, fmt.Sprint(folder.Left), "a newer version")

	files = layout(list)
	add(files, "MedicationRequest.again.ndjson", line)
	text, folder = judged(t, files, r, "ndjson")
	assert.Equal(t, asSet(t, base, nil)[0]["findings"], asSet(t, text, nil)[0]["findings"])
	assert.Contains(t, fmt.Sprint(folder.Left), "stands twice")

	files = layout(list)
	add(files, "MedicationRequest.again.ndjson", strings.Replace(line, `"text":"`, `"text":"changed `, 1))
	text, _ = judged(t, files, r, "ndjson")
	rows := verdicts(t, text)
	require.Len(t, rows, 2)
	for _, w := range rows {
		assert.Contains(t, codes(w), "record-sources-disagree")
	}
}

// What belongs to another patient is seen as such: the patients are read
// together because one's order points at the other's resource.
func TestAnOrderThatPointsAtAnotherPatient(t *testing.T) {
	list, r := small(t)
	files := layout(list)
	order := string(files["MedicationRequest.ndjson"].Data)
	changed := regexp.MustCompile(`Condition/[a-z0-9-]+`).ReplaceAllString(order, "Condition/theirs")
	require.NotEqual(t, order, changed)
	files["MedicationRequest.ndjson"].Data = []byte(changed)
	add(files, "Patient.more.ndjson", `{"resourceType":"Patient","id":"other","identifier":[{"system":"https://marrowgate.example/mrn","value":"MG-9"}]}`)
	add(files, "Condition.more.ndjson", `{"resourceType":"Condition","id":"theirs","code":{"text":"abscess"},"subject":{"reference":"Patient/other"}}`)
	text, _ := judged(t, files, r, "ndjson")
	rows := verdicts(t, text)
	require.Len(t, rows, 1, text)
	require.Contains(t, rows[0], "findings", text)
	assert.Contains(t, codes(rows[0]), "identity-other-patient")
}

func TestFoldersThatAreRefused(t *testing.T) {
	list, r := small(t)
	for name, x := range map[string]struct {
		change func(fstest.MapFS)
		says   string
	}{
		"no orders":             {func(f fstest.MapFS) { delete(f, "MedicationRequest.ndjson") }, "no file of orders"},
		"another spelling":      {func(f fstest.MapFS) { f["allergies.NDJSON"] = f["Patient.ndjson"] }, "do not follow its layout"},
		"a type in a JSON file": {func(f fstest.MapFS) { f["Patient.json"] = f["Patient.ndjson"] }, "do not follow its layout"},
		"no type of R4":         {func(f fstest.MapFS) { f["Allergies.ndjson"] = f["Patient.ndjson"] }, "do not follow its layout"},
		"a folder in it":        {func(f fstest.MapFS) { f["Observation.2.ndjson/x"] = f["Patient.ndjson"] }, "do not follow its layout"},
	} {
		files := layout(list)
		x.change(files)
		_, err := adapter.OpenFolder(context.Background(), files, r, 2)
		var fault adapter.FolderFault
		require.ErrorAs(t, err, &fault, name)
		assert.Contains(t, fault.Detail, x.says, name)
	}
	files := layout(list)
	for _, name := range []string{"manifest.json", ".DS_Store", ".Patient.ndjson.swp", "README"} {
		files[name] = &fstest.MapFile{Data: []byte("{}")}
	}
	_, folder := judged(t, files, r, "ndjson")
	assert.Equal(t, []string{"README"}, folder.Files)

	only := fstest.MapFS{"MedicationRequest.ndjson": {Data: []byte(
		`{"resourceType":"MedicationRequest","id":"a","status":"active","intent":"order","medicationCodeableConcept":{"text":"thiamine"},"subject":{"display":"y"},` +
			`"dosageInstruction":[{"text":"by mouth","route":{"coding":[{"system":"http://snomed.info/sct","code":"26643006"}]}}]}`)}}
	text, _ := judged(t, only, r, "ndjson")
	assert.Contains(t, text, "document-unsupported")
	assert.Contains(t, text, "no order for an infusion")
	text, _ = judged(t, fstest.MapFS{"MedicationRequest.ndjson": {}}, r, "ndjson")
	assert.Contains(t, text, "no order for an infusion")
}

// Bad lines of a folder: each fails alone, with its file and line.
func TestBadLinesOfAFolder(t *testing.T) {
	list, r := small(t)
	for name, x := range map[string]struct{ file, text, code string }{
		"another type than the file's": {"Condition.x.ndjson", `{"resourceType":"Observation","id":"a","status":"final","code":{"text":"b"}}`, "document-structure"},
		"no id":                        {"Observation.x.ndjson", `{"resourceType":"Observation","status":"final","code":{"text":"b"}}`, "document-cardinality"},
		"a Bundle":                     {"Bundle.ndjson", `{"resourceType":"Bundle","id":"a","type":"collection"}`, "document-unsupported"},
		"not R4":                       {"Observation.x.ndjson", `{"resourceType":"Observation","id":"a","status":"done","code":{"text":"b"}}`, "document-value"},
		"cut off":                      {"Observation.x.ndjson", `{"resourceType":"Observation","id":"a",`, "document-json"},
	} {
		files := layout(list)
		add(files, x.file, "\n"+x.text+"\n")
		text, folder := judged(t, files, r, "ndjson")
		require.Len(t, folder.Failed, 1, name)
		assert.Equal(t, x.file, folder.Failed[0].File)
		assert.Equal(t, 2, folder.Failed[0].Line, name)
		assert.EqualValues(t, x.code, folder.Failed[0].Faults[0].Code, name)
		assert.Equal(t, 2, folder.Failed[0].Faults[0].Place.Line, name)
		assert.Len(t, verdicts(t, text), 2, name)
	}
	files := layout(list)
	whole := zipped([]byte(`{"resourceType":"Flag","id":"a","status":"active","code":{"text":"x"},"subject":{"reference":"Patient/pat-004417"}}` + "\n"))
	files["Flag.ndjson.gz"] = &fstest.MapFile{Data: whole[:len(whole)-6]}
	files["Goal.ndjson.gz"] = &fstest.MapFile{Data: []byte("no gzip")}
	_, folder := judged(t, files, r, "ndjson")
	require.Len(t, folder.Failed, 2)
	assert.Contains(t, folder.Failed[0].Faults[0].Detail, "unpacked")
}
