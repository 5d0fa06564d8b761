package reconciliation_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/testdata/orders"
)

// changes is a document against the same with some elements changed, both
// judged at the clock of the case.
func changes(t *testing.T, name string, edits ...string) reconciliation.Result {
	t.Helper()
	f := base(t, name)
	return compare(t, side(t, f.Document, f.Now), side(t, with(t, name, edits...), f.Now), reconciliation.Held{}, night(f.Now))[0]
}

const (
	mr  = "MedicationRequest/mr-cefazolin "
	med = "Medication/med-cefazolin-bag "
)

// Row m2, number by number, from the document on. The order is cefazolin 2 g
// in 100 mL over 30 minutes every 8 hours.
func TestChangesOfAnIntermittentOrder(t *testing.T) {
	halfBag := []string{"set " + med + "amount.numerator.value 50", "set " + med + "ingredient[0].strength.denominator.value 50"}
	for _, c := range []struct {
		name  string
		code  finding.Code // "": changed, and nothing to tell
		says  string
		edits []string
	}{
		{"dose", "nightly-changed", "now dose 1 g", []string{"set " + mr + "dosageInstruction[0].doseAndRate[0].doseQuantity.value 1", "set " + med + "ingredient[0].strength.numerator.value 1"}},
		{"the dose in another unit is the same", "", "", []string{"set " + mr + "dosageInstruction[0].doseAndRate[0].doseQuantity.value 2000", "set " + mr + `dosageInstruction[0].doseAndRate[0].doseQuantity.code "mg"`, "set " + mr + `dosageInstruction[0].doseAndRate[0].doseQuantity.unit "mg"`}},
		{"interval", "nightly-changed", "interval 12 hours", []string{"set " + mr + "dosageInstruction[0].timing.repeat.period 12"}},
		{"duration", "nightly-changed", "infusion time 60 minutes", []string{"set " + mr + "dosageInstruction[0].timing.repeat.duration 60"}},
		{"route", "nightly-changed", "subcutaneous", []string{"set " + mr + `dosageInstruction[0].route {"coding":[{"system":"http://snomed.info/sct","code":"34206005","display":"Subcutaneous route"}],"text":"Subcutaneous"}`}},
		{"end", "nightly-changed", "end Tue 8 Dec 2026", []string{"set " + mr + `dosageInstruction[0].timing.repeat.boundsPeriod.end "2026-12-08T15:00:00-05:00"`}},
		{"drug", "nightly-changed", "drug daptomycin", []string{"set " + med + `ingredient[0].itemCodeableConcept {"coding":[{"system":"http://www.nlm.nih.gov/research/umls/rxnorm","code":"22299","display":"daptomycin"}],"text":"daptomycin"}`, "set " + med + `code {"text":"daptomycin"}`}},
		{"fluid", "nightly-changed", "fluid dextrose 5 %", []string{"set " + med + `ingredient[1].itemCodeableConcept.text "dextrose 5 % injection"`}},
		{"quantity", "nightly-changed", "84 doses", []string{"set " + mr + "dispenseRequest.quantity.value 84"}},
		{"pharmacy", "nightly-changed", "pharmacy", []string{"set " + mr + `dispenseRequest.performer {"display":"Another pharmacy"}`}},
		{"half the volume at half the rate", "nightly-changed-minor", "concentration 40 mg per mL", halfBag},
		{"half the volume, and the dose with it", "nightly-changed", "dose 1 g", append([]string{"set " + med + "ingredient[0].strength.numerator.value 1", "set " + mr + "dosageInstruction[0].doseAndRate[0].doseQuantity.value 1"}, halfBag...)},
		{"only the note", "", "", []string{"add " + mr + `note {"text":"Thank you for taking over."}`}},
		{"another reason", "", "", []string{"add " + mr + `reasonCode {"text":"infection of the spine"}`}},
		{"only the words of the directions, in another order", "", "", []string{"set " + mr + `dosageInstruction[0].text "Every 8 hours cefazolin 2 g IV over 30 min, through 15 December 2026, use 100 mL elastomeric 200 mL/h"`}},
		{"a word that nobody can read", "nightly-changed", "directions", []string{"set " + mr + `dosageInstruction[0].text "Cefazolin 2 g IV every 8 hours over 30 min, use 100 mL elastomeric 200 mL/h, through 15 December 2026; zorble the second bag"`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := changes(t, "s1-fixed", c.edits...)
			assert.Equal(t, reconciliation.Changed, r.State)
			if c.code == "" {
				assert.Empty(t, says(r, "nightly-changed")+says(r, "nightly-changed-minor"))
				return
			}
			assert.True(t, r.Has(c.code), "%v", codes(r))
			assert.Contains(t, says(r, c.code), c.says)
			assert.False(t, c.code == "nightly-changed" && r.Has("nightly-changed-minor"), "one of the two")
			assert.False(t, c.code == "nightly-changed-minor" && r.Has("nightly-changed"), "one of the two")
		})
	}
	r := changes(t, "s1-fixed", halfBag...)
	assert.Equal(t, "now concentration 40 mg per mL, volume 50 mL, rate 100 mL per hour | before concentration 20 mg per mL, volume 100 mL, rate 200 mL per hour; the dose is the same, pump sheet and units are not",
		says(r, "nightly-changed-minor"), "2 g / 50 mL = 40 mg per mL; 50 mL / 0.5 h = 100 mL per hour")
	assert.Equal(t, finding.Note, r.Worst())
	assert.Contains(t, tasks(r), "pump-sheet")
}

