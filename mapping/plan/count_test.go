package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/schedule"
)

// DCT-01, -02, -05 and DDC-01 of the derived cases (FHIR R4 Timing: an end
// instant excluded; the first of count and bounds ends the series).
func TestCountsAreStartsOnTheClock(t *testing.T) {
	fourteen := every("14", "d")
	twice := schedule.Timing{Frequency: 1, Period: every("12", "h")}
	o := infusion(t, "examplemycin", "2026-06-01T08:00:00-04:00", "", twice)
	o.Course.Length = &order.Stated{Quantity: fourteen}
	ny := zone(t, "America/New_York")
	p := plan.Draft(o, nil, order.Case{}, rules(), ny, instant(t, "2026-06-01T07:00:00-04:00"))
	assert.Equal(t, []int{28, 28}, []int{len(p.HomeDoses), p.CourseCount}, "DCT-01")
	_, units, days := arrivals(p)
	assert.Equal(t, []int{14, 14}, units)
	assert.Equal(t, []int{7, 7}, days)

	c := order.Case{Administrations: []order.Administration{given(t, "examplemycin", "2026-06-01T08:00:00-04:00", "inpatient")}}
	p = plan.Draft(o, nil, c, rules(), ny, instant(t, "2026-06-01T09:00:00-04:00"))
	assert.Equal(t, []int{27, 28, 1}, []int{len(p.HomeDoses), p.CourseCount, p.HospitalCount}, "DCT-02")
	assert.Equal(t, "Sun 2026-06-14T20:00:00-04:00", show(p.LastDose), "the end does not move")

	o = infusion(t, "examplemycin", "2026-06-01T08:00:00-04:00", "2026-07-01T08:00:00-04:00", schedule.Timing{Frequency: 1, Period: every("24", "h"), Count: 10})
	o.Course.Count = 10
	p = plan.Draft(o, nil, order.Case{}, rules(), ny, instant(t, "2026-06-01T07:00:00-04:00"))
	assert.Len(t, p.HomeDoses, 10, "DCT-05")

	o = infusion(t, "examplemycin", "2026-06-01T22:00:00-04:00", "2026-06-29T22:00:00-04:00", schedule.Timing{Frequency: 1, Period: every("8", "h")})
	p = plan.Draft(o, nil, order.Case{}, rules(), ny, instant(t, "2026-06-01T07:00:00-04:00"))
	_, units, _ = arrivals(p)
	assert.Equal(t, []int{21, 21, 21, 21}, units, "DDC-01")
}

// Scenario S2: after the dose of 15 February 09:00, four are left of the
// first delivery: 15th 21:00, 16th twice, 17th 09:00.
func TestWhatIsLeftOfADelivery(t *testing.T) {
	timing := schedule.Timing{Frequency: 2, Period: every("1", "d"), TimesOfDay: []string{"09:00:00", "21:00:00"}}
	o := infusion(t, "vancomycin", "2027-02-10T21:00:00-06:00", "2027-03-09", timing)
	p := plan.Draft(o, nil, order.Case{}, rules(), zone(t, "America/Chicago"), instant(t, "2027-02-10T10:10:00-06:00"))
	left := 0
	for _, at := range p.HomeDoses {
		if at.After(instant(t, "2027-02-15T09:00:00-06:00")) && !at.After(p.Deliveries[0].LastDose) {
			left++
		}
	}
	assert.Equal(t, 4, left)
}

// A changed order is timed against the last dose of the old one, wherever it
// was given; without one on record that is not known.
func TestAChangedOrderIsTimedAgainstTheLastOldDose(t *testing.T) {
	o := infusion(t, "vancomycin", "2027-02-17T09:00:00-06:00", "2027-03-09", schedule.Timing{Frequency: 1, Period: every("24", "h")})
	o.Prior = []string{"MedicationRequest/old"}
	chicago, now := zone(t, "America/Chicago"), instant(t, "2027-02-16T16:10:00-06:00")
	c := order.Case{Administrations: []order.Administration{given(t, "vancomycin", "2027-02-15T09:00:00-06:00", "community"), given(t, "vancomycin", "2027-02-14T21:00:00-06:00", "community")}}
	p := plan.Draft(o, nil, c, rules(), chicago, now)
	assert.False(t, p.Replacement, "it says when it begins")
	assert.Equal(t, []any{"Mon 2027-02-15T09:00:00-06:00", 48 * time.Hour}, []any{show(p.LastOld.In(chicago.Location)), p.Gap})
	assert.Contains(t, p.Says, "the first dose of the changed order falls 48 hours after the last dose given, Mon 15 Feb 2027 09:00 CST")
	assert.Empty(t, p.Unknown)

	// The newest old dose was given in hospital: the gap is told once.
	h := order.Case{Administrations: append([]order.Administration{given(t, "vancomycin", "2027-02-16T09:00:00-06:00", "inpatient")}, c.Administrations...)}
	p = plan.Draft(o, nil, h, rules(), chicago, now)
	assert.Equal(t, 24*time.Hour, p.Gap)
	assert.NotContains(t, p.Says[len(p.Says)-1], "falls 24 hours after")

	p = plan.Draft(o, nil, order.Case{}, rules(), chicago, now)
	assert.Equal(t, []string{"the last dose of the order it replaces: none is on record"}, p.Unknown)
	o.Prior = nil
	p = plan.Draft(o, nil, c, rules(), chicago, now)
	assert.Zero(t, p.Gap, "an order that replaces nothing is not timed against doses at home")
}

