package fulfillment_test

import (
	"regexp"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/plan"
)

func coded(tasks []fulfillment.Task, code string) []fulfillment.Task {
	return slices.DeleteFunc(slices.Clone(tasks), func(x fulfillment.Task) bool { return x.Code != code })
}

// dues asserts the due times of every task of a code, in order.
func dues(t *testing.T, tasks []fulfillment.Task, code string, want ...string) {
	t.Helper()
	found := coded(tasks, code)
	require.Len(t, found, len(want), code)
	for i, w := range want {
		assert.True(t, at(t, w).Equal(found[i].Due), "%s is due %s, not %s", code, found[i].Due, w)
	}
}

// S1 by hand: T0 10 November 22:00, arrival 18:00 (warm-up 3 h and 1 h),
// discharge 15:00, clock 14:20, course to 15 December 15:00.
func TestTheTasksOfTheAdultAntibioticAreDueAsWorkedByHand(t *testing.T) {
	tasks := fulfillment.Tasks(elastomericAntibiotic(t))
	dues(t, tasks, "teach-bedside", "2026-11-10T15:00:00-05:00") // T0 − 24 h is past; before the patient leaves
	dues(t, tasks, "dispatch", "2026-11-10T16:00:00-05:00")      // T0 − 6 h and arrival − 2 h are the same
	dues(t, tasks, "deliver", "2026-11-10T18:00:00-05:00", "2026-11-17T18:00:00-05:00", "2026-11-24T18:00:00-05:00", "2026-12-01T18:00:00-05:00", "2026-12-08T18:00:00-05:00")
	dues(t, tasks, "first-visit", "2026-11-10T21:00:00-05:00")    // T0 − 1 h
	dues(t, tasks, "start-infusion", "2026-11-10T22:00:00-05:00") // T0
	dues(t, tasks, "teach-back", "2026-11-10T23:00:00-05:00")     // T0 + 1 h
	dues(t, tasks, "late-start", "2026-11-11T00:00:00-05:00")     // T0 + 2 h
	dues(t, tasks, "first-day-call", "2026-11-11T20:00:00-05:00") // T0 + 24 h is 22:00: the end of staffed hours
	dues(t, tasks, "weekly-visit", "2026-11-17T20:00:00-05:00", "2026-11-24T20:00:00-05:00", "2026-12-01T20:00:00-05:00", "2026-12-08T20:00:00-05:00")
	dues(t, tasks, "refill-call", "2026-11-14T18:00:00-05:00", "2026-11-21T18:00:00-05:00", "2026-11-28T18:00:00-05:00", "2026-12-05T18:00:00-05:00")
	dues(t, tasks, "laboratory-draw", "2026-11-16T12:00:00-05:00", "2026-11-23T12:00:00-05:00", "2026-11-30T12:00:00-05:00", "2026-12-07T12:00:00-05:00", "2026-12-14T12:00:00-05:00")
	dues(t, tasks, "result-review", "2026-11-17T12:00:00-05:00", "2026-11-24T12:00:00-05:00", "2026-12-01T12:00:00-05:00", "2026-12-08T12:00:00-05:00", "2026-12-15T12:00:00-05:00")
	dues(t, tasks, "extend-or-stop", "2026-12-12T15:00:00-05:00")   // end − 3 d
	dues(t, tasks, "line-plan", "2026-12-16T15:00:00-05:00")        // end + 1 d
	dues(t, tasks, "collect-supplies", "2026-12-22T15:00:00-05:00") // end + 7 d
	for _, code := range []string{"accept-order", "clinical-check", "pack-kit", "prepare"} {
		dues(t, tasks, code, "2026-11-10T14:20:00-05:00") // their usual times are past: now
		assert.Equal(t, "the usual time has passed: due now", coded(tasks, code)[0].Says)
	}
	for _, code := range []string{"disconnect", "halfway-check", "residual-call", "body-fluid-end", "waste-pickup", "second-check"} {
		assert.Empty(t, coded(tasks, code), code)
	}
	assert.Equal(t, "delivery 2 of 5: 21 doses", coded(tasks, "deliver")[1].Says)
	assert.Equal(t, "blood count; basic metabolic panel", coded(tasks, "laboratory-draw")[0].Says)
}

// S3 by hand: 11:00 on 31 October in summer time + 46 h is 08:00 on
// 2 November in winter time; half-way + 23 h is 09:00; household precautions
// end 48 h after disconnection.
func TestTheTasksOfAContinuousInfusionFollowElapsedTime(t *testing.T) {
	tasks := fulfillment.Tasks(hazardousContinuous(t))
	dues(t, tasks, "halfway-check", "2026-11-01T09:00:00-05:00")
	dues(t, tasks, "disconnect", "2026-11-02T08:00:00-05:00")
	dues(t, tasks, "residual-call", "2026-11-02T16:07:00-05:00")
	dues(t, tasks, "body-fluid-end", "2026-11-04T08:00:00-05:00")
	dues(t, tasks, "waste-pickup", "2026-11-05T08:00:00-05:00")
	assert.Len(t, coded(tasks, "second-check"), 1)
	assert.Empty(t, coded(tasks, "weekly-visit"))
	assert.Empty(t, coded(tasks, "refill-call"), "one delivery, nothing to refill")
}

