package plan_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// lasting is a fact of an invented drug: how long it keeps in one storage.
func lasting(id, storage, n, unit, basis string, containers ...string) compendium.Fact {
	f := compendium.Fact{ID: id, Topic: "stability_diluted", Population: "all", Basis: basis, Standing: compendium.Sourced, Source: id + " source", Gates: true,
		Value: compendium.Value{Storage: storage, Duration: &compendium.Band{Value: json.Number(n), Unit: unit}, Containers: containers}}
	if basis != "label" { // data hold for their strength alone
		f.Value.Concentration = &compendium.Band{Value: "20", Unit: "mg/mL"}
	}
	return f
}

// strength adds a settled concentration to the quantities.
func strength(q order.Quantities, n int64) order.Quantities {
	if q == nil {
		q = order.Quantities{}
	}
	if _, ok := q["concentration"]; !ok {
		q["concentration"] = order.Quantity{Value: quantity.Int(n), Low: quantity.Int(n), High: quantity.Int(n), Unit: quantity.MustUnit("mg/mL")}
	}
	return q
}

func making(s plan.Sterility, facts ...compendium.Fact) *plan.Making {
	return &plan.Making{Drug: compendium.Drug{Name: "examplemycin", Facts: facts}, DrugKnown: true, Sterility: s, Storage: "refrigerated"}
}

var sterileOnly = plan.Sterility{Category: "2", Method: "aseptic", Components: "sterile"}

// moment is an instant as a record gives it.
func moment(at time.Time) order.Instant {
	return order.Instant{Time: at, Literal: at.Format(time.RFC3339)}
}

// once is one dose a day of an invented drug, in a device, from a lot made at
// an instant.
func once(t testing.TB, device, start, end, made, storage, record string, units int) (order.Order, order.Case) {
	o := infusion(t, "examplemycin", start, end, schedule.Timing{Frequency: 1, Period: every("24", "h")})
	o.Key, o.Device.Kind = "placer|X", device
	o.Drug.Ingredients = []order.Ingredient{{Concept: order.Concept{Text: "sodium chloride 0.9 % injection"}}}
	b := order.Batch{Units: units, Lot: "X", Completed: when(t, made), BeyondUse: when(t, record), Storage: storage, OrderRef: "placer|X"}
	return o, order.Case{Orders: []order.Order{o}, Held: order.Held{Prepared: []order.Batch{b}}}
}

func drafted(t testing.TB, o order.Order, c order.Case, q order.Quantities, m *plan.Making, zoneName, now string) plan.Plan {
	r := rules()
	r.Make, r.FixedFlow = m, o.Device.Kind == "elastomeric"
	return plan.Draft(o, strength(q, 20), c, r, zone(t, zoneName), instant(t, now))
}

