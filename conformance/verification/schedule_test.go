package verification

import (
	"testing"
	"time"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
)

func orderedDoses(n int) func(*world) { return func(w *world) { w.order.Ordered.Doses = n } }

// courseEnds is a course that ends then, with nothing planned for home.
func courseEnds(end string) func(*world) {
	return func(w *world) {
		w.plan.CourseEnd, w.plan.HomeDoses, w.plan.FirstHomeDose = day(end), nil, time.Time{}
	}
}

// made is one lot of 8 units, 2 of them for doses after its beyond-use
// instant: scenario S7.
func made(late ...time.Time) func(*world) {
	return func(w *world) {
		w.kase.Held.Prepared = []order.Batch{{Lot: "L-1", Units: 8, Place: place("batch")}}
		w.plan.Prepared = []plan.Prepared{{Lot: "L-1", Units: 8, BeyondUse: day("2026-12-27T15:00-08:00"), TooLate: late}}
	}
}

func changes(c ...plan.ClockChange) func(*world) { return func(w *world) { w.plan.Changes = c } }

// Scenario S3: 31 Oct 11:00 daylight time and 46 hours is 2 Nov 08:00; the
// wall clock would say 09:00.
var autumn = plan.ClockChange{Of: "infusion-end", From: day("2026-10-31T11:00-04:00"), Elapsed: day("2026-11-02T08:00-05:00"), Wall: day("2026-11-02T09:00-05:00")}

