package arithmetic

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
)

// 35.7 lb is 16.2 kg; typed as 35.7 kg, and the dose worked out from it:
// 75 mg/kg × 35.7 kg = 2,678 mg. Dose and weight agree with each other; the
// weight of 16 kg on record is the honest one.
func TestAWeightInPoundsIsBlamedWithTheDoseWorkedOutFromIt(t *testing.T) {
	a := Reconcile([]order.Stated{say("dose", "2680", "mg"), say("dosePerKg", "75", "mg/kg"), say("dosingWeight", "35.7", "kg"),
		sayBy(order.Record, "dosingWeight", "16.0", "kg")}, Usual{})
	a.Describe()
	require.Len(t, a.Conflicts, 1)
	k := a.Conflicts[0].Culprits[0]
	assert.Equal(t, "dosingWeight", k.Name)
	assert.Equal(t, "35.7", k.Stated)
	assert.Equal(t, Pounds, k.Signature)
	assert.Equal(t, []string{"dose"}, k.With)
	assert.Contains(t, k.Sentence, "worked out from it")
	assert.False(t, a.Conflicts[0].AtLeast, "one fault, though two numbers are wrong")
}

// The same with the bag and its strength made from the wrong dose.
func TestWhatFollowsFromTheDoseIsWithdrawnWithIt(t *testing.T) {
	a := Reconcile([]order.Stated{say("dose", "2680", "mg"), say("dosePerKg", "75", "mg/kg"), say("dosingWeight", "35.7", "kg"), say("volume", "100", "mL"),
		say("concentration", "26.8", "mg/mL"), sayBy(order.Record, "dosingWeight", "16.0", "kg")}, Usual{})
	a.Describe()
	require.Len(t, a.Conflicts, 1)
	k := a.Conflicts[0].Culprits[0]
	assert.Equal(t, "35.7", k.Stated)
	assert.ElementsMatch(t, []string{"dose", "concentration"}, k.With)
}

// A child that grew from 30 to 35.7 kg: the older weight is simply older.
func TestAWeightThatGrewIsNoSlip(t *testing.T) {
	a := Reconcile([]order.Stated{say("dose", "2680", "mg"), say("dosePerKg", "75", "mg/kg"), say("dosingWeight", "35.7", "kg"),
		sayBy(order.Record, "dosingWeight", "33.0", "kg")}, Usual{})
	assert.Empty(t, a.Conflicts)
}