// USP <797> (2023) limits as restated in Wis. Admin. Code Phar 15.37 and, for
// Category 3, in study cards (brainscape.com/flashcards/bud-dates-15354902):
// DBU-01, -03 and -07 of the derived cases. Of a limit in days the earlier of
// so many calendar days and so many times 24 hours counts; hours are elapsed.
func TestCategoryLimitsAsInstants(t *testing.T) {
	for _, c := range []struct {
		id        string
		sterility plan.Sterility
		storage   string
		made      string
		want      string
	}{
		{"DBU-01", plan.Sterility{Category: "1"}, "room", "2026-03-02T10:00:00-05:00", "Mon 2026-03-02T22:00:00-05:00"},
		{"DBU-03", sterileOnly, "refrigerated", "2026-03-02T10:00:00-05:00", "Thu 2026-03-12T10:00:00-04:00"},
		{"DBU-07", plan.Sterility{Category: "3", Method: "aseptic", Tested: true, Components: "sterile"}, "refrigerated", "2026-03-02T10:00:00-05:00", "Sun 2026-05-31T10:00:00-04:00"},
		{"the autumn change: ten times 24 hours is the earlier", sterileOnly, "refrigerated", "2026-10-26T10:00:00-04:00", "Thu 2026-11-05T09:00:00-05:00"},
		{"no change between", sterileOnly, "refrigerated", "2026-06-01T10:00:00-04:00", "Thu 2026-06-11T10:00:00-04:00"},
		{"Category 1 in hours over the spring change", plan.Sterility{Category: "1"}, "room", "2026-03-07T20:00:00-05:00", "Sun 2026-03-08T09:00:00-04:00"},
		{"Category 1 is never frozen", plan.Sterility{Category: "1"}, "frozen", "2026-03-02T10:00:00-05:00", ""},
		{"Category 2 without its components", plan.Sterility{Category: "2", Method: "aseptic"}, "refrigerated", "2026-03-02T10:00:00-05:00", ""},
		{"no category", plan.Sterility{}, "refrigerated", "2026-03-02T10:00:00-05:00", ""},
		{"storage not on record", plan.Sterility{Category: "1"}, "", "2026-03-02T10:00:00-05:00", ""},
	} {
		o, k := once(t, "gravity", "2026-03-02T11:00:00-05:00", "", c.made, c.storage, "", 1)
		m := making(c.sterility, lasting("x", "room", "200", "d", "label"), lasting("y", "refrigerated", "200", "d", "label"), lasting("z", "frozen", "200", "d", "label"))
		p := drafted(t, o, k, nil, m, "America/New_York", "2026-03-02T10:30:00-05:00")
		require.Len(t, p.Prepared, 1, c.id)
		assert.Equal(t, c.want, show(p.Prepared[0].Use.StartBefore), c.id)
		if c.want == "" {
			assert.NotEmpty(t, p.Prepared[0].Use.Missing(), "%s: what has no data is said", c.id)
		}
	}
}

