package schema_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4/googlefhir"
)

// order is a MedicationRequest with more members, each beginning with a comma.
func order(more string) string {
	return `{"resourceType":"MedicationRequest","id":"a","status":"active","intent":"order","subject":{"reference":"Patient/1"},"medicationCodeableConcept":{"text":"cefazolin"}` + more + `}`
}

func repeat(members string) string {
	return order(`,"dosageInstruction":[{"timing":{"repeat":{` + members + `}}}]`)
}

func bundle(typ string, entries ...string) string {
	return `{"resourceType":"Bundle","type":"` + typ + `","entry":[` + strings.Join(entries, ",") + `]}`
}

func entry(url, resource string) string {
	return `{"fullUrl":"` + url + `","resource":` + resource + `}`
}

const (
	kg = `"system":"http://unitsofmeasure.org","code":"kg"`
	g  = `"system":"http://unitsofmeasure.org","code":"g"`
	mg = `"system":"http://unitsofmeasure.org","code":"mg"`
	h  = `"system":"http://unitsofmeasure.org","code":"h"`
)

func observation(more string) string {
	return `{"resourceType":"Observation","status":"final","code":{"coding":[{"system":"http://loinc.org","code":"29463-7"}]}` + more + `}`
}

// The other side of every boundary: what must not be refused. Each is what
// the 4.0.1 definition named in the text allows; the faults themselves are in
// testdata/faults.
var quiet = map[string]string{
	"tim-1: duration with its unit":                       repeat(`"duration":30,"durationUnit":"min"`),
	"tim-1: the unit is absent with a reason":             repeat(`"duration":30,"_durationUnit":{"extension":[{"url":"http://hl7.org/fhir/StructureDefinition/data-absent-reason","valueCode":"unknown"}]}`),
	"tim-4, tim-5: zero is not negative":                  repeat(`"duration":0,"durationUnit":"min","period":0,"periodUnit":"h"`),
	"tim-6, tim-7, tim-8: each maximum with its base":     repeat(`"period":8,"periodMax":12,"periodUnit":"h","duration":30,"durationMax":60,"durationUnit":"min","count":3,"countMax":5`),
	"tim-9: offset before a meal":                         repeat(`"when":["ACM"],"offset":30`),
	"tim-10: timeOfDay alone":                             repeat(`"timeOfDay":["08:00:00","20:00:00"]`),
	"qty-3: a unit in words without code and system":      order(`,"dispenseRequest":{"quantity":{"value":3,"unit":"bags"}}`),
	"sqty-1: a comparator on a measured value":            observation(`,"valueQuantity":{"value":20,"comparator":"<",` + kg + `}`),
	"rat-1: both parts":                                   order(`,"dosageInstruction":[{"maxDosePerPeriod":{"numerator":{"value":4,` + g + `},"denominator":{"value":24,` + h + `}}}]`),
	"rat-1: neither part, and an extension":               order(`,"dosageInstruction":[{"maxDosePerPeriod":{"extension":[{"url":"http://hl7.org/fhir/StructureDefinition/data-absent-reason","valueCode":"unknown"}]}}]`),
	"rng-2: low equals high in another unit":              order(`,"dosageInstruction":[{"doseAndRate":[{"doseRange":{"low":{"value":1,` + g + `},"high":{"value":1000,` + mg + `}}}]}]`),
	"rng-2: a high alone":                                 order(`,"dosageInstruction":[{"doseAndRate":[{"doseRange":{"high":{"value":2,` + g + `}}}]}]`),
	"rng-2: units that cannot be compared":                order(`,"dosageInstruction":[{"doseAndRate":[{"doseRange":{"low":{"value":5,` + mg + `},"high":{"value":1,` + h + `}}}]}]`),
	"per-1: start equals end":                             order(`,"dispenseRequest":{"validityPeriod":{"start":"2026-11-10","end":"2026-11-10"}}`),
	"per-1: a month that holds the start":                 order(`,"dispenseRequest":{"validityPeriod":{"start":"2026-11-10","end":"2026-11"}}`),
	"per-1: the same instant in another zone":             order(`,"dispenseRequest":{"validityPeriod":{"start":"2026-11-10T12:00:00-05:00","end":"2026-11-10T17:00:00Z"}}`),
	"per-1: a time of the day that ends the period":       order(`,"dispenseRequest":{"validityPeriod":{"start":"2026-11-10T23:30:00-05:00","end":"2026-11-10"}}`),
	"drt-1: hours":                                        order(`,"dispenseRequest":{"expectedSupplyDuration":{"value":168,` + h + `}}`),
	"ext-1: a value that is absent with a reason":         order(`,"extension":[{"url":"http://x.example/a","_valueString":{"extension":[{"url":"http://hl7.org/fhir/StructureDefinition/data-absent-reason","valueCode":"unknown"}]}}]`),
	"ext-1: parts":                                        order(`,"extension":[{"url":"http://x.example/a","extension":[{"url":"b","valueCode":"c"}]}]`),
	"ele-1: an id beside a value":                         order(`,"priority":"routine","_priority":{"id":"x"}`),
	"dom-3: a contained resource that refers back":        order(`,"contained":[{"resourceType":"Provenance","id":"p","target":[{"reference":"#"}],"recorded":"2026-11-10T11:00:00Z","agent":[{"who":{"display":"x"}}]}]`),
	"dom-3: contained by way of another contained one":    order(`,"supportingInformation":[{"reference":"#m"}],"contained":[{"resourceType":"Medication","id":"m","ingredient":[{"itemReference":{"reference":"#n"}}]},{"resourceType":"Medication","id":"n"}]`),
	"ref-1: one contained resource referred to twice":     order(`,"supportingInformation":[{"reference":"#m"},{"reference":"#m"}],"contained":[{"resourceType":"Medication","id":"m"}]`),
	"ref-1: # of a contained resource is that of its own": bundle("collection", entry("http://x.example/MedicationRequest/a", order(`,"supportingInformation":[{"reference":"#m"}],"contained":[{"resourceType":"Medication","id":"m"}]`)), entry("http://x.example/MedicationRequest/b", strings.Replace(order(`,"supportingInformation":[{"reference":"#m"}],"contained":[{"resourceType":"Medication","id":"m"}]`), `"id":"a"`, `"id":"b"`, 1))),
	"modifierExtension is a matter of the order":          order(`,"modifierExtension":[{"url":"http://x.example/m","valueBoolean":true}]`),
	"a reference to something that is not here":           order(`,"encounter":{"reference":"Encounter/nowhere"}`),
	"a reference with a version":                          order(`,"encounter":{"reference":"Encounter/1/_history/2"}`),
	"a reference by identifier alone":                     order(`,"encounter":{"identifier":{"system":"http://x.example/e","value":"1"}}`),
	"a reference by urn":                                  order(`,"encounter":{"reference":"urn:uuid:9f1ea0d7-dc47-4cc8-a021-f5437e5a5aa9"}`),
	"a reference by urn in upper case":                    order(`,"encounter":{"reference":"urn:uuid:9F1EA0D7-DC47-4CC8-A021-F5437E5A5AA9"}`),
	"a conditional reference":                             order(`,"encounter":{"reference":"Encounter?identifier=http://x.example/e|1"}`),
	"an absolute reference that names no type":            order(`,"encounter":{"reference":"https://x.example/some/where/else"}`),
	"an absolute reference to the right type":             order(`,"encounter":{"reference":"https://x.example/fhir/Encounter/1","type":"Encounter"}`),
	"any resource where R4 allows any":                    order(`,"supportingInformation":[{"reference":"Slot/1"}]`),
	"orders that follow each other in a row":              bundle("collection", entry("http://x.example/MedicationRequest/b", strings.Replace(order(`,"priorPrescription":{"reference":"MedicationRequest/a"}`), `"id":"a"`, `"id":"b"`, 1)), entry("http://x.example/MedicationRequest/a", order(""))),
	"bdl-7: one fullUrl with two versions":                bundle("collection", entry("http://x.example/MedicationRequest/a", order(`,"meta":{"versionId":"1"}`)), entry("http://x.example/MedicationRequest/a", order(`,"meta":{"versionId":"2"}`))),
	"bdl-7: entries without a fullUrl":                    bundle("collection", `{"resource":`+order("")+`}`, `{"resource":`+order("")+`}`),
	"bdl-1, bdl-2: total and search in a searchset":       `{"resourceType":"Bundle","type":"searchset","total":1,"entry":[{"resource":` + order("") + `,"search":{"mode":"match"}}]}`,
	"bdl-3: a transaction with its requests":              bundle("transaction", `{"resource":`+order("")+`,"request":{"method":"POST","url":"MedicationRequest"}}`),
	"bdl-5: a deletion without a resource":                bundle("batch", `{"request":{"method":"DELETE","url":"MedicationRequest/a"}}`),
	"bdl-12: a message that begins with its header":       bundle("message", `{"resource":{"resourceType":"MessageHeader","eventUri":"http://x.example/e","source":{"endpoint":"http://x.example"}}}`),
	"a Bundle in a Bundle":                                bundle("collection", entry("urn:uuid:9f1ea0d7-dc47-4cc8-a021-f5437e5a5aa9", bundle("collection", entry("http://x.example/MedicationRequest/a", order(""))))),
	"a fullUrl that is no address of a resource":          bundle("collection", entry("http://x.example/documents/17", order(""))),
	"obs-6: a reason in place of a value":                 observation(`,"dataAbsentReason":{"text":"refused"}`),
	"obs-7: a component of another code":                  observation(`,"valueInteger":3,"component":[{"code":{"coding":[{"system":"http://loinc.org","code":"8302-2"}]},"valueInteger":3}]`),
	"con-4: abated and resolved":                          `{"resourceType":"Condition","subject":{"reference":"Patient/1"},"abatementDateTime":"2026","clinicalStatus":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/condition-clinical","code":"resolved"}]}}`,
	"mdd-1: prepared on the day it was handed over":       `{"resourceType":"MedicationDispense","status":"completed","medicationCodeableConcept":{"text":"x"},"whenPrepared":"2026-11-10T12:00:00Z","whenHandedOver":"2026-11-10"}`,
	"inv-1: modified at the instant it was authored":      `{"resourceType":"Task","status":"requested","intent":"order","authoredOn":"2026-11-10T12:00:00Z","lastModified":"2026-11-10T12:00:00Z"}`,
	"a primitive beside which another one has extensions": `{"resourceType":"Patient","name":[{"given":["A",null],"_given":[null,{"extension":[{"url":"http://x.example/a","valueCode":"b"}]}]}]}`,
	"a required element that is absent with a reason":     strings.Replace(order(""), `"status":"active"`, `"_status":{"extension":[{"url":"http://hl7.org/fhir/StructureDefinition/data-absent-reason","valueCode":"unknown"}]}`, 1),
	"a unit that is no UCUM is a matter of the order":     order(`,"dosageInstruction":[{"doseAndRate":[{"rateQuantity":{"value":50,"system":"http://unitsofmeasure.org","code":"ml/hr"}}]}]`),
	"a code of an example binding that R4 does not list":  order(`,"category":[{"coding":[{"system":"http://x.example/c","code":"any"}]}]`),
	"the year 1900 and the year 2100":                     `{"resourceType":"Patient","birthDate":"1900-01-01","deceasedDateTime":"2100-12-31"}`,
}

