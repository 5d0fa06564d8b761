package api_test

import (
	"encoding/base64"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
)

func TestAuditEventsAreMadeFromTheAuditRows(t *testing.T) {
	s := stocked(t, smith, `{"resourceType":"Task","id":"t1","status":"requested","intent":"order","for":{"reference":"Patient/p1"}}`)
	at := time.Date(2026, 11, 12, 8, 0, 0, 250_000, time.UTC)
	require.NoError(t, s.store.Commit(t.Context(), adapter.Effect{At: at, Audit: []adapter.AuditRow{
		{ID: "night", At: at, Action: "E", Outcome: "4", Agent: "Device/weir", Entity: "night-1", Detail: "feed silent", Private: []byte("identifier=urn:mrn|7")}}}))
	w := s.ask(t, "/fhir/AuditEvent/row-002")
	root := fhir(t, w, "AuditEvent")
	assert.Equal(t, `W/"1"`, w.Header().Get("ETag"))
	assert.Equal(t, "C", root.Get("action").Text())
	assert.Equal(t, "local-operator", root.Get("agent").At(0).Get("who").Get("identifier").Get("value").Text())
	assert.Equal(t, "Patient/p1", root.Get("entity").At(0).Get("what").Get("reference").Text())
	assert.Equal(t, "Task/t1", root.Get("entity").At(1).Get("what").Get("reference").Text())
	private, err := base64.StdEncoding.DecodeString(root.Get("entity").At(1).Get("detail").At(0).Get("valueBase64Binary").Text())
	require.NoError(t, err)
	assert.Equal(t, "family=Private", string(private))
	assert.Equal(t, "r-1", root.Get("entity").At(2).Get("what").Get("identifier").Get("value").Text())
	night := fhir(t, s.ask(t, "/fhir/AuditEvent/night/_history/1"), "AuditEvent")
	assert.Equal(t, "Device/weir", night.Get("agent").At(0).Get("who").Get("reference").Text())
	assert.NotEmpty(t, night.Get("entity").At(1).Get("query").Text())
	fhir(t, s.ask(t, "/fhir/AuditEvent/night/_history"), "Bundle")

	for query, want := range map[string]string{
		"": "night row-002 row-001", "_sort=-date&_count=1": "night row-002 row-001", "patient=p1": "row-002", "patient=Patient/p1": "row-002", "patient=p2": "",
		"action=C": "row-002 row-001", "action=http://hl7.org/fhir/audit-event-action|E": "night", "action=urn:x|E": "", "action=C&action=E": "", "outcome=4": "night",
		"agent=local-operator": "row-002 row-001", "agent=Device/weir": "night", "agent:identifier=local-operator": "row-002 row-001", "agent:identifier=https://weir.example/fhir/agent|local-operator": "row-002 row-001",
		"agent:identifier=urn:x|local-operator": "", "entity=Task/t1": "row-002", "entity=http://127.0.0.1:8765/fhir/Task/t1": "row-002", "entity=night-1": "night", "_id=night": "night",
		"date=2026-11-12": "night", "date=ge2026-11-12": "night", "date=gt2026-11-11": "night", "date=sa2026-11-11": "night", "date=le2026-11-12": "night row-002 row-001", "date=lt2026-11-12": "row-002 row-001", "date=eb2026-11-12": "row-002 row-001",
		"date=ge2026-11-12&date=lt2026-11-12": "", "date=2026-11-12T08:00:00.00025Z": "night", "date=2026-11-12T08:00:00.000251Z": "", "_lastUpdated=2026-11-10": "row-002 row-001",
	} {
		assert.Equal(t, strings.Fields(want), s.found(t, "/fhir/AuditEvent?"+strings.ReplaceAll(query, "|", "%7C")), query)
	}
	fhir(t, s.ask(t, "/fhir/AuditEvent"), "Bundle")
}
