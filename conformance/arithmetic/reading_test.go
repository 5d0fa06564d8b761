package arithmetic

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// Each reading closes a disagreement on one side of its condition and not on
// the other. The conditions are those of the design study, section 5.
func TestReadingsAndTheirLimits(t *testing.T) {
	vials := Usual{Concentrations: []quantity.Quantity{quantity.Point(quantity.Int(50), quantity.MustUnit("mg/mL"))}}
	kg := func(n string) quantity.Quantity { return quantity.Point(quantity.MustNumber(n), kilogram) }
	ideal := Usual{OtherWeights: []OtherWeight{{Says: "ideal body weight", Quantity: kg("60")}}}
	for _, x := range []struct {
		name   string
		usual  Usual
		stated []order.Stated
		want   string
	}{
		// 2,000 mg drawn from 50 mg per mL is 40 mL and fits into 100 mL.
		{"the strength of the vial", vials, []order.Stated{say("dose", "2000", "mg"), say("concentration", "50", "mg/mL"), say("volume", "100", "mL")}, ReadVial},
		{"a strength no vial has", vials, []order.Stated{say("dose", "1000", "mg"), say("concentration", "40", "mg/mL"), say("volume", "100", "mL")}, ""},
		{"a dose that would not fit the bag", vials, []order.Stated{say("dose", "10000", "mg"), say("concentration", "50", "mg/mL"), say("volume", "100", "mL")}, ""},
		// 100 mL at 120 mL per hour for 60 min: 120 mL, the diluent with 20 mL of drug.
		{"the volume of the diluent", vials, []order.Stated{say("dose", "1000", "mg"), say("volume", "100", "mL"), say("rate", "120", "mL/h"), say("duration", "60.0", "min")}, ReadDiluent},
		{"more than diluent and drug", vials, []order.Stated{say("dose", "1000", "mg"), say("volume", "100", "mL"), say("rate", "200", "mL/h"), say("duration", "60.0", "min")}, ""},
		// 50 mL per hour for 90 min empty 75 of 100 mL; for 40 min only 33.
		{"part left in the container", Usual{}, []order.Stated{say("volume", "100", "mL"), say("rate", "50", "mL/h"), say("duration", "90", "min")}, ReadRemains},
		{"less than half of it used", Usual{}, []order.Stated{say("volume", "100", "mL"), say("rate", "50", "mL/h"), say("duration", "40", "min")}, ""},
		// A time in days that is longer than the interval is the course.
		{"the length of the course", Usual{}, []order.Stated{say("volume", "100", "mL"), say("rate", "200", "mL/h"), say("duration", "14", "d"), say("interval", "8", "h"), say("courseLength", "14", "d")}, ReadCourse},
		{"days, but not longer than the interval", Usual{}, []order.Stated{say("volume", "100", "mL"), say("rate", "200", "mL/h"), say("duration", "7", "d"), say("interval", "168", "h")}, ""},
		// 15 mg per kg × 60 kg (ideal) = 900 mg; on the actual 90 kg 1,350 mg.
		{"the dose on ideal weight", ideal, []order.Stated{say("dose", "900", "mg"), say("dosePerKg", "15", "mg/kg"), sayBy(order.Record, "dosingWeight", "90", "kg")}, ReadWeight},
		{"a dose on neither weight", ideal, []order.Stated{say("dose", "600", "mg"), say("dosePerKg", "15", "mg/kg"), sayBy(order.Record, "dosingWeight", "90", "kg")}, ""},
		{"the rate of the top step", Usual{TopStep: quantity.Point(quantity.Int(210), quantity.MustUnit("mL/h"))}, []order.Stated{say("volume", "280", "mL"), say("rate", "210", "mL/h"), say("duration", "118", "min")}, ReadTopStep},
		{"ten times the top step", Usual{TopStep: quantity.Point(quantity.Int(210), quantity.MustUnit("mL/h"))}, []order.Stated{say("volume", "280", "mL"), say("rate", "2100", "mL/h"), say("duration", "118", "min")}, ""},
		{"ten times a strength that happens to be a vial's", vials, []order.Stated{say("dose", "500", "mg"), say("concentration", "50", "mg/mL"), say("volume", "100", "mL")}, ""},
		{"half a dose left behind", Usual{}, []order.Stated{say("volume", "100", "mL"), say("rate", "50", "mL/h"), say("duration", "90", "min"), say("interval", "12", "h")}, ""},
		{"46 d typed for 46 h", Usual{}, []order.Stated{say("volume", "92", "mL"), say("rate", "2", "mL/h"), say("duration", "46", "d"), say("interval", "14", "d")}, ""},
		{"one rate, no steps", Usual{}, []order.Stated{say("volume", "280", "mL"), say("rate", "350", "mL/h"), say("duration", "118", "min")}, ""},
	} {
		t.Run(x.name, func(t *testing.T) {
			a := Reconcile(x.stated, x.usual)
			require.Len(t, a.Conflicts, 1, "without a disagreement nothing is shown")
			if x.want == "" {
				assert.Empty(t, a.Conflicts[0].Readings)
				return
			}
			var names []string
			for _, k := range a.Conflicts[0].Readings {
				names = append(names, k.Reading)
				assert.Contains(t, k.Sentence, "?", "a reading is a question")
			}
			assert.Contains(t, names, x.want)
		})
	}
}

// A bag of 500 mL label: 545 mL through the pump is overfill, 560 is not.
func TestOverfillIsUpToATenth(t *testing.T) {
	for rate, want := range map[string]bool{"530": true, "600": false} {
		a := Reconcile([]order.Stated{say("volume", "500", "mL"), say("rate", rate, "mL/h"), say("duration", "61", "min"), say("dose", "1", "g")}, Usual{})
		found := false
		for _, c := range a.Conflicts {
			for _, k := range c.Readings {
				found = found || k.Reading == ReadOverfill
			}
		}
		assert.Equal(t, want, found, rate)
	}
}
