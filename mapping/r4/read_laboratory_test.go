package r4

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
)

func coded(system, code, text string) order.Concept {
	return order.Concept{Codings: []order.Coding{{System: system, Code: code}}, Text: text}
}

func TestWhatALaboratoryOrderMeasures(t *testing.T) {
	for _, x := range []struct {
		of   order.Concept
		want []string
	}{
		{coded(loinc, "58410-2", "CBC panel"), []string{"complete blood count"}},
		{coded(loinc, "2157-6", ""), []string{"creatine kinase"}},
		{coded(loinc, "4092-3", "Vancomycin trough"), []string{"drug concentration of vancomycin"}},
		{coded(loinc, "24323-8", ""), []string{"creatinine", "electrolytes", "potassium", "glucose", "calcium", "urea nitrogen", "liver panel"}},
		{order.Concept{Text: "CBC, creatinine and CK weekly"}, []string{"complete blood count", "creatinine", "creatine kinase"}},
		{order.Concept{Text: "Gentamicin trough"}, []string{"drug concentration of gentamicin", "drug concentration"}},
		{order.Concept{Text: "creatinine clearance class"}, []string{"creatinine"}},
		{order.Concept{Text: "backup panel"}, nil}, // "ck" is within a word, and no test
		{coded("urn:x", "58410-2", ""), nil},
		{coded(loinc, "99999-9", ""), nil},
	} {
		assert.Equal(t, x.want, testsOf(x.of), "%+v", x.of)
	}
}

func TestEveryListedOrderMeasuresSomething(t *testing.T) {
	seen := map[string]bool{}
	for _, l := range laboratoryOrders() {
		assert.NotEmpty(t, l.Tests)
		assert.NotEmpty(t, l.Words)
		for _, k := range l.LOINC {
			assert.False(t, seen[k], "%s stands twice", k)
			seen[k] = true
		}
		for _, w := range l.Words {
			assert.Regexp(t, `^[a-z]+( [a-z]+)*$`, w, "words are matched one by one")
		}
	}
}

func TestHowOftenAServiceComes(t *testing.T) {
	const day = 24 * time.Hour
	for repeat, want := range map[string]time.Duration{
		`{"frequency":1,"period":1,"periodUnit":"wk"}`:                               7 * day,
		`{"frequency":2,"period":1,"periodUnit":"wk"}`:                               84 * time.Hour,
		`{"frequency":1,"period":1,"periodUnit":"wk","dayOfWeek":["mon","thu"]}`:     84 * time.Hour,
		`{"frequency":1,"period":3,"periodUnit":"d"}`:                                3 * day,
		`{"period":48,"periodUnit":"h"}`:                                             2 * day,
		`{"frequency":1,"period":1,"periodUnit":"mo"}`:                               30 * day,
		`{"frequency":4,"period":1,"periodUnit":"a"}`:                                365 * day / 4,
		`{"boundsPeriod":{"start":"2027-02-15","end":"2027-03-09"}}`:                 0,
		`{"frequency":1,"period":2,"periodUnit":"wk","dayOfWeek":["mon"],"count":3}`: 14 * day,
	} {
		service := `{"resourceType":"ServiceRequest","id":"s","status":"active","intent":"order","subject":{"reference":"Patient/a"},
			"category":[{"coding":[{"system":"http://snomed.info/sct","code":"108252007"}]}],"code":{"coding":[{"system":"http://loinc.org","code":"2160-0"}]},"occurrenceTiming":{"repeat":` + repeat + `}}`
		k := readOne(t, bundle(patientA, orderA, service), noon)
		require.Len(t, k.Services, 1)
		assert.Equal(t, want, k.Services[0].Every, repeat)
		assert.Equal(t, []string{"creatinine"}, k.Services[0].Tests)
	}
}

// A level knows its drug and where it was drawn; the collection of its
// specimen counts, and not the time of the result.
func TestALevelKnowsItsDrugItsSiteAndItsCollection(t *testing.T) {
	level := observation("l", "3665-7", "2027-02-20T09:40:00Z", `"valueQuantity":`+q("1.1", "mg/L")+`,"specimen":{"reference":"Specimen/s"}`)
	specimen := `{"resourceType":"Specimen","id":"s","subject":{"reference":"Patient/a"},"collection":{"collectedDateTime":"2027-02-20T08:20:00Z","bodySite":{"text":"white lumen"}}}`
	k := readOne(t, bundle(patientA, orderA, level, specimen), noon)
	require.Len(t, k.Measurements, 1)
	m := k.Measurements[0]
	assert.Equal(t, "trough", m.Name)
	assert.Equal(t, "gentamicin", m.Of)
	assert.Equal(t, "white lumen", m.Site)
	assert.Equal(t, "2027-02-20T08:20:00Z", m.At.Literal)
	vancomycin := observation("v", "4092-3", "2027-02-20T08:20:00Z", `"valueQuantity":`+q("14", "mg/L"))
	two := readOne(t, bundle(patientA, orderA, level, specimen, vancomycin), noon)
	require.Len(t, two.Measurements, 2)
	assert.Empty(t, two.Patient.Conflicts, "levels of two drugs at one time do not disagree")
}