// DBU-05: a chemical stability of 7 days within a limit of 10 gives 7. The
// layers: signed local formula, data for the same container and strength,
// label; nothing lengthens the category.
func TestTheEarliestLimitDatesAUnitAndEveryCandidateIsKept(t *testing.T) {
	const made, now = "2026-06-01T10:00:00-04:00", "2026-06-01T12:00:00-04:00"
	o, k := once(t, "elastomeric", "2026-06-02T08:00:00-04:00", "2026-06-05", made, "refrigerated", "", 4)
	days := func(n int) string {
		return show(instant(t, made).AddDate(0, 0, n).In(zone(t, "America/New_York").Location))
	}
	label, study := lasting("label", "refrigerated", "7", "d", "label"), lasting("study", "refrigerated", "9", "d", "study", "elastomeric")
	for _, c := range []struct {
		says, record string
		m            *plan.Making
		of, want     string
	}{
		{"DBU-05", "", making(sterileOnly, label), plan.OfStability, days(7)},
		{"data before the label", "", making(sterileOnly, label, study), plan.OfStability, days(9)},
		{"data in another container say nothing", "", making(sterileOnly, label, lasting("study", "refrigerated", "9", "d", "study", "bag")), plan.OfStability, days(7)},
		{"the category ends longer data", "", making(sterileOnly, label, lasting("study", "refrigerated", "30", "d", "study", "elastomeric")), plan.OfSterility, days(10)},
		{"the record is shorter", "2026-06-04T09:00:00-04:00", making(sterileOnly, label), plan.OfRecord, "Thu 2026-06-04T09:00:00-04:00"},
		{"the record is longer than what supports it: the earlier", "2026-06-30T09:00:00-04:00", making(sterileOnly, label), plan.OfStability, days(7)},
		{"a record alone", "2026-06-30T09:00:00-04:00", making(plan.Sterility{}), plan.OfRecord, "Tue 2026-06-30T09:00:00-04:00"},
		{"a date alone ends where its day begins", "2026-06-04", making(sterileOnly, label), plan.OfRecord, "Thu 2026-06-04T00:00:00-04:00"},
		{"no category and no record: not dated", "", making(plan.Sterility{}, label), "", ""},
		{"no data and no record: not dated", "", making(sterileOnly), "", ""},
	} {
		k.Held.Prepared[0].BeyondUse = when(t, c.record)
		p := drafted(t, o, k, lasts("30", "min"), c.m, "America/New_York", now)
		u := p.Prepared[0].Use
		assert.Equal(t, c.want, show(u.StartBefore), c.says)
		assert.Equal(t, u.StartBefore, p.Prepared[0].BeyondUse, c.says)
		b, ok := u.Binding()
		assert.Equal(t, []any{c.of != "", c.of}, []any{ok, b.Of}, c.says)
		if ok {
			assert.NotEmpty(t, b.Source, "%s: with its source", c.says)
		}
	}
	// A component that expires first.
	m := making(sterileOnly, label)
	m.Components = []plan.Component{{Name: "vial lot 7", Expires: instant(t, "2026-06-03T00:00:00-04:00")}}
	k.Held.Prepared[0].BeyondUse = order.Instant{}
	p := drafted(t, o, k, nil, m, "America/New_York", now)
	b, _ := p.Prepared[0].Use.Binding()
	assert.Equal(t, []string{plan.OfComponent, "vial lot 7", "Wed 2026-06-03T00:00:00-04:00"}, []string{b.Of, b.Source, show(b.Until)})
	assert.Len(t, p.Prepared[0].TooLate, 3, "2 June is in time, 3 to 5 June are not")
	// The site's own signed formula, of 8 days, before longer data.
	site, err := policy.Load([]byte("stability:\n  - {drug: cefazolin, kind: prepared, container: elastomeric, diluent: NS, storage: refrigerated, concentration: {value: 20 mg/mL}, limit: 8 d, source: site study 4, by: J. Example, on: 2026-05-01}\n"))
	require.NoError(t, err)
	m = making(sterileOnly, lasting("study", "refrigerated", "9", "d", "study", "elastomeric"))
	m.Drug.Name, m.Site = "cefazolin", site
	p = drafted(t, o, k, lasts("30", "min"), m, "America/New_York", now)
	b, _ = p.Prepared[0].Use.Binding()
	assert.Equal(t, []string{compendium.ByFormula, "site study 4", days(8)}, []string{b.Layer, b.Source, show(b.Until)})
	p = drafted(t, o, k, strength(lasts("30", "min"), 21), m, "America/New_York", now)
	assert.True(t, p.Prepared[0].Use.StartBefore.IsZero(), "formula and study are for another strength")
}

// A start exactly at start-before is in time, the next second is not. DDC-03:
// seven daily doses under a limit of 4 days need two batches.
func TestAStartExactlyAtTheLimitIsInTime(t *testing.T) {
	m := making(sterileOnly, lasting("label", "room", "4", "d", "label"))
	for _, c := range []struct {
		made    string
		inTime  int
		remains int
	}{{"2026-06-01T08:00:00-04:00", 5, 2}, {"2026-06-01T07:59:59-04:00", 4, 3}} {
		o, k := once(t, "elastomeric", "2026-06-01T08:00:00-04:00", "2026-06-07", c.made, "room", "", 7)
		p := drafted(t, o, k, nil, m, "America/New_York", "2026-06-01T08:00:00-04:00")
		assert.Len(t, p.HomeDoses, 7)
		assert.Len(t, p.Prepared[0].TooLate, c.remains, c.made)
		// The second batch is made for the first dose that was too late.
		again := k.Held.Prepared[0]
		again.Lot, again.Units, again.Completed = "Y", c.remains, moment(p.Prepared[0].TooLate[0].Add(-time.Hour))
		k.Held.Prepared[0].Units = c.inTime
		k.Held.Prepared = append(k.Held.Prepared, again)
		p = drafted(t, o, k, nil, m, "America/New_York", "2026-06-01T08:00:00-04:00")
		require.Len(t, p.Prepared, 2, "DDC-03")
		assert.False(t, p.Prepared[0].BeyondUse.IsZero() || p.Prepared[1].BeyondUse.IsZero())
		assert.Empty(t, p.Prepared[0].TooLate)
		assert.Empty(t, p.Prepared[1].TooLate)
		assert.Equal(t, 7, len(p.Prepared[0].Doses)+len(p.Prepared[1].Doses))
	}
}

