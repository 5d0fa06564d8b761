package morning

import (
	"bytes"
	"cmp"
	"encoding/json"
	"slices"

	"weir.example/weir/adapter/night"
	"weir.example/weir/mapping/worksheet"
)

// order is a line of the night about one order.
type order struct {
	Order struct {
		Key, Identifier, Drug, PatientRef string
	}
	State, Verdict string
	Findings       []found
	Tasks          []worksheet.Task
	NotChecked     []worksheet.NotChecked

	gate    string
	fresh   bool
	at      int    // in the feed
	Address string // of its page; "" when there is none
}

type found struct {
	New bool
	worksheet.Finding
}

// failure is a line that could not be read.
type failure struct {
	File    string
	Line    int
	Outcome struct {
		Issue []struct {
			Details struct {
				Text   string
				Coding []struct{ Code string }
			}
			Diagnostics string
			Expression  []string
		}
	}
}

var weights = map[string]int{"block": 4, "hold": 3, "warn": 2, "note": 1}

// settle finds out the strictest gate, and whether it is new. Findings come
// worst first, new before those that stood.
func (o *order) settle() {
	for _, n := range o.NotChecked {
		if weights[n.Gate] > weights[o.gate] {
			o.gate = n.Gate
		}
	}
	for _, f := range o.Findings {
		if w := weights[f.Gate]; w > weights[o.gate] {
			o.gate = f.Gate
		}
		o.fresh = o.fresh || f.New && weights[f.Gate] >= weights["hold"]
	}
	if weights[o.gate] < weights["hold"] {
		o.fresh = slices.ContainsFunc(o.Findings, func(f found) bool { return f.New })
	}
	slices.SortStableFunc(o.Findings, func(a, b found) int {
		return cmp.Or(weights[b.Gate]-weights[a.Gate], number(b.New)-number(a.New))
	})
	slices.SortStableFunc(o.Tasks, byDue)
}

// byDue puts what is due first first, and what has no time last.
func byDue(a, b worksheet.Task) int {
	x, y := moment(a.Due), moment(b.Due)
	if x.IsZero() != y.IsZero() {
		return number(x.IsZero()) - number(y.IsZero())
	}
	return x.Compare(y)
}

func number(b bool) int {
	if b {
		return 1
	}
	return 0
}

// first is the order in which orders are read: the gate, what is new, what is
// due first, and then as the hospital has them.
func first(a, b *order) int {
	return cmp.Or(weights[b.gate]-weights[a.gate], number(b.fresh)-number(a.fresh), due(a, b), a.at-b.at)
}

func due(a, b *order) int {
	switch {
	case len(a.Tasks) == 0 || len(b.Tasks) == 0:
		return number(len(a.Tasks) == 0) - number(len(b.Tasks) == 0)
	}
	return byDue(a.Tasks[0], b.Tasks[0])
}

// shelf keeps the first of a list that may be long.
type shelf struct {
	list []*order
	most int
	more map[string]int // without room, by gate
}

func (s *shelf) add(o *order) {
	if s.list = append(s.list, o); len(s.list) >= 2*s.most {
		s.cut()
	}
}

func (s *shelf) cut() {
	slices.SortStableFunc(s.list, first)
	if len(s.list) <= s.most {
		return
	}
	if s.more == nil {
		s.more = map[string]int{}
	}
	for _, o := range s.list[s.most:] {
		s.more[o.gate]++
	}
	clear(s.list[s.most:])
	s.list = s.list[:s.most]
}

// collector keeps of a night what its report shows.
type collector struct {
	most         int
	count        int
	stop, warned shelf
	failed       []failure
	moreFailed   int
	unread       int // lines that are none of the night's
	night        *night.Summary
}

// mostFailed is how many lines that could not be read are listed.
const mostFailed = 100

func (c *collector) take(line []byte) error {
	c.stop.most, c.warned.most = c.most, c.most
	switch {
	case len(bytes.TrimSpace(line)) == 0:
	case bytes.HasPrefix(line, []byte(`{"night":`)):
		var x struct{ Night night.Summary }
		if err := json.Unmarshal(line, &x); err != nil {
			c.unread++
			return nil
		}
		c.night = &x.Night
	case bytes.HasPrefix(line, []byte(`{"file":`)):
		if len(c.failed) >= mostFailed {
			c.moreFailed++
			return nil
		}
		var f failure
		if err := json.Unmarshal(line, &f); err != nil {
			c.unread++
			return nil
		}
		c.failed = append(c.failed, f)
	default:
		o := &order{at: c.count}
		c.count++
		if err := json.Unmarshal(line, o); err != nil || o.State == "" {
			c.unread++
			return nil
		}
		c.add(o)
	}
	return nil
}

func (c *collector) add(o *order) {
	o.settle()
	switch {
	case weights[o.gate] >= weights["hold"]:
		c.stop.add(o)
	case o.gate == "warn":
		o.Tasks = nil // said in short
		c.warned.add(o)
	}
}
