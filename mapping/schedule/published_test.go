package schedule_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// household are clock times of an invented site.
var household = schedule.Clocks{
	"MORN": {8 * time.Hour}, "HS": {22 * time.Hour}, "WAKE": {7 * time.Hour}, "EVE": {19 * time.Hour},
	"CM": {7*time.Hour + 30*time.Minute}, "CD": {12 * time.Hour}, "CV": {18 * time.Hour},
}

// doses lists a placed series in words of the clock.
func doses(s schedule.Series, span schedule.Span, most int) []string {
	var out []string
	for o := range s.Doses(span) {
		if len(out) == most {
			break
		}
		out = append(out, o.At.Format("Mon 2006-01-02T15:04Z07:00"))
	}
	return out
}

func length(n, unit string) schedule.Bounds {
	return schedule.Bounds{Shortest: every(n, unit), Longest: every(n, unit)}
}

// The table of examples at https://hl7.org/fhir/R4/datatypes.html#Timing,
// each row as printed there (its "hr" is the code h). What follows from a
// row, over the first two days or to its own end, is worked out by hand.
func TestExamplesOfTheTimingPage(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2027-06-07T08:00:00-04:00") // a Monday
	twoDays := schedule.Span{From: start, To: start.Add(48 * time.Hour)}
	for _, c := range []struct {
		row         string
		timing      schedule.Timing
		span        schedule.Span
		least, most int
		first       []string // of a placed row
		refused     string
	}{
		{"Every 8 hours", schedule.Timing{Frequency: 1, Period: every("8", "h")}, twoDays, 6, 6,
			[]string{"Mon 2027-06-07T08:00-04:00", "Mon 2027-06-07T16:00-04:00", "Tue 2027-06-08T00:00-04:00"}, ""},
		{"Every 7 days", schedule.Timing{Frequency: 1, Period: every("7", "d")}, schedule.Span{From: start, To: start.Add(22 * 24 * time.Hour)}, 4, 4,
			[]string{"Mon 2027-06-07T08:00-04:00", "Mon 2027-06-14T08:00-04:00", "Mon 2027-06-21T08:00-04:00"}, ""},
		{"3 times a day", schedule.Timing{Frequency: 3, Period: every("1", "d")}, twoDays, 6, 6,
			[]string{"Mon 2027-06-07T08:00-04:00", "Mon 2027-06-07T16:00-04:00", "Tue 2027-06-08T00:00-04:00"}, ""},
		{"3-4 times a day", schedule.Timing{Frequency: 3, FrequencyMax: 4, Period: every("1", "d")}, twoDays, 6, 8, nil, ""},
		{"Every 4-6 hours", schedule.Timing{Frequency: 1, Period: every("4", "h"), PeriodMax: every("6", "h")}, twoDays, 8, 12, nil, ""},
		{"Every 21 days for 1 hour", schedule.Timing{Duration: every("1", "h"), Frequency: 1, Period: every("21", "d")}, schedule.Span{From: start, To: start.Add(22 * 24 * time.Hour)}, 2, 2,
			[]string{"Mon 2027-06-07T08:00-04:00", "Mon 2027-06-28T08:00-04:00", "Mon 2027-07-19T08:00-04:00"}, ""},
		{"Three times a week for ½ hour", schedule.Timing{Duration: every("0.5", "h"), Frequency: 3, Period: every("1", "wk")}, twoDays, 0, 0, nil, "neither the days nor the times"},
		{"With breakfast", schedule.Timing{When: []string{"CM"}}, twoDays, 2, 2,
			[]string{"Tue 2027-06-08T07:30-04:00", "Wed 2027-06-09T07:30-04:00", "Thu 2027-06-10T07:30-04:00"}, ""},
		{"For 5 minutes, 10 minutes before meals", schedule.Timing{Duration: every("5", "min"), When: []string{"AC"}, Offset: 10 * time.Minute}, twoDays, 6, 6,
			[]string{"Mon 2027-06-07T11:50-04:00", "Mon 2027-06-07T17:50-04:00", "Tue 2027-06-08T07:20-04:00"}, ""},
		{"1 tablet 3 times daily, 30 minutes before meals", schedule.Timing{Frequency: 3, Period: every("1", "d"), When: []string{"AC"}, Offset: 30 * time.Minute}, twoDays, 6, 6,
			[]string{"Mon 2027-06-07T11:30-04:00", "Mon 2027-06-07T17:30-04:00", "Tue 2027-06-08T07:00-04:00"}, ""},
		{"BID, 30 mins before meal, for next 10 days", schedule.Timing{Frequency: 2, Period: every("1", "d"), When: []string{"AC"}, Offset: 30 * time.Minute, Bounds: length("10", "d")}, twoDays, 0, 0, nil,
			"says 2 doses and names 3 times"}, // three meals and two doses: which is left out?
		{"TID, for 14 days", schedule.Timing{Frequency: 3, Period: every("1", "d"), Bounds: length("14", "d")}, schedule.Span{}, 42, 42,
			[]string{"Mon 2027-06-07T08:00-04:00", "Mon 2027-06-07T16:00-04:00", "Tue 2027-06-08T00:00-04:00"}, ""},
		{"BID, start on 7/1/2015 at 1:00 PM", schedule.Timing{Frequency: 2, Period: every("1", "d"), Bounds: schedule.Bounds{Start: instant(t, "2015-07-01T13:00:00-04:00")}}, schedule.Span{To: instant(t, "2015-07-03T13:00:00-04:00")}, 4, 4,
			[]string{"Wed 2015-07-01T13:00-04:00", "Thu 2015-07-02T01:00-04:00", "Thu 2015-07-02T13:00-04:00"}, ""},
		{"Mon, Wed, Fri Morning", schedule.Timing{Frequency: 1, Period: every("1", "d"), DaysOfWeek: []string{"mon", "wed", "fri"}, When: []string{"MORN"}}, schedule.Span{From: start, To: start.Add(7 * 24 * time.Hour)}, 3, 3,
			[]string{"Mon 2027-06-07T08:00-04:00", "Wed 2027-06-09T08:00-04:00", "Fri 2027-06-11T08:00-04:00"}, ""},
		{"Every day at 10am", schedule.Timing{Frequency: 1, Period: every("1", "d"), TimesOfDay: []string{"10:00:00"}}, twoDays, 2, 2,
			[]string{"Mon 2027-06-07T10:00-04:00", "Tue 2027-06-08T10:00-04:00", "Wed 2027-06-09T10:00-04:00"}, ""},
		{"Take once, at any time", schedule.Timing{Count: 1}, schedule.Span{}, 1, 1, []string{"Mon 2027-06-07T08:00-04:00"}, ""},
		{"Take every second day, in the morning, until 20 have been taken", schedule.Timing{Frequency: 1, Period: every("2", "d"), When: []string{"MORN"}, Count: 20}, schedule.Span{}, 20, 20,
			[]string{"Mon 2027-06-07T08:00-04:00", "Wed 2027-06-09T08:00-04:00", "Fri 2027-06-11T08:00-04:00"}, ""},
	} {
		anchor := start
		if !c.timing.Bounds.Start.IsZero() {
			anchor = time.Time{}
		}
		s, err := schedule.Read(c.timing, anchor, ny, household)
		if c.refused != "" {
			assert.ErrorContains(t, err, c.refused, c.row)
			continue
		}
		require.NoError(t, err, c.row)
		assert.Equal(t, c.first != nil, s.Placed(), c.row)
		assert.Equal(t, schedule.Count{Least: c.least, Most: c.most}, s.Count(c.span), c.row)
		assert.Equal(t, c.first, doses(s, schedule.Span{}, 3), c.row)
	}
}

