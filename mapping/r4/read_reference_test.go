package r4

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

func entries(list ...string) string {
	return `{"resourceType":"Bundle","type":"collection","entry":[` + strings.Join(list, ",") + `]}`
}

func at(url, resource string) string {
	if url == "" {
		return `{"resource":` + resource + `}`
	}
	return `{"fullUrl":"` + url + `","resource":` + resource + `}`
}

func orderOf(reference string) string {
	return `{"resourceType":"MedicationRequest","id":"o","status":"active","intent":"order","subject":` + reference + `,"medicationCodeableConcept":{"text":"cefazolin"}}`
}

func TestReferencesResolveInsideTheDocumentOnly(t *testing.T) {
	const base, uuid = "https://a.example/fhir/", "urn:uuid:4f868bd2-c5f0-5d0a-b599-5c9d30bd8eae"
	for name, c := range map[string]struct {
		text     string
		resolves bool
	}{
		"absolute":                                  {entries(at(base+"Patient/a", patientA), at(base+"MedicationRequest/o", orderOf(`{"reference":"`+base+`Patient/a"}`))), true},
		"relative to the referring entry":           {entries(at(base+"Patient/a", patientA), at(base+"MedicationRequest/o", orderOf(`{"reference":"Patient/a"}`))), true},
		"relative to another server":                {entries(at("https://b.example/fhir/Patient/a", patientA), at(base+"MedicationRequest/o", orderOf(`{"reference":"Patient/a"}`))), false},
		"urn:uuid":                                  {entries(at(uuid, patientA), at("urn:uuid:563081b5-0977-5a09-aa43-4d1b571862e4", orderOf(`{"reference":"`+uuid+`"}`))), true},
		"relative inside a urn:uuid entry does not": {entries(at(base+"Patient/a", patientA), at("urn:uuid:563081b5-0977-5a09-aa43-4d1b571862e4", orderOf(`{"reference":"Patient/a"}`))), false},
		"by type and id where nothing has a url":    {entries(at("", patientA), at("", orderOf(`{"reference":"Patient/a"}`))), true},
		"logical by identifier":                     {entries(at(base+"Patient/a", patientA), at(base+"MedicationRequest/o", orderOf(`{"type":"Patient","identifier":{"system":"urn:mrn","value":"1"}}`))), true},
		"contained":                                 {`{"resourceType":"MedicationRequest","contained":[` + patientA + `],"status":"active","intent":"order","subject":{"reference":"#a"},"medicationCodeableConcept":{"text":"cefazolin"}}`, true},
		"of a version that is there":                {entries(at(base+"Patient/a", strings.Replace(patientA, `"id":"a"`, `"id":"a","meta":{"versionId":"3"}`, 1)), at(base+"MedicationRequest/o", orderOf(`{"reference":"Patient/a/_history/3"}`))), true},
	} {
		t.Run(name, func(t *testing.T) {
			k := readOne(t, c.text, noon)
			o := theOrder(t, k)
			if c.resolves {
				assert.Equal(t, "Brandt", k.Patient.Family)
				assert.Empty(t, o.Faults)
				return
			}
			assert.Empty(t, k.Patient.BirthDate.Literal)
			assert.Equal(t, []string{"record-reference-unresolved"}, codes(o.Faults))
			assert.Len(t, o.Unresolved, 1)
		})
	}
}

func TestAnotherVersionThanAskedForIsSaid(t *testing.T) {
	o := theOrder(t, readOne(t, entries(at("https://a.example/fhir/Patient/a", strings.Replace(patientA, `"id":"a"`, `"id":"a","meta":{"versionId":"3"}`, 1)),
		at("https://a.example/fhir/MedicationRequest/o", orderOf(`{"reference":"Patient/a/_history/2"}`))), noon))
	assert.Equal(t, []string{"record-sources-disagree"}, codes(o.Faults))
}