// 24 hours before the first home dose is moved back into staffed hours.
func TestTeachingIsDueInStaffedHours(t *testing.T) {
	for _, c := range []struct{ says, first, want string }{
		{"22:00 the night before, back to closing time", "2026-11-12T22:00:00-05:00", "2026-11-11T20:00:00-05:00"},
		{"closing time itself is staffed", "2026-11-12T20:00:00-05:00", "2026-11-11T20:00:00-05:00"},
		{"one minute later is not", "2026-11-12T20:01:00-05:00", "2026-11-11T20:00:00-05:00"},
		{"opening time is staffed", "2026-11-12T08:00:00-05:00", "2026-11-11T08:00:00-05:00"},
		{"one minute earlier goes back to the evening before", "2026-11-12T07:59:00-05:00", "2026-11-10T20:00:00-05:00"},
		{"midday stays", "2026-11-12T12:00:00-05:00", "2026-11-11T12:00:00-05:00"},
		{"another offset, the same wall clock", "2026-11-13T01:00:00Z", "2026-11-11T20:00:00-05:00"},
	} {
		s := elastomericAntibiotic(t)
		s.FirstHomeDose, s.Discharge = at(t, c.first), time.Time{}
		dues(t, fulfillment.Tasks(s), "teach-bedside", c.want)
		s.Discharge = at(t, "2026-11-10T18:00:00-05:00")
		got := coded(fulfillment.Tasks(s), "teach-bedside")[0]
		assert.False(t, got.Due.After(s.Discharge), "never after the patient has left: %s", c.says)
	}
	s := elastomericAntibiotic(t)
	s.Location, s.Discharge, s.FirstHomeDose = nil, time.Time{}, at(t, "2026-11-12T22:00:00-05:00")
	dues(t, fulfillment.Tasks(s), "teach-bedside", "2026-11-11T22:00:00-05:00") // no zone known: nothing is moved by guess
}

// A patient who leaves after the first home dose was due (an infusion begun in
// clinic) is taught before it all the same.
func TestTeachingComesBeforeTheFirstHomeDose(t *testing.T) {
	s := hazardousContinuous(t)
	s.Discharge = at(t, "2026-10-31T11:30:00-04:00")
	s.Now = at(t, "2026-10-31T08:00:00-04:00")
	tasks := fulfillment.Tasks(s)
	dues(t, tasks, "teach-bedside", "2026-10-31T10:00:00-04:00")
	assert.Equal(t, "before the first home dose", coded(tasks, "teach-bedside")[0].Says)
	assert.Contains(t, coded(tasks, "start-infusion")[0].After, "teach-bedside")
	assert.Contains(t, coded(tasks, "prepare")[0].After, "second-check")
}

// Container after container: nobody takes an inotrope off the line at the end
// of one bag.
func TestOneContainerAfterTheOtherIsChangedAndNotDisconnected(t *testing.T) {
	one, many := hazardousContinuous(t), hazardousContinuous(t, "successive")
	assert.Len(t, coded(fulfillment.Tasks(one), "disconnect"), 1)
	assert.Empty(t, coded(fulfillment.Tasks(one), "change-container"))
	assert.Empty(t, coded(fulfillment.Tasks(many), "disconnect"))
	dues(t, fulfillment.Tasks(many), "change-container", "2026-11-02T08:00:00-05:00")
	dues(t, fulfillment.Tasks(many), "final-disconnect", "2026-11-02T08:00:00-05:00")
}

// What is done at a fixed time of the infusion is not moved to the day.
func TestOnlyCallsAndVisitsMoveOutOfTheNight(t *testing.T) {
	for _, r := range fulfillment.TaskRows() {
		for _, code := range []string{"start-infusion", "first-visit", "late-start", "halfway-check", "disconnect", "residual-call", "body-fluid-end", "deliver", "laboratory-draw", "teach-back"} {
			assert.False(t, r.Code == code && r.Staffed, code)
		}
	}
}

// Staffed hours are those of the wall clock, also where 24 hours cross a
// clock change: 1 November 2026 has 25 hours in New York.
func TestStaffedHoursHoldAcrossTheClockChange(t *testing.T) {
	s := elastomericAntibiotic(t)
	s.Now, s.Discharge = at(t, "2026-10-30T08:00:00-04:00"), time.Time{}
	s.FirstHomeDose = at(t, "2026-11-01T20:30:00-05:00") // − 24 h is 21:30 in summer time
	dues(t, fulfillment.Tasks(s), "teach-bedside", "2026-10-31T20:00:00-04:00")
}

