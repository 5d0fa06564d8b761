package r4

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// observation is a final Observation of patient a by LOINC code.
func observation(id, code, at, value string) string {
	return `{"resourceType":"Observation","id":"` + id + `","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"` + at +
		`","code":{"coding":[{"system":"http://loinc.org","code":"` + code + `"}]},` + value + `}`
}

func kg(value string) string { return `"valueQuantity":` + q(value, "kg") }

func TestMeasurementsChooseTheNewestFinalMeasuredValue(t *testing.T) {
	for name, c := range map[string]struct {
		resources []string
		newest    string
		reason    string
		fault     string
	}{
		"the newest of two": {[]string{observation("x", "29463-7", "2027-02-01", kg("70")), observation("y", "29463-7", "2027-02-20", kg("72"))}, "72", "", ""},
		"a value after the clock is listed": {[]string{observation("x", "29463-7", "2027-02-01", kg("70")), observation("y", "29463-7", "2027-03-09", kg("99"))},
			"70", "not used: it lies after the clock", ""},
		"an estimated weight gives way to a measured one": {[]string{observation("x", "8335-2", "2027-02-20", kg("80")), observation("y", "29463-7", "2027-02-01", kg("70"))},
			"70", "not used: it is estimated, and a final, measured value is there", ""},
		"an estimated weight alone is used and said": {[]string{observation("x", "8335-2", "2027-02-20", kg("80"))}, "80", "used although it is estimated", ""},
		"two values at one time disagree": {[]string{observation("x", "29463-7", "2027-02-20T08:00:00Z", kg("70")), observation("y", "29463-7", "2027-02-20T08:00:00Z", kg("80"))},
			"", "", "record-sources-disagree"},
		"a weight in an unknown unit is a fault": {[]string{observation("x", "29463-7", "2027-02-20", `"valueQuantity":{"value":70,"unit":"kilos","system":"http://unitsofmeasure.org","code":"kilos"}`)},
			"", "", "record-unit-unknown"},
		"a weight in metres is a fault": {[]string{observation("x", "29463-7", "2027-02-20", `"valueQuantity":`+q("70", "m"))}, "", "", "record-unit-unknown"},
	} {
		t.Run(name, func(t *testing.T) {
			k := readOne(t, bundle(append([]string{patientA, orderA}, c.resources...)...), noon)
			if c.newest != "" {
				require.NotEmpty(t, k.Measurements)
				assert.Equal(t, c.newest, k.Measurements[0].Literal)
			}
			assert.Contains(t, reasons(k.Unused), c.reason)
			if c.fault != "" {
				assert.Contains(t, codes(k.Patient.Conflicts), c.fault)
			} else {
				assert.Empty(t, k.Patient.Conflicts)
			}
		})
	}
}

func TestAResultWithAnOddUnitIsOnlyLeftOut(t *testing.T) {
	platelets := observation("x", "777-3", "2027-02-20", `"valueQuantity":{"value":250,"unit":"K/uL"}`)
	k := readOne(t, bundle(patientA, orderA, platelets), noon)
	assert.Empty(t, k.Measurements)
	assert.Empty(t, k.Patient.Conflicts, "no dose is reckoned from it")
	assert.Contains(t, reasons(k.Unused), "K/uL")
}

func TestAdultHeightsMoreThanFiveCentimetresApart(t *testing.T) {
	height := func(id, at, v string) string {
		return observation(id, "8302-2", at, `"valueQuantity":`+q(v, "cm"))
	}
	same := readOne(t, bundle(patientA, orderA, height("x", "2026-01-01", "165"), height("y", "2027-01-01", "170")), noon)
	assert.Empty(t, same.Patient.Conflicts, "5 cm is not more than 5 cm")
	apart := readOne(t, bundle(patientA, orderA, height("x", "2026-01-01", "164.9"), height("y", "2027-01-01", "170")), noon)
	assert.Equal(t, []string{"record-sources-disagree"}, codes(apart.Patient.Conflicts))
}

