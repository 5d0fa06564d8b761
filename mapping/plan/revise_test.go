package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

// week is a course of 42 doses every 8 hours in two deliveries of 21, the
// first of which is made, delivered and in use: given so many doses.
func week(t testing.TB, given int) (plan.Plan, []plan.Event) {
	doses := runs(t, "2026-11-10T22:00:00-05:00", 0, 8*time.Hour, 42, "America/New_York")
	p := plan.Plan{Zone: zone(t, "America/New_York"), FirstHomeDose: doses[0], HomeDoses: doses, LastDose: doses[41], Complete: true, Interval: 8 * time.Hour,
		Deliveries: []plan.Delivery{load(t, "2026-11-10T18:00:00-05:00", doses, 0, 21), load(t, "2026-11-17T18:00:00-05:00", doses, 21, 42)}}
	p.Basis = plan.Basis{Now: doses[0].Add(time.Duration(given)*8*time.Hour - 7*time.Hour), Order: "o#1", Unit: unit("cefazolin", "2000"), Lead: 4 * time.Hour}
	if given == 0 {
		p.Basis.Now = instant(t, "2026-11-10T18:00:00-05:00")
	}
	events := []plan.Event{
		{Kind: plan.Made, At: instant(t, "2026-11-10T10:00:00-05:00"), Units: 21, Lot: "C1", Unit: p.Basis.Unit, BeyondUse: instant(t, "2026-11-20T10:00:00-05:00")},
		{Kind: plan.Dispatched, At: instant(t, "2026-11-10T15:00:00-05:00"), Units: 21, Lot: "C1", Delivery: p.Deliveries[0].Arrival},
		{Kind: plan.Delivered, At: instant(t, "2026-11-10T17:30:00-05:00"), Units: 21, Lot: "C1", Delivery: p.Deliveries[0].Arrival},
	}
	for _, d := range doses[:given] {
		events = append(events, plan.Event{Kind: plan.Given, At: d.Add(10 * time.Minute), Units: 1, Lot: "C1"})
	}
	return p, events
}

func TestNothingHappenedNothingMoves(t *testing.T) {
	for _, p := range []plan.Plan{{}, func() plan.Plan { p, _ := week(t, 0); return p }(), func() plan.Plan { p, _ := daptomycinPlans(t); return p }(), func() plan.Plan { p, _ := vancomycinPlans(t); return p }()} {
		_, moves := settled(t, p, nil, p)
		assert.Empty(t, lines(moves))
	}
	for _, given := range []int{0, 1, 10, 21} {
		p, events := week(t, given)
		got, moves := settled(t, p, events, p)
		assert.Empty(t, lines(moves), "%d doses given as planned", given)
		assert.Equal(t, p.Deliveries, got.Deliveries)
	}
}

// A patient who gives the doses alone and reports none of them is neither
// short nor given fewer units.
func TestDosesWithoutARecordAreNotCountedOn(t *testing.T) {
	p, events := week(t, 10)
	got, moves := settled(t, p, events[:3], p)
	assert.Empty(t, lines(moves))
	assert.Equal(t, 21, got.Deliveries[1].Units)
}

func TestAMissedDoseIsACallAndMovesNoOther(t *testing.T) {
	p, events := week(t, 10)
	events[12] = plan.Event{Kind: plan.Missed, At: p.HomeDoses[9], Dose: p.HomeDoses[9]}
	got, moves := settled(t, p, events, p)
	assert.Equal(t, p.HomeDoses, got.HomeDoses)
	require.Len(t, moves, 2)
	m := moves[0]
	assert.Equal(t, []any{plan.Call, plan.ToPrescriber, plan.DoseMissed, "Sat 2026-11-14T06:00:00-05:00", p.HomeDoses[9:10]}, []any{m.Kind, m.Whom, m.Reason, show(m.Due), m.Doses}, "before the next dose")
	assert.Equal(t, "the dose of Fri 13 Nov 2026 22:00 EST was missed: ask what the drug's rule asks for; the next doses keep their times and none is doubled", m.Why)
	assert.Equal(t, []plan.Figure{{Name: "units before", N: 21}, {Name: "units now", N: 20}}, moves[1].Figures, "the unit left serves a dose of the next delivery")
	assert.Equal(t, "1 less: at the home already", got.Deliveries[1].Says)

	p.Basis.Spares = 1
	_, moves = settled(t, p, events, p)
	assert.Len(t, moves, 1, "a home that may hold one spare keeps it")
}

