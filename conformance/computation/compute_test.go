package computation

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The dose goes by the actual weight; by another one only when somebody asks
// for it, and then never by the actual weight in its stead.
func TestTheWeightForDosingIsTheOneAskedFor(t *testing.T) {
	for _, x := range []struct {
		equations []string
		given     []string
		want      string
	}{
		{nil, []string{"sex=male", "height=70[in_i]", "weight=190kg", "dosePerKg=1mg/kg"}, "190"},
		{[]string{"E06-adjusted"}, []string{"sex=male", "height=70[in_i]", "weight=190kg", "dosePerKg=1mg/kg"}, "119.8"},
		{[]string{"E06-ideal"}, []string{"sex=male", "height=70[in_i]", "weight=190kg", "dosePerKg=1mg/kg"}, "73"},
		{[]string{"E06-adjusted"}, []string{"weight=190kg", "dosePerKg=1mg/kg"}, ""},
	} {
		given, err := Parse(x.given)
		require.NoError(t, err)
		answer, err := Compute(Request{Given: given, Equations: x.equations})
		require.NoError(t, err)
		dose, ok := answer.Quantities["dose"]
		assert.Equal(t, x.want != "", ok, x.equations)
		if ok {
			assert.Equal(t, x.want, dose.Value.Significant(4), x.equations)
		}
	}
}

// What would agree is shown to four digits of its own unit.
func TestTheValueThatAgreesHasFourDigits(t *testing.T) {
	given, err := Parse([]string{"dextroseConcentration=10g/dL", "rate=4.3mL/h", "weight=2.58kg", "glucoseInfusionRate=2.9mg/kg/min"})
	require.NoError(t, err)
	answer, err := Compute(Request{Given: given})
	require.NoError(t, err)
	require.Len(t, answer.Conflicts, 1)
	for _, c := range answer.Conflicts[0].Culprits {
		if c.Name == "rate" {
			assert.Equal(t, "If the rate 4.3 mL per hour is wrong, the one that agrees is 4.489 mL per hour.", c.Sentence)
		}
	}
}

// Steps are shown in order with their times, and no program's name stands in
// a formula for what was not given.
func TestStepsAndFormulasAreShownInWords(t *testing.T) {
	given, err := Parse([]string{"volume=280mL", "step=30mL/h@30min", "step=60mL/h@30min", "step=120mL/h"})
	require.NoError(t, err)
	answer, err := Compute(Request{Given: given})
	require.NoError(t, err)
	assert.Equal(t, "30 mL per hour for 30 minutes, then 60 mL per hour for 30 minutes, then 120 mL per hour", answer.Words["step"].Text())

	given, err = Parse([]string{"fill=240mL", "nominalRate=5mL/h"})
	require.NoError(t, err)
	answer, err = Compute(Request{Given: given})
	require.NoError(t, err)
	assert.Contains(t, answer.Quantities["runTime"].Derivation[0].Text, "part emitted")
}

// A dose of 200 mg is two vials of 100 mg, not "two or three": what counts
// is asked of the number as written.
func TestCountsHaveNoInterval(t *testing.T) {
	given, err := Parse([]string{"dose=200mg", "vialContent=100mg"})
	require.NoError(t, err)
	a, err := Compute(Request{Given: given})
	require.NoError(t, err)
	q := a.Quantities["vialCount"]
	assert.Equal(t, "2", q.Value.Decimal())
	assert.True(t, q.Low.Equal(q.High))
	assert.Equal(t, "0", a.Quantities["waste"].Value.Decimal())
}
