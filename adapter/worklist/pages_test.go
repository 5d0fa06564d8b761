package worklist_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/worklist"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// page is one answer, parsed.
type page struct {
	t    testing.TB
	root *html.Node
	text string // of the body, blanks made one
	raw  string
}

func open(t testing.TB, h http.Handler, path string) page {
	w := get(t, h, path)
	require.Equal(t, http.StatusOK, w.Code, path)
	return parsed(t, w.Body.String())
}

func parsed(t testing.TB, raw string) page {
	root, err := html.Parse(strings.NewReader(raw))
	require.NoError(t, err)
	return page{t, root, flat(textOf(root, nil)), raw}
}

// textOf is the text below a node; parts that skip names are left out.
func textOf(n *html.Node, skip func(*html.Node) bool) string {
	if skip != nil && skip(n) {
		return "\n"
	}
	if n.Type == html.TextNode {
		return n.Data
	}
	var b strings.Builder
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		b.WriteString(textOf(c, skip))
		if c.Type == html.ElementNode {
			switch c.Data {
			case "bdi", "a", "strong", "span", "mark", "code", "time":
				b.WriteString(" ")
			default:
				b.WriteString("\n")
			}
		}
	}
	return b.String()
}

func flat(text string) string { return strings.Join(strings.Fields(text), " ") }

func attr(n *html.Node, name string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val, true
		}
	}
	return "", false
}

// each visits every element.
func each(n *html.Node, f func(*html.Node)) {
	if n.Type == html.ElementNode {
		f(n)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		each(c, f)
	}
}

func (p page) has(text string, about ...any) {
	p.t.Helper()
	if want := flat(text); want != "" && !strings.Contains(p.text, want) {
		assert.Fail(p.t, "not on the page: "+want, about...)
	}
}

func (p page) find(tag string) []*html.Node {
	var out []*html.Node
	each(p.root, func(n *html.Node) {
		if n.Data == tag {
			out = append(out, n)
		}
	})
	return out
}