func TestWhatCannotBeDatedSaysWhy(t *testing.T) {
	s := fulfillment.Situation{Now: at(t, "2026-11-10T14:20:00-05:00"), Flags: []string{"continuous", "hazardous", "line", "second-check"}}
	tasks := fulfillment.Tasks(s)
	require.NotEmpty(t, tasks)
	for _, x := range tasks {
		assert.True(t, x.Due.IsZero(), x.Code)
		assert.Contains(t, x.Says, "due time open: ", x.Code)
		assert.Contains(t, x.Says, "known", x.Code)
	}
	for code, missing := range map[string]string{"teach-bedside": "neither the first home dose nor the discharge", "start-infusion": "the first home dose", "first-visit": "the first home dose", "deliver": "the first delivery",
		"disconnect": "the end of the infusion", "residual-call": "the latest end of the infusion", "body-fluid-end": "the end of the last infusion", "line-plan": "the end of the course"} {
		found := coded(tasks, code)
		require.Len(t, found, 1, code)
		assert.Contains(t, found[0].Says, missing, code)
	}
	s.Flags = nil
	assert.Len(t, coded(fulfillment.Tasks(s), "weekly-visit"), 1, "a task without a time is still a task")
}

func TestNothingIsDueBeforeTheClock(t *testing.T) {
	start := at(t, "2026-11-01T00:00:00-05:00")
	rapid.Check(t, func(r *rapid.T) {
		s := elastomericAntibiotic(t, "continuous", "hazardous", "second-check")
		if rapid.Bool().Draw(r, "continuous") {
			s = hazardousContinuous(t)
		}
		s.Now = start.Add(time.Duration(rapid.IntRange(0, 80*24*60).Draw(r, "minutes")) * time.Minute)
		tasks := fulfillment.Tasks(s)
		for i, x := range tasks {
			if x.Due.IsZero() {
				assert.NotEmpty(r, x.Says, x.Code)
				continue
			}
			assert.False(r, x.Due.Before(s.Now), "%s is due %s at %s", x.Code, x.Due, s.Now)
			if i > 0 {
				assert.False(r, tasks[i-1].Due.IsZero(), "undated ones come last")
				assert.False(r, x.Due.Before(tasks[i-1].Due), "sorted by due time")
			}
		}
	})
}

func TestAPassedDueTimeSaysSoAndKeepsWhatElseThereIsToSay(t *testing.T) {
	s := elastomericAntibiotic(t)
	s.Now = at(t, "2026-11-16T13:00:00-05:00")
	tasks := fulfillment.Tasks(s)
	for code, says := range map[string]string{"deliver": "delivery 1 of 5: 21 doses; the usual time has passed: due now",
		"laboratory-draw": "blood count; basic metabolic panel; the usual time has passed: due now", "first-day-call": "the usual time has passed: due now"} {
		first := coded(tasks, code)[0]
		assert.True(t, s.Now.Equal(first.Due), code)
		assert.Equal(t, says, first.Says)
	}
	again := fulfillment.Tasks(s)
	assert.Equal(t, tasks, again, "the same situation, the same tasks")
}

func TestTheNumbersStandBesideTheTasksThatNeedThem(t *testing.T) {
	tasks := fulfillment.Tasks(elastomericAntibiotic(t))
	for _, code := range []string{"prepare", "first-visit", "start-infusion"} {
		assert.Equal(t, "200 mL per hour", coded(tasks, code)[0].Inputs["rate"], code)
	}
	assert.Empty(t, coded(tasks, "collect-supplies")[0].Inputs)
}

// Tasks that prepare, send or give anything stay drafts while an order is
// on hold; those that decide or teach do not.
func TestWhatPreparesSendsOrGivesIsMarked(t *testing.T) {
	marked := map[string]bool{}
	for _, r := range fulfillment.TaskRows() {
		marked[r.Code] = r.Prepares
	}
	for _, code := range []string{"prepare", "dispatch", "deliver", "start-infusion", "pack-kit", "disconnect"} {
		assert.True(t, marked[code], code)
	}
	for _, code := range []string{"accept-order", "clinical-check", "second-check", "teach-bedside", "first-visit", "refill-call", "result-review", "line-plan"} {
		assert.False(t, marked[code], code)
	}
}