// The table "relationship between the codes and the structured data" at
// https://hl7.org/fhir/R4/datatypes.html#Timing: the code gives the doses of
// the structured timing, and beside it they agree.
func TestCodesMeanWhatTheTimingPageSays(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2026-10-30T08:00:00-04:00") // two days before the clocks go back
	clocks := schedule.Clocks{"MORN": {8 * time.Hour}, "PM": {15 * time.Hour}, "AFT": {15 * time.Hour}}
	for code, structured := range map[string]schedule.Timing{
		"QOD": {Frequency: 1, Period: every("2", "d")},
		"QD":  {Frequency: 1, Period: every("1", "d")},
		"BID": {Frequency: 2, Period: every("1", "d")},
		"TID": {Frequency: 3, Period: every("1", "d")},
		"QID": {Frequency: 4, Period: every("1", "d")},
		"Q4H": {Frequency: 1, Period: every("4", "h")},
		"Q6H": {Frequency: 1, Period: every("6", "h")},
		"AM":  {Frequency: 1, Period: every("1", "d"), When: []string{"MORN"}},
		"PM":  {Frequency: 1, Period: every("1", "d"), When: []string{"AFT"}},
	} {
		want, err := schedule.Read(structured, start, ny, clocks)
		require.NoError(t, err, code)
		both := structured
		both.Code = code
		for _, timing := range []schedule.Timing{{Code: code}, both} {
			s, err := schedule.Read(timing, start, ny, clocks)
			require.NoError(t, err, code)
			assert.Equal(t, doses(want, schedule.Span{}, 30), doses(s, schedule.Span{}, 30), code)
		}
	}
}

