package conformance_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// reordered judges a case of the scenarios after a change of its first order.
func reordered(t *testing.T, name string, ref policy.Reference, change func(*order.Order, *order.Case)) worksheet.Worksheet {
	t.Helper()
	f, err := orders.Load(name)
	require.NoError(t, err)
	doc, faults := element.Read(f.Document, element.Limit{})
	require.Empty(t, faults)
	cases, faults := r4.ReadCases(doc, f.Now)
	require.Empty(t, faults)
	c := cases[0]
	change(&c.Orders[0], &c)
	return conformance.JudgeCase(c, ref, f.Now, "release")[0]
}

// inVolume puts the dose of the order into another volume, in mL, with what
// follows from it.
func inVolume(mL string) func(*order.Order, *order.Case) {
	return func(o *order.Order, _ *order.Case) {
		o.Stated = slices.DeleteFunc(o.Stated, func(s order.Stated) bool { return s.Name == "concentration" || s.Name == "rate" })
		for i, s := range o.Stated {
			if s.Name == "volume" {
				o.Stated[i].Quantity, o.Stated[i].Literal = quantity.Point(quantity.MustNumber(mL), quantity.MustUnit("mL")), mL
			}
		}
		o.Lines = nil
	}
}

func gateIn(w worksheet.Worksheet, code string) string {
	for _, f := range w.Findings {
		if f.Code == code {
			return f.Gate
		}
	}
	return ""
}

// Vancomycin 1,250 mg over 125 minutes: up to 5 mg/mL is usual, up to 10 for
// selected patients, above that nobody passes (label; the clinical review).
func TestVancomycinByVolume(t *testing.T) {
	for _, c := range []struct{ mL, selected, above string }{
		{"250", "", ""}, {"249", "hold", ""}, {"125", "hold", ""}, {"124", "", "block"},
	} {
		w := reordered(t, "s2-rate-125", reference(t, true), inVolume(c.mL))
		assert.Equal(t, c.selected, gateIn(w, "rate-concentration-above-maximum-selected"), c.mL)
		assert.Equal(t, c.above, gateIn(w, "rate-concentration-above-maximum"), c.mL)
		assert.Empty(t, gateIn(w, "rate-above-maximum"), c.mL)
	}
	short := func(o *order.Order, c *order.Case) {
		inVolume("249")(o, c)
		for i := range c.Access {
			c.Access[i].Kind = "midline"
		}
	}
	w := reordered(t, "s2-rate-125", reference(t, true), short)
	assert.Equal(t, "block", gateIn(w, "rate-concentration-above-maximum"))
}

// A recalled limit holds until the tables are signed, then it blocks: 1,250 mg
// in 62 mL are 20.2 mg per mL against 20.
func TestARecalledStrengthHoldsUntilTheTablesAreSigned(t *testing.T) {
	ertapenem := func(o *order.Order, _ *order.Case) {
		o.Drug = order.Drug{Name: "ertapenem", Concept: order.Concept{Text: "ertapenem"}, Place: o.Drug.Place}
		inVolume("62")(o, nil)
	}
	ref := reference(t, true)
	assert.Equal(t, "block", gateIn(reordered(t, "s2-rate-125", ref, ertapenem), "rate-concentration-above-maximum"))
	ref.Signatures = nil
	assert.Equal(t, "hold", gateIn(reordered(t, "s2-rate-125", ref, ertapenem), "rate-concentration-above-maximum"))
}

// Steps in words with the top one as the coded rate: the words are read, the
// rule finds the top, and one constant rate is not taken for the steps.
func TestStepsInWordsBesideOneCodedRate(t *testing.T) {
	steps := func(rate string) func(*order.Order, *order.Case) {
		return func(o *order.Order, c *order.Case) {
			inVolume("250")(o, c)
			o.Stated = append(o.Stated, order.Stated{Name: "rate", Literal: rate, Witness: order.Coded, Place: o.Place,
				Quantity: quantity.Point(quantity.MustNumber(rate), quantity.MustUnit("mL/h"))})
			o.Lines = []order.Line{{Kind: "dosage-text", Place: o.Place, Words: "30 mL/h for 30 minutes, then 60 mL/h for 30 minutes, then 120 mL/h until complete"}}
		}
	}
	assert.Equal(t, "block", gateIn(reordered(t, "s2-rate-125", reference(t, true), steps("120")), "rate-steps"))
	w := reordered(t, "s2-rate-125", reference(t, true), steps("30"))
	assert.Empty(t, gateIn(w, "rate-steps"))
	assert.True(t, slices.ContainsFunc(w.NotChecked, func(n worksheet.NotChecked) bool { return n.Code == "rate-steps" && n.Gate == "hold" }), "%v", w.NotChecked)
}

// withSteps puts weir:rate-step beside the one instruction of the order: 60 mL
// per hour for an hour, then 120 for so many minutes, "" until empty.
func withSteps(t *testing.T, minutes string) []byte {
	t.Helper()
	f, err := orders.Load("s2-rate-125")
	require.NoError(t, err)
	step := func(n, rate, minutes string) string {
		part := func(url, value, unit, code string) string {
			return `,{"url":"` + url + `","valueQuantity":{"value":` + value + `,"unit":"` + unit + `","system":"http://unitsofmeasure.org","code":"` + code + `"}}`
		}
		text := `{"url":"https://weir.example/fhir/StructureDefinition/rate-step","extension":[{"url":"order","valuePositiveInt":` + n + `}` + part("rate", rate, "mL/h", "mL/h")
		if minutes != "" {
			text += strings.Replace(part("duration", minutes, "min", "min"), "valueQuantity", "valueDuration", 1)
		}
		return text + `]}`
	}
	first := `"sequence": 1,`
	require.Contains(t, string(f.Document), first)
	return []byte(strings.Replace(string(f.Document), first, `"extension":[`+step("1", "60", "60")+`,`+step("2", "120", minutes)+`],`+first, 1))
}

// 250 mL: 60 mL in the first hour leave 190, which 120 mL per hour give in 95
// minutes.
func TestStepsAsData(t *testing.T) {
	for minutes, want := range map[string]string{"": "", "95": "", "90": "block", "105": "block"} {
		f, _ := orders.Load("s2-rate-125")
		j := conformance.Judge(conformance.Input{Document: withSteps(t, minutes), Now: f.Now, Stage: "release", Reference: reference(t, true)})
		require.Empty(t, j.Faults)
		assert.Equal(t, want, gateIn(j.Worksheets[0], "rate-steps"), "%q minutes", minutes)
	}
}