func TestADoseGivenTwiceIsACallAndTheNextOneShort(t *testing.T) {
	p, events := week(t, 10)
	events = append(events, plan.Event{ID: "again", Kind: plan.Given, At: p.HomeDoses[9].Add(2 * time.Hour), Dose: p.HomeDoses[9], Units: 1, Lot: "C1"})
	p.Basis.Now = p.HomeDoses[9].Add(3 * time.Hour)
	got, moves := settled(t, p, events, p)
	assert.Equal(t, p.HomeDoses, got.HomeDoses)
	assert.Equal(t, []string{"11-14 06:00 call pharmacist dose-twice", "11-14 06:00 call prescriber dose-twice", "11-17 10:00 deliver-extra supply short-at-home 1", "11-17 10:00 remake technician short-at-home 1"}, lines(moves))
	assert.Equal(t, p.HomeDoses[20:21], moves[3].Doses, "ten units for eleven doses: the last before the delivery has none")
}

func TestALostDeliveryIsMadeAgainForItsDoses(t *testing.T) {
	p, events := week(t, 0)
	p.Basis.Now = instant(t, "2026-11-10T17:40:00-05:00")
	events[2] = plan.Event{Kind: plan.Lost, At: instant(t, "2026-11-10T17:30:00-05:00"), Units: 21, Lot: "C1", Delivery: p.Deliveries[0].Arrival}
	got, moves := settled(t, p, events, p)
	require.Equal(t, []string{"11-10 18:00 deliver-extra supply short-at-home 21", "11-10 18:00 remake technician short-at-home 21"}, lines(moves))
	assert.Equal(t, p.HomeDoses[:21], moves[1].Doses)
	assert.Equal(t, []int{21, 21}, []int{got.Basis.Account.Lots[0].Lost, got.Basis.Account.Lots[0].Wasted})
	assert.False(t, moves[0].Late)
	p.Basis.Now = instant(t, "2026-11-10T18:00:01-05:00")
	_, moves = settled(t, p, events, p)
	assert.True(t, moves[0].Late, "four hours before 22:00 have passed")
}

// Two units missing from the parcel of 21: the last two doses of the week.
func TestAShortParcelIsSeenBeforeItHurts(t *testing.T) {
	p, events := week(t, 0)
	p.Basis.Now = instant(t, "2026-11-10T20:00:00-05:00")
	events[2].Units = 19
	_, moves := settled(t, p, events, p)
	assert.Equal(t, []string{"11-10 20:00 call supply not-recorded 2"}, lines(moves), "two should have come at 18:00")
	p.Basis.Now = instant(t, "2026-11-10T18:00:00-05:00")
	_, moves = settled(t, p, events, p)
	assert.Empty(t, lines(moves), "and could still come until then")
	p.Basis.Now = instant(t, "2026-11-10T20:00:00-05:00")
	events = append(events, plan.Event{Kind: plan.Lost, At: events[2].At, Units: 2, Lot: "C1", From: plan.OnTheWay})
	_, moves = settled(t, p, events, p)
	assert.Equal(t, []string{"11-17 02:00 deliver-extra supply short-at-home 2", "11-17 02:00 remake technician short-at-home 2"}, lines(moves))
}

func TestAStopIsACallAndFetchesEverythingBack(t *testing.T) {
	p, events := week(t, 10)
	events = append(events, plan.Event{Kind: plan.Made, At: instant(t, "2026-11-13T20:00:00-05:00"), Units: 21, Lot: "C2", Unit: p.Basis.Unit, BeyondUse: instant(t, "2026-11-23T20:00:00-05:00")})
	next := p
	next.Basis.Order, next.Basis.Stopped = "o#2", true
	_, moves := settled(t, p, events, next)
	assert.Equal(t, []string{
		"11-14 06:00 call patient stopped 11", "11-14 06:00 call prescriber stopped", "11-14 06:00 quarantine patient stopped 11", "11-14 06:00 doses-moved pharmacist plan-moved",
		"11-17 18:00 quarantine pharmacist stopped 21", "11-17 18:00 fetch-back supply stopped 11", "11-17 18:00 delivery-cancelled driver plan-moved 21",
	}, lines(moves))
	assert.Empty(t, only(moves, plan.Waste), "nothing is thrown away before the stop is confirmed")
}