func TestAllergies(t *testing.T) {
	allergy := func(id, members string) string {
		return `{"resourceType":"AllergyIntolerance","id":"` + id + `","patient":{"reference":"Patient/a"},` + members + `}`
	}
	active := `"clinicalStatus":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical","code":"active"}]}`
	none := allergy("n", active+`,"code":{"coding":[{"system":"http://snomed.info/sct","code":"716186003"}]}`)
	penicillin := allergy("p", active+`,"code":{"text":"penicillin"},"reaction":[{"manifestation":[{"text":"rash"}],"severity":"mild"},{"manifestation":[{"text":"shock"}],"severity":"severe"}]`)
	refuted := allergy("r", active+`,"code":{"text":"latex"},"verificationStatus":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/allergyintolerance-verification","code":"refuted"}]}`)

	k := readOne(t, bundle(patientA, orderA, penicillin, refuted), noon)
	require.Len(t, k.Allergies, 1)
	assert.Equal(t, "severe", k.Allergies[0].Severity, "the worst reaction")
	assert.True(t, k.Allergies[0].Active)
	assert.Contains(t, reasons(k.Unused), "not used: it is refuted")

	k = readOne(t, bundle(patientA, orderA, none, penicillin), noon)
	assert.Equal(t, []string{"record-sources-disagree"}, codes(k.Patient.Conflicts), "none known beside an active one")

	k = readOne(t, bundle(patientA, orderA, allergy("w", active+`,"code":{"text":"No known allergies"}`)), noon)
	require.Len(t, k.Allergies, 1)
	assert.True(t, k.Allergies[0].NoneKnown)

	assert.Empty(t, readOne(t, bundle(patientA, orderA), noon).Allergies, "absence is no statement")
}

func TestTipConfirmationInWords(t *testing.T) {
	for text, want := range map[string][2]bool{
		"Tip at cavo-atrial junction, confirmed by chest radiograph":                {true, true},
		"tip position not confirmed":                                                {true, false},
		"Tip at SVC, confirmation pending":                                          {true, false},
		"Tip in lower SVC":                                                          {true, false},
		"Confirmed with the family":                                                 {false, false},
		"Tip position could not be confirmed":                                       {true, false},
		"Catheter migrated out 3 cm; tip in SVC confirmed 6 Nov":                    {true, false},
		"Catheter dislodged, taped by the nurse":                                    {true, false},
		"No migration, tip in SVC confirmed":                                        {true, true},
		"Tip malpositioned in the jugular vein, repositioned; tip in SVC confirmed": {true, true},
		"Tip in the axillary vein, confirmed by radiograph":                         {true, false},
		"Placed through the jugular vein, tip in SVC confirmed":                     {true, true},
		"Tip confirmed in the right ventricle":                                      {true, false},
		"Tip confirmed, not in the SVC":                                             {true, false},
		"Tip position: unable to confirm":                                           {true, false},
	} {
		position, confirmed := tipInWords(text)
		assert.Equal(t, want, [2]bool{position, confirmed}, text)
	}
}

func TestTheKindOfALineInWords(t *testing.T) {
	for text, kind := range map[string]string{
		"Hemodialysis catheter": "dialysis", "Tunneled HD catheter, right internal jugular": "dialysis", "Tunnelled haemodialysis catheter": "dialysis", "Apheresis catheter": "dialysis",
		"Peritoneal dialysis catheter": "", "AV fistula": "", "Central venous catheter": "central", "CVC, left subclavian": "central",
		"Non tunneled CVC": "non-tunnelled", "Non-tunnelled central catheter": "non-tunnelled", "Tunnelled central venous catheter": "tunnelled",
		"PICC": "picc", "Double-lumen PICC": "picc", "Peripherally inserted central catheter": "picc", "Midline": "midline", "PIV 22 gauge": "peripheral",
		"Chest port": "port", "Subcutaneous port": "port", "Implanted port, single lumen": "port", "Subcutaneous needle": "subcutaneous",
		"pivot joint": "", "Radial artery catheter": "", "no central line, peripheral IV": "peripheral",
	} {
		assert.Equal(t, kind, accessWords(text), text)
	}
}