func TestFactsOfOthersAreNotUsed(t *testing.T) {
	patientB := strings.NewReplacer(`"id":"a"`, `"id":"b"`, `"value":"1"`, `"value":"2"`, "Brandt", "Petrov").Replace(patientA)
	weightB := strings.Replace(observation("w", "29463-7", "2027-02-20", kg("120")), "Patient/a", "Patient/b", 1)
	k := readOne(t, bundle(patientA, patientB, weightB, orderA), noon)
	assert.Empty(t, k.Measurements)
	assert.Contains(t, reasons(k.Unused), "it belongs to a patient without an order in the document")
	assert.Empty(t, k.Orders[0].Faults, "unlinked, it is only listed")

	pointing := strings.Replace(orderA, `"subject"`, `"supportingInformation":[{"reference":"Observation/w"}],"subject"`, 1)
	k = readOne(t, bundle(patientA, patientB, weightB, pointing), noon)
	assert.Empty(t, k.Measurements)
	assert.Equal(t, []string{"identity-other-patient"}, codes(k.Orders[0].Faults))
}

func TestTwoPatientsGiveTwoCases(t *testing.T) {
	patientB := strings.NewReplacer(`"id":"a"`, `"id":"b"`, `"value":"1"`, `"value":"2"`, "Brandt", "Petrov").Replace(patientA)
	orderB := strings.NewReplacer(`"id":"o"`, `"id":"p"`, "Patient/a", "Patient/b").Replace(orderA)
	d, _ := element.Read([]byte(bundle(patientA, orderA, patientB, orderB)), element.Limit{})
	cases, found := ReadCases(d, clock(t, noon))
	assert.Empty(t, found)
	require.Len(t, cases, 2)
	assert.Equal(t, "Brandt", cases[0].Patient.Family)
	assert.Equal(t, "Petrov", cases[1].Patient.Family)
}

func TestIdentityOfOnePersonInTwoRecords(t *testing.T) {
	change := func(pairs ...string) string {
		return strings.NewReplacer(append([]string{`"id":"a"`, `"id":"b"`}, pairs...)...).Replace(patientA)
	}
	for name, c := range map[string]struct {
		other string
		want  []string
	}{
		"the same in every respect":          {change(), nil},
		"another birth date":                 {change("1980-05-30", "1980-03-05"), []string{"identity-conflict"}},
		"only the year of the birth date":    {change("1980-05-30", "1980"), nil},
		"another sex":                        {change("female", "male"), []string{"identity-conflict"}},
		"another family name":                {change("Brandt", "Brand"), []string{"identity-name-variant"}},
		"the name in capitals":               {change("Brandt", "BRANDT"), []string{"identity-name-variant-minor"}},
		"an initial for the given name":      {change("Kiri", "K"), []string{"identity-name-variant-minor"}},
		"a namesake with a number of theirs": {change(`"value":"1"`, `"value":"2"`, "1980-05-30", "1991-01-01"), nil},
	} {
		t.Run(name, func(t *testing.T) {
			k := readOne(t, bundle(patientA, c.other, orderA), noon)
			assert.ElementsMatch(t, c.want, codes(k.Patient.Conflicts))
		})
	}
}

func TestTheWordsBesideTheReferenceMustNameThePatient(t *testing.T) {
	with := func(display string) string {
		return bundle(patientA, strings.Replace(orderA, `"Patient/a"`, `"Patient/a","display":"`+display+`"`, 1))
	}
	assert.Empty(t, readOne(t, with("BRANDT, Kiri"), noon).Patient.Conflicts)
	assert.Equal(t, []string{"identity-name-variant"}, codes(readOne(t, with("Petrov, Kiri"), noon).Patient.Conflicts))
}

// A reference that points at one patient and names the number of another may
// be either's.
func TestTheNumberBesideTheReferenceMustBeThePatients(t *testing.T) {
	numbered := strings.Replace(patientA, `"identifier":[`, `"identifier":[{"system":"urn:other","value":"7"},{"system":"urn:other","use":"old","value":"6"},`, 1)
	require.Contains(t, numbered, "urn:other")
	for id, want := range map[string][]string{`{"system":"urn:other","value":"7"}`: nil, `{"system":"urn:other","value":"6"}`: nil, `{"system":"urn:other","value":"8"}`: {"identity-conflict"},
		`{"system":"urn:third","value":"8"}`: nil, `{"value":"8"}`: nil} {
		k := readOne(t, bundle(numbered, strings.Replace(orderA, `"Patient/a"`, `"Patient/a","identifier":`+id, 1)), noon)
		assert.ElementsMatch(t, want, codes(k.Patient.Conflicts), id)
	}
}

