package worklist

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// listPage is one page of the list.
type listPage struct {
	Verdicts, States, Dues []choice
	Limited                bool // by any of them
	Rows                   []row
	Next                   string // address of the next page, "" on the last
	First                  bool
	Public                 string
}

// choice is one option of a field above the list.
type choice struct {
	Value, Words string
	Chosen       bool
}

// row is one order of the list.
type row struct {
	Verdict                     mark
	Address                     string
	Known                       bool // who it is for is known
	Name, BirthDate, Identifier string
	Drug                        string
	DrugSent                    bool // the drug is in the sender's words
	Worst, Fault                string
	More                        int // further findings
	Next                        *nextTask
	Due                         instant
	Stage, State                string
	Judged                      instant
}

// nextTask is what has to be done next.
type nextTask struct {
	Title, Role string
	Due         instant
	Waits       bool
}

var verdicts = []string{"block", "hold", "indeterminate", "ready"}
var states = []string{"active", "on-hold", "draft", "stopped", "cancelled", "completed", "entered-in-error", "unknown"}

// dues are the spans of the due filter.
var dues = []struct {
	value, words string
	ahead        time.Duration
}{{"passed", "due time has passed", 0}, {"day", "due within 24 hours", 24 * time.Hour}, {"week", "due within 7 days", 7 * 24 * time.Hour}}

func choices(all string, list []string, chosen string, say func(string) string) []choice {
	out := []choice{{"", all, chosen == ""}}
	for _, v := range list {
		out = append(out, choice{v, say(v), v == chosen})
	}
	return out
}

// asked reads the filter of an address. The next page carries the instant
// that the first one had, so that all pages answer one question.
func (p Pages) asked(q url.Values) (adapter.OrderFilter, string, error) {
	f := adapter.OrderFilter{Verdict: q.Get("verdict"), State: q.Get("state")}
	due := q.Get("due")
	for name, values := range q {
		if len(values) != 1 || !slices.Contains([]string{"verdict", "state", "due", "until", "after"}, name) {
			return f, "", badAsk
		}
	}
	if f.Verdict != "" && !slices.Contains(verdicts, f.Verdict) || f.State != "" && !slices.Contains(states, f.State) {
		return f, "", badAsk
	}
	if due == "" {
		return f, "", nil
	}
	for _, d := range dues {
		if d.value == due {
			f.DueBefore = p.Now().Add(d.ahead).UTC().Truncate(time.Second)
			if until := q.Get("until"); until != "" {
				t, err := time.Parse(time.RFC3339, until)
				if err != nil {
					return f, "", badAsk
				}
				f.DueBefore = t.UTC()
			}
			return f, due, nil
		}
	}
	return f, "", badAsk
}

func (p Pages) list(r *http.Request) (string, frame, error) {
	q := r.URL.Query()
	filter, due, err := p.asked(q)
	if err != nil {
		return "", frame{}, err
	}
	slice, err := p.Store.Orders(r.Context(), filter, adapter.Page{Limit: p.Rows, After: q.Get("after")})
	if err != nil {
		return "", frame{}, err
	}
	page := listPage{Public: p.Public, First: q.Get("after") == "", Limited: filter != adapter.OrderFilter{},
		Verdicts: choices("every verdict", verdicts, filter.Verdict, func(v string) string { return badge(v).Word }),
		States:   choices("every state", states, filter.State, words)}
	page.Dues = []choice{{"", "any time", due == ""}}
	for _, d := range dues {
		page.Dues = append(page.Dues, choice{d.value, d.words, d.value == due})
	}
	for _, o := range slice.Orders {
		one, err := p.row(r, o)
		if err != nil {
			return "", frame{}, err
		}
		page.Rows = append(page.Rows, one)
	}
	if slice.Next != "" {
		next := url.Values{"after": {slice.Next}}
		for name, v := range map[string]string{"verdict": filter.Verdict, "state": filter.State, "due": due} {
			if v != "" {
				next.Set(name, v)
			}
		}
		if due != "" {
			next.Set("until", filter.DueBefore.Format(time.RFC3339))
		}
		page.Next = "/?" + next.Encode()
	}
	return "list.html", frame{Title: "Orders", Home: true, Page: page}, nil
}