// Worn devices are tested at 31 to 32 degrees Celsius (Eur J Hosp Pharm, doi
// 10.1136/ejhpharm-2021-002729; J Pharm Pract Res 2005). Warm-up and run count
// against the limit in use; what is missing is said.
func TestRunAndWarmUpCountAgainstTheLimitInUse(t *testing.T) {
	const made, now = "2026-06-01T10:00:00-04:00", "2026-06-01T12:00:00-04:00"
	cold := lasting("cold", "refrigerated", "7", "d", "label")
	warmed := func(n string, celsius json.Number) compendium.Fact {
		f := lasting("worn", "worn", n, "h", "study", "elastomeric")
		if celsius != "" {
			f.Value.Temperature = &compendium.Band{Value: celsius, Unit: "Cel"}
		}
		return f
	}
	after := cold
	after.Value.FollowedBy = &compendium.Period{Storage: "worn", Duration: &compendium.Band{Value: "10", Unit: "h"}, Temperature: &compendium.Band{Value: "32", Unit: "Cel"}}
	roomAfter := cold
	roomAfter.Value.FollowedBy = &compendium.Period{Storage: "room", Duration: &compendium.Band{Value: "6", Unit: "h"}}
	coldAfter, total := cold, cold
	coldAfter.Value.FollowedBy = &compendium.Period{Storage: "worn", Duration: &compendium.Band{Value: "10", Unit: "h"}, Temperature: &compendium.Band{Value: "25", Unit: "Cel"}}
	total.Value.FollowedBy = &compendium.Period{Storage: "total", Duration: &compendium.Band{Value: "30", Unit: "h"}}
	for _, c := range []struct {
		says, storage, run string
		facts              []compendium.Fact
		finish             string
		over, noData       bool
	}{
		// Fixed flow, 15 %: 7 h 39 min at nominal may take 9 h; 3 h of warm-up make 12.
		{"exactly 12 h with the slowest flow", "refrigerated", "459", []compendium.Fact{cold, warmed("12", "32")}, "Tue 2026-06-02T17:00:00-04:00", false, false},
		{"a minute more", "refrigerated", "460", []compendium.Fact{cold, warmed("12", "32")}, "Tue 2026-06-02T17:00:00-04:00", true, false},
		{"kept in the room: no warm-up counts", "room", "460", []compendium.Fact{lasting("room", "room", "7", "d", "label"), warmed("12", "32")}, "Tue 2026-06-02T20:00:00-04:00", false, false},
		{"measured at 31 degrees", "refrigerated", "30", []compendium.Fact{cold, warmed("12", "31")}, "Tue 2026-06-02T17:00:00-04:00", false, false},
		{"measured colder than a worn device", "refrigerated", "30", []compendium.Fact{cold, warmed("12", "30.9")}, "", false, true},
		{"a label for the room says nothing of a worn device", "refrigerated", "30", []compendium.Fact{cold, lasting("room", "room", "24", "h", "label")}, "", false, true},
		{"what follows the cold, worn", "refrigerated", "30", []compendium.Fact{after}, "Tue 2026-06-02T15:00:00-04:00", false, false},
		{"the shorter of both", "refrigerated", "30", []compendium.Fact{after, warmed("12", "32")}, "Tue 2026-06-02T15:00:00-04:00", false, false},
		{"a time in the room shortens a worn one", "refrigerated", "30", []compendium.Fact{roomAfter, warmed("12", "32")}, "Tue 2026-06-02T11:00:00-04:00", false, false},
		{"and is none by itself", "refrigerated", "30", []compendium.Fact{roomAfter}, "", false, true},
		{"what follows the cold, worn colder than a device is", "refrigerated", "30", []compendium.Fact{coldAfter}, "", false, true},
		{"a total from the making", "refrigerated", "30", []compendium.Fact{total}, "Tue 2026-06-02T16:00:00-04:00", false, false},
		{"frozen: what is thawed is warm too", "frozen", "30", []compendium.Fact{lasting("frozen", "frozen", "30", "d", "label"), warmed("12", "32")}, "Tue 2026-06-02T17:00:00-04:00", false, false},
	} {
		o, k := once(t, "elastomeric", "2026-06-02T08:00:00-04:00", "2026-06-05", made, c.storage, "2026-06-07T10:00:00-04:00", 3)
		u := drafted(t, o, k, lasts(c.run, "min"), making(sterileOnly, c.facts...), "America/New_York", now).Prepared[0].Use
		require.NotEmpty(t, u.Doses, c.says)
		assert.Equal(t, []any{c.finish, c.over, c.noData}, []any{show(u.Doses[0].FinishBy), u.Doses[0].Over, u.NoData}, c.says)
		if c.noData {
			assert.Contains(t, u.Says[len(u.Says)-1], "no data on how long it keeps while it runs", c.says)
		}
	}
}