func TestAChangedOrderWithoutAnyRecordAsksWhatIsAtHome(t *testing.T) {
	p, _ := week(t, 10)
	next := p
	next.Basis.Order, next.Basis.Unit = "o#2", unit("cefazolin", "1000")
	_, moves := settled(t, p, nil, next)
	require.Len(t, moves, 1)
	assert.Equal(t, []any{plan.ToPatient, plan.NotRecorded}, []any{moves[0].Whom, moves[0].Reason})
}

// The rate changes and the dose does not: what is in the pharmacy gets a new
// label; what has left it is made again, unless the site relabels at home.
// A reservoir whose restrictor sets the rate is made again wherever it is.
func TestAChangedRateRelabelsOrRemakes(t *testing.T) {
	p, events := week(t, 10)
	events = append(events, plan.Event{Kind: plan.Made, At: instant(t, "2026-11-13T20:00:00-05:00"), Units: 21, Lot: "C2", Unit: p.Basis.Unit, BeyondUse: instant(t, "2026-11-24T20:00:00-05:00")})
	next := p
	next.Basis.Order = "o#2"
	next.Basis.Unit.Label = "cefazolin 2000, 100 mL per hour"
	_, moves := settled(t, p, events, next)
	require.Len(t, only(moves, plan.NewLabel), 1)
	assert.Equal(t, []any{21, "C2", plan.InPharmacy, plan.ToPharmacist, "Tue 2026-11-17T18:00:00-05:00"}, func() []any {
		m := only(moves, plan.NewLabel)[0]
		return []any{m.Units, m.Lot, m.Place, m.Whom, show(m.Due)}
	}())
	assert.Equal(t, []string{"11-14 06:00 fetch-back supply old-label 11"}, lines(only(moves, plan.FetchBack)))
	assert.Equal(t, []string{"11-14 02:00 deliver-extra supply short-at-home 11"}, lines(only(moves, plan.DeliverExtra)))

	next.Basis.RelabelAtHome = true
	_, moves = settled(t, p, events, next)
	assert.Equal(t, []string{"11-14 06:00 relabel nurse old-label 11", "11-17 18:00 relabel pharmacist old-label 21"}, lines(moves))

	reservoir := func(rate string) plan.UnitKey {
		k := p.Basis.Unit
		k.Device, k.Restrictor = "elastomeric", quantity.Point(quantity.MustNumber(rate), quantity.MustUnit("mL/h"))
		return k
	}
	p.Basis.Unit = reservoir("200")
	events[0].Unit, events[len(events)-1].Unit = reservoir("200"), reservoir("200")
	next.Basis.Unit = reservoir("100")
	_, moves = settled(t, p, events, next)
	assert.Empty(t, only(moves, plan.NewLabel))
	wasted := 0
	for _, m := range only(moves, plan.Waste) {
		assert.Equal(t, plan.WrongRestrictor, m.Reason)
		wasted += m.Units
	}
	assert.Equal(t, 32, wasted)
}

func TestWhatCameBackServesNobodyUnlessPolicySays(t *testing.T) {
	p, events := week(t, 10)
	p.Basis.Now = instant(t, "2026-11-14T01:00:00-05:00")
	events = append(events, plan.Event{Kind: plan.Returned, At: instant(t, "2026-11-14T00:30:00-05:00"), Units: 2, Lot: "C1"})
	_, moves := settled(t, p, events, p)
	assert.Equal(t, 2, only(moves, plan.MakeAgain)[0].Units)
	require.Len(t, only(moves, plan.Waste), 1)
	assert.Equal(t, plan.LeftPharmacy, only(moves, plan.Waste)[0].Reason)
	p.Basis.Restock = true
	_, moves = settled(t, p, events, p)
	assert.Empty(t, only(moves, plan.Waste))
	assert.Empty(t, only(moves, plan.MakeAgain))
	assert.Equal(t, 2, only(moves, plan.DeliverExtra)[0].Units, "they still must go out again")
}

func TestUnitsOfUnknownContentsOrAgeAreAskedAbout(t *testing.T) {
	p, events := week(t, 10)
	for _, c := range []struct {
		change func(*plan.Event)
		reason plan.MoveReason
	}{
		{func(e *plan.Event) { e.BeyondUse = time.Time{} }, plan.UnknownUse},
		{func(e *plan.Event) { e.Unit.Label = "" }, plan.UnknownUnit},
		{func(e *plan.Event) { e.Unit = plan.UnitKey{} }, plan.UnknownUnit},
	} {
		list := append([]plan.Event(nil), events...)
		c.change(&list[0])
		_, moves := settled(t, p, list, p)
		require.Equal(t, []string{"11-14 06:00 call pharmacist " + string(c.reason), "11-14 06:00 call pharmacist " + string(c.reason) + " 11"}, lines(moves), "about the ten given and the eleven left")
	}
}