var scheduleFixtures = []fixture{
	{rule: "schedule-zone-unknown", name: "a zone", want: Pass},
	{rule: "schedule-zone-unknown", name: "no zone", want: Found, change: func(w *world) { w.zone = false }},
	// Row e1: 105 doses at home, 21 before in hospital; two spares are policy.
	{rule: "schedule-quantity", name: "105 ordered for 105", want: Pass},
	{rule: "schedule-quantity", name: "two spares", want: Pass, change: orderedDoses(107)},
	{rule: "schedule-quantity", name: "three too many", want: Found, says: "108", change: orderedDoses(108)},
	{rule: "schedule-quantity", name: "one too few", want: Found, says: "104", change: orderedDoses(104)},
	{rule: "schedule-quantity", name: "126 is explained by 21 hospital doses", want: Pass, change: orderedDoses(126)},
	{rule: "schedule-quantity", name: "126 of a controlled drug is never explained", want: Found, change: func(w *world) { orderedDoses(126)(w); w.drug.Kinds = []string{"opioid"} }},
	{rule: "schedule-quantity", name: "one more than the hospital doses explain", want: Found, change: orderedDoses(127)},
	{rule: "schedule-quantity", name: "no quantity ordered", want: NotApplicable, change: orderedDoses(0)},
	{rule: "schedule-quantity", name: "the home doses could not all be counted", want: Indeterminate, missing: HomeDoses, change: func(w *world) { w.plan.Complete = false }},
	{rule: "schedule-quantity", name: "no first home dose", want: Indeterminate, missing: HomeDoses, change: func(w *world) { w.plan.FirstHomeDose = time.Time{} }},
	{rule: "schedule-quantity-explained", name: "105 ordered for 105", want: Pass},
	{rule: "schedule-quantity-explained", name: "126 = 21 + 105", want: Found, says: "126", change: orderedDoses(126)},
	{rule: "schedule-quantity-explained", name: "127 is not 21 + 105", want: Pass, change: orderedDoses(127)},
	{rule: "schedule-quantity-explained", name: "a controlled drug", want: Pass, change: func(w *world) { orderedDoses(126)(w); w.drug.Kinds = []string{"opioid"} }},
	{rule: "schedule-quantity-explained", name: "no hospital doses explain nothing", want: Pass, change: func(w *world) { w.plan.HospitalCount = 0 }},
	{rule: "schedule-quantity-explained", name: "no quantity ordered", want: NotApplicable, change: orderedDoses(0)},
	{rule: "schedule-quantity-explained", name: "the home doses could not all be counted", want: Indeterminate, missing: HomeDoses, change: func(w *world) { w.plan.Complete = false }},
	{rule: "schedule-quantity-absent", name: "a quantity", want: Pass},
	{rule: "schedule-quantity-absent", name: "none", want: Found, change: orderedDoses(0)},
	// An infusion as long as the interval is continuous; longer overlaps.
	{rule: "schedule-infusion-overlaps", name: "30 minutes every 8 hours", want: Pass},
	{rule: "schedule-infusion-overlaps", name: "8 hours every 8 hours is continuous", want: Pass, change: withNumbers("duration", "480", "min")},
	{rule: "schedule-infusion-overlaps", name: "a minute over 8 hours every 8 hours", want: Found, change: withNumbers("duration", "481", "min")},
	{rule: "schedule-infusion-overlaps", name: "a single infusion repeats nothing", want: NotApplicable, change: func(w *world) { delete(w.numbers, "interval") }},
	{rule: "schedule-course-ended", name: "doses left for home", want: Pass},
	{rule: "schedule-course-ended", name: "ended two days ago", want: Found, says: "8 Nov 2026", change: courseEnds("2026-11-08T15:00-05:00")},
	{rule: "schedule-course-ended", name: "ends at this moment", want: Found, change: courseEnds("2026-11-10T19:20Z")},
	{rule: "schedule-course-ended", name: "ends a minute from now and cannot be planned: said elsewhere", want: Pass, change: courseEnds("2026-11-10T19:21Z")},
	{rule: "schedule-course-ended", name: "ends before the first home dose", want: Found, change: func(w *world) {
		courseEnds("2026-11-10T21:00-05:00")(w)
		w.plan.FirstHomeDose = base().plan.FirstHomeDose
	}},
	{rule: "schedule-course-ended", name: "no end: record-end-missing speaks", want: Pass, change: func(w *world) { w.plan.CourseEnd, w.plan.HomeDoses = time.Time{}, nil }},
	{rule: "schedule-as-needed", name: "at fixed times", want: Pass, change: func(w *world) { w.order.Directions = []order.Direction{{Text: "every 8 hours"}} }},
	{rule: "schedule-as-needed", name: "as needed", want: Found, change: func(w *world) {
		w.order.Directions = []order.Direction{{}, {AsNeeded: true, Place: place("dosageInstruction[1]")}}
	}},
	{rule: "schedule-as-needed", name: "every 6 to 8 hours", want: Found, says: "every 6 hours to 8 hours", change: func(w *world) { w.order.Timing.Period, w.order.Timing.PeriodMax = q("6", "h"), q("8", "h") }},
	{rule: "schedule-as-needed", name: "a largest period that is the same", want: Pass, change: func(w *world) { w.order.Timing.PeriodMax = q("8", "h") }},
	{rule: "schedule-as-needed", name: "2 to 3 doses a day", want: Found, says: "2 to 3 doses every 1 day", change: func(w *world) {
		w.order.Timing.Frequency, w.order.Timing.FrequencyMax, w.order.Timing.Period = 2, 3, q("1", "d")
	}},
	// Rows e3, e4, e5, e6.
	{rule: "schedule-start-passed", name: "the first dose lies ahead", want: Pass},
	{rule: "schedule-start-passed", name: "the first dose passed without a record", want: Found, change: func(w *world) { w.plan.StartPassed = true }},
	{rule: "schedule-replacement-start", name: "no replacement", want: Pass},
	{rule: "schedule-replacement-start", name: "a replacement without a start", want: Found, change: func(w *world) { w.plan.Replacement = true }},
	{rule: "schedule-clock-change", name: "no clock change in the course", want: Pass},
	{rule: "schedule-clock-change", name: "an infusion over the change", want: Found, says: "2 Nov 2026 09:00", change: changes(autumn)},
	{rule: "schedule-clock-change", name: "doses that move come after the end of an infusion", want: Found, says: "the infusion would end", change: changes(
		plan.ClockChange{Of: "dose-times", Elapsed: day("2026-11-01T05:00-05:00"), Wall: day("2026-11-01T06:00-05:00")}, autumn)},
	// 30 h every 8 h cannot be; 8 h every 8 h is continuous.
	{rule: "schedule-infusion-overlaps", name: "shorter than the interval", want: Pass},
	{rule: "schedule-infusion-overlaps", name: "as long as the interval", want: Pass, change: func(w *world) { w.numbers["duration"] = settled("8", "h") }},
	{rule: "schedule-infusion-overlaps", name: "longer than the interval", want: Found, says: "30 hours", change: func(w *world) { w.numbers["duration"] = settled("30", "h") }},
	{rule: "schedule-infusion-overlaps", name: "one dose has no next", want: NotApplicable, change: func(w *world) { delete(w.numbers, "interval") }},
	{rule: "schedule-course-ended", name: "doses left for home", want: Pass},
	{rule: "schedule-course-ended", name: "no dose left", want: Found, says: "no dose is left", change: func(w *world) { w.plan.HomeDoses, w.plan.CourseEnd = nil, day("2026-11-08T12:00-05:00") }},
	{rule: "schedule-course-ended", name: "a start that is not known is said elsewhere", want: Pass, change: func(w *world) { w.plan.HomeDoses, w.plan.FirstHomeDose = nil, time.Time{} }},
	{rule: "schedule-as-needed", name: "at set times", want: Pass},
	{rule: "schedule-as-needed", name: "as needed", want: Found, change: func(w *world) {
		w.order.Directions = []order.Direction{{AsNeeded: true, Place: place("dosageInstruction[0]")}}
	}},
	{rule: "schedule-delivery-late", name: "in time", want: Pass},
	{rule: "schedule-delivery-late", name: "too late", want: Found, change: func(w *world) { w.plan.Deliveries[0].Late = true }},
	{rule: "schedule-delivery-late", name: "a proof and what would help", want: Found, says: "the round is on Friday", change: func(w *world) {
		w.plan.Deliveries[0].Late = true
		w.plan.Deliveries[0].Impossible = &plan.Impossible{Says: "the round is on Friday", Remedies: []plan.Remedy{{Says: "a delivery on Thursday"}}}
	}},
	{rule: "schedule-delivery-late", name: "no single change helps", want: Found, says: "two things forbid it", change: func(w *world) {
		w.plan.Deliveries[0].Late = true
		w.plan.Deliveries[0].Impossible = &plan.Impossible{Says: "two things forbid it"}
	}},
	{rule: "schedule-delivery-late", name: "no delivery planned", want: NotApplicable, change: func(w *world) { w.plan.Deliveries = nil }},
	{rule: "schedule-no-delivery-day", name: "on an open day", want: Pass},
	{rule: "schedule-no-delivery-day", name: "pulled earlier", want: Found, change: func(w *world) { w.plan.Deliveries[0].Moved = true }},
	{rule: "schedule-no-delivery-day", name: "late is the other rule's", want: Pass, change: func(w *world) { w.plan.Deliveries[0].Moved, w.plan.Deliveries[0].Late = true, true }},
	{rule: "schedule-no-delivery-day", name: "no delivery planned", want: NotApplicable, change: func(w *world) { w.plan.Deliveries = nil }},
	// Row f1.
	{rule: "stability-dose-after-discard", name: "nothing made", want: NotApplicable},
	{rule: "stability-dose-after-discard", name: "every unit in time", want: Pass, change: made()},
	{rule: "stability-dose-after-discard", name: "two of eight too late", want: Found, says: "2 of 8", change: made(day("2026-12-27T18:00-08:00"), day("2026-12-28T18:00-08:00"))},
	{rule: "stability-dose-after-discard", name: "two of eight too late, and no zone is known", want: Found, change: func(w *world) {
		made(day("2026-12-27T18:00-08:00"), day("2026-12-28T18:00-08:00"))(w)
		w.plan.Zone, w.zone = base().plan.Zone, false
		w.plan.Zone.Location = nil
	}},
}