// TestEverythingOfTheAnswerIsOnThePage reads each page back against its worksheet.
func TestEverythingOfTheAnswerIsOnThePage(t *testing.T) {
	s, list := seeded(t, scenarios(t))
	h := pages(s).Handler()
	for _, k := range list {
		t.Run(k.Fixture.Name+k.Path, func(t *testing.T) {
			p, w := open(t, h, k.Path), k.Sheet
			p.has(w.Identity.Name)
			p.has(value(w.Identity.Identifier))
			p.has(value(w.Order.Identifier))
			p.has(notation.DrugName(w.Order.Drug))
			for _, l := range w.Summary {
				p.has(l.Label + " " + l.Text)
			}
			for name, q := range w.Quantities {
				p.has(notation.Name(name))
				for _, d := range q.Derivation {
					p.has(d.Text, name)
					if !regexp.MustCompile("[a-z][A-Z]|/").MatchString(d.Formula) {
						p.has(d.Formula, name)
					}
					p.has(d.Citation, name)
					for _, i := range d.Inputs {
						p.has(strings.ToLower(regexp.MustCompile("([a-z])([A-Z])").ReplaceAllString(notation.Name(i.Name), "$1 $2")), name)
					}
				}
				for _, st := range q.StatedAs {
					if st.Low == "" && st.Unit != "" {
						p.has(notation.Code(st.Value, st.Unit), name)
					}
				}
				assert.NotNil(t, p.id("n-"+name), name)
			}
			for i, f := range w.Findings {
				at := p.id(fmt.Sprintf("f%d", i+1))
				require.NotNil(t, at, f.Code)
				one := page{t: t, text: flat(textOf(at, nil))}
				for _, text := range []string{f.Title, f.Observed, f.Expected, f.Remedy, f.Citation, f.Sentence, f.Code} {
					one.has(text, f.Code)
				}
				for _, c := range f.Culprits {
					one.has(c.Sentence, f.Code)
					one.has(notation.Code(c.Consistent, c.Unit), f.Code)
				}
				assert.Equal(t, len(f.Culprits) > 0 && !f.Culprits[0].Named, strings.Contains(one.text, "One of these is in error"), f.Code)
			}
			for _, n := range w.NotChecked {
				p.has(n.Says, n.Code)
				p.has(n.Code)
			}
			for _, x := range w.Tasks {
				p.has(x.Title)
				p.has(x.Closes)
				p.has(x.Says)
				p.has(moment(w, x.Due))
			}
			for _, d := range w.Deliveries {
				for _, at := range []string{d.Arrival, d.StartBefore, d.FinishBy, d.FirstDose, d.LastDose} {
					p.has(moment(w, at))
				}
				p.has(d.Says)
				if d.Use == nil {
					continue
				}
				for _, l := range append(d.Use.Limits, d.Use.InUse...) {
					for _, text := range []string{moment(w, l.Until), l.Says, l.Source} {
						p.has(text, l.Of)
					}
				}
				for _, says := range d.Use.Says {
					p.has(says)
				}
			}
			for _, x := range w.Kit {
				p.has(fmt.Sprintf("%d %s %s", x.Quantity, x.Name, x.Formula))
			}
			for _, at := range append(w.Schedule.Doses, w.Schedule.FirstHomeDose, w.Schedule.LastDose, w.Schedule.EndsAt, w.Schedule.EndsEarliest, w.Schedule.EndsLatest) {
				p.has(moment(w, at))
			}
			for _, says := range append(append(w.Schedule.Says, w.Cautions...), w.Hazard.Handling...) {
				p.has(says)
			}
			for _, r := range w.Related {
				p.has(r.Drug)
				p.has(r.Text)
			}
			for _, u := range w.Unused {
				p.has(u.Reason)
			}
			if w.Lumens != nil {
				for _, x := range w.Lumens.Stretches {
					p.has(fmt.Sprintf("%s %s %s", x.Lumen, x.From, x.Until))
				}
				for _, says := range w.Lumens.Says {
					p.has(says)
				}
			}
			for _, text := range []string{w.Sources.Document, w.Sources.Tables, w.Sources.Policy, w.Sources.Program, w.Sources.Zones, moment(w, w.Sources.Now)} {
				p.has(text)
			}
		})
	}
}

// moment is an instant in the zone of the home, or of the pharmacy.
func moment(w worksheet.Worksheet, at string) string {
	if w.Schedule.Zone == "" {
		w.Schedule.Zone = "America/New_York"
	}
	return w.Moment(at)
}

func value(identifier string) string {
	return identifier[strings.LastIndexByte(identifier, '|')+1:]
}

func (p page) id(id string) *html.Node {
	var out *html.Node
	each(p.root, func(n *html.Node) {
		if v, ok := attr(n, "id"); ok && v == id {
			out = n
		}
	})
	return out
}

// TestEveryLinkOfAPageLeadsSomewhere also holds for the places in the
// hospital's document: each finding's place is an element that is marked.
func TestEveryLinkOfAPageLeadsSomewhere(t *testing.T) {
	s, list := seeded(t, scenarios(t))
	h := pages(s).Handler()
	for _, k := range list {
		p := open(t, h, k.Path)
		ids := map[string]int{}
		each(p.root, func(n *html.Node) {
			if v, ok := attr(n, "id"); ok {
				ids[v]++
			}
		})
		for id, n := range ids {
			assert.Equal(t, 1, n, "%s: id %s", k.Path, id)
		}
		inside := 0
		for _, a := range p.find("a") {
			to, _ := attr(a, "href")
			if anchor, ok := strings.CutPrefix(to, "#"); ok {
				assert.Contains(t, ids, anchor, k.Path)
				inside++
			}
		}
		assert.Greater(t, inside, 10, k.Path)
		for i, f := range k.Sheet.Findings {
			if !strings.Contains(f.Expression, ".where(") {
				continue
			}
			found := false
			each(p.id(fmt.Sprintf("f%d", i+1)), func(n *html.Node) {
				to, _ := attr(n, "href")
				found = found || strings.HasPrefix(to, "#e")
			})
			assert.True(t, found, "%s: %s has no way to %s", k.Path, f.Code, f.Expression)
		}
	}
}

