package r4

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func dr(members string) string { return `{"doseAndRate":[{` + members + `}]}` }

func TestDoseAndRateVariants(t *testing.T) {
	for name, c := range map[string]struct {
		instruction string
		want        []string
		faults      []string
	}{
		"a dose in grams":                              {dr(`"doseQuantity":` + q("2", "g")), []string{"dose 2 g"}, nil},
		"a dose in international units":                {dr(`"doseQuantity":` + q("5000", "[iU]")), []string{"dose 5000 [iU]"}, nil},
		"a dose in milliequivalents of potassium":      {dr(`"doseQuantity":` + q("20", "meq")), []string{"dose 20 meq"}, nil},
		"a dose in mL is a volume":                     {dr(`"doseQuantity":` + q("50", "mL")), []string{"volume 50 mL"}, nil},
		"a dose per kilogram":                          {dr(`"doseQuantity":` + q("75", "mg/kg")), []string{"dosePerKg 75 mg/kg"}, nil},
		"a dose per square metre":                      {dr(`"doseQuantity":` + q("400", "mg/m2")), []string{"dosePerArea 400 mg/m2"}, nil},
		"a dose range is an interval":                  {dr(`"doseRange":{"low":` + q("500", "mg") + `,"high":` + q("1", "g") + `}`), []string{"dose 500 to 1000 mg"}, nil},
		"an amount per day is the daily dose":          {dr(`"doseQuantity":` + q("2", "g/d")), []string{"dailyDose 2 g/d"}, nil},
		"a rate in mL per hour":                        {dr(`"rateQuantity":` + q("200", "mL/h")), []string{"rate 200 mL/h"}, nil},
		"a rate in mL per day":                         {dr(`"rateQuantity":` + q("48", "mL/d")), []string{"rate 48 mL/d"}, nil},
		"a drug rate":                                  {dr(`"rateQuantity":` + q("10", "mg/h")), []string{"drugRate 10 mg/h"}, nil},
		"a drug rate per kilogram":                     {dr(`"rateQuantity":` + q("0.375", "ug/kg/min")), []string{"drugRatePerKg 0.375 ug/kg/min"}, nil},
		"units per kilogram and hour":                  {dr(`"rateQuantity":` + q("18", "[iU]/kg/h")), []string{"drugRatePerKg 18 [iU]/kg/h"}, nil},
		"a rate in drops":                              {dr(`"rateQuantity":` + q("20", "[drp]/min")), []string{"dropRate 20 [drp]/min"}, nil},
		"a rate range":                                 {dr(`"rateRange":{"low":` + q("100", "mL/h") + `,"high":` + q("125", "mL/h") + `}`), []string{"rate 100 to 125 mL/h"}, nil},
		"a ratio over one hour is a rate":              {dr(`"rateRatio":{"numerator":` + q("100", "mL") + `,"denominator":` + q("1", "h") + `}`), []string{"rate 100 mL/h"}, nil},
		"the dose over 20 min is a rate and a time":    {dr(`"doseQuantity":` + q("100", "mg") + `,"rateRatio":{"numerator":` + q("100", "mg") + `,"denominator":` + q("20", "min") + `}`), []string{"dose 100 mg", "drugRate 5 mg/min", "duration 20 min"}, nil},
		"a time in the field of the rate is said":      {dr(`"rateQuantity":` + q("30", "min")), []string{"duration 30 min"}, []string{"record-text-contradicts"}},
		"a unit that is not UCUM":                      {dr(`"doseQuantity":` + q("500", "mcg")), nil, []string{"record-unit-unknown"}},
		"a unit without a code":                        {dr(`"doseQuantity":{"value":500,"unit":"mg"}`), nil, []string{"record-unit-unknown"}},
		"words that contradict the code":               {dr(`"doseQuantity":{"value":500,"unit":"mcg","system":"http://unitsofmeasure.org","code":"mg"}`), []string{"dose 500 mg"}, []string{"record-unit-unknown"}},
		"words that mean the code":                     {dr(`"doseQuantity":{"value":500,"unit":"milligrams","system":"http://unitsofmeasure.org","code":"mg"}`), []string{"dose 500 mg"}, nil},
		"minutes in words beside min":                  {`{"timing":{"repeat":{"duration":30,"durationUnit":"min"}}}`, []string{"duration 30 min"}, nil},
		"units in words beside USP units":              {dr(`"doseQuantity":{"value":500,"unit":"units","system":"http://unitsofmeasure.org","code":"[USP'U]"}`), []string{"dose 500 [USP'U]"}, nil},
		"a bound is no number to calculate with":       {dr(`"doseQuantity":{"value":500,"comparator":"<","unit":"mg","system":"http://unitsofmeasure.org","code":"mg"}`), nil, nil},
		"a time is no dose":                            {dr(`"doseQuantity":` + q("3", "h")), nil, []string{"record-unit-unknown"}},
		"once every 8 hours":                           {`{"timing":{"repeat":{"frequency":1,"period":8,"periodUnit":"h"}}}`, []string{"interval 8 h"}, nil},
		"three times a day":                            {`{"timing":{"repeat":{"frequency":3,"period":1,"periodUnit":"d"}}}`, []string{"dosesPerDay 3 /d"}, nil},
		"a code for every 12 hours":                    {`{"timing":{"code":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/v3-GTSAbbreviation","code":"Q12H"}]}}}`, []string{"interval 12 h"}, nil},
		"a code for twice a day":                       {`{"timing":{"code":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/v3-GTSAbbreviation","code":"BID"}]}}}`, []string{"dosesPerDay 2 /d"}, nil},
		"two clock times are two doses a day":          {`{"timing":{"repeat":{"timeOfDay":["09:00:00","21:00:00"]}}}`, []string{"dosesPerDay 2 /d"}, nil},
		"days of the week have no even interval":       {`{"timing":{"repeat":{"frequency":1,"period":1,"periodUnit":"wk","dayOfWeek":["mon","wed","fri"]}}}`, nil, nil},
		"an infusion time of days is the course":       {`{"timing":{"repeat":{"duration":14,"durationUnit":"d","frequency":1,"period":1,"periodUnit":"d"}}}`, []string{"courseLength 14 d", "interval 1 d"}, nil},
		"24 hours each day stay an infusion time":      {`{"timing":{"repeat":{"duration":1,"durationUnit":"d","frequency":1,"period":1,"periodUnit":"d"}}}`, []string{"duration 1 d", "interval 1 d"}, nil},
		"a length as bounds":                           {`{"timing":{"repeat":{"boundsDuration":` + q("6", "wk") + `,"frequency":1,"period":1,"periodUnit":"d"}}}`, []string{"courseLength 6 wk", "interval 1 d"}, nil},
		"a count":                                      {`{"timing":{"repeat":{"count":10,"frequency":1,"period":1,"periodUnit":"d"}}}`, []string{"doseCount 10 1", "interval 1 d"}, nil},
		"an infusion time from 30 to 60 min":           {`{"timing":{"repeat":{"duration":30,"durationMax":60,"durationUnit":"min"}}}`, []string{"duration 30 to 60 min"}, nil},
		"a dose below zero":                            {dr(`"doseQuantity":` + q("-2", "g")), nil, []string{"record-number-impossible"}},
		"a count beyond any course":                    {`{"timing":{"repeat":{"count":100001,"frequency":1,"period":1,"periodUnit":"d"}}}`, []string{"interval 1 d"}, []string{"record-number-impossible"}},
		"the largest count":                            {`{"timing":{"repeat":{"count":100000,"frequency":1,"period":1,"periodUnit":"d"}}}`, []string{"doseCount 100000 1", "interval 1 d"}, nil},
		"a frequency below zero":                       {`{"timing":{"repeat":{"frequency":-1,"period":1,"periodUnit":"d"}}}`, nil, []string{"record-number-impossible"}},
		"a period without a unit is said, not guessed": {`{"timing":{"repeat":{"frequency":1,"period":8}}}`, nil, []string{"record-unit-unknown"}},
	} {
		t.Run(name, func(t *testing.T) {
			o := theOrder(t, readOne(t, directed(c.instruction), noon))
			assert.ElementsMatch(t, c.want, stated(o.Stated))
			assert.ElementsMatch(t, c.faults, codes(o.Faults))
		})
	}
}