// A running infusion: milrinone 0.2 mg per mL. Twice the concentration at half
// the rate gives the same drug per hour, though a container then lasts twice
// as long; at the old rate it doubles the dose.
func TestChangesOfARunningInfusion(t *testing.T) {
	running := func(mg, rate string) []string {
		r := "V-500117 dosageInstruction[0]."
		return []string{"set Medication/med-vanc-1250 ingredient[0].strength.numerator.value " + mg,
			"set " + r + `doseAndRate[0] {"rateQuantity":{"value":` + rate + `,"unit":"mL/h","system":"http://unitsofmeasure.org","code":"mL/h"}}`,
			"set " + r + `text "Milrinone in sodium chloride 0.9 % IV continuously, by pump"`,
			"delete " + r + "timing.repeat.duration", "delete " + r + "timing.repeat.durationUnit", "delete " + r + "timing.repeat.frequency",
			"delete " + r + "timing.repeat.period", "delete " + r + "timing.repeat.periodUnit", "delete " + r + "timing.repeat.timeOfDay"}
	}
	f := base(t, "s2-milrinone")
	before := side(t, with(t, "s2-milrinone", running("250", "4")...), f.Now)
	require.Contains(t, before.Sheets[0].Quantities, "drugRate", "1 mg per mL at 4 mL per hour")
	for _, c := range []struct {
		mg, rate string
		code     finding.Code
		says     string
	}{
		{"500", "2", "nightly-changed-minor", "rate 2 mL per hour"},
		{"500", "4", "nightly-changed", "drug rate 8 mg per hour"},
		{"250", "2", "nightly-changed", "drug rate 2 mg per hour"},
		{"500", "2.01", "nightly-changed", "drug rate 4.02 mg per hour"},
		{"125", "8", "nightly-changed-minor", "rate 8 mL per hour"},
	} {
		r := compare(t, before, side(t, with(t, "s2-milrinone", running(c.mg, c.rate)...), f.Now), reconciliation.Held{}, night(f.Now))[0]
		assert.Equal(t, []bool{c.code == "nightly-changed", c.code == "nightly-changed-minor"}, []bool{r.Has("nightly-changed"), r.Has("nightly-changed-minor")}, "%s mg at %s: %v", c.mg, c.rate, codes(r))
		assert.Contains(t, says(r, c.code), c.says)
	}
}

// Each number of the order's resources is changed in turn. Each change is
// found, or it is one of the few that change nothing for the patient.
func TestEveryNumberOfAnOrderIsWatched(t *testing.T) {
	quiet := regexp.MustCompile(`sequence|versionId|numberOfRepeatsAllowed|amount\.denominator`)
	for _, name := range []string{"s1-fixed", "s2-vancomycin-kidneys", "s3-fluorouracil-46h", "s4-ceftriaxone-child", "s6-hydration-gravity", "s7-daptomycin-discharge"} {
		f := base(t, name)
		before := side(t, f.Document, f.Now)
		watched, silent := 0, 0
		for _, m := range mutations(t, f) {
			doc, faults := element.Read(m.document, element.Limit{})
			require.Empty(t, faults)
			cases, faults := r4.ReadCases(doc, f.Now)
			if len(faults) > 0 || len(cases) != 1 {
				continue // no order any more
			}
			list := reconciliation.Compare(before, judged(cases[0], f.Now), reconciliation.Held{}, night(f.Now))
			told := false
			for _, r := range list {
				told = told || r.Has("nightly-changed") || r.Has("nightly-changed-minor")
			}
			if !told && !quiet.MatchString(m.path) {
				silent++
				t.Errorf("%s: %s changed and nothing said", name, m.path)
			}
			watched++
		}
		t.Log(name, watched, "numbers,", silent, "not told")
		assert.Greater(t, watched, 5, name)
	}
}