// The value set https://hl7.org/fhir/R4/valueset-timing-abbreviation.html has
// these 16 codes (hl7.fhir.r4.core 4.0.1); each is read, and no other name is.
func TestEveryCodeOfTheValueSetIsRead(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2027-01-31T09:00:00-05:00")
	span := schedule.Span{From: start, To: instant(t, "2027-05-01T00:00:00-04:00")}
	clocks := schedule.Clocks{"AM": {9 * time.Hour}, "PM": {15 * time.Hour}, "BED": {22 * time.Hour}}
	// 31 January 09:00 to 1 May 00:00 are 90 days on the calendar, less 9
	// hours, of which one hour is missing: 2,150 elapsed hours.
	want := map[string]int{"BID": 180, "TID": 269, "QID": 359, "AM": 90, "PM": 90, "QD": 90, "QOD": 45, "BED": 90, "WK": 13, "MO": 4,
		"Q1H": 2150, "Q2H": 1075, "Q3H": 717, "Q4H": 538, "Q6H": 359, "Q8H": 269}
	require.Len(t, want, 16)
	for code, n := range want {
		s, err := schedule.Read(schedule.Timing{Code: code}, start, ny, clocks)
		require.NoError(t, err, code)
		assert.Equal(t, schedule.Count{Least: n, Most: n}, s.Count(span), code)
	}
	s, err := schedule.Read(schedule.Timing{Code: "MO"}, start, ny, nil)
	require.NoError(t, err)
	assert.Equal(t, []string{"Sun 2027-01-31T09:00-05:00", "Sun 2027-02-28T09:00-05:00", "Wed 2027-03-31T09:00-04:00", "Fri 2027-04-30T09:00-04:00"}, doses(s, span, 9))
	for _, other := range []string{"", "bid", "JB", "STAT", "Q", "QH", "QxH", "Q-8H", "Q+8H", "MONTH"} {
		_, err := schedule.Read(schedule.Timing{Code: other}, start, ny, clocks)
		assert.Error(t, err, other)
	}
}

// The value set https://hl7.org/fhir/R4/valueset-event-timing.html: the codes
// in the definitions of R4 are those that are known here.
func TestEveryEventOfTheDayIsRead(t *testing.T) {
	codes := []string{"MORN", "MORN.early", "MORN.late", "NOON", "AFT", "AFT.early", "AFT.late", "EVE", "EVE.early", "EVE.late", "NIGHT", "PHS",
		"HS", "WAKE", "C", "CM", "CD", "CV", "AC", "ACM", "ACD", "ACV", "PC", "PCM", "PCD", "PCV"}
	ny := zone(t, "America/New_York")
	start := instant(t, "2027-06-07T00:00:00-04:00")
	for _, code := range codes {
		timing := schedule.Timing{When: []string{code}}
		_, err := schedule.Read(timing, start, ny, nil)
		assert.ErrorContains(t, err, "no clock time is set", code)
		s, err := schedule.Read(timing, start, ny, schedule.Clocks{code: {13 * time.Hour}})
		require.NoError(t, err, code)
		assert.Equal(t, []string{"Mon 2027-06-07T13:00-04:00", "Tue 2027-06-08T13:00-04:00"}, doses(s, schedule.Span{}, 2), code)
	}
	assert.Len(t, slices.Compact(slices.Sorted(slices.Values(codes))), 26)
}