// One line in two records is one line.
func TestAnInsertionJoinsTheDeviceItPlaced(t *testing.T) {
	device := func(words string) string {
		return `{"resourceType":"Device","id":"d","status":"active","patient":{"reference":"Patient/a"},"type":{"text":"` + words + `"}}`
	}
	inserted := func(words string) string {
		return `{"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/a"},"code":{"text":"` + words + `"},"performedDateTime":"2027-02-01"}`
	}
	for _, c := range []struct{ device, procedure, kind string }{
		{"Double-lumen PICC", "Insertion of central venous catheter", "picc"},
		{"Central line", "Insertion of PICC", "picc"},
		{"Chest port", "Central line placement", "port"},
	} {
		k := readOne(t, bundle(patientA, orderA, device(c.device), inserted(c.procedure)), noon)
		require.Len(t, k.Access, 1, c.device)
		assert.Equal(t, c.kind, k.Access[0].Kind, c.device)
	}
	k := readOne(t, bundle(patientA, orderA, device("Midline"), inserted("Insertion of central venous catheter")), noon)
	assert.Len(t, k.Access, 2, "a midline is no central line")
}

// A line whose device is no longer in use is not brought back by the record of
// its insertion.
func TestTheInsertionOfALineNoLongerInUseIsNoLine(t *testing.T) {
	inserted := `{"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/a"},"code":{"text":"Insertion of PICC"},"performedDateTime":"2027-02-01","focalDevice":[{"manipulated":{"reference":"Device/d"}}]}`
	for status, lines := range map[string]int{"active": 1, "inactive": 0, "entered-in-error": 0} {
		device := `{"resourceType":"Device","id":"d","status":"` + status + `","patient":{"reference":"Patient/a"},"type":{"text":"PICC"}}`
		assert.Len(t, readOne(t, bundle(patientA, orderA, device, inserted), noon).Access, lines, status)
	}
}

