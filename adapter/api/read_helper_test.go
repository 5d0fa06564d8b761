package api_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/api"
	"weir.example/weir/adapter/index"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/mapping/element"
)

// shop is a door over a store of its own, and the way to fill it.
type shop struct {
	http.Handler
	store *sqlite.Store
	log   *lines
	at    time.Time
	rows  int
}

func stocked(t testing.TB, resources ...string) *shop {
	s, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "weir.db"), store.Options{Key: [32]byte{1}})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	h, log := open(t, func(x *api.Server) { x.Store = s })
	out := &shop{Handler: h, store: s, log: log, at: time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC)}
	for _, one := range resources {
		out.put(t, one, 1)
	}
	return out
}

// put writes one version of a resource; what it belongs to is its subject.
func (s *shop) put(t testing.TB, text string, version int64) {
	doc, faults := element.Read([]byte(text), element.Limit{})
	require.Empty(t, faults, text)
	n := doc.Root()
	patient := ""
	for _, name := range []string{"subject", "patient", "for", "deliverTo"} {
		if id, ok := strings.CutPrefix(n.Get(name).Get("reference").Text(), "Patient/"); ok {
			patient = id
		}
	}
	ids, values := index.Of(n)
	s.rows++
	s.at = s.at.Add(time.Second)
	require.NoError(t, s.store.Commit(t.Context(), adapter.Effect{At: s.at,
		Resources: []adapter.Resource{{Type: n.Get("resourceType").Text(), ID: n.Get("id").Text(), Version: version, Updated: s.at, Patient: patient, JSON: []byte(text), Identifiers: ids, Values: values}},
		Audit: []adapter.AuditRow{{ID: fmt.Sprintf("row-%03d", s.rows), At: s.at, Action: "C", Outcome: "0", Agent: "local-operator", Patient: patient,
			Entity: n.Get("resourceType").Text() + "/" + n.Get("id").Text(), Request: "r-1", Detail: "resource received", Private: []byte("family=Private")}}}))
}

// found are the ids that a search gives, matches only, over all its pages.
func (s *shop) found(t testing.TB, address string) []string {
	t.Helper()
	out := []string{}
	for address != "" {
		var page bundleForm
		require.NoError(t, json.Unmarshal(s.ask(t, address).Body.Bytes(), &page))
		for _, e := range page.Entry {
			if e.Search.Mode == "match" {
				out = append(out, e.Resource.ID)
			}
		}
		address = page.next()
	}
	return out
}

// ask is a GET that must be answered with 200.
func (s *shop) ask(t testing.TB, address string) *httptest.ResponseRecorder {
	t.Helper()
	w := ask(t, s, "GET", address, nil)
	require.Equal(t, 200, w.Code, "%s %s", address, w.Body.String())
	return w
}

type bundleForm struct {
	Type  string
	Total *int
	Link  []struct{ Relation, URL string }
	Entry []struct {
		FullURL  string
		Resource struct {
			ResourceType, ID string
			Meta             struct{ VersionID, LastUpdated string }
		}
		Search struct{ Mode string }
	}
}

func (b bundleForm) link(relation string) string {
	for _, l := range b.Link {
		if l.Relation == relation {
			return l.URL
		}
	}
	return ""
}

func (b bundleForm) next() string { return strings.TrimPrefix(b.link("next"), "http://127.0.0.1:8765") }

func bundleOf(t testing.TB, w *httptest.ResponseRecorder) bundleForm {
	var out bundleForm
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &out), w.Body.String())
	return out
}

// form is a search by POST.
func (s *shop) form(t testing.TB, kind, body string) *httptest.ResponseRecorder {
	return ask(t, s, "POST", "/fhir/"+kind+"/_search", []byte(body), "Content-Type", "application/x-www-form-urlencoded")
}
