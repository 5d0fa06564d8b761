package worklist_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
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