func TestEveryTaskRowIsComplete(t *testing.T) {
	kebab := regexp.MustCompile(`^[a-z]+(-[a-z0-9]+)*$`)
	anchors := []string{"first-dose", "discharge", "visit", "arrival", "refill", "last-dose", "course-end", "ends-at", "ends-latest", "halfway", "draw", "week", "body-fluid", "move", "night"}
	all := map[string]bool{}
	for _, r := range fulfillment.TaskRows() {
		assert.Regexp(t, kebab, r.Code)
		assert.False(t, all[r.Code], "%s stands twice", r.Code)
		all[r.Code] = true
		_, isFinding := finding.Lookup(finding.Code(r.Code))
		if isFinding { // an open task of a finding has its code: the two must not be mixed up
			assert.Equal(t, "second-check", r.Code)
		}
		assert.Contains(t, anchors, r.Anchor, r.Code)
		assert.Contains(t, []string{"pharmacist", "nurse", "supply", "technician", "prescriber", "on-call"}, r.Role, r.Code)
		assert.NotEmpty(t, r.Source, r.Code)
		for _, text := range []string{r.Title, r.Closes} {
			assert.NotEmpty(t, text, r.Code)
			assert.Empty(t, notation.Scan(text), "%s: %s", r.Code, text)
		}
	}
	for _, r := range fulfillment.TaskRows() {
		for _, code := range r.After {
			assert.True(t, all[code], "%s comes after %s, which is no task", r.Code, code)
			assert.NotEqual(t, r.Code, code)
		}
	}
}

// Whatever a revised plan can ask for has a row, and no row of that kind is
// never asked for or stands among the tasks of every order.
func TestEveryMoveHasItsTask(t *testing.T) {
	var rows []string
	for _, r := range fulfillment.TaskRows() {
		if r.Anchor == "move" {
			rows = append(rows, r.Code)
			assert.Empty(t, coded(fulfillment.Tasks(elastomericAntibiotic(t)), r.Code))
			assert.Zero(t, r.Offset, r.Code)
		}
	}
	slices.Sort(rows)
	assert.Equal(t, plan.TaskCodes(), rows)
	due := at(t, "2026-11-10T18:00:00-05:00")
	for _, code := range plan.TaskCodes() {
		x, ok := fulfillment.Asked(code, due, "why")
		require.True(t, ok, code)
		assert.Equal(t, []any{code, due, "why"}, []any{x.Code, x.Due, x.Says})
		assert.NotEmpty(t, x.Closes)
	}
	for _, code := range []string{"", "deliver", "call", "fetch-back-supply"} {
		_, ok := fulfillment.Asked(code, due, "")
		assert.False(t, ok, code)
	}
	// What sends or prepares waits for the hold; what warns somebody does not.
	for code, prepares := range map[string]bool{"remake": true, "deliver-extra": true, "delivery-added": true, "relabel-nurse": true,
		"call-patient": false, "call-prescriber": false, "quarantine-patient": false, "quarantine-driver": false, "fetch-back": false, "delivery-cancelled": false} {
		x, _ := fulfillment.Asked(code, due, "")
		assert.Equal(t, prepares, x.Prepares, code)
	}
}

// What only the night asks for has a row that no order has by itself, is due
// when it is asked for, and waits for no hold: it stops or asks.
func TestTasksOfTheNightAreOnlyAsked(t *testing.T) {
	n := 0
	for _, r := range fulfillment.TaskRows() {
		if r.Anchor != "night" {
			continue
		}
		n++
		assert.Empty(t, coded(fulfillment.Tasks(elastomericAntibiotic(t)), r.Code))
		assert.Zero(t, r.Offset, r.Code)
		x, ok := fulfillment.Asked(r.Code, at(t, "2026-11-10T18:00:00-05:00"), "why")
		require.True(t, ok, r.Code)
		assert.False(t, x.Prepares, r.Code)
		assert.Equal(t, "why", x.Says)
	}
	assert.Equal(t, 14, n)
}

func TestNoTaskWaitsForItself(t *testing.T) {
	after := map[string][]string{}
	for _, r := range fulfillment.TaskRows() {
		after[r.Code] = r.After
	}
	var reach func(code, from string, steps int) bool
	reach = func(code, from string, steps int) bool {
		return steps > 0 && slices.ContainsFunc(after[from], func(next string) bool { return next == code || reach(code, next, steps-1) })
	}
	for code := range after {
		assert.False(t, reach(code, code, len(after)), code)
	}
}

func TestAConditionHoldsOrItsAbsenceDoes(t *testing.T) {
	s := fulfillment.Situation{Flags: []string{"elastomeric"}}
	assert.True(t, s.Is("elastomeric"))
	assert.False(t, s.Is("not-elastomeric"))
	assert.False(t, s.Is("port"))
	assert.True(t, s.Is("not-port"))
	assert.True(t, s.Is("no-heparin-lock"))
	s.Flags = append(s.Flags, "heparin-lock")
	assert.False(t, s.Is("no-heparin-lock"))
	assert.False(t, s.Is("not-"), "no condition at all")
}
