package r4_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/r4/googlefhir"
)

// Every form of an audit row is an AuditEvent of R4: with and without a
// patient, a request, something private, a resource it was done to.
func TestAuditRowsAreAuditEvents(t *testing.T) {
	at := time.Date(2026, 11, 10, 19, 20, 0, 123_456_789, time.UTC)
	n := 0
	for _, action := range []string{"C", "R", "U", "D", "E"} {
		for _, patient := range []string{"", "p1"} {
			for _, entity := range []string{"", "Task/t1", "Patient/p1", "night-1", "urn:placer|7"} {
				for _, request := range []string{"", "r-1"} {
					for _, private := range []string{"", "family=Miller"} {
						n++
						text := element.Encode(r4.WriteAudit(r4.Audit{ID: "a", At: at, Action: action, Outcome: "0", Agent: []string{"local-operator", "Device/weir"}[n%2], Patient: patient, Entity: entity,
							Also: [][]string{nil, {"Task/t2", "Patient/p1", "night-2"}}[n%3%2], Request: request, Detail: "order received", Private: []byte(private), Program: "1"}))
						doc, faults := element.Read(text, element.Limit{})
						require.Empty(t, faults)
						require.Empty(t, schema.Check(doc, googlefhir.Judge), string(text))
						assert.NotContains(t, string(text), "Miller", "private data is in base64 only")
						assert.Equal(t, private != "", hasPrivate(doc.Root()), string(text))
					}
				}
			}
		}
	}
	assert.Equal(t, 200, n)
}

func hasPrivate(root element.Node) bool {
	for _, e := range root.Get("entity").Each() {
		if e.Get("query").Exists() || e.Get("detail").Exists() {
			return true
		}
	}
	return false
}
