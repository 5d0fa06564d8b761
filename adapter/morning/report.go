package morning

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/adapter/night"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// report is what is shown of a night, in words, the same for every form.
type report struct {
	Name, Now, Feed string
	Ended           bool // false: the night did not come to its end
	Blocked         bool // automatic release
	About           []shownFinding
	Before          string // what the counts are compared with, in words; "" for nothing
	Counts          []counted
	Groups          []group
	Warned          []shownOrder
	More            string // orders with findings that are not shown, in words
	Failed          []shownFailure
	MoreFailed      int
	Unread          int
	Remark          []string // what else has to be said of the report itself
}

type counted struct {
	What    string
	Tonight int
	Before  string
}

// group is the orders of one gate, the new ones or those that stood.
type group struct {
	Gate, Word, Title string
	New               bool
	Orders            []shownOrder
}

type shownOrder struct {
	Drug, Identifier, System, State, Gate, Word, Address string
	Findings                                             []shownFinding
	MoreFindings                                         int
	Unchecked                                            []string
	Tasks                                                []shownTask
	MoreTasks                                            int
}

type shownFinding struct {
	Gate, Word, Title, Code, Observed, Expected, Do string
	New                                             bool
}

type shownTask struct{ Due, Exact, Role, Title, Says, Closes string }

type shownFailure struct{ Place, Text, Do string }

// Bounds of one order on the report; the page of the order has all.
const (
	mostFindings = 12
	mostTasks    = 20
)

// report puts what was collected into words.
func (c *collector) report(o Options) report {
	c.stop.cut()
	c.warned.cut()
	r := report{Name: o.Name, Ended: c.night != nil, Unread: c.unread, MoreFailed: c.moreFailed}
	if n := c.night; n != nil {
		r.head(n, o)
	}
	for _, gate := range []string{"block", "hold"} {
		for _, fresh := range []bool{true, false} {
			g := group{Gate: gate, Word: word(gate), New: fresh}
			for _, x := range c.stop.list {
				if x.gate == gate && x.fresh == fresh {
					g.Orders = append(g.Orders, o.order(x))
				}
			}
			if len(g.Orders) > 0 {
				g.Title = fmt.Sprintf("%s: %s", g.Word, plural(len(g.Orders), map[bool]string{true: "order with something new", false: "order that stood before"}[fresh]))
				r.Groups = append(r.Groups, g)
			}
		}
	}
	for _, x := range c.warned.list {
		r.Warned = append(r.Warned, o.order(x))
	}
	var more []string
	for _, gate := range []string{"block", "hold", "warn"} {
		if n := c.stop.more[gate] + c.warned.more[gate]; n > 0 {
			more = append(more, plural(n, "more order")+" with a "+strings.ToLower(word(gate)))
		}
	}
	r.More = strings.Join(more, ", ")
	for _, f := range c.failed {
		r.Failed = append(r.Failed, shownLine(f))
	}
	return r
}

func (r *report) head(n *night.Summary, o Options) {
	r.Now, r.Feed = o.local(n.Now), "not known"
	if n.TransactionTime != "" {
		r.Feed = o.local(n.TransactionTime)
	}
	r.Blocked = n.AutoRelease != "allowed"
	for _, f := range n.Findings {
		r.About = append(r.About, shownFinding{Gate: f.Gate, Word: word(f.Gate), Title: f.Title, Code: f.Code, Observed: f.Observed, Expected: f.Expected, Do: f.Remedy})
	}
	b := n.Before
	if b != nil {
		r.Before = o.before(n.Now, b.Now)
	}
	row := func(what string, tonight int, before func(*night.Earlier) int) {
		x := counted{What: what, Tonight: tonight}
		if b != nil {
			x.Before = fmt.Sprint(before(b))
		}
		r.Counts = append(r.Counts, x)
	}
	row("orders", n.Orders.Total, func(b *night.Earlier) int { return b.Orders.Total })
	row("new", n.Orders.New, func(b *night.Earlier) int { return b.Orders.New })
	row("changed", n.Orders.Changed, func(b *night.Earlier) int { return b.Orders.Changed })
	row("unchanged", n.Orders.Unchanged, func(b *night.Earlier) int { return b.Orders.Unchanged })
	row("absent at the hospital", n.Orders.Absent, func(b *night.Earlier) int { return b.Orders.Absent })
	row("older than what is held", n.Orders.Older, func(b *night.Earlier) int { return b.Orders.Older })
	row("with a block", n.Found.Block, func(b *night.Earlier) int { return b.Found.Block })
	row("with a hold", n.Found.Hold, func(b *night.Earlier) int { return b.Found.Hold })
	row("with a warning", n.Found.Warn, func(b *night.Earlier) int { return b.Found.Warn })
	row("with a new block or hold", n.Found.New, func(b *night.Earlier) int { return b.Found.New })
	row("lines read", n.Lines, func(b *night.Earlier) int { return b.Lines })
	row("lines that could not be read", n.Failed, func(b *night.Earlier) int { return b.Failed })
}