// Before or after is in the meaning of each code (v3-TimingEvent, from
// memory); where it is not, FHIR R4 says after (Timing.repeat.offset).
func TestMinutesLieBeforeOrAfterTheEvent(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2027-06-07T00:00:00-04:00")
	for _, c := range []struct {
		when []string
		want []string // of one day
	}{
		{[]string{"ACM"}, []string{"07:00"}},
		{[]string{"PCM"}, []string{"08:00"}},
		{[]string{"AC"}, []string{"07:00", "11:30", "17:30"}},
		{[]string{"PC"}, []string{"08:00", "12:30", "18:30"}},
		{[]string{"ACM", "ACV"}, []string{"07:00", "17:30"}},
		{[]string{"HS"}, []string{"21:30"}},
		{[]string{"WAKE"}, []string{"07:30"}},
		{[]string{"MORN"}, []string{"08:30"}},
	} {
		s, err := schedule.Read(schedule.Timing{When: c.when, Offset: 30 * time.Minute}, start, ny, household)
		require.NoError(t, err, c.when)
		var got []string
		for o := range s.Doses(schedule.Span{To: start.Add(24 * time.Hour)}) {
			got = append(got, o.At.Format("15:04"))
		}
		assert.Equal(t, c.want, got, c.when)
	}
	// Before breakfast, without minutes: how long before is not said, and the
	// time of breakfast is not the answer.
	_, err := schedule.Read(schedule.Timing{When: []string{"ACM"}}, start, ny, household)
	assert.ErrorContains(t, err, `no clock time is set for "before breakfast"`)
	// Minutes that cross midnight.
	late := schedule.Clocks{"PHS": {23*time.Hour + 45*time.Minute}}
	s, err := schedule.Read(schedule.Timing{When: []string{"PHS"}, Offset: 30 * time.Minute}, start, ny, late)
	require.NoError(t, err)
	assert.Equal(t, []string{"Mon 2027-06-07T00:15-04:00", "Tue 2027-06-08T00:15-04:00"}, doses(s, schedule.Span{}, 2))
	for _, timing := range []schedule.Timing{{DaysOfWeek: []string{"mon"}}, {Frequency: 1, Period: every("2", "d")}} {
		timing.When, timing.Offset = []string{"PHS"}, 30*time.Minute
		_, err = schedule.Read(timing, start, ny, late)
		assert.ErrorContains(t, err, "another day")
	}
	_, err = schedule.Read(schedule.Timing{When: []string{"PHS"}}, start, ny, schedule.Clocks{"PHS": {24 * time.Hour}})
	assert.ErrorContains(t, err, "does not lie in a day")
}

func TestASiteSetsTheTimesOfACode(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2027-06-07T08:00:00-04:00")
	s, err := schedule.Read(schedule.Timing{Code: "BID"}, start, ny, schedule.Clocks{"BID": {18 * time.Hour, 7 * time.Hour}})
	require.NoError(t, err)
	assert.Equal(t, []string{"Mon 2027-06-07T18:00-04:00", "Tue 2027-06-08T07:00-04:00"}, doses(s, schedule.Span{}, 2))
	assert.Empty(t, s.Says())
	_, err = schedule.Read(schedule.Timing{Code: "BID"}, start, ny, schedule.Clocks{"BID": {7 * time.Hour}})
	assert.ErrorContains(t, err, "1 clock times for a timing code of 2 doses")
}