func TestOrderKeyAndVersion(t *testing.T) {
	plain := readOne(t, tiny(), noon).Orders[0]
	assert.Empty(t, plain.Key, "a bare order without identifier has no key")
	assert.Empty(t, plain.Ref.URL)
	spaced := readOne(t, strings.ReplaceAll(tiny("meta", `{"versionId":"9"}`), ",", " ,\n "), noon).Orders[0]
	assert.Equal(t, plain.Version, spaced.Version, "white space and meta are no content")
	changed := readOne(t, tiny("priority", `"stat"`), noon).Orders[0]
	assert.NotEqual(t, plain.Version, changed.Version)

	identified := readOne(t, tiny("identifier", `[{"system":"urn:a","value":"1"},{"use":"official","system":"urn:b","value":"2"},
		{"type":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/v2-0203","code":"PLAC"}]},"system":"urn:c","value":"3"}]`), noon).Orders[0]
	assert.Equal(t, "urn:c|3", identified.Key, "the placer's number")
	urn := readOne(t, entries(at("urn:uuid:563081b5-0977-5a09-aa43-4d1b571862e4", orderOf(`{"display":"Brandt"}`))), noon).Orders[0]
	assert.Empty(t, urn.Key, "a urn:uuid is new in every message")
	assert.Equal(t, "urn:uuid:563081b5-0977-5a09-aa43-4d1b571862e4", urn.Ref.URL)
}

func TestWhatIsAnOrder(t *testing.T) {
	text := func(drug, words string) string {
		return directed(`{"text":"`+words+`"}`, "medicationCodeableConcept", `{"text":"`+drug+`"}`)
	}
	role := func(code string) string {
		return tiny("category", `[{"coding":[{"system":"https://weir.example/fhir/CodeSystem/order-role","code":"`+code+`"}]}]`)
	}
	for name, c := range map[string]struct{ document, role string }{
		"nothing said of the route is judged":     {tiny(), "infusion"},
		"a lock by code":                          {role("lock"), "lock"},
		"a premedication by code":                 {role("premedication"), "premedication"},
		"heparin and the word lock":               {text("heparin 10 units/mL", "Lock with 3 mL after each use"), "lock"},
		"saline and the word flush":               {text("sodium chloride 0.9 % flush syringe", "10 mL IV"), "flush"},
		"another drug and the word flush":         {text("cefazolin", "flush before and after"), "infusion"},
		"heparin without the word":                {text("heparin", "continuous infusion"), "infusion"},
		"hydration at a rate that also says lock": {directed(`{"text":"infuse, then lock","doseAndRate":[{"rateQuantity":`+q("125", "mL/h")+`}]}`, "medicationCodeableConcept", `{"text":"sodium chloride 0.9 %"}`), "infusion"},
		"by mouth in code":                        {directed(`{"route":{"coding":[{"system":"http://snomed.info/sct","code":"26643006"}]}}`), "oral"},
		"a tablet in words":                       {text("ibuprofen 600 mg tablet", "every 8 hours"), "oral"},
		"intravenous in words":                    {directed(`{"route":{"text":"IV"}}`), "infusion"},
	} {
		t.Run(name, func(t *testing.T) {
			d, _ := element.Read([]byte(c.document), element.Limit{})
			cases, _ := ReadCases(d, clock(t, noon))
			require.Len(t, cases, 1)
			all := append(append([]order.Order{}, cases[0].Orders...), cases[0].Related...)
			require.Len(t, all, 1)
			assert.Equal(t, c.role, all[0].Role)
		})
	}
}

func TestAnOrderNamedAsPriorIsHistory(t *testing.T) {
	old := strings.Replace(orderA, `"id":"o"`, `"id":"p"`, 1)
	replacing := func(status string) string {
		return strings.NewReplacer(`"active"`, `"`+status+`"`, `"subject"`, `"priorPrescription":{"reference":"MedicationRequest/p"},"subject"`).Replace(orderA)
	}
	k := readOne(t, bundle(patientA, old, replacing("active")), noon)
	require.Len(t, k.Orders, 1)
	require.Len(t, k.Related, 1)
	assert.Equal(t, "replaced", k.Related[0].Role)
	assert.Equal(t, []string{"https://a.example/fhir/MedicationRequest/p"}, k.Orders[0].Prior)

	assert.Len(t, readOne(t, bundle(patientA, old, replacing("entered-in-error")), noon).Orders, 2, "an order entered in error replaces nothing")

	circle := strings.Replace(old, `"subject"`, `"priorPrescription":{"reference":"MedicationRequest/o"},"subject"`, 1)
	assert.Len(t, readOne(t, bundle(patientA, circle, replacing("active")), noon).Orders, 2, "a circle replaces nothing")
}

