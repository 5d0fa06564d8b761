package r4

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

const orders = "../../testdata/orders/"

func clock(t *testing.T, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	require.NoError(t, err)
	return at
}

func readFile(t *testing.T, name, now string) order.Case {
	t.Helper()
	data, err := os.ReadFile(orders + name)
	require.NoError(t, err)
	return readOne(t, string(data), now)
}

func readOne(t *testing.T, text, now string) order.Case {
	t.Helper()
	d, faults := element.Read([]byte(text), element.Limit{})
	require.Empty(t, faults, "the test's own document must be strict")
	cases, found := ReadCases(d, clock(t, now))
	require.Empty(t, found)
	require.Len(t, cases, 1)
	return cases[0]
}

// tiny is a bare order with these members put in place of the usual ones.
func tiny(members ...string) string {
	base := map[string]string{
		"resourceType": `"MedicationRequest"`, "status": `"active"`, "intent": `"order"`,
		"subject":                   `{"display":"Brandt"}`,
		"medicationCodeableConcept": `{"text":"cefazolin"}`,
	}
	names := []string{"resourceType", "status", "intent", "subject", "medicationCodeableConcept"}
	for i := 0; i < len(members); i += 2 {
		if _, known := base[members[i]]; !known {
			names = append(names, members[i])
		}
		base[members[i]] = members[i+1]
	}
	var parts []string
	for _, n := range names {
		if base[n] != "" {
			parts = append(parts, `"`+n+`":`+base[n])
		}
	}
	return "{" + strings.Join(parts, ",") + "}"
}

// directed is a tiny order with one dosageInstruction.
func directed(instruction string, members ...string) string {
	return tiny(append([]string{"dosageInstruction", "[" + instruction + "]"}, members...)...)
}

func q(value, code string) string {
	return `{"value":` + value + `,"unit":"` + code + `","system":"http://unitsofmeasure.org","code":"` + code + `"}`
}

func theOrder(t *testing.T, c order.Case) order.Order {
	t.Helper()
	require.Len(t, c.Orders, 1)
	return c.Orders[0]
}

// stated writes every statement as "name value unit".
func stated(list []order.Stated) []string {
	out := []string{}
	for _, s := range list {
		text := s.Name + " " + s.Quantity.Low.Decimal()
		if !s.Quantity.IsPoint() {
			text += " to " + s.Quantity.High.Decimal()
		}
		out = append(out, text+" "+s.Quantity.Unit.Code())
	}
	return out
}

func codes(list []finding.Finding) []string {
	out := []string{}
	for _, f := range list {
		out = append(out, string(f.Code))
	}
	return out
}

func reasons(list []order.Unused) string {
	var out []string
	for _, u := range list {
		out = append(out, u.Place.Expression+": "+u.Reason)
	}
	return strings.Join(out, "\n")
}

// bundle puts resources under one service base: "Type/id" becomes the
// fullUrl.
func bundle(resources ...string) string {
	var entries []string
	for _, r := range resources {
		d, _ := element.Read([]byte(r), element.Limit{})
		n := d.Root()
		entries = append(entries, `{"fullUrl":"https://a.example/fhir/`+n.Get("resourceType").Text()+"/"+n.Get("id").Text()+`","resource":`+r+`}`)
	}
	return `{"resourceType":"Bundle","type":"collection","entry":[` + strings.Join(entries, ",") + `]}`
}

const (
	patientA = `{"resourceType":"Patient","id":"a","identifier":[{"system":"urn:mrn","value":"1"}],"name":[{"family":"Brandt","given":["Kiri"]}],"gender":"female","birthDate":"1980-05-30"}`
	orderA   = `{"resourceType":"MedicationRequest","id":"o","status":"active","intent":"order","subject":{"reference":"Patient/a"},"medicationCodeableConcept":{"text":"cefazolin"}}`
	noon     = "2027-03-01T12:00:00Z"
)
