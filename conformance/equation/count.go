package equation

import (
	"time"

	"weir.example/weir/mapping/quantity"
)

// count holds supply: what is needed rounds up, what lasts rounds down.
var count = []Equation{
	{
		Code: "E38", Counts: true, Title: "Units to dispense", Output: "orderedQuantity", Inputs: []string{"dose", "vialContent", "dosesPerDay", "courseLength"},
		Formula: "orderedQuantity = ⌈dose ÷ vialContent⌉ × ⌈dosesPerDay × courseLength⌉",
		Limits:  "Whole units for every dose, nothing kept over from one dose to the next; the end of the course is excluded.",
		Source:  "FHIR R4 Timing, frequency and bounds; lecture notes on quantity to dispense",
		Solve: func(v Values) (Bounds, error) {
			each, ok1 := whole(v.Base("dose").Quo(v.Base("vialContent")))
			doses, ok2 := whole(v.Base("dosesPerDay").Mul(v.Base("courseLength")))
			if !ok1 || !ok2 {
				return Bounds{}, errMany
			}
			return Exactly(each.Mul(doses))
		},
	},
	{
		Code: "E38-supply", Counts: true, Title: "Days a supply lasts", Output: "daysSupply", Inputs: []string{"supply", "dailyDose"},
		Formula: "daysSupply = ⌊supply ÷ dailyDose⌋ whole days",
		Limits:  "Whole days only, rounded down; what is lost in sets or vials is not counted.",
		Source:  "common practice; published example of days' supply",
		Solve:   lasts("dailyDose", "supply"),
	},
	{
		Code: "E38-units", Counts: true, Title: "Days a number of doses lasts", Output: "daysSupply", Inputs: []string{"supplyUnits", "dosesPerDay"},
		Formula: "daysSupply = ⌊supplyUnits ÷ dosesPerDay⌋ whole days",
		Limits:  "One unit for each dose; whole days only, rounded down.",
		Source:  "common practice; published example of days' supply",
		Solve:   lasts("dosesPerDay", "supplyUnits"),
	},
	{
		Code: "E38-dates", Title: "Length of a course from its start and end", Output: "courseLength", Inputs: []string{"start", "end"},
		Formula: "courseLength = end − start, + 1 d when both are dates",
		Limits:  "Two dates count the last day too; two instants count elapsed time, so a change of the clock does not count.",
		Source:  "FHIR R4 example MedicationRequest medrx0339; the rule for date-only ends from memory",
		Solve:   course,
	},
}

// lasts is the whole days that have holds at use per time.
func lasts(use, have string) func(Values) (Bounds, error) {
	return func(v Values) (Bounds, error) {
		n, ok := v.Base(have).Quo(v.Base(use)).Quo(day).Floor()
		if !ok {
			return Bounds{}, errMany
		}
		return days(n)
	}
}

func course(v Values) (Bounds, error) {
	start, end := v.By["start"], v.By["end"]
	switch {
	case start.DateOnly != end.DateOnly:
		return outside("give start and end both as dates or both as instants")
	case start.DateOnly && end.Time.Before(start.Time) || !start.DateOnly && !start.Time.Before(end.Time):
		return outside("needs an end after the start")
	case start.DateOnly:
		return days(calendar(end.Time) - calendar(start.Time) + 1)
	}
	seconds := quantity.Int(end.Time.Unix() - start.Time.Unix())
	return Exactly(seconds.Add(quantity.Ratio(int64(end.Time.Nanosecond()-start.Time.Nanosecond()), 1e9)))
}

// calendar numbers the days, whatever zone a date is held in.
func calendar(t time.Time) int64 {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400
}
