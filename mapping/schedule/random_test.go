package schedule_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// clockZones are four zones of the mainland with clock changes, one without,
// and a far one whose change is half an hour.
var clockZones = []string{"America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles", "America/Phoenix", "Australia/Lord_Howe"}

// 10⁶ random (start, zone, rate, volume): an infusion ends volume ÷ rate
// after its start in elapsed time, rounded down once to the nanosecond, and
// the clock shows the right end. The other side is integer arithmetic on
// tenths and on tables of offsets read from the zone file's bytes. Half of
// the starts lie within 12 hours of a clock change.
func TestAMillionInfusionsEndWhenTheyEnd(t *testing.T) {
	const cases, first, years = 1_000_000, 1_767_225_600, 15 // from 1 January 2026
	random := rand.New(rand.NewPCG(2026, 11))
	tenth := quantity.Ratio(1, 10)
	ml, mlh := quantity.MustUnit("mL"), quantity.MustUnit("mL/h")
	var zones []schedule.Zone
	var tables []offsets
	var changes [][]int64 // of 2026 to 2040
	for _, name := range clockZones {
		zones, tables = append(zones, zone(t, name)), append(tables, readOffsets(t, name))
		changes = append(changes, nil)
		for _, at := range tables[len(tables)-1].from {
			if at >= first && at < first+years*365*86400 {
				changes[len(changes)-1] = append(changes[len(changes)-1], at)
			}
		}
	}
	changed := 0
	for n := range cases {
		k := random.IntN(len(zones))
		start := first + random.Int64N(years*365*86400)
		if near := changes[k]; n%2 == 0 && len(near) > 0 {
			start = near[random.IntN(len(near))] - 43200 + random.Int64N(86400)
		}
		volume, rate := 1+random.Int64N(30_000), 1+random.Int64N(9_999) // tenths
		run, err := schedule.Run(quantity.Point(quantity.Int(volume).Mul(tenth), ml), quantity.Point(quantity.Int(rate).Mul(tenth), mlh))
		if err != nil {
			t.Fatalf("case %d: %v", n, err)
		}
		if want := volume * int64(time.Hour) / rate; int64(run) != want {
			t.Fatalf("case %d: %d ÷ %d runs %d ns, not %d", n, volume, rate, run, want)
		}
		end := time.Unix(start, 0).Add(run)
		got, want := end.In(zones[k].Location).Format(time.RFC3339), tables[k].local(start+volume*3600/rate)
		if got != want {
			t.Fatalf("case %d: %s: start %d, %d ÷ %d ends %s, not %s", n, clockZones[k], start, volume, rate, got, want)
		}
		if tables[k].at(start) != tables[k].at(start+volume*3600/rate) {
			changed++
		}
	}
	require.Greater(t, changed, cases/20, "too few runs over a clock change to tell anything")
	t.Logf("%d of %d runs went over a clock change", changed, cases)
}

// Every minute around every change of 2026 to 2028 in the six zones, and
// whatever the clock shows: Place agrees with a search through the table of
// offsets for the instants that show the wall time.
func TestWallTimesAgreeWithASearch(t *testing.T) {
	for _, name := range clockZones {
		z, table := zone(t, name), readOffsets(t, name)
		gaps, overlaps := 0, 0
		for i, change := range table.from {
			if change < 1_767_225_600 || change > 1_861_920_000 {
				continue
			}
			for minute := int64(-300); minute <= 300; minute++ {
				wall := change + table.offset[i] + minute*60
				y, m, d := civil(wall / 86400)
				got := z.Place(int(y), time.Month(m), int(d), time.Duration(wall%86400)*time.Second)
				var shown []int64
				for _, offset := range []int64{table.offset[i-1], table.offset[i]} {
					if at := wall - offset; table.at(at) == offset && (len(shown) == 0 || shown[0] != at) {
						shown = append(shown, at)
					}
				}
				says := fmt.Sprintf("%s %04d-%02d-%02d +%d s", name, y, m, d, wall%86400)
				switch len(shown) {
				case 0: // in the gap: the time goes on as if there were no change
					gaps++
					require.True(t, got.Gap, says)
					require.Equal(t, wall-table.offset[i-1], got.At.Unix(), says)
					require.Equal(t, wall-table.offset[i], got.Other.Unix(), says)
					require.True(t, got.Other.Before(got.At), says)
				case 1:
					require.Equal(t, schedule.Moment{At: got.At}, got, says)
					require.Equal(t, shown[0], got.At.Unix(), says)
				case 2:
					overlaps++
					require.True(t, got.Overlap, says)
					require.Equal(t, []int64{min(shown[0], shown[1]), max(shown[0], shown[1])}, []int64{got.At.Unix(), got.Other.Unix()}, says)
				}
			}
		}
		if name != "America/Phoenix" {
			require.Positive(t, gaps, name)
			require.Equal(t, gaps, overlaps, name)
		}
	}
}
