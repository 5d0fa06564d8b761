package night_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/store/storetest"
)

func (x said) tasks() (out []string) {
	for _, t := range x.Tasks {
		out = append(out, t.Code)
	}
	return out
}

// Scenario S2 over its days, as folders: the order, the kidneys with the dose
// that replaces it, and at last an older copy of the old order.
func TestS2AsNights(t *testing.T) {
	const v1, v2 = "https://fenwicktarn.example/order|V-500117", "https://fenwicktarn.example/order|V-500164"
	at := func(text string) time.Time {
		out, err := time.Parse(time.RFC3339, text)
		require.NoError(t, err)
		return out
	}
	s := newSite(t)
	first := document(t, "s2-vancomycin-kidneys", "s2-vancomycin-kidneys")
	lines, _, _ := s.run(t, asFolder(t, first), at("2027-02-10T10:10:00-06:00"), 2)
	assert.Equal(t, "new", lines[v1].State)
	assert.Contains(t, lines[v1].codes(true), "nightly-unseen")
	assert.Equal(t, "hold", lines[v1].Verdict) // at intake; the rate blocks at release

	changed := document(t, "s2-vancomycin-kidneys", "s2-vancomycin-kidneys-changed")
	lines, _, _ = s.run(t, asFolder(t, changed), at("2027-02-17T02:00:00-06:00"), 2)
	assert.Equal(t, "new", lines[v2].State)
	assert.Contains(t, lines[v2].codes(true), "nightly-unseen")
	assert.Contains(t, lines[v1].codes(true), "nightly-replaced")
	assert.Subset(t, lines[v1].tasks(), []string{"dispatch-block", "call-prescriber", "call-patient"})

	assert.Subset(t, lines[v1].tasks(), []string{"quarantine-patient", "fetch-back"}, "four units of the old order are at home")
	s.stored(t, v1, lines[v1])
	head, err := s.record.Order(t.Context(), v1)
	require.NoError(t, err)
	assert.NotEqual(t, "active", head.State)

	// An older active copy comes: it changes nothing.
	i := slices.IndexFunc(changed["MedicationRequest"], func(r map[string]any) bool { return r["id"] == "mr-vanc-1" })
	changed["MedicationRequest"][i] = first["MedicationRequest"][0]
	lines, _, _ = s.run(t, asFolder(t, changed), at("2027-02-17T11:00:00-06:00"), 2)
	assert.Equal(t, "older", lines[v1].State)
	assert.Contains(t, lines[v1].codes(true), "nightly-older-message")
	head, err = s.record.Order(t.Context(), v1)
	require.NoError(t, err)
	assert.NotEqual(t, "active", head.State)
}

// A plain stop of the order of S2 on the third day.
func TestStopAsNights(t *testing.T) {
	const v1 = "https://fenwicktarn.example/order|V-500117"
	s := newSite(t)
	first := document(t, "s2-vancomycin-kidneys", "s2-vancomycin-kidneys")
	s.run(t, asFolder(t, first), time.Date(2027, 2, 10, 16, 10, 0, 0, time.UTC), 2)
	order := first["MedicationRequest"][0]
	order["status"], order["meta"] = "stopped", map[string]any{"versionId": "9", "lastUpdated": "2027-02-12T09:00:00-06:00"}
	lines, _, _ := s.run(t, asFolder(t, first), time.Date(2027, 2, 13, 8, 0, 0, 0, time.UTC), 2)
	assert.Equal(t, "changed", lines[v1].State)
	assert.Equal(t, "block", lines[v1].Verdict)
	assert.Contains(t, lines[v1].codes(true), "nightly-stopped")
	assert.Subset(t, lines[v1].tasks(), []string{"dispatch-block", "call-patient"})
	s.stored(t, v1, lines[v1])
}

// stored demands that every task that is said stands in the store, to be done.
func (s site) stored(t *testing.T, key string, x said) {
	open := map[string]bool{}
	for _, x := range storetest.Tasks(t, s.record, key) {
		open[x.Code] = open[x.Code] || x.Status == "requested" || x.Status == "draft" // what prepares waits while the order is on hold
	}
	for _, code := range x.tasks() {
		assert.True(t, open[code], "%s is said and not stored", code)
	}
}

// Scenario S7 over its days: the discharge slips after eight units were made.
func TestS7AsNights(t *testing.T) {
	const key = "https://marrowgate.example/order|88220455"
	at := func(text string) time.Time {
		out, err := time.Parse(time.RFC3339, text)
		require.NoError(t, err)
		return out
	}
	s := newSite(t)
	lines, _, _ := s.run(t, asFolder(t, document(t, "s7-daptomycin-discharge", "s7-daptomycin-discharge-planned")), at("2026-12-18T10:35:00-08:00"), 2)
	assert.Equal(t, "new", lines[key].State)
	lines, _, _ = s.run(t, asFolder(t, document(t, "s7-daptomycin-discharge", "s7-daptomycin-discharge")), at("2026-12-20T18:45:00-08:00"), 2)
	assert.Subset(t, lines[key].tasks(), []string{"plan-again", "quarantine-pharmacist", "remake", "confirm-contact"})
	s.stored(t, key, lines[key])
	assert.Contains(t, lines[key].codes(true), "nightly-discharge-moved")
	assert.Contains(t, lines[key].codes(true), "nightly-beyond-use")
	assert.Equal(t, "block", lines[key].Verdict)
}
