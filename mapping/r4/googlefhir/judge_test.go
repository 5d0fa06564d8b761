package googlefhir_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/faults"
	"weir.example/weir/testdata/orders"
)

func read(t testing.TB, document []byte) (*element.Document, bool) {
	t.Helper()
	d, found := element.Read(document, element.Limit{})
	return d, len(found) == 0
}

func said(list []finding.Finding) string {
	var out []string
	for _, f := range list {
		out = append(out, fmt.Sprintf("%s at %s: %s (%s)", f.Code, f.Place.Expression, f.Detail, f.Diagnostic))
	}
	return strings.Join(out, "\n")
}

// The library says another thing of the same fault: it knows SimpleQuantity
// as a type without comparator, and it takes an object at a primitive for the
// extensions of it.
var otherwise = map[string]string{
	"comparator on a dose":               "document-structure doseQuantity.comparator",
	"comparator on a dispensed quantity": "document-structure quantity.comparator",
	"object where text belongs":          "document-structure authoredOn.value",
}

// The differential test of two judges: what the library sees of the one-fault
// documents has our code and stands where ours does.
func TestItsFaultsStandWhereOursDo(t *testing.T) {
	list, err := faults.All()
	require.NoError(t, err)
	seen := 0
	for _, f := range list {
		document, err := f.Document()
		require.NoError(t, err)
		d, strict := read(t, document)
		if !strict {
			continue
		}
		found := googlefhir.Judge(d)
		if len(found) == 0 {
			continue
		}
		seen++
		t.Run(f.Source+" "+f.Name, func(t *testing.T) {
			code, place := f.Code, f.Place
			if o, ok := otherwise[f.Name]; ok {
				code, place, _ = strings.Cut(o, " ")
			}
			require.Len(t, found, 1, said(found))
			x := found[0]
			assert.Equal(t, code, string(x.Code), said(found))
			assert.True(t, x.Place.Expression == place || strings.HasSuffix(x.Place.Expression, "."+place), "want …%s\n%s", place, said(found))
			for name, text := range map[string]string{"observed": x.Observed, "expected": x.Expected, "remedy": x.Remedy, "detail": x.Detail} {
				assert.NotEmpty(t, text, name)
				assert.Empty(t, notation.Scan(text), name)
			}
			assert.Positive(t, x.Place.Line)
		})
	}
	assert.Greater(t, seen, 60, "the library sees a good part of the faults")
}

func TestAValidOrderHasNoFault(t *testing.T) {
	for _, f := range orders.All() {
		if d, strict := read(t, f.Document); strict && f.Base == "" {
			assert.Empty(t, googlefhir.Judge(d), f.Name)
		}
	}
}

// Faults in several resources at once, of the kinds the library looks for in
// its first pass (an unknown element) and only when that finds nothing (a
// missing element), and in a contained resource, where it looks for the
// second never.
const several = `{"resourceType":"Bundle","type":"collection","entry":[
{"resource":{"resourceType":"Observation","status":"final","code":{"text":"weight"},"weight":70}},
{"resource":{"resourceType":"Observation","code":{"text":"height"}}},
{"resource":{"resourceType":"MedicationRequest","intent":"order","status":"active","subject":{"reference":"Observation/1"},
 "medicationReference":{"reference":"#m"},"contained":[{"resourceType":"Medication","id":"m","ingredient":[{"isActive":true}]}],
 "dosageInstruction":[{"doseAndRate":[{"doseQuantity":{"value":"2"},"doseRange":{"low":{"value":"1"}}}]}]}},
{"resource":{"resourceType":"Bundle","type":"collection","entry":[{"resource":{"resourceType":"Task","status":"requested"}}]}}]}`

func TestOneRunListsTheFaultsOfEveryResource(t *testing.T) {
	d, strict := read(t, []byte(several))
	require.True(t, strict)
	var got []string
	for _, f := range googlefhir.Judge(d) {
		got = append(got, string(f.Code)+" "+f.Place.Expression)
	}
	assert.Equal(t, []string{
		"document-structure Bundle.entry[0].resource.weight",
		"document-structure Bundle.entry[2].resource.dosageInstruction[0].doseAndRate[0].doseRange",
		"document-cardinality Bundle.entry[1].resource.status",
		"document-cardinality Bundle.entry[2].resource.contained[0].ingredient[0].item",
		"document-cardinality Bundle.entry[3].resource.entry[0].resource.intent",
	}, got)
}

// The library walks maps, so its own order differs from run to run.
func TestEveryRunSaysTheSame(t *testing.T) {
	d, _ := read(t, []byte(several))
	first := googlefhir.Judge(d)
	for range 20 {
		require.Equal(t, first, googlefhir.Judge(d))
	}
}

func TestPlacesInsideChoicesContainedAndPrimitives(t *testing.T) {
	const order = `{"resourceType":"MedicationRequest","status":"active","intent":"order","subject":{"reference":"Patient/1"},"medicationCodeableConcept":{"text":"x"}`
	for name, c := range map[string]struct{ tail, want string }{
		"a value inside a choice, found when parsing":    {`,"dosageInstruction":[{"doseAndRate":[{"doseQuantity":{"value":"2"}}]}]}`, "document-structure MedicationRequest.dosageInstruction[0].doseAndRate[0].doseQuantity.value"},
		"a value inside a choice, found when validating": {`,"dosageInstruction":[{"doseAndRate":[{"doseQuantity":{"code":" g"}}]}]}`, "document-value MedicationRequest.dosageInstruction[0].doseAndRate[0].doseQuantity.code"},
		"an extension's value":                           {`,"extension":[{"url":"x","valueOid":"1.2"}]}`, "document-value MedicationRequest.extension[0].valueOid"},
		"the extension of a primitive":                   {`,"_priority":{"extension":[{"url":"x","valueOid":"1.2"}]}}`, "document-value MedicationRequest._priority.extension[0].valueOid"},
		"a contained resource":                           {`,"contained":[{"resourceType":"Organization","active":"yes"}]}`, "document-structure MedicationRequest.contained[0].active"},
		"the second of several":                          {`,"note":[{"text":"a"},{"text":"b","time":"2026-13-01"}]}`, "document-value MedicationRequest.note[1].time"},
		"the whole element":                              {`,"note":{"text":"a"}}`, "document-structure MedicationRequest.note"},
	} {
		t.Run(name, func(t *testing.T) {
			d, strict := read(t, []byte(order+c.tail))
			require.True(t, strict)
			found := googlefhir.Judge(d)
			require.Len(t, found, 1, said(found))
			assert.Equal(t, c.want, string(found[0].Code)+" "+found[0].Place.Expression, said(found))
		})
	}
}

func BenchmarkJudge(b *testing.B) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(b, err)
	d, strict := read(b, f.Document)
	require.True(b, strict)
	googlefhir.Judge(d)
	b.SetBytes(int64(len(f.Document)))
	b.ReportAllocs()
	for b.Loop() {
		if found := googlefhir.Judge(d); len(found) > 0 {
			b.Fatal(found)
		}
	}
}
