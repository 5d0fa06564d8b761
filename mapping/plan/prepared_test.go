package plan_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

// What has no data is said; what is known still holds (USP <797>: the
// category is a limit whatever the chemistry allows).
func TestALotIsHeldToTheLimitThatIsKnown(t *testing.T) {
	o, c := once(t, "gravity", "2027-01-11T12:00:00-05:00", "2027-02-08T12:00:00-05:00", "2027-01-10T12:00:00-05:00", "refrigerated", "", 27)
	r := rules()
	r.Make = &plan.Making{Sterility: sterileOnly, Storage: "refrigerated"}
	p := plan.Draft(o, nil, c, r, zone(t, "America/New_York"), instant(t, "2027-01-10T13:00:00-05:00"))
	assert.True(t, p.Prepared[0].BeyondUse.IsZero(), "not dated: nothing is known of its stability")
	require.Len(t, p.Prepared[0].TooLate, 17, "Category 2 by sterile components only ends 20 January 12:00")
	assert.Equal(t, "Thu 2027-01-21T12:00:00-05:00", show(p.Prepared[0].TooLate[0]))
	assert.Equal(t, "Wed 2027-01-20T12:00:00-05:00", show(p.Prepared[0].Until))
}

func TestALotServesNoDoseBeforeItWasMade(t *testing.T) {
	o, c := once(t, "gravity", "2027-01-11T12:00:00-05:00", "2027-02-08T12:00:00-05:00", "2027-01-20T08:00:00-05:00", "refrigerated", "2027-01-25T08:00:00-05:00", 9)
	for day := 11; day <= 19; day++ {
		c.Administrations = append(c.Administrations, given(t, "examplemycin", time.Date(2027, 1, day, 12, 0, 0, 0, time.FixedZone("", -5*3600)).Format(time.RFC3339), "community"))
	}
	p := plan.Draft(o, nil, c, rules(), zone(t, "America/New_York"), instant(t, "2027-01-20T09:00:00-05:00"))
	require.Len(t, p.Prepared[0].Doses, 9)
	assert.Equal(t, "Wed 2027-01-20T12:00:00-05:00", show(p.Prepared[0].Doses[0]))
	assert.Len(t, p.Prepared[0].TooLate, 4, "25 to 28 January")
}

func TestALotOfOtherContentsServesNoDose(t *testing.T) {
	yes := true
	holds := func(name, mg, ml string) order.Drug {
		return order.Drug{Name: name, Concept: order.Concept{Text: name + " " + mg + " mg in " + ml + " mL bag"},
			Ingredients: []order.Ingredient{{Active: &yes, Concept: order.Concept{Text: name}, Strength: &order.Strength{Numerator: every(mg, "mg"), Denominator: every(ml, "mL")}}}}
	}
	point := func(n, unit string) order.Quantity {
		v := quantity.MustNumber(n)
		return order.Quantity{Value: v, Low: v, High: v, Unit: quantity.MustUnit(unit)}
	}
	numbers := order.Quantities{"dose": point("750", "mg"), "concentration": point("5", "mg/mL")}
	for _, c := range []struct {
		made  order.Drug
		doses int
		says  string
	}{
		{holds("othermycin", "750", "150"), 0, "is of othermycin"},
		{holds("examplemycin", "750", "150"), 6, ""},
		{holds("examplemycin", "1250", "250"), 0, "holds 1,250 mg in each unit"}, // the same strength, another dose: scenario S2
		{holds("examplemycin", "787.5", "157.5"), 6, ""},                         // 5 % more
		{holds("examplemycin", "788", "157.5"), 0, "holds 788 mg in each unit"},
		{holds("examplemycin", "750", "142.85"), 0, "holds 5.25 mg per mL, not 5 mg per mL"},
		{holds("examplemycin", "750", "142.86"), 6, ""},
		{holds("examplemycin", "5", "1"), 6, ""}, // per mL: nothing is said of the unit
		{order.Drug{}, 6, "what prepared lot X holds is not on record: it is laid on these doses by the order it names, and its label is to be read"},
	} {
		o, k := once(t, "gravity", "2027-01-11T12:00:00-05:00", "2027-01-17T12:00:00-05:00", "2027-01-10T12:00:00-05:00", "refrigerated", "2027-01-19T12:00:00-05:00", 6)
		k.Held.Prepared[0].Drug = c.made
		p := plan.Draft(o, numbers, k, rules(), zone(t, "America/New_York"), instant(t, "2027-01-10T13:00:00-05:00"))
		require.Len(t, p.Prepared, 1)
		assert.Len(t, p.Prepared[0].Doses, c.doses, c.made.Concept.Text)
		if c.says != "" {
			assert.Contains(t, strings.Join(append(p.Unknown, p.Says...), "\n"), c.says)
		}
	}
}

// A device that has emptied well: 1 mL left where 2 mL usually stay.
func TestLessThanTheResidualIsEarlyOnlyBeforeTheFastestEnd(t *testing.T) {
	r := plan.Running{Start: instant(t, "2026-10-31T11:00:00-04:00"), Fill: quantity.Int(92), Residual: quantity.Int(2), Volume: quantity.MustUnit("mL"),
		Concentration: every("47.7", "mg/mL"), Drug: quantity.MustUnit("mg"), Nominal: 46 * time.Hour, Shortest: 40 * time.Hour, Longest: 54*time.Hour + 8*time.Minute}
	// The fastest flow has ended when only the 2 mL are left: 40 h x 90 / 92 =
	// 140,869.57 s = 39 h 7 min 49.57 s.
	for after, call := range map[time.Duration]bool{39*time.Hour + 7*time.Minute + 49*time.Second: true, 39*time.Hour + 7*time.Minute + 50*time.Second: false, 40 * time.Hour: false, 46 * time.Hour: false, 56 * time.Hour: false} {
		x, err := r.Left(quantity.Int(1), r.Start.Add(after))
		require.NoError(t, err)
		assert.Equal(t, call, x.Call, "%s: %s", after, x.Says)
		assert.Equal(t, !call, strings.Contains(x.Says, "; between 0 mL and "), "%s: %s", after, x.Says)
	}
	x, err := r.Left(quantity.Int(1), r.Start.Add(39*time.Hour))
	require.NoError(t, err)
	assert.Contains(t, x.Says, "between 2.3 mL and 25.72 mL would be expected") // 92 x (1 - 39/40), 92 x (1 - 2,340/3,248)
	r.Residual = quantity.Int(92)
	_, err = r.Left(quantity.Int(1), r.Start.Add(39*time.Hour))
	assert.Error(t, err, "nothing can run out of it")
}