// The product stands in its room, runs in its room: the run comes out of the
// same 24 hours, so the last start is one run before their end.
func TestWhatRunsAsItIsKeptEndsWithinOneStability(t *testing.T) {
	o, k := once(t, "gravity", "2026-06-01T12:00:00-04:00", "2026-06-02", "2026-06-01T10:00:00-04:00", "room", "", 2)
	u := drafted(t, o, k, lasts("2", "h"), making(sterileOnly, lasting("label", "room", "24", "h", "label")), "America/New_York", "2026-06-01T10:30:00-04:00").Prepared[0].Use
	b, _ := u.Binding()
	assert.Equal(t, []string{plan.OfRun, "Tue 2026-06-02T08:00:00-04:00"}, []string{b.Of, show(u.StartBefore)})
	assert.Equal(t, "Tue 2026-06-02T10:00:00-04:00", show(u.Doses[0].FinishBy))
	assert.Equal(t, []bool{false, true}, []bool{u.Doses[0].TooLate, u.Doses[1].TooLate}, "12:00 the next day is past it")
}

// Start before and finish by are two instants: a dose begun at the very last
// moment may run on for its whole limit in use.
func TestAnInfusionBegunInTimeMayRunPastStartBefore(t *testing.T) {
	worn := lasting("worn", "worn", "72", "h", "study", "elastomeric")
	o, k := once(t, "elastomeric", "2026-06-08T10:00:00-04:00", "", "2026-06-01T10:00:00-04:00", "room", "", 1)
	o.Timing, o.Course.Single = schedule.Timing{Events: []time.Time{instant(t, "2026-06-08T10:00:00-04:00")}, Count: 1}, true
	p := drafted(t, o, k, lasts("46", "h"), making(plan.Sterility{Category: "2", Method: "aseptic", Components: "sterile", Tested: true}, lasting("room", "room", "7", "d", "label"), worn), "America/New_York", "2026-06-01T12:00:00-04:00")
	require.Len(t, p.Deliveries, 1)
	d := p.Deliveries[0]
	assert.Equal(t, "Mon 2026-06-08T10:00:00-04:00", show(d.StartBefore))
	assert.Equal(t, "Thu 2026-06-11T10:00:00-04:00", show(d.FinishBy))
	assert.False(t, d.Use.Doses[0].TooLate || d.Use.Doses[0].Over)
}

// Units of one delivery that start on different days have no one instant by
// which all of them must have run; each has its own.
func TestSeveralUnitsHaveSeveralInstants(t *testing.T) {
	o, k := once(t, "elastomeric", "2026-06-02T08:00:00-04:00", "2026-06-04", "2026-06-01T10:00:00-04:00", "refrigerated", "2026-06-07T10:00:00-04:00", 3)
	p := drafted(t, o, k, lasts("30", "min"), making(sterileOnly, lasting("worn", "worn", "12", "h", "study", "elastomeric")), "America/New_York", "2026-06-01T12:00:00-04:00")
	d := p.Deliveries[0]
	assert.True(t, d.FinishBy.IsZero())
	require.Len(t, d.Use.Doses, 3)
	assert.Equal(t, "Tue 2026-06-02T17:00:00-04:00", show(d.Use.Doses[0].FinishBy))
	assert.Equal(t, "Thu 2026-06-04T17:00:00-04:00", show(d.Use.Doses[2].FinishBy))
}