// row reads what the list shows of one order.
func (p Pages) row(r *http.Request, o adapter.OrderLine) (row, error) {
	out := row{Verdict: badge(o.Verdict), Address: address(o.Resource), Drug: drugName(o.Drug), DrugSent: !generic(o.Drug), Stage: words(o.Stage), State: words(o.State)}
	sheets, err := p.Store.Worksheets(r.Context(), o.Key, 1)
	if err != nil {
		return out, err
	}
	tasks, err := p.recorded(r.Context(), o)
	if err != nil {
		return out, err
	}
	h := p.home("")
	if len(sheets) == 0 {
		out.Fault = "Not judged yet: do not act on it"
		out.Next, out.Due = next(h, worksheet.Worksheet{Verdict: o.Verdict}, tasks), h.at(o.Due)
		return out, nil
	}
	w, ok := brief(sheets[0])
	if !ok {
		out.Verdict, out.Fault = badge("indeterminate"), "The stored answer cannot be read: open the order"
		out.Next, out.Due = next(h, worksheet.Worksheet{Verdict: o.Verdict}, tasks), h.at(o.Due)
		return out, nil
	}
	if sheets[0].Number != o.Number {
		out.Verdict, out.Fault = badge("indeterminate"), "Changed since it was judged: do not act on it"
	}
	h = p.home(w.Schedule.Zone)
	out.Known = w.Identity != worksheet.Identity{}
	out.Name, out.BirthDate, out.Identifier = w.Identity.Name, born(w.Identity.BirthDate), identifier(w.Identity.Identifier)
	out.Worst, out.More = worst(w)
	out.Next, out.Due, out.Judged = next(h, w, tasks), h.at(o.Due), h.at(sheets[0].Made)
	return out, nil
}

// address is where an order is read: its id is one that we made.
func address(resource string) string { return "/orders/" + url.PathEscape(resource) }

// stored reads a stored worksheet, with every text made visible, and the
// numbers of our own sentences kept with their units.
func stored(s adapter.StoredSheet) (w worksheet.Worksheet, ok bool) {
	if json.Unmarshal(s.JSON, &w) != nil {
		return w, false
	}
	eachText(reflect.ValueOf(&w), shown)
	for _, ours := range []any{&w.Summary, &w.Quantities, &w.Findings, &w.NotChecked, &w.Schedule, &w.Deliveries, &w.Kit, &w.Tasks, &w.Hazard, &w.Cautions} {
		eachText(reflect.ValueOf(ours), bound)
	}
	return w, true
}

// brief reads of a stored worksheet only what the list shows: a tenth of it.
func brief(s adapter.StoredSheet) (w worksheet.Worksheet, ok bool) {
	var part struct {
		Identity   worksheet.Identity
		Verdict    string
		Findings   []struct{ Code, Gate, Title string }
		NotChecked []worksheet.NotChecked
		Tasks      []worksheet.Task
		Schedule   struct{ Zone string }
	}
	if json.Unmarshal(s.JSON, &part) != nil {
		return w, false
	}
	w = worksheet.Worksheet{Identity: part.Identity, Verdict: part.Verdict, NotChecked: part.NotChecked, Tasks: part.Tasks, Schedule: worksheet.Schedule{Zone: part.Schedule.Zone}}
	for _, f := range part.Findings {
		w.Findings = append(w.Findings, worksheet.Finding{Code: f.Code, Gate: f.Gate, Title: f.Title})
	}
	eachText(reflect.ValueOf(&w), shown)
	return w, true
}

// worst is the title of the first finding, and how many more there are. Where
// nothing was found, it is the first fact that holds the order for its absence.
func worst(w worksheet.Worksheet) (string, int) {
	missing := 0
	var first worksheet.NotChecked
	for _, n := range w.NotChecked {
		if finding.Gate(n.Gate).Weight() > 0 {
			if missing++; missing == 1 {
				first = n
			}
		}
	}
	switch {
	case len(w.Findings) > 0:
		return w.Findings[0].Title, len(w.Findings) - 1 + missing
	case missing > 0:
		return lacks(first), missing - 1
	}
	return "", 0
}

// lacks says what a rule could not be asked for want of.
func lacks(n worksheet.NotChecked) string {
	if n.Says != "" {
		return n.Says
	}
	return fmt.Sprintf("not known: %s", joined(n.Missing))
}

// born is a birth date for people: months are words, because 11/10 is two
// dates. What is no whole date stands as it was received.
func born(date string) string {
	if t, err := time.Parse(time.DateOnly, date); err == nil {
		return notation.NonBreaking(notation.Date(t))
	}
	return date
}