// TestThePageMarksTheWords: S1's device rate is what the worst finding is
// about; it is marked in the quotation, by its characters.
func TestThePageMarksTheWords(t *testing.T) {
	s, list := seeded(t, scenarios(t)[:1])
	p := open(t, pages(s).Handler(), list[0].Path)
	quoted := p.find("blockquote")
	require.Len(t, quoted, 1)
	assert.Equal(t, "Cefazolin 2 g IV every 8 hours over 30 min, use 100 mL elastomeric 50 mL/h, through 15 December 2026", strings.ReplaceAll(flat(textOf(quoted[0], nil)), " ,", ","))
	var blocked []string
	each(quoted[0], func(n *html.Node) {
		if c, _ := attr(n, "class"); c == "block" {
			blocked = append(blocked, textOf(n, nil))
		}
	})
	assert.Equal(t, []string{"50 mL/h"}, blocked)
}

func TestTheSameRecordGivesTheSameBytes(t *testing.T) {
	s, list := seeded(t, scenarios(t)[:6])
	h := pages(s).Handler()
	for _, k := range list {
		once := get(t, h, k.Path).Body.String()
		for range 3 {
			assert.Equal(t, once, get(t, pages(s).Handler(), k.Path).Body.String(), k.Path)
		}
	}
	assert.Equal(t, get(t, h, "/").Body.String(), get(t, h, "/").Body.String())
}

// TestWordsOfThePagesAreClean: what this program says holds no error-prone
// designation. The sender's own words stand apart, in marked parts.
func TestWordsOfThePagesAreClean(t *testing.T) {
	s, list := seeded(t, scenarios(t))
	p := pages(s)
	p.Rows = 200
	h := p.Handler()
	paths := []string{"/", "/?verdict=ready&state=stopped", "/orders/none", "/nowhere", "/?x=1"}
	for _, k := range list {
		paths = append(paths, k.Path)
	}
	for _, path := range paths {
		root := parsed(t, get(t, h, path).Body.String()).root
		text := textOf(root, func(n *html.Node) bool {
			_, received := attr(n, "data-received")
			_, code := attr(n, "data-code")
			return received || code || n.Data == "code" || n.Data == "style"
		})
		for line := range strings.Lines(text) {
			line = strings.ReplaceAll(strings.TrimSpace(line), "\u00a0", " ")
			assert.Empty(t, notation.Scan(line), "%s: %s", path, line)
		}
	}
}

func TestHeaders(t *testing.T) {
	s, list := seeded(t, scenarios(t)[:1])
	h := pages(s).Handler()
	for _, path := range []string{"/", list[0].Path, "/style.css", "/icon.svg", "/orders/none", "/nowhere", "/?verdict=no"} {
		got := get(t, h, path).Header()
		assert.Equal(t, "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'", got.Get("Content-Security-Policy"), path)
		assert.Equal(t, "nosniff", got.Get("X-Content-Type-Options"), path)
		assert.Equal(t, "no-store", got.Get("Cache-Control"), path)
		assert.Equal(t, "no-referrer", got.Get("Referrer-Policy"), path)
		assert.Equal(t, "DENY", got.Get("X-Frame-Options"), path)
		assert.NotEmpty(t, got.Get("Permissions-Policy"), path)
		assert.Contains(t, got.Get("Content-Type"), map[bool]string{true: "text/html"}[!strings.Contains(path, ".")], path)
	}
	post := httptest.NewRecorder()
	h.ServeHTTP(post, httptest.NewRequest("POST", "/", nil))
	assert.Equal(t, http.StatusMethodNotAllowed, post.Code)
	assert.Equal(t, "GET, HEAD", post.Header().Get("Allow"))
	head := httptest.NewRecorder()
	h.ServeHTTP(head, httptest.NewRequest("HEAD", list[0].Path, nil))
	assert.Equal(t, http.StatusOK, head.Code)
}