func TestDoseBasisIsReadBesideAFixedDose(t *testing.T) {
	basis := `"extension":[{"url":"https://weir.example/fhir/StructureDefinition/dose-basis","extension":[{"url":"basis","valueCode":"adjusted-weight"},
		{"url":"value","valueQuantity":` + q("68.5", "kg") + `},{"url":"perQuantity","valueQuantity":` + q("15", "mg/kg") + `}]}],"doseQuantity":` + q("1000", "mg")
	o := theOrder(t, readOne(t, directed(dr(basis)), noon))
	assert.Equal(t, "adjusted-weight", o.DoseBasis)
	assert.Equal(t, []string{"dosingWeight 68.5 kg", "dosePerKg 15 mg/kg", "dose 1000 mg"}, stated(o.Stated))
}

func TestRatePerKilogramIsMultipliedByTheWeight(t *testing.T) {
	weight := `{"resourceType":"Observation","id":"w","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2027-02-28T08:00:00Z",
		"code":{"coding":[{"system":"http://loinc.org","code":"29463-7"}]},"valueQuantity":` + q("80", "kg") + `}`
	mr := `{"resourceType":"MedicationRequest","id":"o","status":"active","intent":"order","subject":{"reference":"Patient/a"},"medicationCodeableConcept":{"text":"immune globulin"},
		"dosageInstruction":[` + dr(`"rateQuantity":`+q("0.5", "mL/kg/h")) + `]}`
	o := theOrder(t, readOne(t, bundle(patientA, weight, mr), noon))
	// 0.5 mL/kg/h × 80 kg = 40 mL/h
	assert.Equal(t, []string{"ratePerKg 0.5 mL/kg/h", "rate 40 mL/h"}, stated(o.Stated))
	assert.Len(t, o.Stated[1].Uses, 2)
}

