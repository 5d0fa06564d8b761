package orders

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Expectation is one line `expect …` of a case. Only the fields its kind
// needs are filled.
type Expectation struct {
	Kind  string // see kinds
	Stage string // the stage it holds at
	Order string // identifier value of the order meant; empty: any order of the document
	Code  string // finding or task code; of a culprit, the finding it stands in
	Gate  string // block hold warn note; empty: not said
	Name  string // NAME of a quantity; of a culprit, what is blamed
	Value string // decimal as text, or an instant; of a culprit, its signature; of a delivery, the date
	Unit  string // UCUM, or empty
	Count string // whole number
	Line  int    // where it stands in the text of the case
}

// kinds tells how many words follow each kind of expectation: at least, at
// most. README.md says what each of them means.
var kinds = map[string][2]int{
	"verdict": {1, 1}, "finding": {1, 2}, "no-finding": {1, 1}, "not-checked": {1, 1},
	"task": {1, 1}, "no-task": {1, 1}, "quantity": {2, 3}, "culprit": {2, 3},
	"doses": {1, 1}, "first-dose": {1, 1}, "last-dose": {1, 1}, "delivery": {2, 2}, "kit": {2, 2}, "hazard": {2, 2},
	"nightly": {1, 2}, "refused": {1, 1},
}

var (
	gates    = []string{"block", "hold", "warn", "note"}
	stages   = []string{"intake", "release", "pack", "dispatch", "start", "close"}
	verdicts = []string{"ready", "hold", "block", "indeterminate"}
)

// edit is one change of a variant.
type edit struct {
	verb string // set add delete drop resource
	rest string
	line int
}

var verbs = []string{"set", "add", "delete", "drop", "resource"}

// derive makes a variant: the text names what it rests on, and the edits.
// Clock, stage and standing lock are taken over when not said; reason,
// source and expectations never are.
func derive(name, text string, base func(string) (Fixture, error)) (Fixture, error) {
	wrong := func(err error) (Fixture, error) {
		return Fixture{}, fmt.Errorf("orders: variant %s: %w", name, err)
	}
	var head Fixture
	if _, err := head.read(text); err != nil {
		return wrong(err)
	}
	if head.Base == "" {
		return wrong(errors.New("no line `base:`"))
	}
	from, err := base(head.Base)
	if err != nil {
		return wrong(err)
	}
	f := Fixture{Name: name, Now: from.Now, Stage: from.Stage, StandingLock: from.StandingLock}
	edits, err := f.read(text)
	if err != nil {
		return wrong(err)
	}
	f.Document, err = apply(from.Document, edits)
	if err != nil {
		return wrong(err)
	}
	if err := f.complete(); err != nil {
		return wrong(err)
	}
	return f, nil
}

// read takes the lines of a case or a variant. A line that begins with a
// space goes on with the line before it; an empty line and one that begins
// with # say nothing.
func (f *Fixture) read(text string) ([]edit, error) {
	var edits []edit
	for _, l := range joined(text) {
		if err := f.line(l, &edits); err != nil {
			return nil, fmt.Errorf("line %d: %w", l.line, err)
		}
	}
	for i := range f.Expect {
		if f.Expect[i].Stage == "" {
			f.Expect[i].Stage = f.Stage
		}
	}
	return edits, nil
}

func (f *Fixture) line(l edit, edits *[]edit) error {
	var err error
	switch l.verb {
	case "why:":
		f.Why = strings.TrimSpace(f.Why + " " + l.rest)
	case "source:":
		f.Source = strings.TrimSpace(f.Source + " " + l.rest)
	case "base:":
		f.Base = l.rest
	case "now:":
		f.Now, err = time.Parse(time.RFC3339, l.rest)
	case "stage:":
		f.Stage, err = oneOf(l.rest, stages)
	case "standing-lock:":
		word, e := oneOf(l.rest, []string{"yes", "no"})
		f.StandingLock, err = word == "yes", e
	case "expect":
		var e Expectation
		e, err = expectation(l.rest)
		e.Line = l.line
		f.Expect = append(f.Expect, e)
	default:
		_, err = oneOf(l.verb, verbs)
		*edits = append(*edits, l)
	}
	return err
}

func (f Fixture) complete() error {
	switch {
	case f.Why == "":
		return errors.New("no line `why:`")
	case f.Now.IsZero():
		return errors.New("no line `now:`")
	case len(f.Expect) == 0:
		return errors.New("nothing is expected, so nothing could fail")
	}
	return nil
}

func joined(text string) []edit {
	var out []edit
	for i, s := range strings.Split(text, "\n") {
		s = strings.TrimRight(s, " \t\r")
		if s == "" || s[0] == '#' {
			continue
		}
		if (s[0] == ' ' || s[0] == '\t') && len(out) > 0 {
			out[len(out)-1].rest += " " + strings.TrimSpace(s)
			continue
		}
		verb, rest, _ := strings.Cut(s, " ")
		out = append(out, edit{verb, strings.TrimSpace(rest), i + 1})
	}
	return out
}

// expectation reads KIND WORDS… [at STAGE] [order IDENTIFIER].
func expectation(text string) (Expectation, error) {
	w := strings.Fields(text)
	var e Expectation
	var err error
	for len(w) > 2 {
		if n := len(w); w[n-2] == "at" {
			e.Stage, err = oneOf(w[n-1], stages)
		} else if w[n-2] == "order" {
			e.Order = w[n-1]
		} else {
			break
		}
		w = w[:len(w)-2]
	}
	if err != nil || len(w) == 0 {
		return e, errors.Join(err, errors.New("expect KIND …"))
	}
	e.Kind, w = w[0], w[1:]
	span, known := kinds[e.Kind]
	if !known {
		return e, fmt.Errorf("no kind of expectation is called %q", e.Kind)
	}
	if len(w) < span[0] || len(w) > span[1] {
		return e, fmt.Errorf("%s is followed by %d to %d words, not %d", e.Kind, span[0], span[1], len(w))
	}
	w = append(w, "", "", "")
	switch e.Kind {
	case "verdict":
		e.Value, err = oneOf(w[0], verdicts)
	case "first-dose", "last-dose":
		e.Value = w[0]
		_, err = time.Parse(time.RFC3339, w[0])
	case "quantity":
		e.Name, e.Value, e.Unit = w[0], w[1], w[2]
	case "culprit":
		e.Code, e.Name, e.Value = w[0], w[1], w[2]
	case "doses":
		e.Count = w[0]
	case "delivery":
		e.Value, e.Count = w[0], w[1]
	case "kit":
		e.Name, e.Count = w[0], w[1]
	case "hazard":
		e.Name, e.Value = w[0], w[1]
	default:
		e.Code, e.Gate = w[0], w[1]
		if e.Gate != "" {
			_, err = oneOf(e.Gate, gates)
		}
	}
	return e, err
}

func oneOf(word string, words []string) (string, error) {
	if !slices.Contains(words, word) {
		return "", fmt.Errorf("%q is none of %s", word, strings.Join(words, ", "))
	}
	return word, nil
}