func TestANewerStatementOfTheTipHolds(t *testing.T) {
	device := `{"resourceType":"Device","id":"d","status":"active","patient":{"reference":"Patient/a"},"type":{"text":"Double-lumen PICC"}}`
	tip := func(id, at, text string) string {
		return `{"resourceType":"Observation","id":"` + id + `","status":"final","subject":{"reference":"Patient/a"},"focus":[{"reference":"Device/d"}],"effectiveDateTime":"` + at +
			`","code":{"coding":[{"system":"https://weir.example/fhir/CodeSystem/access-observation","code":"tip-position"}]},"valueCodeableConcept":{` + text + `}}`
	}
	external := func(id, at, cm string) string {
		return `{"resourceType":"Observation","id":"` + id + `","status":"final","subject":{"reference":"Patient/a"},"focus":[{"reference":"Device/d"}],"effectiveDateTime":"` + at +
			`","code":{"coding":[{"system":"https://weir.example/fhir/CodeSystem/access-observation","code":"external-length"}]},"valueQuantity":` + q(cm, "cm") + `}`
	}
	blood := func(id, at, code string) string {
		return strings.Replace(tip(id, at, `"coding":[{"system":"https://weir.example/fhir/CodeSystem/blood-return","code":"`+code+`"}]`), `"code":"tip-position"`, `"code":"blood-return"`, 1)
	}
	svc := `"coding":[{"system":"https://weir.example/fhir/CodeSystem/tip-position","code":"superior-vena-cava"}]`
	unseen := `"coding":[{"system":"https://weir.example/fhir/CodeSystem/tip-position","code":"not-confirmed"}]`
	for name, c := range map[string]struct {
		resources []string
		confirmed bool
	}{
		"confirmed":                                       {[]string{tip("x", "2027-02-01", svc)}, true},
		"later not confirmed":                             {[]string{tip("x", "2027-02-01", svc), tip("y", "2027-02-09", unseen)}, false},
		"external length the same 1 cm":                   {[]string{external("e", "2027-01-31", "2"), tip("x", "2027-02-01", svc), external("f", "2027-02-10", "3")}, true},
		"external length grew by more than 1 cm":          {[]string{external("e", "2027-01-31", "2"), tip("x", "2027-02-01", svc), external("f", "2027-02-10", "3.1")}, false},
		"external length crept by more than 1 cm in all":  {[]string{external("e", "2027-01-31", "2"), tip("x", "2027-02-01", svc), external("f", "2027-02-05", "2.8"), external("g", "2027-02-10", "3.6")}, false},
		"external length crept after a first length":      {[]string{tip("x", "2027-02-01", svc), external("e", "2027-02-02", "2"), external("f", "2027-02-05", "2.8"), external("g", "2027-02-10", "3.6")}, false},
		"a line put back to where it was":                 {[]string{external("e", "2027-01-31", "2"), tip("x", "2027-02-01", svc), external("f", "2027-02-05", "4"), external("g", "2027-02-10", "2")}, false},
		"confirmed, and migrated in words":                {[]string{tip("x", "2027-02-01", svc), tip("y", "2027-02-09", `"text":"Catheter migrated out 3 cm"`)}, false},
		"a position by code that the words deny":          {[]string{tip("x", "2027-02-01", svc+`,"text":"SVC on 1 Feb; now dislodged"`)}, false},
		"another place":                                   {[]string{tip("x", "2027-02-01", `"coding":[{"system":"https://weir.example/fhir/CodeSystem/tip-position","code":"other"}],"text":"Axillary vein"`)}, false},
		"another place that is central in words":          {[]string{tip("x", "2027-02-01", `"coding":[{"system":"https://weir.example/fhir/CodeSystem/tip-position","code":"other"}],"text":"High right atrium, confirmed"`)}, true},
		"no blood return after the tip was confirmed":     {[]string{tip("x", "2027-02-01", svc), blood("b", "2027-02-09", "absent")}, false},
		"blood returned again":                            {[]string{tip("x", "2027-02-01", svc), blood("b", "2027-02-08", "absent"), blood("c", "2027-02-09", "present")}, true},
		"no blood return, and the tip looked at since":    {[]string{blood("b", "2027-01-31", "absent"), tip("x", "2027-02-01", svc)}, true},
		"blood returned, and the tip was never confirmed": {[]string{blood("b", "2027-02-08", "absent"), blood("c", "2027-02-09", "present")}, false},
		"sluggish is no absence":                          {[]string{tip("x", "2027-02-01", svc), blood("b", "2027-02-09", "sluggish")}, true},
		"confirmed again after the line had slipped":      {[]string{external("e", "2027-01-31", "2"), external("f", "2027-02-10", "4"), tip("x", "2027-02-11", svc)}, true},
	} {
		t.Run(name, func(t *testing.T) {
			k := readOne(t, bundle(append([]string{patientA, orderA, device}, c.resources...)...), noon)
			require.Len(t, k.Access, 1)
			assert.Equal(t, "picc", k.Access[0].Kind)
			assert.Equal(t, 2, k.Access[0].Lumens, "from the words")
			assert.Equal(t, c.confirmed, k.Access[0].TipConfirmed)
		})
	}
}

func TestRemovedLinesAndLumensThatDisagree(t *testing.T) {
	device := `{"resourceType":"Device","id":"d","status":"active","patient":{"reference":"Patient/a"},"type":{"coding":[{"system":"http://snomed.info/sct","code":"1396526001"}]},
		"property":[{"type":{"coding":[{"system":"https://weir.example/fhir/CodeSystem/access-property","code":"lumen-count"}]},"valueQuantity":[` + q("2", "{lumen}") + `]}]}`
	use := `{"resourceType":"DeviceUseStatement","id":"u","status":"active","subject":{"reference":"Patient/a"},"device":{"reference":"Device/d"},"timingPeriod":{"start":"2027-01-01","end":"2027-02-01"}}`
	k := readOne(t, bundle(patientA, orderA, device, use), noon)
	require.Len(t, k.Access, 1)
	assert.Equal(t, "2027-02-01", k.Access[0].Removed.Literal)
	assert.Zero(t, k.Access[0].Lumens, "single by type, two by property: neither is believed")
	assert.Contains(t, codes(k.Patient.Conflicts), "record-sources-disagree")
	inWords := strings.Replace(device, `"coding":[{"system":"http://snomed.info/sct","code":"1396526001"}]`, `"text":"Single-lumen PICC"`, 1)
	k = readOne(t, bundle(patientA, orderA, inWords, use), noon)
	require.Len(t, k.Access, 1)
	assert.Zero(t, k.Access[0].Lumens, "the words of the type are a statement too")
	assert.True(t, k.Access[0].LumensDisputed)
}

