// Command clocks makes random infusions and wall-clock times, and compares
// what this repository says of them with what another implementation said:
//
//	clocks make > cases.csv
//	clocks compare NAME cases.csv answers.csv
//
// A case is id,end,zone,start,volume,rate (Unix second; tenths of mL and of
// mL/h) or id,wall,zone,second (a wall-clock time as if it were UTC). An
// answer is id,elapsed,local,offset (nanoseconds, the local end without its
// offset, seconds) or id,before,shown (the instant by the offset of 30 hours
// before, and the instants that show the time, with a space between them).
// The seed is fixed: the cases are always the same.
package main

import (
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// Four zones of the mainland with clock changes, one without, and a far one
// whose change is half an hour.
var zones = []string{"America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles", "America/Phoenix", "Australia/Lord_Howe"}

const (
	infusions, walls = 10_000, 3_000
	first            = 1_735_689_600 // 1 January 2025
	years            = 10
)

func main() {
	var err error
	switch {
	case len(os.Args) == 2 && os.Args[1] == "make":
		err = write()
	case len(os.Args) == 5 && os.Args[1] == "compare":
		err = compare(os.Args[2], os.Args[3], os.Args[4])
	default:
		err = fmt.Errorf("usage: clocks make | clocks compare NAME CASES ANSWERS")
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// changes are the seconds at which the offset of a zone changes in the years
// of the cases, found by halving.
func changes(z schedule.Zone) []int64 {
	offset := func(unix int64) int { _, o := time.Unix(unix, 0).In(z.Location).Zone(); return o }
	var out []int64
	const step = 7 * 86400
	for at := int64(first); at < first+years*365*86400; at += step {
		low, high := at, at+step
		if offset(low) == offset(high) {
			continue
		}
		for high-low > 1 {
			if middle := (low + high) / 2; offset(middle) == offset(low) {
				low = middle
			} else {
				high = middle
			}
		}
		out = append(out, high)
	}
	return out
}

func write() error {
	random := rand.New(rand.NewPCG(5, 2026))
	w := csv.NewWriter(os.Stdout)
	for n := range infusions + walls {
		name := zones[n%len(zones)]
		z, err := schedule.LoadZones().Zone(name)
		if err != nil {
			return err
		}
		at := first + random.Int64N(years*365*86400)
		if near := changes(z); len(near) > 0 && (n >= infusions || n%2 == 0) {
			reach := int64(12 * 3600)
			if n >= infusions {
				reach = 5400
			}
			at = near[random.IntN(len(near))] - reach + random.Int64N(2*reach)
		}
		id := strconv.Itoa(n)
		if n < infusions {
			err = w.Write([]string{id, "end", name, strconv.FormatInt(at, 10), strconv.FormatInt(1+random.Int64N(30_000), 10), strconv.FormatInt(1+random.Int64N(9_999), 10)})
		} else {
			_, offset := time.Unix(at, 0).In(z.Location).Zone()
			// Up to an hour beside what the clock shows: into gaps too.
			err = w.Write([]string{id, "wall", name, strconv.FormatInt(at+int64(offset)+random.Int64N(2*3600)-3600, 10), "", ""})
		}
		if err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

func compare(name, cases, answers string) error {
	asked, err := read(cases)
	if err != nil {
		return err
	}
	said, err := read(answers)
	if err != nil {
		return err
	}
	if len(asked) != infusions+walls || len(said) != len(asked) {
		return fmt.Errorf("%s: %d cases and %d answers, not %d", name, len(asked), len(said), infusions+walls)
	}
	slices.SortFunc(said, func(a, b []string) int { return int(number(a[0]) - number(b[0])) })
	differ, gaps, overlaps, over := 0, 0, 0, 0
	for i, c := range asked {
		z, err := schedule.LoadZones().Zone(c[2])
		if err != nil {
			return err
		}
		var ours string
		if c[1] == "end" {
			var changed bool
			if ours, changed, err = infusion(z, c); err != nil {
				return err
			}
			if changed {
				over++
			}
		} else {
			m, other := wall(z, c, said[i])
			ours = other
			if m.Gap {
				gaps++
			}
			if m.Overlap {
				overlaps++
			}
		}
		if theirs := strings.Join(said[i], ","); ours != theirs {
			if differ++; differ <= 20 {
				fmt.Fprintf(os.Stderr, "%s: case %s\n  ours   %s\n  theirs %s\n", name, strings.Join(c, ","), ours, theirs)
			}
		}
	}
	fmt.Printf("%s: %d infusions (%d over a clock change), %d wall-clock times (%d never shown, %d shown twice), %d differ\n", name, infusions, over, walls, gaps, overlaps, differ)
	if differ > 0 || gaps == 0 || overlaps == 0 || over < infusions/25 {
		return fmt.Errorf("%s: not every answer is the same, or the cases show too little", name)
	}
	return nil
}

// infusion is our answer to a case of an end.
func infusion(z schedule.Zone, c []string) (answer string, changed bool, err error) {
	tenths := func(s, unit string) quantity.Quantity {
		return quantity.Point(quantity.Ratio(number(s), 10), quantity.MustUnit(unit))
	}
	run, err := schedule.Run(tenths(c[4], "mL"), tenths(c[5], "mL/h"))
	if err != nil {
		return "", false, err
	}
	start := time.Unix(number(c[3]), 0).In(z.Location)
	end := start.Add(run)
	_, before := start.Zone()
	_, after := end.Zone()
	return fmt.Sprintf("%s,%d,%s,%d", c[0], int64(run), end.Format("2006-01-02T15:04:05"), after), before != after, nil
}

// wall writes their answer as it must be for our reading of the time to be
// right: no instant shows a time in a gap, and it is read with the offset
// before; of two the first is meant.
func wall(z schedule.Zone, c, theirs []string) (schedule.Moment, string) {
	second := time.Unix(number(c[3]), 0).UTC()
	y, month, d := second.Date()
	m := z.Place(y, month, d, second.Sub(time.Date(y, month, d, 0, 0, 0, 0, time.UTC)))
	before, shown := theirs[1], fmt.Sprint(m.At.Unix())
	switch {
	case m.Gap:
		before, shown = shown, ""
	case m.Overlap:
		before, shown = shown, fmt.Sprintf("%d %d", m.At.Unix(), m.Other.Unix())
	}
	return m, fmt.Sprintf("%s,%s,%s", c[0], before, shown)
}

func read(path string) ([][]string, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	return r.ReadAll()
}

func number(s string) int64 {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	return n
}