// The finding stands at the lot whose doses come too late.
func TestAFindingAboutALotStandsAtThatLot(t *testing.T) {
	w := base()
	made(day("2026-12-27T18:00-08:00"))(w)
	w.kase.Held.Prepared = []order.Batch{{Lot: "L-0", Place: place("other batch")}, {Lot: "L-1", Place: place("batch")}, {Lot: "L-2", Place: place("third batch")}}
	o := Run([]Rule{ruleOf(t, "stability-dose-after-discard")}, w.facts(), "release")[0]
	if len(o.Findings) != 1 || o.Findings[0].Place != place("batch") {
		t.Fatalf("%+v", o.Findings)
	}
}

func TestScheduleRules(t *testing.T) { judged(t, scheduleFixtures) }

func TestABookedVisitMovesWithTheEndOfTheInfusion(t *testing.T) {
	w := base()
	changes(autumn)(w)
	at := order.Instant{Time: autumn.Wall, Literal: "2026-11-02T09:00:00-05:00", Place: place("appointment.start")}
	w.kase.Services = append(w.kase.Services, order.Service{Kind: "visit", When: []order.Instant{at}})
	o := Run([]Rule{ruleOf(t, "schedule-clock-change")}, w.facts(), "release")[0]
	if len(o.Findings) != 1 || o.Findings[0].Remedy == "" || len(o.Findings[0].Evidence) != 1 {
		t.Fatalf("%+v", o.Findings)
	}
}