func TestDeviceRequests(t *testing.T) {
	request := func(id, members string) string {
		return `{"resourceType":"DeviceRequest","id":"` + id + `","status":"active","intent":"order","subject":{"reference":"Patient/a"},"basedOn":[{"reference":"MedicationRequest/o"}],` + members + `}`
	}
	elastomeric := request("d", `"codeCodeableConcept":{"text":"Elastomeric reservoir"},"parameter":[{"code":{"coding":[{"system":"https://weir.example/fhir/CodeSystem/device-parameter","code":"nominal-rate"}]},"valueQuantity":`+q("200", "mL/h")+`}]`)
	o := theOrder(t, readOne(t, bundle(patientA, orderA, elastomeric), noon))
	assert.Equal(t, "elastomeric", o.Device.Kind)
	nominal, ok := o.Device.Parameter("nominalRate")
	require.True(t, ok)
	assert.Equal(t, "200", nominal.Literal)
	assert.Equal(t, order.Device, nominal.Witness)

	wrongUnit := request("d", `"codeCodeableConcept":{"text":"Elastomeric reservoir"},"parameter":[{"code":{"coding":[{"system":"https://weir.example/fhir/CodeSystem/device-parameter","code":"nominal-rate"}]},"valueQuantity":`+q("200", "mL")+`}]`)
	o = theOrder(t, readOne(t, bundle(patientA, orderA, wrongUnit), noon))
	assert.Equal(t, []string{"record-unit-unknown"}, codes(o.Faults))

	pump := request("e", `"codeCodeableConcept":{"text":"ambulatory pump"}`)
	o = theOrder(t, readOne(t, bundle(patientA, orderA, elastomeric, pump), noon))
	assert.Equal(t, []string{"record-sources-disagree"}, codes(o.Faults), "two kinds of device for one order")

	second := request("e", `"codeCodeableConcept":{"text":"Elastomeric reservoir"}`)
	o = theOrder(t, readOne(t, bundle(patientA, orderA, elastomeric, second), noon))
	assert.Equal(t, 2, o.Device.Requests, "the second is the back-up")

	kit := request("k", `"codeCodeableConcept":{"coding":[{"system":"https://weir.example/fhir/CodeSystem/kit-item","code":"spill-kit"}]}`)
	k := readOne(t, bundle(patientA, orderA, kit), noon)
	assert.Empty(t, k.Orders[0].Device.Kind)
	require.Len(t, k.Supplies, 1)
	assert.Equal(t, "spill-kit", k.Supplies[0].Item)
}

func TestDischargeIsTheNewestVersionOfTheEncounter(t *testing.T) {
	encounter := func(version, end, status string) string {
		return `{"fullUrl":"https://a.example/fhir/Encounter/e","resource":{"resourceType":"Encounter","id":"e","meta":{"versionId":"` + version + `"},"status":"` + status +
			`","class":{"code":"IMP"},"subject":{"reference":"Patient/a"},"period":{"start":"2027-02-20","end":"` + end + `"}}}`
	}
	entry := func(kind, id, r string) string {
		return `{"fullUrl":"https://a.example/fhir/` + kind + "/" + id + `","resource":` + r + `}`
	}
	text := `{"resourceType":"Bundle","type":"collection","entry":[` + entry("Patient", "a", patientA) + "," + entry("MedicationRequest", "o", orderA) + "," +
		encounter("9", "2027-03-02", "in-progress") + "," + encounter("10", "2027-03-04", "in-progress") + `]}`
	k := readOne(t, text, noon)
	require.Len(t, k.Discharges, 2)
	assert.Equal(t, "2027-03-04", k.Discharges[0].At.Literal, "version 10 is newer than 9")
	assert.True(t, k.Discharges[0].Planned)
}

