package r4_test

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/worksheet"
)

// The expected resource was written by hand from the contract; its ids were
// worked out with another program (UUID version 5, RFC 4122).
func TestTheDispenseOfABlockedOrderIsThisOne(t *testing.T) {
	want, err := os.ReadFile("testdata/s1-blocked-dispense.json")
	require.NoError(t, err)
	have := resources(t, blocked(), "MedicationDispense")
	require.Len(t, have, 1, "with a block there is one dispense, for the first delivery")
	text, err := json.Marshal(have[0])
	require.NoError(t, err)
	assert.JSONEq(t, string(want), string(text))
}

func TestAnOrderWithoutFaultHasOneDispenseForEachDelivery(t *testing.T) {
	have := resources(t, fixed(), "MedicationDispense")
	require.Len(t, have, 5)
	starts := []string{"2026-11-10T22:00:00-05:00", "2026-11-17T22:00:00-05:00", "2026-11-24T22:00:00-05:00", "2026-12-01T22:00:00-05:00", "2026-12-08T22:00:00-05:00"}
	for i, d := range have {
		assert.Equal(t, "preparation", d["status"])
		assert.Equal(t, json.Number("21"), at(d, "quantity", "value"))
		assert.Equal(t, json.Number("7"), at(d, "daysSupply", "value"))
		assert.Equal(t, starts[i], at(d, "dosageInstruction", 0, "timing", "repeat", "boundsPeriod", "start"))
		for _, absent := range []string{"whenPrepared", "whenHandedOver", "performer", "statusReasonReference", "statusReasonCodeableConcept", "detectedIssue"} {
			assert.NotContains(t, d, absent)
		}
	}
}

func TestTheVerdictDecidesStatusAndNumber(t *testing.T) {
	for _, c := range []struct {
		verdict, status string
		count           int
	}{{"ready", "preparation", 5}, {"hold", "on-hold", 5}, {"indeterminate", "on-hold", 5}, {"block", "on-hold", 1}, {"", "on-hold", 5}, {"a word of tomorrow", "on-hold", 5}} {
		w := fixed()
		w.Verdict = c.verdict
		have := resources(t, w, "MedicationDispense")
		assert.Len(t, have, c.count, c.verdict)
		for _, d := range have {
			assert.Equal(t, c.status, d["status"], c.verdict)
		}
	}
}

func TestWithoutAPlannedDeliveryOnlyAHeldOrderHasADispense(t *testing.T) {
	for verdict, count := range map[string]int{"ready": 0, "hold": 1, "block": 1, "indeterminate": 1} {
		w := fixed()
		w.Verdict, w.Deliveries, w.Kit = verdict, nil, nil
		have := resources(t, w, "MedicationDispense")
		require.Len(t, have, count, verdict)
		for _, d := range have {
			assert.NotContains(t, d, "quantity")
		}
	}
}

// The worst issue is the reason, also when it is a rule that was not asked.
func TestAHoldForAMissingFactComesBeforeAWarning(t *testing.T) {
	w := fixed()
	w.Verdict = "indeterminate"
	w.Findings = []worksheet.Finding{{Code: "dose-rounding", Gate: "warn", Title: "Rounded", Expression: "Bundle"}}
	w.NotChecked = []worksheet.NotChecked{{Code: "dose-renal", Gate: "hold", Missing: []string{"creatinine"}}}
	issues := resources(t, w, "DetectedIssue")
	require.Len(t, issues, 2)
	assert.Equal(t, "dose-renal", at(issues[0], "code", "coding", 0, "code"))
	d := resources(t, w, "MedicationDispense")[0]
	assert.Equal(t, "urn:uuid:"+issues[0]["id"].(string), at(d, "statusReasonReference", "reference"))
}

// v3-ActPharmacySupplyType: complete is one full repetition of the ordered
// amount, part fill less.
func TestFirstFillAndRefill(t *testing.T) {
	for _, c := range []struct {
		name          string
		ordered       order.Supplied
		first, second string
	}{
		{"105 ordered, delivered by 21", order.Supplied{Doses: 105}, "FFP", "RFP"},
		{"21 with four repeats", order.Supplied{Doses: 105, Repeats: 4}, "FFC", "RFC"},
		{"22 in a repetition, one more than delivered", order.Supplied{Doses: 110, Repeats: 4}, "FFP", "RFP"},
		{"first fill of 21, then repeats of 42", order.Supplied{Doses: 105, First: 21, Repeats: 2}, "FFC", "RFP"},
		{"no quantity ordered", order.Supplied{}, "FF", "RF"},
	} {
		w := fixed()
		w.Refs.Source.Ordered = c.ordered
		have := resources(t, w, "MedicationDispense")
		assert.Equal(t, c.first, at(have[0], "type", "coding", 0, "code"), c.name)
		assert.Equal(t, c.second, at(have[1], "type", "coding", 0, "code"), c.name)
	}
}