// Nothing made: what would hold if it were made a day before it arrives, or
// now where that day has passed; never printed as a fact of the delivery.
func TestUnitsNotYetMadeAreDatedAsIf(t *testing.T) {
	o, k := once(t, "elastomeric", "2026-06-05T18:00:00-04:00", "2026-06-20", "", "", "", 0)
	m := making(sterileOnly, lasting("cold", "refrigerated", "7", "d", "label"))
	m.Ahead = 24 * time.Hour
	p := drafted(t, o, k, lasts("30", "min"), m, "America/New_York", "2026-06-04T16:00:00-04:00")
	require.Len(t, p.Deliveries, 3)
	first, second := p.Deliveries[0], p.Deliveries[1]
	assert.Equal(t, []any{"Fri 2026-06-05T14:00:00-04:00", "Thu 2026-06-04T16:00:00-04:00", true}, []any{show(first.Arrival), show(first.Use.Made), first.Use.Assumed})
	assert.Equal(t, "Thu 2026-06-11T16:00:00-04:00", show(first.Use.StartBefore))
	assert.Equal(t, []int{6, 6, 4}, []int{first.Units, second.Units, p.Deliveries[2].Units}, "the seventh dose, 11 June 18:00, would start two hours too late and comes with the next delivery")
	assert.True(t, first.StartBefore.IsZero() && first.FinishBy.IsZero())
	assert.Equal(t, second.Arrival.Add(-24*time.Hour).Unix(), second.Use.Made.Unix())
}

// Mixed at the bedside: nothing is kept, and the limit in use counts from the
// mixing (immediate use: start within 4 hours, Wis. CR 22-007, Phar 15.34).
func TestADoseMixedAtUseCountsFromItsMixing(t *testing.T) {
	o, k := once(t, "gravity", "2026-06-05T18:00:00-04:00", "2026-06-06", "", "", "", 0)
	o.Directions = []order.Direction{{Text: "Mix just before use and give over 1 hour"}}
	p := drafted(t, o, k, lasts("60", "min"), making(sterileOnly, lasting("room", "room", "6", "h", "label")), "America/New_York", "2026-06-04T16:00:00-04:00")
	u := p.Deliveries[0].Use
	assert.Equal(t, compendium.MixedAtUse, u.Kind)
	assert.True(t, u.StartBefore.IsZero() && u.Made.IsZero())
	assert.Equal(t, "Sat 2026-06-06T00:00:00-04:00", show(u.Doses[0].FinishBy))
	assert.Len(t, u.Missing(), 2, "components not on record, and 4 hours from a mixing that has not begun")
	// A kit made up for mixing is dated by its own record, not by 4 hours from
	// its making.
	o, k = once(t, "gravity", "2026-06-05T18:00:00-04:00", "2026-06-06", "2026-06-01T10:00:00-04:00", "room", "2026-06-20T10:00:00-04:00", 2)
	o.Directions = []order.Direction{{Text: "Mix just before use and give over 1 hour"}}
	m := drafted(t, o, k, lasts("60", "min"), making(sterileOnly, lasting("room", "room", "6", "h", "label")), "America/New_York", "2026-06-04T16:00:00-04:00").Prepared[0]
	assert.Equal(t, "Sat 2026-06-20T10:00:00-04:00", show(m.Use.StartBefore))
	assert.Equal(t, "Sat 2026-06-06T00:00:00-04:00", show(m.Use.Doses[0].FinishBy))
	o.Directions[0].Text = "Do not mix at home"
	p = drafted(t, o, k, nil, making(sterileOnly), "America/New_York", "2026-06-04T16:00:00-04:00")
	assert.Equal(t, compendium.Prepared, p.Deliveries[0].Use.Kind, "what is forbidden is not done")
}