func TestPregnancyAndGenotype(t *testing.T) {
	pregnant := observation("p", "82810-3", "2027-02-20", `"valueCodeableConcept":{"coding":[{"system":"http://snomed.info/sct","code":"77386006"}]}`)
	not := observation("q", "82810-3", "2027-01-20", `"valueCodeableConcept":{"coding":[{"system":"http://snomed.info/sct","code":"60001007"}]}`)
	gene := `{"resourceType":"Observation","id":"g","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2027-02-02","code":{"text":"DPYD gene variants"},"valueString":"no variant found"}`
	k := readOne(t, bundle(patientA, orderA, pregnant, not, gene), noon)
	assert.Equal(t, "pregnant", k.Pregnancy.Status, "the newest")
	require.Len(t, k.Measurements, 1)
	assert.Equal(t, "genotype", k.Measurements[0].Name)
	assert.Equal(t, "no variant found", k.Measurements[0].Text)
	assert.Empty(t, readOne(t, bundle(patientA, orderA), noon).Pregnancy.Status, "unstated is not \"not pregnant\"")
}

func TestBatchesAndChecks(t *testing.T) {
	dispense := `{"resourceType":"MedicationDispense","id":"m","status":"preparation","subject":{"reference":"Patient/a"},
		"extension":[{"url":"https://weir.example/fhir/StructureDefinition/compounding","extension":[{"url":"compoundedAt","valueDateTime":"2027-02-28T15:00:00Z"},{"url":"storage","valueCode":"refrigerated"}]}],
		"contained":[{"resourceType":"Medication","id":"b","code":{"text":"cefazolin"},"batch":{"lotNumber":"L1","expirationDate":"2027-03-10T15:00:00Z"}}],
		"medicationReference":{"reference":"#b"},"authorizingPrescription":[{"reference":"MedicationRequest/o"}],"quantity":` + q("8", "{container}") + `,
		"performer":[{"function":{"coding":[{"code":"finalchecker"}]},"actor":{"display":"R. Vance"}}]}`
	k := readOne(t, bundle(patientA, orderA, dispense), noon)
	require.Len(t, k.Held.Prepared, 1)
	b := k.Held.Prepared[0]
	assert.Equal(t, 8, b.Units)
	assert.Equal(t, "2027-03-10T15:00:00Z", b.BeyondUse.Literal)
	assert.Equal(t, "2027-02-28T15:00:00Z", b.Completed.Literal)
	assert.Equal(t, "refrigerated", b.Storage)
	assert.Equal(t, "L1", b.Lot)
	assert.Equal(t, "https://a.example/fhir/MedicationRequest/o", b.OrderRef)
	require.Len(t, k.Checks, 1)
	assert.Equal(t, []string{"R. Vance"}, k.Checks[0].Who)
}

func TestADocumentWithoutAnInfusionIsNoSilence(t *testing.T) {
	d, _ := element.Read([]byte(patientA), element.Limit{})
	cases, found := ReadCases(d, clock(t, noon))
	assert.Empty(t, cases)
	assert.Equal(t, []string{"document-unsupported"}, codes(found))

	tablet := `{"resourceType":"MedicationRequest","id":"o","status":"active","intent":"order","subject":{"reference":"Patient/a"},"medicationCodeableConcept":{"text":"ibuprofen 600 mg tablet"}}`
	d, _ = element.Read([]byte(bundle(patientA, tablet)), element.Limit{})
	cases, found = ReadCases(d, clock(t, noon))
	require.Len(t, cases, 1)
	assert.Len(t, cases[0].Medicines, 1)
	assert.Equal(t, []string{"document-unsupported"}, codes(found))
}