func TestOneOrderTwice(t *testing.T) {
	with := func(id, extra string) string {
		return strings.NewReplacer(`"id":"o"`, `"id":"`+id+`","identifier":[{"system":"urn:o","value":"7"}]`, `"subject"`, extra+`"subject"`).Replace(orderA)
	}
	same := strings.Replace(with("o", ""), `"id":"o",`, "", 1)
	k := readOne(t, entries(at("https://a.example/fhir/Patient/a", patientA), at("https://a.example/fhir/MedicationRequest/o", same), at("https://a.example/fhir/MedicationRequest/p", same)), noon)
	require.Len(t, k.Orders, 2)
	assert.Equal(t, []string{"identity-duplicate-message"}, codes(k.Orders[1].Faults))

	k = readOne(t, bundle(patientA, with("o", `"authoredOn":"2027-02-01",`), with("p", `"authoredOn":"2027-02-09",`)), noon)
	require.Len(t, k.Orders, 1, "the older version is history")
	assert.Equal(t, "2027-02-09", k.Orders[0].AuthoredOn.Literal)

	k = readOne(t, bundle(patientA, with("o", `"priority":"stat",`), with("p", "")), noon)
	require.Len(t, k.Orders, 2)
	for _, o := range k.Orders {
		assert.Equal(t, []string{"record-sources-disagree"}, codes(o.Faults), "nothing says which is newer")
	}
}

func TestAnUnknownModifierMayReverseTheOrder(t *testing.T) {
	const modifier = `[{"url":"https://b.example/not","valueBoolean":true}]`
	for name, document := range map[string]string{
		"on the order":                tiny("modifierExtension", modifier),
		"on an instruction":           directed(`{"modifierExtension":` + modifier + `}`),
		"implicit rules":              tiny("implicitRules", `"https://b.example/rules"`),
		"on the contained Medication": tiny("medicationCodeableConcept", "", "contained", `[{"resourceType":"Medication","id":"m","modifierExtension":`+modifier+`}]`, "medicationReference", `{"reference":"#m"}`),
		"deep in a dose of the order": directed(`{"doseAndRate":[{"doseQuantity":{"value":1,"modifierExtension":` + modifier + `}}]}`),
	} {
		t.Run(name, func(t *testing.T) {
			o := theOrder(t, readOne(t, document, noon))
			assert.Contains(t, codes(o.Faults), "record-modifier-unknown")
			assert.NotEmpty(t, o.UnknownModifier)
		})
	}
	weight := strings.Replace(observation("w", "29463-7", "2027-02-20", kg("70")), `"status"`, `"modifierExtension":`+modifier+`,"status"`, 1)
	k := readOne(t, bundle(patientA, orderA, weight), noon)
	assert.Empty(t, k.Measurements, "a fact with an unknown modifier is not used")
	assert.Contains(t, reasons(k.Unused), "carries a modifier")
}

func TestNothingOfTheOrderIsDropped(t *testing.T) {
	k := readOne(t, tiny("priority", `"stat"`, "substitution", `{"allowedBoolean":false}`, "extension", `[{"url":"https://b.example/x","valueString":"y"}]`, "courseOfTherapyType", `{"text":"acute"}`), noon)
	for _, want := range []string{".priority", ".substitution", ".extension[0]", ".courseOfTherapyType"} {
		assert.Contains(t, reasons(k.Unused), want+": not used: ")
	}
}

func TestATaskToAbortIsStricterThanAnActiveOrder(t *testing.T) {
	task := `{"resourceType":"Task","id":"t","status":"requested","intent":"order","for":{"reference":"Patient/a"},"focus":{"reference":"MedicationRequest/o"},
		"code":{"coding":[{"system":"http://hl7.org/fhir/CodeSystem/task-code","code":"abort"}]},"lastModified":"2027-02-28T08:00:00Z"}`
	o := theOrder(t, readOne(t, bundle(patientA, orderA, task), noon))
	assert.Equal(t, "stopped", o.Status)
	assert.Equal(t, "2027-02-28T08:00:00Z", o.Stopped.Literal)
	assert.Equal(t, []string{"record-sources-disagree"}, codes(o.Faults))
}