// A push from a syringe rests on data for syringes: the label of a bag says
// nothing of it.
func TestAPushRestsOnDataForSyringes(t *testing.T) {
	o, k := once(t, "", "2026-06-05T18:00:00-04:00", "2026-06-06", "2026-06-05T10:00:00-04:00", "refrigerated", "", 1)
	o.Directions = []order.Direction{{Text: "by IV push over 3 minutes"}}
	bag, syringe := lasting("bag", "refrigerated", "7", "d", "label"), lasting("syringe", "refrigerated", "2", "d", "label", "syringe")
	syringe.Topic = "stability_syringe"
	u := drafted(t, o, k, nil, making(sterileOnly, bag), "America/New_York", "2026-06-05T11:00:00-04:00").Prepared[0].Use
	assert.Equal(t, compendium.SyringePush, u.Kind)
	assert.True(t, u.StartBefore.IsZero())
	u = drafted(t, o, k, nil, making(sterileOnly, bag, syringe), "America/New_York", "2026-06-05T11:00:00-04:00").Prepared[0].Use
	assert.Equal(t, "Sun 2026-06-07T10:00:00-04:00", show(u.StartBefore))
}

// However the numbers fall, no unit is started after any limit, nothing runs
// past its limit unseen, and what has no data stands last.
func TestNoStartIsAfterAnyLimit(t *testing.T) {
	storages := []string{"room", "refrigerated", "frozen", ""}
	devices := []string{"elastomeric", "gravity", "electronic-pump", "syringe-pump", ""}
	rapid.Check(t, func(r *rapid.T) {
		var facts []compendium.Fact
		for _, s := range []string{"room", "refrigerated", "worn"} {
			for _, basis := range []string{"label", "study"} {
				if rapid.Bool().Draw(r, s+basis) {
					unit := rapid.SampledFrom([]string{"h", "d"}).Draw(r, "unit")
					facts = append(facts, lasting(s+basis, s, json.Number(rapid.StringMatching(`[1-9][0-9]?`).Draw(r, "n")).String(), unit, basis, "elastomeric", "bag", "syringe"))
				}
			}
		}
		m := making(plan.Sterility{Category: rapid.SampledFrom([]string{"", "1", "2"}).Draw(r, "category"), Method: "aseptic", Components: "sterile"}, facts...)
		made := instant(t, "2026-10-28T10:00:00-04:00").Add(time.Duration(rapid.IntRange(0, 6*24*60).Draw(r, "minutes")) * time.Minute)
		o, k := once(t, rapid.SampledFrom(devices).Draw(r, "device"), made.Add(time.Hour).Format(time.RFC3339), "2026-11-12", made.Format(time.RFC3339), rapid.SampledFrom(storages).Draw(r, "storage"), "", 9)
		if rapid.Bool().Draw(r, "record") {
			k.Held.Prepared[0].BeyondUse = moment(made.Add(time.Duration(rapid.IntRange(1, 400).Draw(r, "record hours")) * time.Hour))
		}
		p := drafted(t, o, k, lasts(rapid.StringMatching(`[1-9][0-9]{0,3}`).Draw(r, "run"), "min"), m, "America/New_York", made.Format(time.RFC3339))
		u := p.Prepared[0].Use
		seen := false
		for _, l := range u.Starts {
			if l.Until.IsZero() {
				seen = true
				assert.NotEmpty(t, l.Says, "what has no data is said")
				continue
			}
			assert.False(t, seen, "limits without data stand last")
			if !u.StartBefore.IsZero() {
				assert.False(t, u.StartBefore.After(l.Until), "%s", l.Of)
			}
			assert.NotEmpty(t, l.Source)
		}
		for _, d := range u.Doses {
			for _, l := range d.Ends {
				if !l.Until.IsZero() {
					assert.False(t, d.FinishBy.IsZero() || d.FinishBy.After(l.Until))
				}
			}
			assert.Equal(t, !d.FinishBy.IsZero() && d.RunsUntil.After(d.FinishBy), d.Over)
			assert.Equal(t, !u.StartBefore.IsZero() && d.Start.After(u.StartBefore), d.TooLate)
			assert.True(t, !d.FinishBy.IsZero() || u.NoData, "no instant and no word")
		}
	})
}