// A number in dispute is left out wherever it would be dispensed on, and
// nothing else is.
func TestWhatIsInDisputeIsLeftOut(t *testing.T) {
	for _, c := range []struct{ name, gone, stays string }{
		{"dose", "doseQuantity", "rateQuantity"}, {"rate", "rateQuantity", "doseQuantity"},
		{"duration", "duration", "period"}, {"interval", "period", "duration"}, {"interval", "quantity", "rateQuantity"},
		{"interval", "daysSupply", "doseQuantity"}, {"concentration", "strength", "doseQuantity"}, {"volume", "amount", "doseQuantity"},
		{"doseCount", "quantity", "period"},
	} {
		w := blocked()
		q := w.Refs.Numbers[c.name]
		q.Disputed = true
		w.Refs.Numbers[c.name] = q
		names := membersOf(resources(t, w, "MedicationDispense")[0])
		assert.NotContains(t, names, c.gone, "%s in dispute", c.name)
		assert.Contains(t, names, c.stays, "%s in dispute", c.name)
		before := membersOf(resources(t, blocked(), "MedicationDispense")[0])
		assert.Contains(t, before, c.gone, "without a dispute it is there")
	}
}

func membersOf(v value) map[string]bool {
	out := map[string]bool{}
	walk("", v, func(_ string, v value) {
		for name := range v {
			out[name] = true
		}
	})
	return out
}

// A finding's cause is in dispute even where the number is not marked; once
// one cause is named, the others are not; a warning disputes nothing.
func TestTheCauseOfAFindingIsInDispute(t *testing.T) {
	culprits := []worksheet.Culprit{{Name: "dose"}, {Name: "rate", With: []string{"duration"}}}
	for _, c := range []struct {
		name, gate string
		named      bool
		gone       []string
		stays      []string
	}{
		{"one of several", "block", false, []string{"doseQuantity", "rateQuantity", "duration"}, []string{"period"}},
		{"one is named", "hold", true, []string{"doseQuantity"}, []string{"rateQuantity", "duration"}},
		{"only a warning", "warn", false, nil, []string{"doseQuantity", "rateQuantity", "duration"}},
	} {
		w := blocked()
		culprits[0].Named = c.named
		w.Findings = []worksheet.Finding{{Code: "dose-arithmetic", Gate: c.gate, Culprits: culprits}}
		names := membersOf(resources(t, w, "MedicationDispense")[0]["dosageInstruction"].([]any)[0].(value))
		for _, n := range c.gone {
			assert.NotContains(t, names, n, c.name)
		}
		for _, n := range c.stays {
			assert.Contains(t, names, n, c.name)
		}
	}
}

func TestTheMedicationTakesItsRxNormCodeFromTheOneActiveIngredient(t *testing.T) {
	w := fixed()
	w.Refs.Source.Drug.Concept = order.Concept{Text: "the sender's own words"}
	d := resources(t, w, "MedicationDispense")[0]
	assert.Equal(t, "2180", at(d, "contained", 0, "code", "coding", 0, "code"))
	assert.Equal(t, "the sender's own words", at(d, "contained", 0, "code", "text"))
	w.Refs.Source.Drug.Ingredients[1].Active = nil // may be active too: then it is not known whose code it is
	d = resources(t, w, "MedicationDispense")[0]
	assert.Nil(t, at(d, "contained", 0, "code", "coding"))
	assert.NotContains(t, d, "meta", "without an RxNorm code the US Core profile is not claimed")
}

func TestAnAddressThatIsNotThereGivesNoPlaceToGo(t *testing.T) {
	for _, a := range []*order.Address{nil, {Use: "home"}} {
		w := fixed()
		w.Refs.Address = a
		d := resources(t, w, "MedicationDispense")[0]
		assert.NotContains(t, d, "destination")
		assert.Len(t, d["contained"], 1)
	}
}