func TestTheTableOfCodesIsJSON(t *testing.T) {
	var table struct{ Codes map[string]json.RawMessage }
	require.NoError(t, json.Unmarshal(schedule.AbbreviationsFile(), &table))
	assert.Len(t, table.Codes, 10)
}

// The cases of the worked examples (worked-examples.json) on counts and
// clocks: the id, and what it expects.
func TestWorkedCases(t *testing.T) {
	ny := zone(t, "America/New_York")
	start := instant(t, "2026-03-02T09:00:00-05:00")
	count := func(timing schedule.Timing) int {
		s, err := schedule.Read(timing, start, ny, nil)
		require.NoError(t, err)
		c := s.Count(schedule.Span{})
		require.Equal(t, schedule.Count{Least: c.Most, Most: c.Most}, c)
		return c.Most
	}
	twelve := schedule.Timing{Frequency: 1, Period: every("12", "h"), Bounds: length("14", "d")}
	assert.Equal(t, 28, count(twelve), "DCT-01")
	s, err := schedule.Read(twelve, start, ny, nil)
	require.NoError(t, err)
	assert.Equal(t, 27, s.Count(schedule.Span{From: start.Add(1)}).Most, "DCT-02: the first dose was given in hospital")
	assert.Equal(t, 10, count(schedule.Timing{Count: 10, Frequency: 1, Period: every("24", "h"), Bounds: length("30", "d")}), "DCT-05")

	run, err := schedule.Run(every("240", "mL"), every("10", "mL/h"))
	require.NoError(t, err)
	end := instant(t, "2026-03-07T14:00:00-05:00").Add(run).In(ny.Location)
	assert.Equal(t, "2026-03-08T15:00:00-04:00", end.Format(time.RFC3339), "DST-01")
	assert.Equal(t, 11*time.Hour, instant(t, "2026-03-08T08:00:00-04:00").Sub(instant(t, "2026-03-07T20:00:00-05:00")), "DST-03")
	beyond, err := ny.After(instant(t, "2026-03-02T10:00:00-05:00"), every("10", "d"), true)
	require.NoError(t, err)
	assert.Equal(t, "2026-03-12T10:00:00-04:00", beyond.Format(time.RFC3339), "DBU-03: ten days on the calendar are the earlier instant")
	elapsed, err := ny.After(instant(t, "2026-03-02T10:00:00-05:00"), every("10", "d"), false)
	require.NoError(t, err)
	assert.Equal(t, "2026-03-12T11:00:00-04:00", elapsed.In(ny.Location).Format(time.RFC3339), "DBU-03: 240 elapsed hours")
}

func TestARunIsVolumeOverRate(t *testing.T) {
	for _, c := range []struct {
		volume, rate quantity.Quantity
		want         time.Duration
	}{
		{every("92", "mL"), every("2", "mL/h"), 46 * time.Hour},
		{every("100", "mL"), every("3", "mL/h"), 33*time.Hour + 20*time.Minute},
		{every("1", "L"), every("3", "mL/min"), 5*time.Hour + 33*time.Minute + 20*time.Second},
		{every("10", "mL"), every("7", "mL/h"), 5142857142857 * time.Nanosecond}, // 5,142.857142857142…, rounded down
		{every("0", "mL"), every("7", "mL/h"), 0},
	} {
		got, err := schedule.Run(c.volume, c.rate)
		require.NoError(t, err)
		assert.Equal(t, c.want, got)
	}
	for _, c := range [][2]quantity.Quantity{
		{every("10", "mL"), every("0", "mL/h")}, {every("-1", "mL"), every("1", "mL/h")}, {every("10", "mg"), every("1", "mL/h")}, {every("10", "mL"), every("1", "mL")},
		{{}, every("1", "mL/h")}, {every("1", "mL"), {}}, {every("1000000", "L"), every("0.001", "mL/h")},
		{quantity.Range(quantity.Int(1), quantity.Int(2), quantity.MustUnit("mL")), every("1", "mL/h")},
	} {
		_, err := schedule.Run(c[0], c[1])
		assert.Error(t, err)
	}
}