type mutation struct {
	path     string
	document []byte
}

// mutations doubles each number of a document's infusion orders and of their
// drugs, one at a time.
func mutations(t *testing.T, f orders.Fixture) []mutation {
	var out []mutation
	wanted := map[string]bool{}
	c := readCase(t, f, f.Now)
	for _, o := range c.Orders {
		wanted[o.Place.Expression] = true
		wanted[o.Drug.Place.Expression] = true
	}
	var root map[string]any
	decode := func() {
		d := json.NewDecoder(bytes.NewReader(f.Document))
		d.UseNumber()
		require.NoError(t, d.Decode(&root))
	}
	decode()
	var walk func(path string, v any, set func(any))
	walk = func(path string, v any, set func(any)) {
		switch x := v.(type) {
		case map[string]any:
			for k, child := range x {
				walk(path+"."+k, child, func(n any) { x[k] = n })
			}
		case []any:
			for i, child := range x {
				walk(fmt.Sprintf("%s[%d]", path, i), child, func(n any) { x[i] = n })
			}
		case json.Number:
			n, err := x.Float64()
			require.NoError(t, err)
			set(json.Number(strings.TrimSuffix(fmt.Sprintf("%g", 2*n), ".0")))
			data, err := json.Marshal(root)
			require.NoError(t, err)
			out = append(out, mutation{path, data})
			set(x)
		}
	}
	for i, e := range root["entry"].([]any) {
		entry := e.(map[string]any)
		r := entry["resource"].(map[string]any)
		at := fmt.Sprintf("Bundle.entry[%d].resource", i)
		if wanted[at] || strings.Contains(fmt.Sprint(wanted), at+" ") || r["resourceType"] == "DeviceRequest" {
			walk(fmt.Sprint(r["resourceType"]), r, nil)
		}
	}
	return out
}

// A changed dose with old units at home: they are set apart, and the patient
// is told before the next dose. The same drug from another concentration: the
// pump sheet, and a word about the units; nobody is called where none are.
func TestAChangeReachesTheHome(t *testing.T) {
	half := []string{"set " + mr + "dosageInstruction[0].doseAndRate[0].doseQuantity.value 1", "set " + med + "ingredient[0].strength.numerator.value 1"}
	smaller := []string{"set " + med + "amount.numerator.value 50", "set " + med + "ingredient[0].strength.denominator.value 50"}
	scene := func(edits []string, records int) reconciliation.Result {
		s := newScene(t)
		f := base(t, "s1-cefazolin-elastomeric")
		f.Document = with(t, "s1-cefazolin-elastomeric", edits...)
		s.after = readCase(t, f, s.now)
		s.hold(func(h *reconciliation.HeldOrder) { h.Records = h.Records[:records] })
		if records == 0 {
			s.now = at(t, "2026-11-10T15:00:00-05:00") // before the first delivery
		}
		return s.run(t)
	}
	r := scene(half, 7)
	assert.Equal(t, []string{"nightly-changed", "nightly-surplus-at-home"}, codes(r))
	assert.Contains(t, says(r, "nightly-surplus-at-home"), "17 units at home (by the records of what was handed over and given) made for another form of the order (dose 2 g, order 1 g")
	assert.Subset(t, tasks(r), []string{"dispatch-block", "call-prescriber", "call-patient", "quarantine-patient", "fetch-back"})
	assert.NotContains(t, tasks(r), "pump-sheet")
	for _, x := range r.Tasks {
		if x.Code == "call-patient" {
			assert.True(t, x.Due.Equal(at(t, "2026-11-12T06:00:00-05:00")), "before the next dose: %s", x.Due)
		}
	}
	r = scene(half, 0)
	assert.Equal(t, []string{"nightly-changed"}, codes(r))
	assert.NotContains(t, tasks(r), "call-patient", "nothing is at home yet")

	r = scene(smaller, 7)
	assert.Equal(t, []string{"nightly-changed-minor", "nightly-surplus-at-home"}, codes(r))
	assert.Subset(t, tasks(r), []string{"pump-sheet", "call-patient"})
	r = scene(smaller, 0)
	assert.Equal(t, []string{"nightly-changed-minor"}, codes(r))
	assert.Contains(t, tasks(r), "pump-sheet")
	assert.NotContains(t, tasks(r), "call-patient")
}
