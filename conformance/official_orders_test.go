package conformance_test

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/r4/googlefhir"
)

// All 40 MedicationRequests among the official R4 examples, see
// testdata/README.md.
//
//go:embed testdata/official_orders.ndjson
var officialOrders string

func officialByName(t *testing.T) map[string]string {
	out := map[string]string{}
	for _, l := range strings.Split(strings.TrimSpace(officialOrders), "\n") {
		var id struct{ ID string }
		require.NoError(t, json.Unmarshal([]byte(l), &id))
		out[id.ID] = l
	}
	require.Len(t, out, 40)
	return out
}

// disagreeing are the codes that say that an order contradicts itself, or
// that a number of it could not be read and so not be set beside the others.
var disagreeing = []string{"record-text-contradicts", "record-sources-disagree", "record-unit-unknown", "dose-arithmetic", "dose-arithmetic-reading", "dose-arithmetic-rounding"}

func contradictions(t *testing.T, document string) (judged bool, said []string) {
	j := conformance.Judge(conformance.Input{Document: []byte(document), Now: time.Date(2016, 1, 22, 12, 0, 0, 0, time.UTC), Stage: "intake",
		Judges: []schema.Judge{googlefhir.Judge}, Reference: reference(t, true)})
	if len(j.Worksheets) == 0 {
		require.Len(t, j.Faults, 1)
		require.EqualValues(t, "document-unsupported", j.Faults[0].Code)
		return false, nil
	}
	require.Len(t, j.Worksheets, 1)
	for _, f := range j.Worksheets[0].Findings {
		if slices.Contains(disagreeing, f.Code) {
			said = append(said, fmt.Sprintf("%s: %s | %s", f.Code, f.Observed, f.Expected))
			assert.NotEqual(t, "warn", f.Gate, "a contradiction stops the order")
			assert.NotEqual(t, "ready", j.Worksheets[0].Verdict)
		}
	}
	return true, said
}

const noInfusion = "no infusion" // the program says that there is nothing to judge

// What each official order contradicts in itself. A name with "+" is the same
// order with its unit written as UCUM asks, so that the numbers can be set
// side by side; without it the unit alone holds the order.
var officialContradictions = map[string][]string{
	"medrx0315": {"record-text-contradicts: a time (a range in min) in the field of the rate | a rate here, and the infusion time in timing.repeat.duration"},
	// The course of 12 weeks stands in the infusion time: it is read as the
	// course, as the words say. The three doses of the escalation are found.
	"medrx0317": {"record-sources-disagree: 3 mg and 30 mg | two statements of the dose"},
	"medrx0319": {
		`record-unit-unknown: unit code "ml/hr" | UCUM code "mL/h", if that was meant`,
		"dose-arithmetic: 8 L per minute × 30 minutes is 240,000 mL, stated as 250 mL | rate 0.008333 L per minute, from volume = rate × infusion time",
	},
	"medrx0319+": {"record-text-contradicts: words: rate 8 L per minute | coded: 50 mL per hour"},
	"medrx0321": {
		"record-sources-disagree: a second timetable in one order | one timetable, or an order for each",
		"record-sources-disagree: 15 units and 20 units | two statements of the dose",
	},
	"medrx0322": {
		`record-unit-unknown: unit code "mEq" | UCUM code "meq", if that was meant`,
		`record-unit-unknown: unit code "mEq" | UCUM code "meq", if that was meant`,
	},
	"medrx0322+": {"dose-arithmetic: 2 mEq per mL × 1 L is 2,000 mEq, stated as 20 mEq | dose = concentration × volume"},
	"medrx0323":  {"dose-arithmetic: 50 mL per hour × 4 hours is 200 mL, stated as 1,000 mL | volume = rate × infusion time"},
	"medrx0328":  {`record-unit-unknown: unit code "ea" | a UCUM code that is read here; this one has no unit "ea" in the subset read here`},
	"medrx0336":  {`record-unit-unknown: unit "ug/kg/min" without a code | a UCUM code`},
	"medrx0337":  {`record-unit-unknown: unit "ug/min" without a code | a UCUM code`},
	"medrx0338":  {`record-unit-unknown: unit "ml/h" without a code | a UCUM code`},
	"medrx0338+": {"dose-arithmetic: 7.5 mL per hour × 33.33 hours is 250 mL, stated as 500 mL | volume = rate × infusion time"},
	// 4 ug/kg/min and 200 ug/min agree for 50 kg, which no document says.
	"medrx0336+": nil,
	"medrx0337+": nil,
	// A rate of 1.8 mg/kg per 20 min is what words and dose say.
	"medrx0316": nil,
	"medrx0318": nil, "medrx0320": nil, "medrx0332": nil,

	"medrx002": {noInfusion}, "medrx0301": {noInfusion}, "medrx0302": {noInfusion}, "medrx0303": {noInfusion}, "medrx0304": {noInfusion}, "medrx0305": {noInfusion}, "medrx0306": {noInfusion},
	"medrx0307": {noInfusion}, "medrx0308": {noInfusion}, "medrx0309": {noInfusion}, "medrx0310": {noInfusion}, "medrx0311": {noInfusion}, "medrx0312": {noInfusion}, "medrx0313": {noInfusion},
	"medrx0314": {noInfusion}, "medrx0324": {noInfusion}, "medrx0325": {noInfusion}, "medrx0326": {noInfusion}, "medrx0327": {noInfusion}, "medrx0329": {noInfusion}, "medrx0330": {noInfusion},
	"medrx0331": {noInfusion}, "medrx0333": {noInfusion}, "medrx0334": {noInfusion}, "medrx0335": {noInfusion}, "medrx0339": {noInfusion},
}

// mended writes the unit of an order as UCUM asks.
var mended = map[string]*strings.Replacer{
	"medrx0319+": strings.NewReplacer(`"ml/hr"`, `"mL/h"`),
	"medrx0322+": strings.NewReplacer(`"code":"mEq"`, `"code":"meq"`),
	"medrx0336+": strings.NewReplacer(`"unit":"ug/kg/min"`, `"code":"ug/kg/min"`),
	"medrx0337+": strings.NewReplacer(`"unit":"ug/min"`, `"code":"ug/min"`),
	"medrx0338+": strings.NewReplacer(`"unit":"ml/h"`, `"code":"mL/h"`),
}

func TestOfficialOrdersContradictThemselvesWhereTheyDo(t *testing.T) {
	documents := officialByName(t)
	for name := range documents {
		_, named := officialContradictions[name]
		assert.True(t, named, name)
	}
	for name, want := range officialContradictions {
		t.Run(name, func(t *testing.T) {
			document := documents[strings.TrimSuffix(name, "+")]
			require.NotEmpty(t, document)
			if r := mended[name]; r != nil {
				changed := r.Replace(document)
				require.NotEqual(t, document, changed)
				document = changed
			}
			judged, said := contradictions(t, document)
			if slices.Equal(want, []string{noInfusion}) {
				assert.False(t, judged)
				return
			}
			require.True(t, judged)
			assert.ElementsMatch(t, want, said)
		})
	}
}