func TestUnitKeyIsTheWholeIdentity(t *testing.T) {
	base := unit("vancomycin", "1250")
	for _, c := range []struct {
		says   string
		change func(*plan.UnitKey)
		want   plan.Change
		reason plan.MoveReason
	}{
		{"equal", func(*plan.UnitKey) {}, plan.Same, ""},
		{"1.25 g is 1,250 mg", func(k *plan.UnitKey) { k.Strength = every("1.25", "g") }, plan.Same, ""},
		{"1,251 mg is not", func(k *plan.UnitKey) { k.Strength = every("1251", "mg") }, plan.Remake, plan.WrongStrength},
		{"a number in another dimension is not", func(k *plan.UnitKey) { k.Strength = every("1.25", "L") }, plan.Remake, plan.WrongStrength},
		{"volume", func(k *plan.UnitKey) { k.Volume = every("251", "mL") }, plan.Remake, plan.WrongVolume},
		{"drug", func(k *plan.UnitKey) { k.Drug = "cefazolin" }, plan.Remake, plan.WrongDrug},
		{"diluent", func(k *plan.UnitKey) { k.Diluent = "dextrose" }, plan.Remake, plan.WrongDiluent},
		{"device", func(k *plan.UnitKey) { k.Device = "syringe" }, plan.Remake, plan.WrongDevice},
		{"a restrictor where there was none", func(k *plan.UnitKey) { k.Restrictor = every("120", "mL/h") }, plan.Remake, plan.WrongRestrictor},
		{"label only", func(k *plan.UnitKey) { k.Label = "new" }, plan.Relabel, plan.OldLabel},
		{"label and contents", func(k *plan.UnitKey) { k.Label, k.Device = "new", "syringe" }, plan.Remake, plan.WrongDevice},
		{"unknown diluent", func(k *plan.UnitKey) { k.Diluent = "" }, plan.Unread, plan.UnknownUnit},
		{"unknown diluent, other strength", func(k *plan.UnitKey) { k.Diluent, k.Strength = "", every("1", "g") }, plan.Remake, plan.WrongStrength},
		{"other label, unknown volume", func(k *plan.UnitKey) { k.Label, k.Volume = "new", quantity.Quantity{} }, plan.Unread, plan.UnknownUnit},
	} {
		k := base
		c.change(&k)
		change, reason := k.Compare(base)
		assert.Equal(t, []any{c.want, c.reason}, []any{change, reason}, c.says)
		change, reason = base.Compare(k)
		assert.Equal(t, []any{c.want, c.reason}, []any{change, reason}, "the other way: %s", c.says)
	}
	assert.Equal(t, []string{"drug", "strength", "volume", "diluent", "device", "label"}, plan.UnitKey{}.Missing())
	change, _ := plan.UnitKey{}.Compare(plan.UnitKey{})
	assert.Equal(t, plan.Unread, change, "two unknowns are not equal")
}

// A plan changed twice: what the first change moved is told once, and again
// only where the second one moves it elsewhere.
func TestASecondSlipTellsOnlyWhatIsNew(t *testing.T) {
	old, next := daptomycinPlans(t)
	batch := batchOfEight(t, old.Basis.Unit)
	first, _ := settled(t, old, batch, next)
	later := next
	later.Discharge = instant(t, "2026-12-21T19:30:00-08:00")
	later.HomeDoses, later.FirstHomeDose = next.HomeDoses[1:], next.HomeDoses[1]
	later.Deliveries = append([]plan.Delivery{load(t, "2026-12-22T13:00:00-08:00", later.HomeDoses, 0, 5)}, next.Deliveries[1:]...)
	later.Basis.Now = instant(t, "2026-12-19T09:00:00-08:00")
	later.Basis.Bookings = later.Rebook(first.Basis.Bookings)
	second, moves := settled(t, first, batch, later)
	visit := only(moves, plan.BookingMoved)
	assert.Equal(t, []string{"Mon 2026-12-21T17:00:00-08:00", "Tue 2026-12-22T17:00:00-08:00"}, []string{show(visit[1].From), show(visit[1].To)})
	for _, m := range second.Basis.Told {
		assert.NotEqual(t, "Sat 2026-12-19T17:00:00-08:00", show(m.From), "the first move of the visit no longer stands")
	}
	n := 0
	for _, m := range only(second.Basis.Told, plan.MakeAgain) {
		n += m.Units
	}
	assert.Equal(t, 3, n, "five serve 22 to 26 December; the older move about two is withdrawn")
	assert.Equal(t, 3, only(moves, plan.Waste)[0].Units)
}

