package schedule_test

import (
	"fmt"
	"time"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

func home() schedule.Zone {
	z, err := schedule.LoadZones().Zone("America/New_York")
	if err != nil {
		panic(err)
	}
	return z
}

// Every 8 hours is elapsed time: over the autumn change the clock time moves.
func ExampleRead() {
	timing := schedule.Timing{Frequency: 1, Period: quantity.Point(quantity.Int(8), quantity.MustUnit("h"))}
	start := time.Date(2026, time.October, 31, 22, 0, 0, 0, home().Location)
	s, err := schedule.Read(timing, start, home(), nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for o := range s.Doses(schedule.Span{To: start.Add(24 * time.Hour)}) {
		fmt.Println(o.At.Format("Mon 2 Jan 15:04 MST"))
	}
	// Output:
	// Sat 31 Oct 22:00 EDT
	// Sun 1 Nov 05:00 EST
	// Sun 1 Nov 13:00 EST
}

// An event of the day is placed only with a clock time that the site has set.
func ExampleRead_event() {
	timing := schedule.Timing{When: []string{"ACM"}, Offset: 30 * time.Minute}
	start := time.Date(2026, time.November, 10, 0, 0, 0, 0, home().Location)
	_, err := schedule.Read(timing, start, home(), nil)
	fmt.Println(err)
	s, _ := schedule.Read(timing, start, home(), schedule.Clocks{"CM": {7*time.Hour + 30*time.Minute}})
	for o := range s.Doses(schedule.Span{}) {
		fmt.Println(o.At.Format("Mon 2 Jan 15:04"))
		break
	}
	// Output:
	// the order ties doses to events of the day (before breakfast), and no clock time is set for "with breakfast"
	// Tue 10 Nov 07:00
}

// A range gives a window for the next dose, and the least and the most doses.
func ExampleSeries_Next() {
	hour := quantity.MustUnit("h")
	timing := schedule.Timing{Period: quantity.Point(quantity.Int(4), hour), PeriodMax: quantity.Point(quantity.Int(6), hour)}
	start := time.Date(2026, time.November, 10, 8, 0, 0, 0, home().Location)
	s, _ := schedule.Read(timing, start, home(), nil)
	w, _ := s.Next(start)
	fmt.Println(w)
	c := s.Count(schedule.Span{To: start.Add(48 * time.Hour)})
	fmt.Println(c.Least, "to", c.Most, "doses in two days")
	// Output:
	// Tue 10 Nov 2026 12:00 to 14:00 EST
	// 8 to 12 doses in two days
}

// A clock time in a gap is shown with the other time it could mean.
func ExampleZone_Place() {
	m := home().Place(2027, time.March, 14, 2*time.Hour+30*time.Minute)
	fmt.Println(m.Gap, m.At.Format("15:04 MST"), "or", m.Other.Format("15:04 MST"))
	// Output:
	// true 03:30 EDT or 01:30 EST
}

// The pump counts elapsed time; the clock on the wall moves meanwhile.
func ExampleRun() {
	run, _ := schedule.Run(quantity.Point(quantity.Int(240), quantity.MustUnit("mL")), quantity.Point(quantity.Int(10), quantity.MustUnit("mL/h")))
	start := time.Date(2026, time.March, 7, 14, 0, 0, 0, home().Location)
	fmt.Println(run, start.Add(run).Format("Mon 2 Jan 15:04 MST"))
	// Output:
	// 24h0m0s Sun 8 Mar 15:00 EDT
}