func TestRatesThatFollowEachOtherAreStepsAndNeverSummed(t *testing.T) {
	step := func(n, rate, rest string) string {
		return `{"sequence":` + n + rest + `,"doseAndRate":[{"doseQuantity":` + q("40", "g") + `,"rateQuantity":` + q(rate, "mL/h") + `}]}`
	}
	half := `,"timing":{"repeat":{"duration":30,"durationUnit":"min"}}`
	mr := tiny("dosageInstruction", "["+step("2", "50", half)+","+step("1", "25", half)+","+step("3", "100", "")+"]")
	o := theOrder(t, readOne(t, mr, noon))
	require.Len(t, o.Steps, 3)
	assert.Equal(t, []string{"dose 40 g", "dose 40 g", "dose 40 g"}, stated(o.Stated), "stated three times, one total")
	for i, want := range []string{"25", "50", "100"} {
		assert.Equal(t, want, o.Steps[i].Rate.Literal)
	}
	assert.Equal(t, "30", o.Steps[0].Duration.Literal)
	assert.Nil(t, o.Steps[2].Duration, "until empty")
}

func TestRateStepExtensions(t *testing.T) {
	step := func(n, rate string) string {
		return `{"url":"https://weir.example/fhir/StructureDefinition/rate-step","extension":[{"url":"order","valuePositiveInt":` + n + `},{"url":"rate","valueQuantity":` + q(rate, "mL/h") + `},{"url":"duration","valueDuration":` + q("1", "h") + `}]}`
	}
	o := theOrder(t, readOne(t, directed(`{"extension":[`+step("2", "181.8")+","+step("1", "90.9")+`],"timing":{"repeat":{"duration":12,"durationUnit":"h"}}}`), noon))
	require.Len(t, o.Steps, 2)
	assert.Equal(t, "90.9", o.Steps[0].Rate.Literal)
	assert.Equal(t, []string{"duration 12 h"}, stated(o.Stated))
}

func TestDemandDosesAreApartFromTheBasalRate(t *testing.T) {
	basal := dr(`"rateQuantity":` + q("1", "mg/h"))
	demand := `{"asNeededBoolean":true,"timing":{"repeat":{"frequency":1,"period":10,"periodUnit":"min"}},"doseAndRate":[{"doseQuantity":` + q("0.2", "mg") + `}],
		"maxDosePerPeriod":{"numerator":` + q("6", "mg") + `,"denominator":` + q("4", "h") + `}}`
	o := theOrder(t, readOne(t, tiny("dosageInstruction", "["+basal+","+demand+"]"), noon))
	require.NotNil(t, o.Controlled)
	assert.Equal(t, []string{"drugRate 1 mg/h"}, stated(o.Stated), "the demand dose is no dose of the infusion")
	assert.Equal(t, "0.2", o.Controlled.Demand.Literal)
	assert.Equal(t, "10", o.Controlled.Lockout.Literal)
	assert.Equal(t, "6", o.Controlled.Limit.Literal)
	assert.Equal(t, "4", o.Controlled.Window.Literal)
}

func TestTwoTimetablesInOneOrderAreSaid(t *testing.T) {
	at := func(hour, dose string) string {
		return `{"timing":{"repeat":{"timeOfDay":["` + hour + `:00:00"]}},"doseAndRate":[{"doseQuantity":` + q(dose, "g") + `}]}`
	}
	o := theOrder(t, readOne(t, tiny("dosageInstruction", "["+at("09", "1")+","+at("21", "2")+"]"), noon))
	assert.Equal(t, []string{"record-sources-disagree"}, codes(o.Faults))
	assert.Contains(t, stated(o.Stated), "dose 1 g")
	assert.Contains(t, stated(o.Stated), "dose 2 g", "neither is picked")
}

func TestOrderedQuantity(t *testing.T) {
	for name, c := range map[string]struct {
		request string
		doses   int
	}{
		"in doses":                    {`{"quantity":` + q("126", "{dose}") + `}`, 126},
		"in containers with repeats":  {`{"quantity":` + q("7", "{container}") + `,"numberOfRepeatsAllowed":3}`, 28},
		"first fill and repeats":      {`{"initialFill":{"quantity":` + q("3", "{dose}") + `},"quantity":` + q("7", "{dose}") + `,"numberOfRepeatsAllowed":2}`, 17},
		"words without a code":        {`{"quantity":{"value":14,"unit":"bags"}}`, 14},
		"in grams over one dose":      {`{"quantity":` + q("28", "g") + `}`, 14},
		"in grams that do not divide": {`{"quantity":` + q("29", "g") + `}`, 0},
		"in tablets of another code":  {`{"quantity":{"value":14,"unit":"TAB","system":"http://terminology.hl7.org/CodeSystem/v3-orderableDrugForm","code":"TAB"}}`, 0},
	} {
		t.Run(name, func(t *testing.T) {
			o := theOrder(t, readOne(t, directed(dr(`"doseQuantity":`+q("2", "g")), "dispenseRequest", c.request), noon))
			assert.Equal(t, c.doses, o.Ordered.Doses)
			assert.Empty(t, o.Faults)
		})
	}
}