// Two deliveries of 21, 40 doses given and one missed: two units for the one
// dose left, so one is fetched back at the end of the course.
func TestAUnitWithoutADoseIsFetchedBackAtTheEnd(t *testing.T) {
	p, events := week(t, 40)
	second := p.Deliveries[1]
	for i := range events[3:] {
		if i >= 21 {
			events[3+i].Lot = "C2"
		}
	}
	events = append(events,
		plan.Event{Kind: plan.Made, At: second.Arrival.Add(-8 * time.Hour), Units: 21, Lot: "C2", Unit: p.Basis.Unit, BeyondUse: second.Arrival.Add(9 * 24 * time.Hour)},
		plan.Event{Kind: plan.Dispatched, At: second.Arrival.Add(-3 * time.Hour), Units: 21, Lot: "C2", Delivery: second.Arrival},
		plan.Event{Kind: plan.Delivered, At: second.Arrival, Units: 21, Lot: "C2", Delivery: second.Arrival},
		plan.Event{Kind: plan.Missed, At: p.HomeDoses[40].Add(time.Hour), Dose: p.HomeDoses[40]})
	p.Basis.Now = p.HomeDoses[40].Add(2 * time.Hour)
	_, moves := settled(t, p, events, p)
	assert.Equal(t, []string{"11-24 14:00 call prescriber dose-missed", "11-24 14:00 fetch-back supply surplus-at-home 1"}, lines(moves))
	p.Basis.Spares = 1
	_, moves = settled(t, p, events, p)
	assert.Len(t, moves, 1)
}

func TestBookingsThatFallAwayOrAreNew(t *testing.T) {
	old, next := daptomycinPlans(t)
	next = old
	next.Basis.Bookings = []plan.Booking{old.Basis.Bookings[0], old.Basis.Bookings[1], {ID: "A4", What: "visit", At: instant(t, "2026-12-26T10:00:00-08:00")}}
	_, moves := settled(t, old, nil, next)
	booked := only(moves, plan.BookingMoved)
	require.Len(t, booked, 2)
	assert.Equal(t, "the blood draw booked for Mon 21 Dec 2026 09:00 PST falls away", booked[0].Why)
	assert.Equal(t, "a visit is to be booked for Sat 26 Dec 2026 10:00 PST", booked[1].Why)
	next.Basis.Bookings = nil
	p, moves := settled(t, old, nil, next)
	assert.Empty(t, lines(moves), "a plan that does not plan bookings keeps those of the old one")
	assert.Equal(t, old.Basis.Bookings, p.Basis.Bookings)
}

// The order changes after a delivery was due that nobody recorded: whether it
// came is asked, not guessed.
func TestADeliveryWithoutARecordIsAskedAbout(t *testing.T) {
	old, next := vancomycinPlans(t)
	_, moves := settled(t, old, nil, next)
	assert.Equal(t, []string{
		"02-16 16:10 call supply not-recorded 14", "02-16 21:00 call patient not-recorded", "02-16 21:00 call prescriber start-missing", "02-16 21:00 doses-moved pharmacist plan-moved",
		"02-17 17:00 delivery-cancelled driver plan-moved 14", "02-24 17:00 delivery-cancelled driver plan-moved 14", "03-03 17:00 delivery-cancelled driver plan-moved 13",
	}, lines(moves))
	assert.Equal(t, "delivery 1 of 14 units was due Wed 10 Feb 2027 17:00 CST and nothing on record tells whether it arrived", moves[0].Why)
}