// TestNothingOfThePatientInAddressesAndTitles: both stay in the browser's
// history and in the logs of what lies between.
func TestNothingOfThePatientInAddressesAndTitles(t *testing.T) {
	s, list := seeded(t, scenarios(t))
	p := pages(s)
	p.Rows = 3
	h := p.Handler()
	paths := []string{"/"}
	for _, k := range list {
		paths = append(paths, k.Path)
	}
	for _, path := range paths {
		one := open(t, h, path)
		var said []string
		for _, n := range one.find("title") {
			if n.Parent.Data == "head" {
				said = append(said, textOf(n, nil))
			}
		}
		require.Len(t, said, 1)
		each(one.root, func(n *html.Node) {
			for _, name := range []string{"href", "action", "src"} {
				if v, ok := attr(n, name); ok {
					said = append(said, v)
				}
			}
		})
		for _, k := range list {
			for _, text := range append(strings.Fields(k.Sheet.Identity.Name), k.Sheet.Identity.BirthDate, value(k.Sheet.Identity.Identifier), value(k.Sheet.Order.Identifier)) {
				for _, where := range said {
					assert.NotContains(t, strings.ToLower(where), strings.ToLower(text), path)
				}
			}
		}
	}
}

// TestThePagesOfTheList: each order once, in the store's order, with limits
// that hold on every page.
func TestThePagesOfTheList(t *testing.T) {
	s, list := seeded(t, scenarios(t))
	p := pages(s)
	p.Rows = 3
	h := p.Handler()
	for _, from := range []string{"/", "/?verdict=block", "/?due=week", "/?state=active&verdict=block&due=passed"} {
		var got []string
		for path := from; path != ""; {
			one := open(t, h, path)
			path = ""
			for _, a := range one.find("a") {
				to, _ := attr(a, "href")
				if strings.HasPrefix(to, "/orders/") {
					got = append(got, to)
				}
				if textOf(a, nil) == "Next page" {
					path = to
				}
			}
		}
		var want []string
		filter := adapter.OrderFilter{}
		switch from {
		case "/?verdict=block":
			filter.Verdict = "block"
		case "/?due=week":
			filter.DueBefore = clock.Add(7 * 24 * time.Hour)
		case "/?state=active&verdict=block&due=passed":
			filter = adapter.OrderFilter{State: "active", Verdict: "block", DueBefore: clock}
		}
		all, err := s.Orders(context.Background(), filter, adapter.Page{Limit: 1000})
		require.NoError(t, err)
		for _, o := range all.Orders {
			want = append(want, "/orders/"+o.Resource)
		}
		assert.Equal(t, want, got, from)
		assert.NotEmpty(t, got, from)
	}
	assert.Len(t, list, 20)
	for _, path := range []string{"/?verdict=fine", "/?state=x", "/?due=soon", "/?due=day&until=x", "/?name=x", "/?verdict=hold&verdict=block", "/?after=forged"} {
		assert.Equal(t, http.StatusBadRequest, get(t, h, path).Code, path)
	}
}

// TestTheListSaysWhatIsWrongAndWhatIsNext for S3: a rate typed wrong.
func TestTheListSaysWhatIsWrongAndWhatIsNext(t *testing.T) {
	f, err := orders.Load("s3-fluorouracil-46h")
	require.NoError(t, err)
	s, _ := seeded(t, []orders.Fixture{f})
	p := open(t, pages(s).Handler(), "/")
	for _, text := range []string{"Block", "Tomasz Lindqvist-Mbeki", "born 14 Jan 1968", "number FT-118230", "fluorouracil", "The stated numbers cannot all be true", "and 7 more points", "Complete intake; accept or refuse the order",
		"pharmacist, Fri 30 Oct 2026 14:10 EDT passed more than 11 days ago"} {
		p.has(text)
	}
}

