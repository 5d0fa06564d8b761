package schedule

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"fmt"
	"io"
	"sync"
	"time"
)

// ZoneVersion is the release of the IANA Time Zone Database that is embedded.
// A test ties it to the SHA-256 of the file and to facts of that release.
const ZoneVersion = "2025c"

//go:embed tz/zoneinfo.zip
var zoneFile []byte

// Zones is the embedded time zone database. The host's own files and the
// ZONEINFO variable never change an answer.
type Zones struct {
	hash  string
	files map[string]*zip.File
	known sync.Map // name → Zone, so that each is read once
}

// Zone is a named time zone.
type Zone struct {
	Name     string
	Location *time.Location // nil: unknown
}

// Known reports whether the zone is known.
func (z Zone) Known() bool { return z.Location != nil }

// LoadZones returns the embedded zone data.
var LoadZones = sync.OnceValue(func() *Zones {
	r, err := zip.NewReader(bytes.NewReader(zoneFile), int64(len(zoneFile)))
	if err != nil {
		panic(err) // a fault of this build, caught by the first test
	}
	sum := sha256.Sum256(zoneFile)
	z := &Zones{hash: hex.EncodeToString(sum[:]), files: map[string]*zip.File{}}
	for _, f := range r.File {
		z.files[f.Name] = f
	}
	return z
})

// Hash is the SHA-256 of the zone data, hex.
func (z *Zones) Hash() string { return z.hash }

// noPlace are names of the database that stand for a fixed distance from UTC
// and that people write for a place with clock changes.
var noPlace = map[string]string{"EST": "America/New_York", "MST": "America/Denver or America/Phoenix", "HST": "Pacific/Honolulu", "Factory": "America/New_York"}

// Zone returns the zone with an IANA name such as America/New_York. Local
// and the empty name are refused: they would mean the host. EST, MST and HST
// are refused too: a home in New York would be an hour off for most of the
// year.
func (z *Zones) Zone(name string) (Zone, error) {
	if instead, ok := noPlace[name]; ok {
		return Zone{}, fmt.Errorf("time zone %s is no place and has no clock changes; need a name such as %s", name, instead)
	}
	if known, ok := z.known.Load(name); ok {
		return known.(Zone), nil
	}
	f, ok := z.files[name]
	if !ok || name == "Local" || name == "" || f.FileInfo().IsDir() {
		return Zone{}, fmt.Errorf("time zone %.60q is not in the IANA database; need a name such as America/New_York", name)
	}
	r, err := f.Open()
	if err != nil {
		return Zone{}, fmt.Errorf("time zone %s: %w", name, err)
	}
	defer r.Close()
	data, err := io.ReadAll(r)
	if err != nil {
		return Zone{}, fmt.Errorf("time zone %s: %w", name, err)
	}
	location, err := time.LoadLocationFromTZData(name, data)
	if err != nil {
		return Zone{}, fmt.Errorf("time zone %s: %w", name, err)
	}
	zone := Zone{Name: name, Location: location}
	z.known.Store(name, zone)
	return zone, nil
}

// Moment is where a wall-clock time of a date falls. In a gap, when clocks go
// forward, no clock shows the time: At is as long after midnight as it would
// have been without the change, so the dose is not early and not lost. In an
// overlap, when clocks go back, it is shown twice: At is the first. Other is
// the second meaning, for a person to see: in an overlap the second instant,
// in a gap the time read with the offset after the change, which lies before
// At. It is zero when there is neither.
type Moment struct {
	At, Other    time.Time
	Gap, Overlap bool
}

// Place finds the wall-clock time that lies so long after midnight of a date;
// since may be negative or longer than a day.
func (z Zone) Place(year int, month time.Month, day int, since time.Duration) Moment {
	naive := time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Add(since)
	// The offsets in force well before and well after the wall time.
	_, before := naive.Add(-30 * time.Hour).In(z.Location).Zone()
	_, after := naive.Add(30 * time.Hour).In(z.Location).Zone()
	first := naive.Add(-time.Duration(before) * time.Second).In(z.Location)
	if before == after && wallOf(first).Equal(naive) {
		return Moment{At: first}
	}
	later := naive.Add(-time.Duration(after) * time.Second).In(z.Location)
	shownFirst, shownLater := wallOf(first).Equal(naive), wallOf(later).Equal(naive)
	switch {
	case shownFirst && shownLater && !first.Equal(later):
		return Moment{At: first, Other: later, Overlap: true}
	case shownFirst:
		return Moment{At: first}
	case shownLater:
		return Moment{At: later}
	}
	return Moment{At: first, Other: later, Gap: true}
}

// from is Place for a course that begins at an instant: of a time shown twice
// the second is meant when only the first lies before the beginning.
func (z Zone) from(start time.Time, year int, month time.Month, day int, since time.Duration) Moment {
	m := z.Place(year, month, day, since)
	if m.Overlap && m.At.Before(start) && !m.Other.Before(start) {
		m.At, m.Other = m.Other, m.At
	}
	return m
}

// wallOf is what the clock shows, as if it were UTC.
func wallOf(t time.Time) time.Time {
	_, offset := t.Zone()
	return t.UTC().Add(time.Duration(offset) * time.Second)
}

// Wall is the instant of Place, and whether the clock never shows the time or
// shows it twice.
func (z Zone) Wall(year int, month time.Month, day int, since time.Duration) (at time.Time, gap, overlap bool) {
	m := z.Place(year, month, day, since)
	return m.At, m.Gap, m.Overlap
}

// SinceMidnight is the wall-clock time of t in the zone.
func (z Zone) SinceMidnight(t time.Time) time.Duration {
	h, m, s := t.In(z.Location).Clock()
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second + time.Duration(t.Nanosecond())
}
