package schema_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

func TestOurOwnTablesFitTheirSchemas(t *testing.T) {
	assert.NoError(t, schema.Own("codes", finding.CodesFile()))
	assert.NoError(t, schema.Own("hazards", compendium.HazardsFile()))
}

func worksheets(t testing.TB) []worksheet.Worksheet {
	t.Helper()
	p, err := policy.Load(nil)
	require.NoError(t, err)
	ref := policy.Reference{Tables: compendium.Embedded(), Policy: p, Zones: schedule.LoadZones()}
	var out []worksheet.Worksheet
	for _, f := range orders.All() {
		j := conformance.Judge(conformance.Input{Document: f.Document, Reference: ref, Now: f.Now, Stage: finding.Stage(f.Stage)})
		out = append(out, j.Worksheets...)
	}
	require.NotEmpty(t, out)
	return out
}

// The schema is what is published; the type is what is written.
func TestEveryWorksheetFitsItsSchema(t *testing.T) {
	list := worksheets(t)
	for _, w := range list {
		data, err := json.Marshal(w)
		require.NoError(t, err)
		assert.NoError(t, schema.Own("worksheet", data), w.Order.Identifier)
	}
	data, err := json.Marshal(list)
	require.NoError(t, err)
	assert.NoError(t, schema.Own("worksheet", data), "the array of several orders")
	assert.NoError(t, schema.Own("worksheet", []byte(`{"line":3,"outcome":{"resourceType":"OperationOutcome","issue":[{"severity":"fatal","code":"invalid"}]}}`)), "a line that failed")
}

func TestAWorksheetThatBreaksTheContractIsRefused(t *testing.T) {
	data, err := json.Marshal(worksheets(t)[0])
	require.NoError(t, err)
	var whole map[string]any
	for name, c := range map[string]struct {
		change func(map[string]any)
		at     string
	}{
		"no verdict":                {func(w map[string]any) { delete(w, "verdict") }, ""},
		"a verdict of another word": {func(w map[string]any) { w["verdict"] = "ok" }, "/verdict"},
		"findings null":             {func(w map[string]any) { w["findings"] = nil }, "/findings"},
		"a number in place of its text": {func(w map[string]any) {
			w["quantities"] = map[string]any{"dose": map[string]any{"value": 2, "unit": "g", "stated": true, "derivation": []any{}}}
		}, "/quantities/dose/value"},
		"a trailing full stop": {func(w map[string]any) {
			w["quantities"] = map[string]any{"dose": map[string]any{"value": "2.", "unit": "g", "stated": true, "derivation": []any{}}}
		}, "/quantities/dose/value"},
		"an unknown gate": {func(w map[string]any) {
			w["findings"] = []any{map[string]any{"code": "dose-slip", "gate": "stop", "severity": "high", "title": "t", "expression": "e", "observed": "", "expected": "", "remedy": "r", "citation": "c"}}
		}, "/findings/0/gate"},
		"a span of one number": {func(w map[string]any) {
			w["readings"] = []any{map[string]any{"expression": "e", "span": []any{1}, "field": "dose", "value": "2"}}
		}, "/readings/0/span"},
		"an unknown role": {func(w map[string]any) {
			w["tasks"] = []any{map[string]any{"code": "call", "role": "driver", "title": "t"}}
		}, "/tasks/0/role"},
		"closedTransfer unknown": {func(w map[string]any) { w["hazard"].(map[string]any)["closedTransfer"] = "maybe" }, "/hazard/closedTransfer"},
		"a clock without zone":   {func(w map[string]any) { w["sources"].(map[string]any)["now"] = "2026-11-10T14:20:00" }, "/sources/now"},
	} {
		t.Run(name, func(t *testing.T) {
			whole = nil
			require.NoError(t, json.Unmarshal(data, &whole))
			c.change(whole)
			changed, err := json.Marshal(whole)
			require.NoError(t, err)
			var broken *schema.OwnError
			require.ErrorAs(t, schema.Own("worksheet", changed), &broken)
			assert.Equal(t, c.at, broken.Faults[0].Pointer, broken.Error())
			assert.Equal(t, 1, broken.Faults[0].Line)
		})
	}
	require.NoError(t, json.Unmarshal(data, &whole))
	whole["added"] = "later"
	whole["order"].(map[string]any)["added"] = 1
	added, err := json.Marshal(whole)
	require.NoError(t, err)
	assert.NoError(t, schema.Own("worksheet", added), "keys may be added")
}

func TestWhatIsNoDataAtAll(t *testing.T) {
	for name, data := range map[string]string{"empty": "", "no JSON": "{", "two values": "{} {}"} {
		assert.ErrorContains(t, schema.Own("codes", []byte(data)), "no JSON", name)
	}
	assert.ErrorContains(t, schema.Own("no such", []byte("{}")), "nothing was checked")
	misspelt := strings.Replace(string(finding.CodesFile()), `"remedy"`, `"remedie"`, 1)
	require.NotEqual(t, string(finding.CodesFile()), misspelt)
	assert.Error(t, schema.Own("codes", []byte(misspelt)), "a misspelt key is not passed over")
}
