package nightgen

import (
	"bufio"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Layout is how a folder is cut. It has no meaning.
type Layout struct {
	Parts  int  // files for each type, from 1
	Packed bool // by gzip
}

// Totals count what was written.
type Totals struct {
	Orders, Lines, Broken int
	Bytes                 int64 // unpacked
}

// teamSize is how many patients have the same prescriber.
const teamSize = 50

// Write writes a night as files that create makes, among them manifest.json.
// The orders stand in another order every night.
func (h Hospital) Write(night int, layout Layout, create func(name string) (io.WriteCloser, error)) (Totals, error) {
	w := &writer{h: h, night: night, layout: layout, create: create, files: map[string]*output{}}
	w.layout.Parts = max(1, layout.Parts)
	for n := 0; n*teamSize < h.count(night); n++ {
		w.team(n)
	}
	var s state
	count := h.count(night)
	step := stride(count, mix(h.Seed, uint64(night), 6))
	broken := 0
	for i, n := 0, 0; i < count && w.err == nil; i, n = i+1, (n+step)%count {
		h.at(n, night, &s)
		w.order(&s)
		for ; broken < h.Broken*(i+1)/count; broken++ {
			w.broken(broken)
		}
	}
	return w.finish()
}

// stride is a number without a common divisor with the count, so that steps
// of it visit all.
func stride(count int, chance uint64) int {
	gcd := func(a, b int) int {
		for b > 0 {
			a, b = b, a%b
		}
		return a
	}
	step := int(chance%uint64(max(1, count))) | 1
	for gcd(step, count) != 1 {
		step++
	}
	return step
}

type writer struct {
	h      Hospital
	night  int
	layout Layout
	create func(string) (io.WriteCloser, error)
	files  map[string]*output // by type and part
	buf    []byte
	totals Totals
	err    error
}

type output struct {
	name, kind string
	lines      int
	*bufio.Writer
	close []io.Closer // outermost first
}

// put writes one line to a part that chance picks.
func (w *writer) put(kind string, line []byte, chance uint64) {
	part := int(chance % uint64(w.layout.Parts))
	key := kind + strconv.Itoa(part)
	o := w.files[key]
	if o == nil {
		if o = w.open(kind, part); o == nil {
			return
		}
		w.files[key] = o
	}
	o.lines++
	w.totals.Lines++
	w.totals.Bytes += int64(len(line))
	if _, err := o.Write(line); err != nil && w.err == nil {
		w.err = err
	}
}

func (w *writer) open(kind string, part int) *output {
	o := &output{kind: kind, name: kind + ".ndjson"}
	if w.layout.Parts > 1 {
		o.name = fmt.Sprintf("%s.%d.ndjson", kind, part)
	}
	if w.layout.Packed {
		o.name += ".gz"
	}
	file, err := w.create(o.name)
	if err != nil {
		w.err = err
		return nil
	}
	o.close = []io.Closer{file}
	if w.layout.Packed {
		packed, _ := gzip.NewWriterLevel(file, gzip.BestSpeed)
		o.close = []io.Closer{packed, file}
		o.Writer = bufio.NewWriterSize(packed, 64<<10)
	} else {
		o.Writer = bufio.NewWriterSize(file, 64<<10)
	}
	return o
}

// line fills and writes one, with its noise.
func (w *writer) line(s *state, l *line) {
	v := &s.values
	v[version], v[updated] = written(3+s.bumps, first.Add(-3*time.Hour+time.Duration(s.bumps)*time.Minute))
	if since := max(s.facts[l.class], s.born); since > 0 {
		v[version], v[updated] = written(3+s.bumps+since, Clock(since).Add(-30*time.Minute+time.Duration(s.bumps)*time.Minute))
	}
	if s.resent && l.class == request {
		v[version], v[updated] = written(2, first.Add(-30*time.Hour))
	}
	chance := mix(w.h.Seed, uint64(s.number), uint64(w.night), uint64(len(w.buf)), 7, uint64(l.class), w.h.Seed+uint64(w.totals.Lines))
	noise := uint64(99)
	if w.h.Noise {
		noise = chance >> 32 % 40
	}
	w.buf = l.fill(w.buf[:0], v, noise == 0)
	if noise == 1 {
		w.buf = append(append(w.buf[:1:1], ' ', '\t'), append(slices.Clone(w.buf[1:len(w.buf)-1]), ' ', '}')...)
	}
	w.buf = append(w.buf, '\n')
	w.put(l.kind, w.buf, chance)
	if noise == 2 {
		w.put(l.kind, w.buf, chance>>8)
	}
}

// order writes everything of one patient.
func (w *writer) order(s *state) {
	if s.gone {
		return
	}
	changed := s.regimen.changes[s.changed]
	if s.resent {
		changed = nil
		if s.kind == Resent {
			changed = s.regimen.changes[Dose]
		}
		was := s.values[status]
		s.values[status] = "active"
		defer func() { s.values[status] = was }()
	}
	for i := range s.regimen.lines {
		l := &s.regimen.lines[i]
		if k := slices.IndexFunc(changed, func(c line) bool { return c.class == l.class }); k >= 0 && (!s.resent || l.class == request) {
			l = &changed[k]
		}
		if instead := s.instead[l.class]; instead != nil {
			l = instead
		}
		switch {
		case l.class == persons, s.lost && (l.class == request || l.class == pump || l.class == bag):
			continue
		case l.class == request:
			w.totals.Orders++
		}
		w.line(s, l)
	}
	for _, l := range s.add {
		w.line(s, l)
	}
	if s.extra != "" {
		w.second(s)
	}
}

// second writes the second order of a patient, three hours old when it came.
func (w *writer) second(s *state) {
	was, born := s.values, s.born
	v := &s.values
	s.born = s.since
	if s.extra == Replaced {
		v[prior] = `"priorPrescription":{"reference":"MedicationRequest/order-` + v[order] + `"},`
	}
	v[order], v[orderKey] = second(v[order]), second(v[orderKey])
	v[authored] = stamp(Clock(s.since).Add(-3 * time.Hour))
	half := s.regimen.changes[Dose]
	for i := range s.regimen.lines {
		l := &s.regimen.lines[i]
		if k := slices.IndexFunc(half, func(c line) bool { return c.class == l.class }); k >= 0 {
			l = &half[k]
		}
		if l.class == request || l.class == bag || l.class == pump {
			w.line(s, l)
			if l.class == request {
				w.totals.Orders++
			}
		}
	}
	s.values, s.born = was, born
}

// team writes the people who have several patients.
func (w *writer) team(n int) {
	s := state{number: -1 - n}
	s.values[team] = strconv.Itoa(n)
	for _, r := range regimens() {
		if r.lines[len(r.lines)-1].class == pump { // one with people who check
			for i := range r.lines {
				if r.lines[i].class == persons {
					w.line(&s, &r.lines[i])
				}
			}
			return
		}
	}
	panic("nightgen: no regimen with a second check")
}

// broken writes a line that cannot be read and does not say whose it is.
func (w *writer) broken(n int) {
	chance := mix(w.h.Seed, uint64(n), uint64(w.night), 8)
	text := []string{
		`{"resourceType":"Observation","id":"cut-%d","status":"fin`,
		`not JSON %d`,
		`{"resourceType":"Location","id":"misplaced-%d"}`,
		"{\"resourceType\":\"Observation\",\"id\":\"bytes-%d\",\"status\":\"\xff\"}",
		"\xef\xbb\xbf{\"resourceType\":\"Observation\",\"id\":\"mark-%d\"}",
		`{"resourceType":"Observation","id":"twice-%d","status":"final","status":"final"}`,
	}[chance%6]
	w.totals.Broken++
	w.put("Observation", []byte(fmt.Sprintf(text+"\n", n)), chance>>8)
}

// finish closes the files and writes the manifest.
func (w *writer) finish() (Totals, error) {
	type output struct {
		Type  string `json:"type"`
		URL   string `json:"url"`
		Count int    `json:"count"`
	}
	manifest := struct {
		TransactionTime string   `json:"transactionTime"`
		Request         string   `json:"request"`
		Output          []output `json:"output"`
		Error           []output `json:"error"`
	}{TransactionTime: stamp(Transaction(w.night)), Request: "https://hospital.example/fhir/$export", Error: []output{}}
	keep := func(err error) {
		if err != nil && w.err == nil {
			w.err = err
		}
	}
	for _, o := range w.files {
		keep(o.Flush())
		for _, c := range o.close {
			keep(c.Close())
		}
		manifest.Output = append(manifest.Output, output{o.kind, "https://hospital.example/files/" + o.name, o.lines})
	}
	slices.SortFunc(manifest.Output, func(a, b output) int { return strings.Compare(a.URL, b.URL) })
	text, err := json.MarshalIndent(manifest, "", "  ")
	keep(err)
	if w.err != nil {
		return w.totals, w.err
	}
	file, err := w.create("manifest.json")
	if err != nil {
		return w.totals, err
	}
	_, err = file.Write(append(text, '\n'))
	keep(err)
	keep(file.Close())
	return w.totals, w.err
}