// Units past their beyond-use time are set apart before that instant, when it
// comes before the next delivery or dose.
func TestWhatExpiresFirstIsSetApartFirst(t *testing.T) {
	old, next := daptomycinPlans(t)
	batch := batchOfEight(t, old.Basis.Unit)
	batch[0].BeyondUse = instant(t, "2026-12-20T15:00:00-08:00")
	_, moves := settled(t, old, batch, next)
	assert.Equal(t, []string{"12-20 15:00 waste pharmacist beyond-use 8"}, lines(only(moves, plan.Waste)))
	assert.Len(t, only(moves, plan.MakeAgain), 2, "six for the first delivery, two for the second")

	p, events := week(t, 10)
	events[0].BeyondUse = instant(t, "2026-11-14T05:59:00-05:00")
	_, moves = settled(t, p, events, p)
	assert.Equal(t, []string{"11-14 05:59 quarantine patient beyond-use 11"}, lines(only(moves, plan.Quarantine)))
}

// A truck with units of the old order is called even when the new plan has a
// delivery at the same hour.
func TestATruckWithTheOldDoseIsCalled(t *testing.T) {
	p, events := week(t, 18)
	second := p.Deliveries[1]
	p.Basis.Now = instant(t, "2026-11-17T16:00:00-05:00")
	events = append(events, plan.Event{Kind: plan.Made, At: instant(t, "2026-11-17T10:00:00-05:00"), Units: 21, Lot: "C2", Unit: p.Basis.Unit, BeyondUse: instant(t, "2026-11-27T10:00:00-05:00")},
		plan.Event{Kind: plan.Dispatched, At: instant(t, "2026-11-17T15:00:00-05:00"), Units: 21, Lot: "C2", Delivery: second.Arrival})
	_, moves := settled(t, p, events, p)
	assert.Empty(t, only(moves, plan.Call))
	next := p
	next.Basis.Order, next.Basis.Unit = "o#2", unit("cefazolin", "1000")
	_, moves = settled(t, p, events, next)
	assert.Equal(t, []string{"11-17 16:00 call driver plan-moved 21"}, lines(only(moves, plan.Call))[:1])
	assert.Contains(t, lines(moves), "11-17 16:00 quarantine driver wrong-strength 21")
}

// Doses that hospital gave while home units stood ready were not taken from
// those units.
func TestHospitalDosesUseNoHomeUnit(t *testing.T) {
	p, events := week(t, 10)
	p.LastGiven = p.HomeDoses[9]
	got, moves := settled(t, p, events[:3], p)
	assert.Equal(t, 13, got.Deliveries[1].Units, "21 at home serve 11 doses before it and, good until 20 November 10:00, eight of its own")
	assert.Equal(t, []string{"11-20 10:00 quarantine patient beyond-use 2", "11-24 14:00 fetch-back supply beyond-use 2"}, lines(append(only(moves, plan.Quarantine), only(moves, plan.FetchBack)...)))
}

// A plan drafted again ten minutes off has the same doses, not twice as many:
// eleven units are still counted on.
func TestADraftAFewMinutesOffCountsNoDoseTwice(t *testing.T) {
	p, events := week(t, 10)
	next := p
	next.HomeDoses = nil
	for _, d := range p.HomeDoses {
		next.HomeDoses = append(next.HomeDoses, d.Add(-10*time.Minute))
	}
	next.FirstHomeDose, next.LastDose = next.HomeDoses[0], next.HomeDoses[41]
	next.Deliveries = []plan.Delivery{load(t, "2026-11-10T18:00:00-05:00", next.HomeDoses, 0, 21), load(t, "2026-11-17T18:00:00-05:00", next.HomeDoses, 21, 42)}
	_, moves := settled(t, p, events[:3], next)
	assert.Empty(t, only(moves, plan.DeliverExtra))
}

// The discharge slips and slips back: the first message no longer stands.
func TestASlipTakenBackWithdrawsWhatWasTold(t *testing.T) {
	old, next := daptomycinPlans(t)
	batch := batchOfEight(t, old.Basis.Unit)
	slipped, _ := plan.Revise(old, batch, next)
	back := old
	back.Basis.Now = instant(t, "2026-12-18T11:30:00-08:00")
	now, moves := settled(t, slipped, batch, back)
	d := only(moves, plan.DosesMoved)[0]
	assert.Equal(t, []string{"Mon 2026-12-21T18:00:00-08:00", "Sat 2026-12-19T18:00:00-08:00"}, []string{show(d.From), show(d.To)})
	assert.Len(t, only(now.Basis.Told, plan.DosesMoved), 1)
	assert.Empty(t, only(now.Basis.Told, plan.Waste), "all eight serve again")
	assert.Contains(t, lines(plan.Withdrawn(slipped, now)), "12-23 13:00 remake technician beyond-use 2")
}