// Scenario S5: 24 hours from hanging (table, recalled society guidance) end at
// 21:00 by the summer clock; the run of 12 hours is over before that.
func TestANutritionBagEndsWithinItsHangTime(t *testing.T) {
	drug, why := compendium.Embedded().Find(compendium.Asked{Item: compendium.Item{Names: []string{"parenteral nutrition (dextrose, amino acids, lipid)"}}})
	require.Empty(t, why)
	o := infusion(t, "nutrition", "2027-03-13T20:00:00-05:00", "2027-04-09", schedule.Timing{Frequency: 1, Period: every("1", "d"), TimesOfDay: []string{"20:00:00"}})
	o.Device.Kind = "electronic-pump"
	r := rules()
	r.Continuous, r.FixedFlow = true, false
	r.Make = &plan.Making{Drug: drug, DrugKnown: true, Storage: "refrigerated"}
	p := plan.Draft(o, lasts("12", "h"), order.Case{}, r, zone(t, "America/New_York"), instant(t, "2027-03-13T10:00:00-05:00"))
	u := p.Deliveries[0].Use
	assert.Equal(t, "Sun 2027-03-14T21:00:00-04:00", show(u.Doses[0].FinishBy))
	assert.False(t, u.Doses[0].Over)
	loose := drug
	loose.Facts = nil
	for _, f := range drug.Facts {
		f.Gates = false
		loose.Facts = append(loose.Facts, f)
	}
	r.Make = &plan.Making{Drug: loose, DrugKnown: true, Storage: "refrigerated"}
	q := plan.Draft(o, lasts("12", "h"), order.Case{}, r, zone(t, "America/New_York"), instant(t, "2027-03-13T10:00:00-05:00"))
	assert.True(t, q.Deliveries[0].Use.Doses[0].FinishBy.IsZero(), "a fact that never gates sets no instant")
	assert.True(t, u.NoData, "how long it keeps while it runs is not in the table, and that is said")
	assert.True(t, u.StartBefore.IsZero())
}

// However the discharge moves, hospital and home doses make up the course and
// no dose is counted twice; the end stays.
func TestHospitalAndHomeMakeUpTheCourse(t *testing.T) {
	rapid.Check(t, func(k *rapid.T) {
		interval := rapid.SampledFrom([]string{"6", "8", "12", "24"}).Draw(k, "interval")
		o := infusion(t, "examplemycin", "2026-10-20T06:00:00-04:00", "2026-11-20T06:00:00-05:00", schedule.Timing{Frequency: 1, Period: every(interval, "h")})
		p := plan.Draft(o, nil, order.Case{}, rules(), zone(t, "America/New_York"), instant(t, "2026-10-20T05:00:00-04:00"))
		doses, n := p.HomeDoses, rapid.IntRange(1, 20).Draw(k, "given")
		c := order.Case{Discharges: []order.Discharge{{At: moment(doses[n-1].Add(time.Duration(rapid.IntRange(0, 5).Draw(k, "later")) * time.Hour)), Inpatient: true}}}
		for _, at := range doses[:n] {
			c.Administrations = append(c.Administrations, order.Administration{Drug: order.Concept{Text: "examplemycin"}, Start: moment(at), Status: "completed", Setting: "inpatient"})
		}
		q := plan.Draft(o, nil, c, rules(), zone(t, "America/New_York"), doses[n-1].Add(time.Minute))
		assert.Equal(t, len(doses), q.HospitalCount+len(q.HomeDoses))
		assert.Equal(t, len(doses), q.CourseCount)
		assert.True(t, q.LastDose.Equal(p.LastDose))
	})
}
