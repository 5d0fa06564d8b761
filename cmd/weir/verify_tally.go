package main

import (
	"fmt"
	"os"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/finding"
)

// tally is what the exit code and standard error need of all answers.
type tally struct {
	s                  streams
	flags              verifyFlags
	several            bool
	worst              finding.Gate
	judged, unreadable int
	said, unsaid       int // documents whose refusal stands on standard error, and does not
	unsigned           bool
	progress           progress
}

// mostRefusals of one document, and of mostRefused documents, are said on
// standard error.
const (
	mostRefusals = 10
	mostRefused  = 20
)

func newTally(s streams, f verifyFlags, several bool) *tally {
	t := &tally{s: s, flags: f, several: several, worst: finding.NoGate}
	if file, ok := s.err.(*os.File); ok && !f.quiet && !s.terminal && isTerminal(file) {
		t.progress.file = file
	}
	return t
}

func (t *tally) add(r adapter.Row) {
	switch {
	case len(r.Faults) > 0:
		t.unreadable++
		t.say(r)
	case len(r.Worksheets) > 0:
		t.judged++
	}
	for _, w := range r.Worksheets {
		if g := adapter.Gate(w); g.Weight() > t.worst.Weight() {
			t.worst = g
		}
	}
	t.unsigned = t.unsigned || len(r.Worksheets) > 0 && !r.Signed
	t.progress.show(t.judged, t.unreadable)
}

// say puts a refusal on standard error, where it cannot spoil the data.
func (t *tally) say(r adapter.Row) {
	if t.flags.quiet {
		return
	}
	if t.said == mostRefused {
		t.unsaid++
		return
	}
	t.said++
	t.progress.clear()
	where := ""
	if r.Line > 0 {
		where = fmt.Sprintf("line %d: ", r.Line)
		if t.several || r.Folder {
			where = fmt.Sprintf("%q line %d: ", r.File, r.Line)
		}
	}
	for i, x := range r.Faults {
		if i == mostRefusals {
			fmt.Fprintf(t.s.err, "weir: and %d more; the outcome on standard output lists them\n", len(r.Faults)-i)
			break
		}
		fmt.Fprintf(t.s.err, "weir: refused: %s%s\n", where, adapter.Refusal(x))
	}
}

// outcome says what is left to say and gives the exit code: findings weigh
// more than documents that failed beside them.
func (t *tally) outcome() error {
	if !t.flags.quiet {
		if t.unsaid > 0 {
			fmt.Fprintf(t.s.err, "weir: and %d more documents refused; standard output has an outcome for each\n", t.unsaid)
		}
		if t.unsigned {
			fmt.Fprintln(t.s.err, "weir: reference tables are unsigned: nothing may be released on this answer until a pharmacist signs them (weir explain tables-unsigned)")
		}
	}
	switch {
	case t.judged == 0:
		return exit{exitUnreadable}
	case t.flags.failOn != "never" && t.worst.Weight() >= finding.Gate(t.flags.failOn).Weight():
		return exit{exitFound}
	case t.unreadable > 0:
		return exit{exitSomeFailed}
	}
	return nil
}

// progress counts on a terminal while the data goes elsewhere.
type progress struct {
	file  *os.File
	next  time.Time
	shown bool
}

func (p *progress) show(judged, failed int) {
	if p.file == nil || time.Now().Before(p.next) {
		return
	}
	if p.next.IsZero() { // nothing in the first moments: most runs are one document
		p.next = time.Now().Add(time.Second)
		return
	}
	p.next, p.shown = time.Now().Add(200*time.Millisecond), true
	fmt.Fprintf(p.file, "\r%d judged, %d refused ", judged, failed)
}

func (p *progress) clear() {
	if p.shown {
		fmt.Fprint(p.file, "\r\x1b[K")
		p.shown = false
	}
}
