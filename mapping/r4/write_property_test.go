package r4_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
)

// words are what a sender may have typed; FHIR strings hold no control
// characters, and the strict reader refuses those before.
func words() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		s := rapid.StringOfN(rapid.RuneFrom([]rune("aZ0 <>&\"'\\/é漢𝄞µ{}[]|.;:#\u00a0")), 0, 20, -1).Draw(t, "words")
		return strings.TrimSpace(s)
	})
}

// anything makes a worksheet of any shape that the type allows: facts
// missing, numbers in dispute, findings of any gate, odd text.
func anything(t *rapid.T) worksheet.Worksheet {
	w := rapid.SampledFrom([]func() worksheet.Worksheet{fixed, blocked, surface, steps, controlled}).Draw(t, "base")()
	maybe := func(name string) bool { return rapid.Bool().Draw(t, name) }
	w.Verdict = rapid.SampledFrom([]string{"ready", "hold", "block", "indeterminate"}).Draw(t, "verdict")
	w.Order.Key, w.Order.Drug = words().Draw(t, "key"), words().Draw(t, "drug")
	for name, q := range w.Refs.Numbers {
		q.Disputed = maybe(name)
		w.Refs.Numbers[name] = q
		if maybe("no " + name) {
			delete(w.Refs.Numbers, name)
		}
	}
	gates := rapid.SampledFrom([]string{"block", "hold", "warn", "note"})
	for range rapid.IntRange(0, 4).Draw(t, "findings") {
		w.Findings = append(w.Findings, worksheet.Finding{Code: rapid.SampledFrom([]string{"dose-arithmetic", "rate-steps", "device-rate"}).Draw(t, "code"), Gate: gates.Draw(t, "gate"),
			Title: "A title", Expression: words().Draw(t, "expression"), Observed: words().Draw(t, "observed"), Expected: words().Draw(t, "expected"),
			Culprits: []worksheet.Culprit{{Name: "dose", Stated: words().Draw(t, "stated"), Consistent: "2.50", Unit: rapid.SampledFrom([]string{"", "mg", "{bag}", "1"}).Draw(t, "unit"), Signature: "none", Named: maybe("named")}}})
	}
	for range rapid.IntRange(0, 2).Draw(t, "not checked") {
		w.NotChecked = append(w.NotChecked, worksheet.NotChecked{Code: "dose-renal", Gate: rapid.SampledFrom([]string{"hold", ""}).Draw(t, "gate"), Missing: []string{words().Draw(t, "missing")}})
	}
	w.Deliveries = w.Deliveries[:rapid.IntRange(0, len(w.Deliveries)).Draw(t, "deliveries")]
	for i := range w.Deliveries {
		if maybe("no last dose") {
			w.Deliveries[i].LastDose = ""
		}
	}
	w.Kit = append(w.Kit, worksheet.KitItem{Item: "spill-kit", Name: words().Draw(t, "name"), Quantity: rapid.IntRange(0, 2000).Draw(t, "quantity"), Unit: rapid.SampledFrom([]string{"kit", "two words", "Öse", "{x}", ""}).Draw(t, "unit"), Delivery: rapid.IntRange(0, 9).Draw(t, "delivery")})
	refs := []*order.Reference{&w.Refs.Patient, &w.Refs.Order, &w.Refs.Encounter, &w.Refs.Pharmacy}
	for i, r := range refs {
		switch rapid.IntRange(0, 3).Draw(t, "reference") {
		case 0:
			*refs[i] = order.Reference{}
		case 1:
			r.URL = ""
		case 2:
			r.URL = "urn:uuid:0c3151bd-1cbf-4d64-b04d-cd9187a4c6e0"
		}
	}
	if maybe("no address") {
		w.Refs.Address = nil
	}
	w.Schedule.Zone = rapid.SampledFrom([]string{"America/New_York", "", "Nowhere/None"}).Draw(t, "zone")
	w.Refs.Source.Timing = schedule.Timing{Frequency: rapid.IntRange(0, 4).Draw(t, "frequency"), FrequencyMax: rapid.IntRange(0, 6).Draw(t, "most"), Count: rapid.IntRange(0, 30).Draw(t, "count"),
		Period:     point(rapid.SampledFrom([]string{"1", "0.5", "8", "36"}).Draw(t, "period"), rapid.SampledFrom([]string{"h", "d", "wk", "min", "ms"}).Draw(t, "unit")),
		DaysOfWeek: rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"mon", "wed", "sun"}), 0, 3, rapid.ID).Draw(t, "days"), Code: rapid.SampledFrom([]string{"", "Q8H", "BID"}).Draw(t, "code")}
	if maybe("a range") {
		w.Refs.Source.Stated = []order.Stated{{Name: "dose", Witness: order.Coded, Quantity: quantity.Range(quantity.Ratio(1, 3), quantity.Int(2), quantity.MustUnit("g"))}}
	}
	return w
}

// Whatever the worksheet, the Bundle is valid R4 by three judges, whole, and
// the same each time; a held order never has a dispense that may be made.
func TestAnyWorksheetGivesAValidBundle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := anything(t)
		data := r4.WriteBundle(w)
		if !valid(t, data) {
			t.Log(string(data))
		}
		whole(t, w, data)
		assert.Equal(t, string(data), string(r4.WriteBundle(w)))
		for _, d := range resources(t, w, "MedicationDispense") {
			assert.Equal(t, w.Verdict == "ready", d["status"] == "preparation")
		}
		for _, f := range w.Findings {
			assert.Contains(t, string(data), `"`+f.Code+`"`, "a finding is lost")
		}
	})
}
