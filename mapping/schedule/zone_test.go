package schedule_test

import (
	"crypto/sha256"
	_ "embed"
	"encoding/csv"
	"encoding/hex"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/schedule"
)

//go:embed testdata/wall.csv
var wallTable string

func zone(t testing.TB, name string) schedule.Zone {
	t.Helper()
	z, err := schedule.LoadZones().Zone(name)
	require.NoError(t, err)
	return z
}

func instant(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	require.NoError(t, err)
	return at
}

// The clock changes themselves are facts of law: first Sunday of November
// and second Sunday of March, 02:00 (15 U.S.C. 260a).
func TestTheUnitedStatesChangeTheirClocks(t *testing.T) {
	ny := zone(t, "America/New_York")
	for _, c := range []struct{ says, utc, local string }{
		{"the last second of summer time 2026", "2026-11-01T05:59:59Z", "2026-11-01T01:59:59-04:00"},
		{"the first of standard time", "2026-11-01T06:00:00Z", "2026-11-01T01:00:00-05:00"},
		{"the last second before summer time 2027", "2027-03-14T06:59:59Z", "2027-03-14T01:59:59-05:00"},
		{"the first of summer time", "2027-03-14T07:00:00Z", "2027-03-14T03:00:00-04:00"},
	} {
		assert.Equal(t, c.local, instant(t, c.utc).In(ny.Location).Format(time.RFC3339), c.says)
	}
}

func TestWallTimesAgreeWithASecondImplementation(t *testing.T) {
	rows, err := csv.NewReader(strings.NewReader(wallTable)).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 500)
	for _, row := range rows[1:] {
		z := zone(t, row[0])
		wall, err := time.Parse("2006-01-02T15:04", row[1])
		require.NoError(t, err)
		want, err := time.Parse("2006-01-02T15:04Z", row[2])
		require.NoError(t, err)
		at, gap, _ := z.Wall(wall.Year(), wall.Month(), wall.Day(), time.Duration(wall.Hour())*time.Hour+time.Duration(wall.Minute())*time.Minute)
		assert.True(t, want.Equal(at), "%s %s: want %s, got %s", row[0], row[1], want, at.UTC())
		_, offset := at.Zone()
		assert.Equal(t, row[3], strconv.Itoa(offset), "%s %s", row[0], row[1])
		assert.Equal(t, gap, at.Format("2006-01-02T15:04") != row[1], "%s %s: a gap, and only a gap, is shown differently", row[0], row[1])
	}
}

func TestGapAndOverlapAreReported(t *testing.T) {
	ny := zone(t, "America/New_York")
	hour := func(h, m int) time.Duration { return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute }
	for _, c := range []struct {
		says         string
		year         int
		month        time.Month
		day          int
		since        time.Duration
		want         string
		gap, overlap bool
	}{
		{"the minute before the gap", 2027, time.March, 14, hour(1, 59), "2027-03-14T01:59:00-05:00", false, false},
		{"the first minute of the gap", 2027, time.March, 14, hour(2, 0), "2027-03-14T03:00:00-04:00", true, false},
		{"the last minute of the gap", 2027, time.March, 14, hour(2, 59), "2027-03-14T03:59:00-04:00", true, false},
		{"the minute after the gap", 2027, time.March, 14, hour(3, 0), "2027-03-14T03:00:00-04:00", false, false},
		{"the minute before the overlap", 2026, time.November, 1, hour(0, 59), "2026-11-01T00:59:00-04:00", false, false},
		{"the first minute of the overlap", 2026, time.November, 1, hour(1, 0), "2026-11-01T01:00:00-04:00", false, true},
		{"the last minute of the overlap", 2026, time.November, 1, hour(1, 59), "2026-11-01T01:59:00-04:00", false, true},
		{"the minute after the overlap", 2026, time.November, 1, hour(2, 0), "2026-11-01T02:00:00-05:00", false, false},
	} {
		at, gap, overlap := ny.Wall(c.year, c.month, c.day, c.since)
		assert.Equal(t, c.want, at.Format(time.RFC3339), c.says)
		assert.Equal(t, []bool{c.gap, c.overlap}, []bool{gap, overlap}, c.says)
	}
}

func TestZonesThatAreNoPlaceAreRefused(t *testing.T) {
	for _, name := range []string{"", "Local", "local", "EST", "MST", "HST", "Factory", "Eastern", "America", "America/", "../etc/passwd", "America/new_york"} {
		_, err := schedule.LoadZones().Zone(name)
		assert.Error(t, err, "%q", name)
	}
	for _, name := range []string{"America/New_York", "Pacific/Honolulu", "America/Argentina/Buenos_Aires", "UTC", "Asia/Kolkata"} {
		z, err := schedule.LoadZones().Zone(name)
		require.NoError(t, err, name)
		assert.True(t, z.Known())
		assert.Equal(t, name, z.Name)
	}
}

func TestTheHostCannotChangeAnAnswer(t *testing.T) {
	t.Setenv("ZONEINFO", t.TempDir())
	t.Setenv("TZ", "Asia/Tokyo")
	at := instant(t, "2026-11-02T13:00:00Z").In(zone(t, "America/New_York").Location)
	assert.Equal(t, "2026-11-02T08:00:00-05:00", at.Format(time.RFC3339))
}

func TestTheHashIsThatOfTheFile(t *testing.T) {
	data, err := os.ReadFile("tz/zoneinfo.zip")
	require.NoError(t, err)
	sum := sha256.Sum256(data)
	assert.Equal(t, hex.EncodeToString(sum[:]), schedule.LoadZones().Hash())
}

// The release is told by the hash of the file and by a fact that 2025b did
// not have: northern Baja California kept summer time in 1962
// (IANA tz NEWS, release 2025c).
func TestTheReleaseOfTheZoneData(t *testing.T) {
	assert.Equal(t, "2025c", schedule.ZoneVersion)
	assert.Equal(t, "8f55634d05f8bca1f7bc7c69c5933428c69357e0bdf565e5ba224e3f88ff12e8", schedule.LoadZones().Hash(), "new zone data: give their release in ZoneVersion, in tz/README.md and here")
	readme, err := os.ReadFile("tz/README.md")
	require.NoError(t, err)
	assert.Contains(t, string(readme), "release "+schedule.ZoneVersion)
	assert.Equal(t, "1962-07-01T05:00:00-07:00", instant(t, "1962-07-01T12:00:00Z").In(zone(t, "America/Tijuana").Location).Format(time.RFC3339))
}
