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

// Wall is the instant at which a clock in the zone shows the date and the
// time since midnight. In the gap when clocks go forward the clock never
// shows it: the instant is as long after midnight as it would have been
// without the change, so the dose is not early and not lost. In the overlap
// when clocks go back it is shown twice: the first is meant. Either is
// reported, so that both times can be shown.
func (z Zone) Wall(year int, month time.Month, day int, since time.Duration) (at time.Time, gap, overlap bool) {
	naive := time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Add(since)
	// The offsets in force well before and well after the wall time.
	_, before := naive.Add(-30 * time.Hour).In(z.Location).Zone()
	_, after := naive.Add(30 * time.Hour).In(z.Location).Zone()
	first := naive.Add(-time.Duration(before) * time.Second).In(z.Location)
	later := naive.Add(-time.Duration(after) * time.Second).In(z.Location)
	shows := func(t time.Time) bool {
		y, m, d := t.Date()
		h, mi, s := t.Clock()
		return time.Date(y, m, d, h, mi, s, t.Nanosecond(), time.UTC).Equal(naive)
	}
	switch {
	case shows(first):
		return first, false, before != after && shows(later) && !first.Equal(later)
	case shows(later):
		return later, false, false
	}
	return first, true, false
}

// SinceMidnight is the wall-clock time of t in the zone.
func (z Zone) SinceMidnight(t time.Time) time.Duration {
	h, m, s := t.In(z.Location).Clock()
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second + time.Duration(t.Nanosecond())
}