func (o Options) order(x *order) shownOrder {
	system, value, both := strings.Cut(x.Order.Identifier, "|")
	if !both {
		system, value = "", system
	}
	s := shownOrder{Drug: notation.DrugName(x.Order.Drug), Identifier: value, System: system, State: states[x.State], Gate: x.gate, Word: word(x.gate), Address: x.Address}
	if s.Drug == "" {
		s.Drug = "drug not known"
	}
	if s.State == "" {
		s.State = x.State
	}
	for _, f := range x.Findings {
		if f.Gate == "note" {
			continue
		}
		if i := slices.IndexFunc(s.Findings, func(x shownFinding) bool {
			return x.Code == f.Code && x.Gate == f.Gate && x.New == f.New && x.Expected == f.Expected
		}); i >= 0 {
			s.Findings[i].Observed += "; also: " + f.Observed // of one kind, on one line
			continue
		}
		if len(s.Findings) == mostFindings {
			s.MoreFindings++
			continue
		}
		s.Findings = append(s.Findings, shownFinding{Gate: f.Gate, Word: word(f.Gate), New: f.New, Title: f.Title, Code: f.Code, Observed: f.Observed, Expected: f.Expected, Do: f.Remedy})
	}
	for _, n := range x.NotChecked {
		if n.Gate == "" {
			continue
		}
		text := n.Says
		if text == "" {
			text = "missing: " + strings.Join(n.Missing, ", ")
		}
		if row, ok := finding.Lookup(finding.Code(n.Code)); ok {
			text = row.Title + ": " + text
		}
		if !slices.Contains(s.Unchecked, text) {
			s.Unchecked = append(s.Unchecked, text)
		}
	}
	for _, t := range x.Tasks {
		if len(s.Tasks) == mostTasks {
			s.MoreTasks++
			continue
		}
		due := shownTask{Due: "no time fixed", Role: strings.ReplaceAll(t.Role, "-", " "), Title: t.Title, Says: t.Says, Closes: t.Closes}
		if t.Due != "" {
			due.Due = o.when(t.Due, t.Zone)
			if !moment(t.Due).IsZero() {
				due.Exact = t.Due
			}
		}
		s.Tasks = append(s.Tasks, due)
	}
	return s
}

func shownLine(f failure) shownFailure {
	s := shownFailure{Place: fmt.Sprintf("line %d of %s", f.Line, f.File), Text: "it could not be read"}
	for i, x := range f.Outcome.Issue {
		if i > 0 {
			s.Text += fmt.Sprintf("; and %s more", plural(len(f.Outcome.Issue)-1, "fault"))
			break
		}
		if x.Details.Text != "" {
			s.Text = x.Details.Text
		}
		if len(x.Expression) > 0 && x.Expression[0] != "$this" {
			s.Text = x.Expression[0] + ": " + s.Text
		}
		s.Do = x.Diagnostics
	}
	return s
}

var states = map[string]string{"new": "new tonight", "changed": "changed since it was last seen", "unchanged": "unchanged at the hospital",
	"absent": "not at the hospital any more", "older": "the hospital sent an older version"}

func word(gate string) string {
	switch gate {
	case "block", "hold", "note":
		return strings.ToUpper(gate)
	case "warn":
		return "WARNING"
	}
	return strings.ToUpper(gate)
}

// moment reads an instant; zero when it is none.
func moment(text string) time.Time {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return time.Time{}
	}
	return t
}

// local is an instant in the time of the pharmacy.
func (o Options) local(text string) string {
	t := moment(text)
	if t.IsZero() {
		return text
	}
	if o.Zone != nil {
		t = t.In(o.Zone)
	}
	return notation.Instant(t, "")
}

// when is an instant of a home in the home's time. Where the zone of the home
// is not said, it is in the words of the pharmacy's where both clocks show the
// same.
func (o Options) when(text, zone string) string {
	t := moment(text)
	if t.IsZero() {
		return text
	}
	_, home := t.Zone()
	z, _ := schedule.LoadZones().Zone(zone)
	for _, at := range []*time.Location{z.Location, o.Zone} {
		if at == nil {
			continue
		}
		if _, here := t.In(at).Zone(); here == home {
			t = t.In(at)
			break
		}
	}
	return notation.Instant(t, "")
}

// before is the run before in a word.
func (o Options) before(now, then string) string {
	a, b := moment(now), moment(then)
	if o.Zone != nil {
		a, b = a.In(o.Zone), b.In(o.Zone)
	}
	if a.AddDate(0, 0, -1).Format(time.DateOnly) == b.Format(time.DateOnly) {
		return "yesterday"
	}
	return "at the run of " + notation.Instant(b, "")
}

func plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	first, rest, _ := strings.Cut(one, " ")
	if first == "more" {
		first, rest = first+" "+rest+"s", ""
	} else {
		first += "s"
	}
	return strings.TrimSpace(notation.Number(quantity.Int(int64(n))) + " " + first + " " + rest)
}
