package morning_test

import (
	"context"
	"errors"
	"html"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/morning"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/mapping/notation"
)

func ask(t testing.TB, p morning.Pages, method, path string) *httptest.ResponseRecorder {
	if p.Now == nil {
		p.Now = func() time.Time { return nightgen.Clock(30) }
	}
	w := httptest.NewRecorder()
	p.Handler().ServeHTTP(w, httptest.NewRequest(method, path, nil))
	h := w.Header()
	assert.Contains(t, h.Get("Content-Security-Policy"), "default-src 'none'")
	assert.NotContains(t, h.Get("Content-Security-Policy"), "unsafe")
	assert.Equal(t, "no-store", h.Get("Cache-Control"))
	assert.Equal(t, "nosniff", h.Get("X-Content-Type-Options"))
	assert.NotRegexp(t, `\sstyle=|<style|<script|\son[a-z]+=`, w.Body.String())
	return w
}

func words(page string) string {
	page = strings.NewReplacer("<code>", "`", "</code>", "`").Replace(page)
	return html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page, " "))
}

// The page says of the last night what its lines said, from what is stored.
func TestThePageOfANight(t *testing.T) {
	s, lines := nights(t, 2)
	p := morning.Pages{Store: s, Name: "Lanternlight", Zone: denver(t)}
	w := ask(t, p, "GET", "/night")
	require.Equal(t, 200, w.Code)
	page := w.Body.String()
	golden(t, "page.html", page)
	report := written(t, morning.HTML, morning.Options{Zone: denver(t)}, lines)
	headings := regexp.MustCompile(`(?s)<h[23][^>]*>.*?</h[23]>`)
	plainly := func(s string) (out []string) {
		for _, h := range headings.FindAllString(s, -1) {
			out = append(out, strings.Join(strings.Fields(words(h)), " "))
		}
		return out
	}
	assert.Equal(t, plainly(report), plainly(page), "the same orders in the same order")
	assert.Contains(t, page, `href="/orders/`)
	_, body, _ := strings.Cut(page, "<main")
	for _, problem := range notation.Scan(words("<main" + body)) {
		t.Error(problem)
	}
	assert.Equal(t, 200, ask(t, p, "HEAD", "/night").Code)
	assert.Equal(t, 405, ask(t, p, "POST", "/night").Code)
	assert.Equal(t, 404, ask(t, p, "GET", "/night/x").Code)

	p.Most = 3
	small := ask(t, p, "GET", "/night").Body.String()
	assert.Regexp(t, `the orders of 1\d more patients`, small)
	assert.Equal(t, 3, strings.Count(small, "<article"))
}

// A run that is under way, and a patient who was erased, are said.
func TestThePageWhileTheRecordChanges(t *testing.T) {
	ctx := context.Background()
	s, _ := nights(t, 1)
	last, ok, err := night.ReadLast(ctx, s)
	require.NoError(t, err)
	require.True(t, ok)
	require.NoError(t, s.Commit(ctx, adapter.Effect{At: nightgen.Clock(40), Seen: adapter.Seen{Night: "later", Keys: []string{last.Worst[1].Key}},
		Audit: []adapter.AuditRow{{ID: "later", At: nightgen.Clock(40), Action: "E", Outcome: "0", Agent: "test", Entity: "Night/later"}}}))
	page := ask(t, morning.Pages{Store: s}, "GET", "/night").Body.String()
	assert.Contains(t, page, "A later run has looked at 1 patient again")
}

func TestThePageBeforeTheFirstNight(t *testing.T) {
	s, err := sqlite.Open(context.Background(), t.TempDir()+"/weir.db", store.Options{Migrate: true})
	require.NoError(t, err)
	w := ask(t, morning.Pages{Store: s}, "GET", "/night")
	assert.Equal(t, 200, w.Code)
	assert.Contains(t, w.Body.String(), "No night yet")
	require.NoError(t, s.Close())
	w = ask(t, morning.Pages{Store: away{s}}, "GET", "/night")
	assert.Equal(t, http.StatusServiceUnavailable, w.Code)
	assert.NotContains(t, w.Body.String(), "secret")
}

type away struct{ morning.Record }

func (away) FeedLines(context.Context, []string) (map[string]adapter.FeedLine, error) {
	return nil, errors.New("secret")
}
