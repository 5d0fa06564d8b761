package notation_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

var (
	est = time.FixedZone("EST", -5*3600)
	edt = time.FixedZone("EDT", -4*3600)
)

func TestMoments(t *testing.T) {
	at := time.Date(2026, 11, 10, 22, 0, 0, 0, est)
	assert.Equal(t, "Tue 10 Nov 2026 22:00 EST (America/New_York)", notation.Instant(at, "America/New_York"))
	assert.Equal(t, "Tue 10 Nov 2026 22:00 EST", notation.Instant(at, ""))
	assert.Equal(t, "Wed 11 Nov 2026 03:00 UTC", notation.Instant(at.UTC(), ""))
	assert.Equal(t, "10 Nov 2026", notation.Date(at))
	assert.Equal(t, "5 Nov 2026", notation.Date(time.Date(2026, 11, 5, 0, 0, 0, 0, est)), "no zero before the day")
	assert.Equal(t, "22:00 EST", notation.Clock(at))
	assert.Equal(t, "Tue 10 Nov 2026 09:05 EST", notation.Instant(time.Date(2026, 11, 10, 9, 5, 0, 0, est), ""))
	assert.Equal(t, "Tue 10 Nov 2026 22:00 UTC minus 3:30", notation.Instant(time.Date(2026, 11, 10, 22, 0, 0, 0, time.FixedZone("", -12600)), ""))
	assert.Equal(t, "Tue 10 Nov 2026 22:00 UTC plus 5:45", notation.Instant(time.Date(2026, 11, 10, 22, 0, 0, 0, time.FixedZone("+0545", 20700)), ""))
}

// Scenario S3: 92 mL at 2 mL per hour, from 31 Oct 11:00 EDT; the window of
// plus or minus 15 percent runs to 2 Nov 02:00 and 16:07 EST.
func TestWindows(t *testing.T) {
	earliest, latest := time.Date(2026, 11, 2, 2, 0, 0, 0, est), time.Date(2026, 11, 2, 16, 7, 0, 0, est)
	start := time.Date(2026, 10, 31, 11, 0, 0, 0, edt)
	assert.Equal(t, "Mon 2 Nov 2026 02:00 to 16:07 EST", notation.Window(earliest, latest))
	assert.Equal(t, "Sat 31 Oct 2026 11:00 EDT to Mon 2 Nov 2026 16:07 EST", notation.Window(start, latest))
	assert.Equal(t, "Mon 2 Nov 2026 01:00 EDT to Mon 2 Nov 2026 02:00 EST", notation.Window(time.Date(2026, 11, 2, 1, 0, 0, 0, edt), earliest),
		"the same day on two clocks names both")
}

func TestElapsedTimeInWords(t *testing.T) {
	for _, c := range []struct {
		d    time.Duration
		want string
	}{
		{0, "0 minutes"},
		{time.Second, "1 second"},
		{90 * time.Second, "1 minute 30 seconds"},
		{time.Minute, "1 minute"},
		{59 * time.Minute, "59 minutes"},
		{time.Hour, "1 hour"},
		{150 * time.Minute, "2 hours 30 minutes"},
		{46 * time.Hour, "46 hours"},
		{1500 * time.Hour, "1,500 hours"},
		{26*time.Minute + 5*time.Second + 500*time.Millisecond, "26 minutes 6 seconds"},
		{-2 * time.Hour, "minus 2 hours"},
	} {
		got := notation.Duration(c.d)
		assert.Equal(t, c.want, got)
		assert.Empty(t, notation.Scan(got))
	}
}

func TestFrequencies(t *testing.T) {
	n := func(v int64) quantity.Number { return quantity.Int(v) }
	for _, c := range []struct{ name, got, want string }{
		{"an interval", notation.Every(n(8), "h"), "every 8 hours"},
		{"one hour", notation.Every(n(1), "h"), "every hour"},
		{"one day", notation.Every(n(1), "d"), "daily"},
		{"24 hours are no calendar day", notation.Every(n(24), "h"), "every 24 hours"},
		{"two days", notation.Every(n(2), "d"), "every other day"},
		{"three days", notation.Every(n(3), "d"), "every 3 days"},
		{"one week", notation.Every(n(1), "wk"), "weekly"},
		{"two weeks", notation.Every(n(2), "wk"), "every 2 weeks"},
		{"once in 8 hours", notation.Frequency(1, n(8), "h"), "every 8 hours"},
		{"twice a day", notation.Frequency(2, n(1), "d"), "2 times daily"},
		{"three times a week", notation.Frequency(3, n(1), "wk"), "3 times weekly"},
		{"twice in 3 days", notation.Frequency(2, n(3), "d"), "2 times in 3 days"},
		{"twice in 2 days is not twice every other day", notation.Frequency(2, n(2), "d"), "2 times in 2 days"},
		{"twice an hour", notation.Frequency(2, n(1), "h"), "2 times in each hour"},
		{"bedtime", notation.When("HS"), "at bedtime"},
		{"before meals", notation.When("AC"), "before a meal"},
		{"an unknown code stays a code", notation.When("QD"), "`QD`"},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, c.got)
			assert.Empty(t, notation.Scan(c.got))
		})
	}
}