func TestAnEmptyRecordSaysWhatToDo(t *testing.T) {
	h := pages(opened(t)).Handler()
	p := open(t, h, "/")
	p.has("No orders yet")
	p.has("curl -sS -H 'Content-Type: application/fhir+json' --data-binary @order.json http://127.0.0.1:8765/fhir")
	open(t, h, "/?verdict=block").has("No order is like that")
	assert.Equal(t, http.StatusNotFound, get(t, h, "/orders/none").Code)
	assert.Equal(t, http.StatusNotFound, get(t, h, "/elsewhere").Code)
}

// TestWhatIsNotJudgedOrNotReadIsSaid: silence is never a pass.
func TestWhatIsNotJudgedOrNotReadIsSaid(t *testing.T) {
	f, err := orders.Load("s1-fixed")
	require.NoError(t, err)
	ref := reference(t)
	for name, change := range map[string]func(*adapter.Effect){
		"none":   func(e *adapter.Effect) { e.Worksheets = nil },
		"broken": func(e *adapter.Effect) { e.Worksheets[0].JSON = []byte(`{"verdict":7}`) },
	} {
		s := opened(t)
		e, k := judged(t, ref, f, "w-")
		change(&e)
		require.NoError(t, s.Commit(context.Background(), e))
		h := pages(s).Handler()
		p, order := open(t, h, "/"), get(t, h, k[0].Path)
		if name == "none" {
			p.has("Not judged yet: do not act on it")
			parsed(t, order.Body.String()).has("This order has not been judged yet. Do not act on it.")
			continue
		}
		p.has("The stored answer cannot be read")
		p.has("Not decided")
		assert.Equal(t, http.StatusInternalServerError, order.Code)
		assert.NotContains(t, order.Body.String(), "Ready")
	}
}

// TestATaskOfTheRecordAlone: one that no worksheet asks for, such as a change
// that was not applied, is shown with its own words; a task that is done, as done.
func TestATaskOfTheRecordAlone(t *testing.T) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	s := opened(t)
	e, k := judged(t, reference(t), f, "w-")
	e.Tasks[0].Status = "completed"
	text, err := json.Marshal(map[string]string{"resourceType": "Task", "id": "w-change", "description": "Read the change that was not applied"})
	require.NoError(t, err)
	e.Tasks = append(e.Tasks, adapter.TaskLine{ID: "w-change", Key: k[0].Line.Key, Patient: k[0].Line.Patient, Code: "review-of-ours", Role: "pharmacist", Status: "requested", Due: f.Now, Updated: f.Now})
	e.Resources = append(e.Resources, adapter.Resource{Type: "Task", ID: "w-change", Version: 1, Updated: f.Now, Patient: k[0].Line.Patient, JSON: text})
	require.NoError(t, s.Commit(context.Background(), e))
	p := open(t, pages(s).Handler(), k[0].Path)
	p.has("Read the change that was not applied")
	p.has("done when: every intake row present, or the refusal with its reason done")
	open(t, pages(s).Handler(), "/").has("Check the order and its numbers; call the prescriber about every hold")
}

// failing is a store that cannot be read.
type failing struct{ adapter.Store }

func (failing) Orders(context.Context, adapter.OrderFilter, adapter.Page) (adapter.OrderSlice, error) {
	return adapter.OrderSlice{}, &adapter.Unavailable{Code: "disk-secret"}
}

func TestARecordThatIsAwayIsSaid(t *testing.T) {
	w := get(t, worklist.Pages{Store: failing{}, Now: func() time.Time { return clock }}.Handler(), "/")
	assert.Equal(t, http.StatusServiceUnavailable, w.Code)
	assert.Equal(t, "5", w.Header().Get("Retry-After"))
	assert.NotContains(t, w.Body.String(), "disk-secret")
	assert.Contains(t, w.Body.String(), "cannot be read at the moment")
}
