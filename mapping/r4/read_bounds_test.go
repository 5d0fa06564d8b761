package r4

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

func repeat(members string) string {
	return `{"timing":{"repeat":{` + members + `,"frequency":1,"period":1,"periodUnit":"d"}}}`
}

// All kinds of bounds[x] reach the timing; what could not be read does not.
func TestBoundsOfEachKindReachTheTiming(t *testing.T) {
	weeks := func(n string) quantity.Quantity {
		return quantity.Point(quantity.MustNumber(n), quantity.MustUnit("wk"))
	}
	start, end := clock(t, "2027-03-01T22:00:00-05:00"), clock(t, "2027-04-12T15:00:00-04:00")
	const from, to = `"start":"2027-03-01T22:00:00-05:00"`, `"end":"2027-04-12T15:00:00-04:00"`
	for says, c := range map[string]struct {
		bounds string
		want   schedule.Bounds
		faults []string
	}{
		"a period":                             {`"boundsPeriod":{` + from + `,` + to + `}`, schedule.Bounds{Start: start, End: end}, nil},
		"a start alone":                        {`"boundsPeriod":{` + from + `}`, schedule.Bounds{Start: start}, nil},
		"an end alone":                         {`"boundsPeriod":{` + to + `}`, schedule.Bounds{End: end}, nil},
		"a date has no instant without a zone": {`"boundsPeriod":{` + from + `,"end":"2027-04-12"}`, schedule.Bounds{}, nil},
		"a length":                             {`"boundsDuration":` + q("6", "wk"), schedule.Bounds{Shortest: weeks("6"), Longest: weeks("6")}, nil},
		"a range":                              {`"boundsRange":{"low":` + q("4", "wk") + `,"high":` + q("6", "wk") + `}`, schedule.Bounds{Shortest: weeks("4"), Longest: weeks("6")}, nil},
		"a range without an upper end":         {`"boundsRange":{"low":` + q("4", "wk") + `}`, schedule.Bounds{Shortest: weeks("4")}, nil},
		"a range without a lower end":          {`"boundsRange":{"high":` + q("6", "wk") + `}`, schedule.Bounds{Longest: weeks("6")}, nil},
		"a length that is no time":             {`"boundsDuration":` + q("6", "mg"), schedule.Bounds{}, []string{"record-unit-unknown"}},
		"an upper end that is no time":         {`"boundsRange":{"low":` + q("4", "wk") + `,"high":` + q("6", "mg") + `}`, schedule.Bounds{}, []string{"record-unit-unknown"}},
	} {
		o := theOrder(t, readOne(t, directed(repeat(c.bounds)), noon))
		got := o.Timing.Bounds
		assert.Equal(t, c.want.Shortest, got.Shortest, says)
		assert.Equal(t, c.want.Longest, got.Longest, says)
		assert.True(t, c.want.Start.Equal(got.Start) && c.want.End.Equal(got.End), "%s: %v", says, got)
		assert.ElementsMatch(t, c.faults, codes(o.Faults), says)
	}
	c := readOne(t, directed(repeat(`"boundsRange":{"low":`+q("4", "wk")+`}`)), noon)
	assert.Contains(t, reasons(c.Unused), "the range of the course has no upper end: the end of the course is open")
}

// Two instructions that differ in their bounds alone are one timetable: the
// course reaches from the earliest start to the latest end.
func TestBoundsMakeNoSecondTimetable(t *testing.T) {
	two := func(other string) string {
		return tiny("dosageInstruction", `[`+repeat(`"boundsPeriod":{"start":"2027-03-01T22:00:00-05:00"}`)+`,`+other+`]`)
	}
	o := theOrder(t, readOne(t, two(repeat(`"boundsPeriod":{"end":"2027-04-12T15:00:00-04:00"}`)), noon))
	assert.NotContains(t, codes(o.Faults), "record-sources-disagree")
	o = theOrder(t, readOne(t, two(`{"timing":{"repeat":{"frequency":2,"period":1,"periodUnit":"d"}}}`), noon))
	assert.Contains(t, codes(o.Faults), "record-sources-disagree")
}

func TestOnceAMonthIsReadAsAMonth(t *testing.T) {
	coded := func(code string) string {
		return `{"timing":{"code":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/v3-GTSAbbreviation","code":"` + code + `"}]}}}`
	}
	o := theOrder(t, readOne(t, directed(coded("MO")), noon))
	assert.Equal(t, "MO", o.Timing.Code)
	assert.Equal(t, []string{"interval 1 mo"}, stated(o.Stated))
	o = theOrder(t, readOne(t, directed(coded("WK")), noon))
	assert.Equal(t, []string{"interval 168 h"}, stated(o.Stated))
	// An infusion time of ten days once a month is one; of 40 days it is the course.
	for days, name := range map[string]string{"10": "duration", "40": "courseLength"} {
		o := theOrder(t, readOne(t, directed(`{"timing":{"repeat":{"duration":`+days+`,"durationUnit":"d"},"code":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/v3-GTSAbbreviation","code":"MO"}]}}}`), noon))
		assert.Contains(t, stated(o.Stated), name+" "+days+" d")
	}
}

// Ranges and events of the day are kept as they are sent.
func TestRangesAndEventsReachTheTiming(t *testing.T) {
	o := theOrder(t, readOne(t, directed(`{"timing":{"repeat":{"count":10,"countMax":14,"frequency":1,"frequencyMax":2,"period":4,"periodMax":6,"periodUnit":"h"}}}`), noon))
	x := o.Timing
	assert.Equal(t, []int{10, 14, 1, 2}, []int{x.Count, x.CountMax, x.Frequency, x.FrequencyMax})
	assert.True(t, x.Ranged())
	o = theOrder(t, readOne(t, directed(`{"timing":{"repeat":{"when":["ACM","HS"],"offset":30}}}`), noon))
	assert.Equal(t, []any{[]string{"ACM", "HS"}, 30 * time.Minute}, []any{o.Timing.When, o.Timing.Offset})
}