func TestWhatMustNotBeRefused(t *testing.T) {
	for name, document := range quiet {
		t.Run(name, func(t *testing.T) {
			d, strict := element.Read([]byte(document), element.Limit{})
			require.Empty(t, strict)
			found := schema.Check(d, googlefhir.Judge)
			assert.Empty(t, found, said(found))
		})
	}
}

// Each aspect speaks of its own faults alone, and Check of all.
func TestThreeAspects(t *testing.T) {
	d, strict := element.Read([]byte(order(`,"priorty":"routine","encounter":{"reference":"#x"},"dispenseRequest":{"quantity":{"value":3,"code":"g"}}`)), element.Limit{})
	require.Empty(t, strict)
	codes := func(list []finding.Finding) []string {
		var out []string
		for _, f := range list {
			out = append(out, string(f.Code))
		}
		return out
	}
	assert.Equal(t, []string{"document-structure"}, codes(schema.Tables(d)))
	assert.Equal(t, []string{"document-invariant"}, codes(schema.Invariants(d)))
	assert.Equal(t, []string{"document-reference"}, codes(schema.References(d)))
	assert.Equal(t, []string{"document-structure", "document-invariant", "document-reference"}, codes(schema.Check(d)))
}

// What follows from a fault is not said again; what is beside it is.
func TestWhatFollowsIsNotRepeated(t *testing.T) {
	for name, c := range map[string]struct {
		document string
		want     []string
	}{
		"inside an unknown element nothing is judged": {order(`,"dosages":[{"timing":{"repeat":{"duration":3}}}]`), []string{"document-structure MedicationRequest.dosages"}},
		"a value of the wrong kind breaks no invariant": {repeat(`"duration":"x","durationUnit":5`), []string{
			"document-structure MedicationRequest.dosageInstruction[0].timing.repeat.duration", "document-structure MedicationRequest.dosageInstruction[0].timing.repeat.durationUnit"}},
		"a Bundle without a known type breaks none of its rules": {bundle("pack", entry("http://x.example/MedicationRequest/a", order(""))), []string{"document-value Bundle.type"}},
		"two faults of one element are two findings": {repeat(`"duration":-3`), []string{
			"document-invariant MedicationRequest.dosageInstruction[0].timing.repeat.duration", "document-invariant MedicationRequest.dosageInstruction[0].timing.repeat.duration"}},
	} {
		t.Run(name, func(t *testing.T) {
			d, strict := element.Read([]byte(c.document), element.Limit{})
			require.Empty(t, strict)
			var got []string
			for _, f := range schema.Check(d, googlefhir.Judge) {
				got = append(got, string(f.Code)+" "+f.Place.Expression)
			}
			assert.Equal(t, c.want, got)
		})
	}
}

