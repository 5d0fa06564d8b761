package api_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Pages never repeat or skip what was there when the first was asked for,
// while other resources are added before, between and behind; what comes
// later may be there or not.
func TestPagesNeitherRepeatNorSkip(t *testing.T) {
	chance := rand.New(rand.NewPCG(7, 8))
	s := stocked(t)
	made := 0
	add := func() string {
		made++
		id := fmt.Sprintf("%04x-%d", chance.IntN(1<<16), made)
		s.put(t, fmt.Sprintf(`{"resourceType":"Task","id":%q,"status":%q,"authoredOn":"2026-11-%02d"}`, id, []string{"requested", "draft"}[chance.IntN(2)], 1+chance.IntN(20)), 1)
		return id
	}
	var before []string
	for range 60 {
		before = append(before, add())
	}
	for round, query := range []string{"", "status=requested,draft", "_sort=-_id", "_sort=authored-on", "_sort=-authored-on", "_sort=_lastUpdated", "_sort=-_lastUpdated", "status:not=none&authored-on=ge2026-11-01"} {
		var got []string
		at := fmt.Sprintf("/fhir/Task?_count=%d&%s", 1+chance.IntN(20), query)
		for at != "" {
			page := bundleOf(t, s.ask(t, at))
			for _, e := range page.Entry {
				require.NotContains(t, got, e.Resource.ID, "%s repeats", query)
				got = append(got, e.Resource.ID)
			}
			if at = page.next(); at != "" && chance.IntN(2) == 0 {
				add()
			}
		}
		for _, id := range before {
			require.Contains(t, got, id, "%s skips in round %d", query, round)
		}
	}
	require.Greater(t, made, 70, "resources were added in between")
}

// An address that we make says nothing of what was asked for: the next page
// of a search for a name is a sealed text, by GET as by POST.
func TestNextLinksHoldNoPatientData(t *testing.T) {
	s := stocked(t)
	for i := range 5 {
		s.put(t, strings.Replace(smith, `"p1"`, fmt.Sprintf(`"p%d"`, i), 1), 1)
	}
	first := s.form(t, "Patient", "family=Smith&identifier=urn:mrn|7&_count=2&_sort=-family")
	require.Equal(t, 200, first.Code)
	page := bundleOf(t, first)
	fhir(t, first, "Bundle")
	var got []string
	for n := 0; ; n++ {
		require.Less(t, n, 5)
		for _, e := range page.Entry {
			got = append(got, e.Resource.ID)
		}
		next := page.next()
		if next == "" {
			break
		}
		assert.NotContains(t, strings.ToLower(next), "smith")
		assert.NotContains(t, next, "mrn")
		assert.True(t, strings.HasPrefix(next, "/fhir/Patient?_cursor="))
		page = bundleOf(t, s.ask(t, next))
		if n == 0 {
			assert.Equal(t, next, strings.TrimPrefix(page.link("self"), "http://127.0.0.1:8765"), "each page names itself")
			for _, other := range []string{next[:len(next)-1], next + "A", next + "&family=x", strings.Replace(next, "Patient?", "Task?", 1), next[:30] + "A" + next[31:], strings.Replace(next, "Patient?", "AuditEvent?", 1)} {
				assert.Equal(t, 400, ask(t, s, "GET", other, nil).Code, other)
			}
			posted := s.form(t, "Patient", strings.TrimPrefix(next, "/fhir/Patient?"))
			assert.Equal(t, 200, posted.Code)
		}
	}
	assert.Equal(t, []string{"p4", "p3", "p2", "p1", "p0"}, got)
	for _, secret := range []string{"smith", "Smith", "mrn"} {
		assert.NotContains(t, s.log.String(), secret)
	}
}