// Units are kept as their own record says: container, fluid and strength of
// what was made, not of what was ordered. A fluid of no code is none we know.
func TestUnitsAreKeptAsTheirRecordSays(t *testing.T) {
	yes, no := true, false
	of := func(name string, active *bool, s *order.Strength) order.Ingredient {
		return order.Ingredient{Concept: order.Concept{Text: name}, Active: active, Strength: s}
	}
	forty := &order.Strength{Numerator: every("2", "g"), Denominator: every("50", "mL")}
	bag := lasting("bag", "refrigerated", "9", "d", "study", "bag")
	elastomeric := lasting("elastomeric", "refrigerated", "8", "d", "study", "elastomeric")
	double := lasting("double", "refrigerated", "6", "d", "study", "elastomeric")
	double.Value.Concentration = &compendium.Band{Value: "40", Unit: "mg/mL"}
	dextrose := lasting("dextrose", "refrigerated", "5", "d", "study", "elastomeric")
	dextrose.Value.Diluent = []string{"D5W"}
	elastomeric.Value.Diluent, bag.Value.Diluent = []string{"NS"}, []string{"NS"}
	for _, c := range []struct {
		says string
		made order.Drug
		want string // fact, "" not dated
	}{
		{"nothing sent: as ordered", order.Drug{}, "elastomeric source"},
		{"made in a bag", order.Drug{Concept: order.Concept{Text: "examplemycin 2 g in a bag"}}, "bag source"},
		{"made twice as strong", order.Drug{Ingredients: []order.Ingredient{of("examplemycin", &yes, forty), of("sodium chloride 0.9 %", &no, nil)}}, "double source"},
		{"made in dextrose", order.Drug{Ingredients: []order.Ingredient{of("examplemycin", &yes, nil), of("dextrose 5 % in water", &no, nil)}}, "dextrose source"},
		{"made in a fluid of no code", order.Drug{Ingredients: []order.Ingredient{of("examplemycin", &yes, nil), of("buffered fluid", &no, nil)}}, ""},
		{"made in saline with something else", order.Drug{Ingredients: []order.Ingredient{of("examplemycin", &yes, nil), of("sodium chloride 0.9 %", &no, nil), of("citrate buffer", &no, nil)}}, ""},
	} {
		o, k := once(t, "elastomeric", "2026-06-02T08:00:00-04:00", "2026-06-05", "2026-06-01T10:00:00-04:00", "refrigerated", "", 3)
		k.Held.Prepared[0].Drug = c.made
		u := drafted(t, o, k, nil, making(sterileOnly, bag, elastomeric, double, dextrose), "America/New_York", "2026-06-01T12:00:00-04:00").Prepared[0].Use
		b, _ := u.Binding()
		assert.Equal(t, c.want, b.Source, c.says)
	}
}

// Six weeks every 8 hours, nothing made, with the limits of every delivery.
func BenchmarkDraftWithLimits(b *testing.B) {
	o, c := cefazolin(b)
	o.Device.Kind = "elastomeric"
	drug, why := compendium.Embedded().Find(compendium.Asked{Item: compendium.Item{Names: []string{"cefazolin"}}})
	require.Empty(b, why)
	r, q, ny, now := rules(), strength(lasts("30", "min"), 20), zone(b, "America/New_York"), instant(b, "2026-11-10T14:20:00-05:00")
	r.Make = &plan.Making{Drug: drug, DrugKnown: true, Site: policy.Default(), Sterility: sterileOnly, Storage: "refrigerated", Ahead: 24 * time.Hour}
	b.ReportAllocs()
	for b.Loop() {
		plan.Draft(o, q, c, r, ny, now)
	}
}