// A judge of others that knows neither line nor remedy is completed.
func TestFindingsOfOtherJudgesAreCompleted(t *testing.T) {
	d, _ := element.Read([]byte(order("")), element.Limit{})
	found := schema.Check(d, func(*element.Document) []finding.Finding {
		return []finding.Finding{{Code: "document-structure", Detail: "something"}}
	})
	require.Len(t, found, 1)
	isComplete(t, found[0])
}

// No refusal repeats a name, a birth date, an identifier or free text.
func TestNoFindingRepeatsWhatIsAboutAPerson(t *testing.T) {
	const secret = "Okonkwo 1979-02-30 MG-004417"
	for _, document := range []string{
		fmt.Sprintf(`{"resourceType":"Patient","birthDate":%q}`, secret),
		fmt.Sprintf(`{"resourceType":"Patient","birthDate":"1979-02-30","gender":%q}`, secret),
		fmt.Sprintf(`{"resourceType":%q}`, "Okonkwo"),
		fmt.Sprintf(`{"resourceType":"Patient","managingOrganization":{"reference":%q}}`, "Organization/"+secret),
		fmt.Sprintf(`{"resourceType":"Patient","managingOrganization":{"reference":%q}}`, "Practitioner/MG-004417"),
		fmt.Sprintf(`{"resourceType":"Patient","identifier":[{"system":%q}]}`, secret),
		fmt.Sprintf(`{"resourceType":"Patient","text":{"status":"generated","div":%q}}`, secret),
	} {
		d, strict := element.Read([]byte(document), element.Limit{})
		require.Empty(t, strict)
		found := schema.Check(d, googlefhir.Judge)
		require.NotEmpty(t, found, document)
		for _, f := range found {
			for _, text := range []string{f.Observed, f.Expected, f.Remedy, f.Detail} {
				for _, part := range []string{"1979", "004417"} {
					assert.NotContains(t, text, part, document)
				}
				if f.Place.Expression != "Okonkwo.resourceType" {
					assert.NotContains(t, text, "Okonkwo", document)
				}
			}
		}
	}
}
