package main

import (
	"fmt"
	"io"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/morning"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/settings"
	"weir.example/weir/mapping/policy"
)

// nightProgress shows on a terminal how far a night is, by what is written,
// with the rate since it began.
type nightProgress struct {
	s     streams
	quiet bool
	began time.Time
	last  time.Time
	shown bool
}

func newNightProgress(s streams, quiet bool) *nightProgress {
	return &nightProgress{s: s, quiet: quiet || !s.terminal, began: s.now()}
}

func (p *nightProgress) say(n night.Progress) {
	now := p.s.now()
	if p.quiet || now.Sub(p.last) < 200*time.Millisecond {
		return
	}
	p.last, p.shown = now, true
	rate := ""
	if took := now.Sub(p.began).Seconds(); took > 1 {
		rate = fmt.Sprintf(", %.0f patients per second", float64(n.Patients)/took)
	}
	left := ""
	of := max(n.Of, n.Patients)
	if of > n.Answered && n.Answered > 0 {
		left = fmt.Sprintf(", about %s left", (now.Sub(p.began) / time.Duration(n.Answered) * time.Duration(of-n.Answered)).Round(time.Second))
	}
	fmt.Fprintf(p.s.err, "\r\x1b[K%d of %d patients read, %d unchanged, %d of %d jobs done%s%s", n.Patients, of, n.Unchanged, n.Done, n.Jobs, rate, left)
}

func (p *nightProgress) clear() {
	if p.shown {
		fmt.Fprint(p.s.err, "\r\x1b[K")
	}
}

// nightWriter writes the answer in the form that was asked for.
func nightWriter(s streams, f reconcileFlags, set settings.Settings, record adapter.Store, ref policy.Reference) io.WriteCloser {
	o := morning.Options{Name: ref.Policy.Pharmacy.Name, Color: s.terminal && !f.noColor, Store: record, Zone: siteZone(ref)}
	if set.Public != "" {
		o.Base = set.Public + "/fhir"
	}
	return morning.New(s.out, f.output, o)
}

// siteZone is the time zone of the site, nil when the policy names none.
func siteZone(ref policy.Reference) *time.Location {
	zone, err := ref.Zones.Zone(ref.Policy.Home.Zone)
	if err != nil {
		return nil
	}
	return zone.Location
}
