package arithmetic

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// say states a coded number; its place is its name.
func say(name, literal, unit string) order.Stated {
	return sayBy(order.Coded, name, literal, unit)
}

func sayBy(w order.Witness, name, literal, unit string) order.Stated {
	want, _ := Dimension(name, quantity.Mass)
	q, err := quantity.Parse(literal, unit, want)
	if err != nil {
		panic(err)
	}
	return order.Stated{Name: name, Quantity: q, Literal: literal, Witness: w, Place: finding.Place{Expression: string(w) + ":" + name}}
}

// fluorouracil is the 46-hour infusion of scenario S3: 2,400 mg/m² × 1.829 m²
// = 4,390 mg in 92 mL over 46 h, so 2 mL/h and 95.4 mg/h; the rate is typed
// as 47.7, which is 4,390 ÷ 92 = 47.7 mg/mL.
func fluorouracil(rate string) []order.Stated {
	area := say("bodySurfaceArea", "1.829", "m2")
	area.Witness = order.Computed
	area.Quantity = quantity.Range(quantity.MustNumber("1.822"), quantity.MustNumber("1.836"), quantity.MustUnit("m2"))
	return []order.Stated{say("dose", "4390", "mg"), say("dosePerArea", "2400", "mg/m2"), area, say("volume", "92", "mL"),
		say("rate", rate, "mL/h"), say("duration", "46", "h"), sayBy(order.Text, "drugRate", "95.4", "mg/h"),
		sayBy(order.Text, "dose", "4390", "mg"), sayBy(order.Text, "duration", "46", "h")}
}

func TestTheConcentrationTypedAsTheRateIsNamed(t *testing.T) {
	a := Reconcile(fluorouracil("47.7"), Usual{})
	a.Describe()
	require.Len(t, a.Conflicts, 1)
	c := a.Conflicts[0]
	assert.Equal(t, Products, c.Kind)
	require.NotEmpty(t, c.Culprits)
	k := c.Culprits[0]
	assert.Contains(t, k.Sentence, "the rate that agrees with infusion time and volume")
	assert.True(t, k.Named)
	assert.Equal(t, "rate", k.Name)
	assert.Equal(t, "47.7", k.Stated)
	assert.Equal(t, "2", k.Consistent)
	assert.Equal(t, Neighbour, k.Signature)
	assert.Contains(t, k.Sentence, "47.7 is the concentration")
	assert.True(t, a.Quantities["rate"].Disputed)
	assert.False(t, a.Quantities["dose"].Disputed)
}

func TestConsistentOrdersSayNothing(t *testing.T) {
	for name, stated := range map[string][]order.Stated{
		"46 hours at 2 mL/h": fluorouracil("2"),
		"2 g in 100 mL over 30 min, every 8 h": {say("dose", "2", "g"), say("volume", "100", "mL"), say("duration", "30", "min"),
			say("rate", "200", "mL/h"), say("interval", "8", "h"), say("dailyDose", "6", "g/d"), say("concentration", "20", "mg/mL")},
	} {
		t.Run(name, func(t *testing.T) { assert.Empty(t, Reconcile(stated, Usual{}).Conflicts) })
	}
}

// S6: 1,000 mL over 4 h is 250 mL/h; 25 mL/h is a tenth of it. One relation
// cannot tell which of the three is wrong.
func TestOneRelationNamesNobody(t *testing.T) {
	a := Reconcile([]order.Stated{say("volume", "1000", "mL"), say("duration", "4", "h"), say("rate", "25", "mL/h")}, Usual{})
	a.Describe()
	require.Len(t, a.Conflicts, 1)
	want := map[string]string{"volume": "100", "rate": "250", "duration": "40"}
	for _, k := range a.Conflicts[0].Culprits {
		assert.False(t, k.Named, k.Name)
		assert.Equal(t, Tenfold, k.Signature, k.Name)
		assert.Equal(t, want[k.Name], k.Consistent)
		delete(want, k.Name)
	}
	assert.Empty(t, want, "every one of the three is an explanation")
}

func TestDerivedNumbers(t *testing.T) {
	a := Reconcile([]order.Stated{say("dose", "2", "g"), say("volume", "100", "mL"), say("duration", "30", "min"), say("interval", "8", "h")}, Usual{})
	a.Describe()
	a.Describe()
	for name, want := range map[string]string{"concentration": "20 mg/mL", "rate": "200 mL/h", "drugRate": "4000 mg/h", "dosesPerDay": "3 /d", "dailyDose": "6000 mg/d"} {
		q := a.Quantities[name]
		assert.Equal(t, want, q.Value.Decimal()+" "+q.Unit.Code(), name)
		assert.NotEmpty(t, q.Derivation, name)
	}
}

// Nothing is known of the drug, nor whether the infusion pauses: a reservoir
// of 46 hours must not be taken for a short infusion typed wrongly, which is
// the way a four-day fluorouracil dose ran in four hours.
func TestALongInfusionIsNotTakenForAShortOne(t *testing.T) {
	a := Reconcile([]order.Stated{say("dose", "4390", "mg"), say("volume", "92", "mL"), say("rate", "47.7", "mL/h"), say("duration", "46", "h")}, Usual{})
	require.Len(t, a.Conflicts, 1)
	k := a.Conflicts[0].Culprits[0]
	assert.Equal(t, "rate", k.Name)
	assert.Equal(t, Neighbour, k.Signature)
	assert.True(t, k.Named)

	a = Reconcile([]order.Stated{say("volume", "240", "mL"), say("rate", "100", "mL/h"), say("duration", "24", "h")}, Usual{})
	require.Len(t, a.Conflicts, 1)
	for _, k := range a.Conflicts[0].Culprits {
		assert.False(t, k.Named, "%s: three fields fit a tenfold slip", k.Name)
	}
}

// 50 mg/kg/day for 32.4 kg is 1,620 mg a day, 405 mg every 6 hours. The
// day's total typed as each dose is the slip of children's orders.
func TestADailyDosePerKilogramChecksTheDose(t *testing.T) {
	order6 := func(each string) []order.Stated {
		return []order.Stated{say("dose", each, "mg"), sayBy(order.Text, "dailyDosePerKg", "50", "mg/kg/d"), sayBy(order.Record, "dosingWeight", "32.4", "kg"), say("interval", "6", "h")}
	}
	assert.Empty(t, Reconcile(order6("405"), Usual{}).Conflicts)
	a := Reconcile(order6("1620"), Usual{})
	require.Len(t, a.Conflicts, 1)
	a.Describe()
	i := slices.IndexFunc(a.Conflicts[0].Culprits, func(k finding.Culprit) bool { return k.Name == "dose" })
	require.GreaterOrEqual(t, i, 0)
	assert.Equal(t, DailyTotal, a.Conflicts[0].Culprits[i].Signature)
	assert.Equal(t, "405", a.Conflicts[0].Culprits[i].Consistent)
}
