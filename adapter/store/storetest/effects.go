package storetest

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"weir.example/weir/adapter"
)

// id is an id that says what it is of.
func id(kind string, n int) string { return fmt.Sprintf("%s-%06d", kind, n) }

func audit(row string, patient string, at time.Time) adapter.AuditRow {
	return adapter.AuditRow{ID: row, At: at, Action: "C", Outcome: "0", Agent: "local-operator", Patient: patient, Entity: "MedicationRequest/x",
		Request: "r-1", Detail: "order received", Private: []byte("identifier=urn:mrn|private")}
}

// digest is the version of an order's content.
func digest(content string) string {
	sum := sha256.Sum256([]byte(content))
	return hex.EncodeToString(sum[:])
}

// filler is text that compresses about as an order document does.
func filler(n, size int) []byte {
	var b strings.Builder
	b.WriteString(`{"resourceType":"Bundle","type":"transaction","entry":[`)
	for i := 0; b.Len() < size; i++ {
		fmt.Fprintf(&b, `{"resource":{"resourceType":"Observation","id":"o%d-%d","valueQuantity":{"value":%d.%d,"unit":"mg"},"note":"%x"}},`,
			n, i, n%97+i, i*7%10, sha256.Sum256([]byte{byte(n), byte(n >> 8), byte(i)}))
	}
	return []byte(b.String()[:size])
}

// Order is the effect of one order of about 25 KB: a document, ten resources,
// a case, an order version, a worksheet, a message, work and an audit row. Everything in it is made from n.
func Order(n int, at time.Time) adapter.Effect {
	patient, doc, key := id("patient", n), id("document", n), "urn:placer|"+id("order", n)
	raw := filler(n, 9600)
	e := adapter.Effect{
		At:       at,
		Received: []adapter.Received{{ID: doc, SHA256: sha256.Sum256(raw), At: at, Media: "application/fhir+json", Patients: []string{patient}, Bytes: raw}},
		Cases:    []adapter.StoredCase{{Patient: patient, Version: 1, Schema: adapter.CaseSchema, Updated: at, JSON: filler(n+1, 5000)}},
		Orders: []adapter.OrderWrite{{Change: adapter.OrderNew, Source: doc, Sent: at.Add(-time.Minute), OrderLine: adapter.OrderLine{
			Key: key, Number: 1, Version: digest(key), Patient: patient, Resource: id("request", n), Drug: "cefazolin", State: "active",
			Verdict: "hold", Stage: "intake", Weight: int64(n % 3), Due: at.Add(time.Duration(n) * time.Minute), Updated: at}}},
		Worksheets: []adapter.StoredSheet{{ID: id("sheet", n), Key: key, Number: 1, Patient: patient, Stage: "intake", Verdict: "hold", Made: at, JSON: filler(n+2, 6000)}},
		Outbox:     []adapter.Message{{ID: id("message", n), Kind: "home-infusion-response", Target: "placer", Patient: patient, Made: at, Body: []byte("{}")}},
		Queue:      []adapter.Queued{{ID: id("work", n), Kind: "replan", Patient: patient, Made: at, Body: []byte("{}")}},
		Audit:      []adapter.AuditRow{audit(id("audit", n), patient, at)},
	}
	add := func(typ, name string, size int, once bool, values ...adapter.Value) {
		e.Resources = append(e.Resources, adapter.Resource{Type: typ, ID: name, Version: 1, Updated: at, Patient: patient, Source: doc, JSON: filler(n, size),
			Identifiers: []adapter.Identity{{System: "urn:" + typ, Value: name, Once: once}},
			Values:      append(values, adapter.Value{Name: "patient", Text: "Patient/" + patient})})
	}
	day := adapter.Value{Name: "authored-on", Low: at, High: at.Add(time.Second)}
	add("Patient", patient, 800, true, adapter.Value{Name: "family", Text: id("family", n)}, adapter.Value{Name: "birthdate", Low: at, High: at.Add(24 * time.Hour)})
	add("MedicationRequest", id("request", n), 1500, true, adapter.Value{Name: "status", System: "http://hl7.org/fhir/CodeSystem/medicationrequest-status", Text: "active"}, day)
	add("MedicationDispense", id("dispense", n), 900, false, adapter.Value{Name: "status", Text: "on-hold"})
	for i := range 4 {
		add("Task", id("task", n)+fmt.Sprint("-", i), 500, false, adapter.Value{Name: "status", Text: "requested"}, adapter.Value{Name: "focus", Text: "MedicationRequest/" + id("request", n)}, day)
	}
	add("DetectedIssue", id("issue", n), 700, false, adapter.Value{Name: "gate", Text: "block"})
	add("SupplyRequest", id("supply", n), 400, false)
	add("Provenance", id("provenance", n), 600, false, adapter.Value{Name: "target", Text: "MedicationRequest/" + id("request", n)})
	return e
}

// Again is the effect that replaces what Order(n) wrote with its version v.
func Again(n, v int, at time.Time) adapter.Effect {
	e := Order(n, at)
	e.Received[0].ID += fmt.Sprint("-", v)
	for i := range e.Resources {
		e.Resources[i].Version, e.Resources[i].Source = int64(v), e.Received[0].ID
		e.Resources[i].JSON = filler(n+v, 700)
	}
	e.Cases[0].Version = int64(v)
	e.Orders[0].Number, e.Orders[0].Version, e.Orders[0].Source = int64(v), digest(fmt.Sprint(n, v)), e.Received[0].ID
	e.Worksheets[0].ID += fmt.Sprint("-", v)
	e.Worksheets[0].Number = int64(v)
	e.Sent, e.Finished, e.Outbox, e.Queue = []string{id("message", n)}, []string{id("work", n)}, nil, nil
	if v > 2 {
		e.Sent, e.Finished = nil, nil
	}
	e.Replies = []adapter.Reply{{Key: fmt.Sprint("urn:sender|", n, "|", v), SHA256: e.Received[0].SHA256, Status: 200, Patient: e.Cases[0].Patient, Made: at, Body: []byte("{}")}}
	e.Audit[0].ID += fmt.Sprint("-", v)
	return e
}

// small is an effect of one resource and its audit row.
func small(typ, name string, version int64, at time.Time) adapter.Effect {
	return adapter.Effect{At: at,
		Resources: []adapter.Resource{{Type: typ, ID: name, Version: version, Updated: at, JSON: []byte(fmt.Sprintf(`{"id":%q,"v":%d}`, name, version))}},
		Audit:     []adapter.AuditRow{audit(fmt.Sprintf("audit-%s-%s-%d", typ, name, version), "", at)}}
}
