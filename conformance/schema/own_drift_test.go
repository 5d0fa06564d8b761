package schema_test

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/worksheet"
)

// keysOf lists the keys a struct is written with, by its tag, else by the
// name in lower case, as YAML and our tables do.
func keysOf(typ reflect.Type, tag string) []string {
	var out []string
	for i := range typ.NumField() {
		f := typ.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get(tag), ",")
		if name == "-" || !f.IsExported() {
			continue
		}
		if name == "" {
			name = strings.ToLower(f.Name[:1]) + f.Name[1:]
			if tag == "yaml" {
				name = strings.ToLower(f.Name)
			}
		}
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}

func schemaTree(t testing.TB, name string) map[string]any {
	t.Helper()
	text, ok := schema.Published(name)
	require.True(t, ok)
	var s map[string]any
	require.NoError(t, json.Unmarshal(text, &s))
	return s
}

func properties(t testing.TB, at map[string]any, path ...string) []string {
	t.Helper()
	for _, p := range path {
		next, ok := at[p].(map[string]any)
		require.True(t, ok, "%v in the schema", path)
		at = next
	}
	props, ok := at["properties"].(map[string]any)
	require.True(t, ok, "%v in the schema", path)
	var out []string
	for k := range props {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// A key that only one of type and schema knows would be dropped, or refused
// although it is ours.
func TestTypesAndSchemasKnowTheSameKeys(t *testing.T) {
	sheet, settings := schemaTree(t, "worksheet"), schemaTree(t, "policy")
	for name, typ := range map[string]any{"worksheet": worksheet.Worksheet{}, "quantity": worksheet.Quantity{}, "reading": worksheet.Reading{}, "finding": worksheet.Finding{},
		"culprit": worksheet.Culprit{}, "notChecked": worksheet.NotChecked{}, "schedule": worksheet.Schedule{}, "delivery": worksheet.Delivery{}, "kitItem": worksheet.KitItem{},
		"task": worksheet.Task{}, "hazard": worksheet.Hazard{}, "sources": worksheet.Sources{}} {
		assert.Subset(t, keysOf(reflect.TypeOf(typ), "json"), requiredOf(sheet, name), "what the schema requires of a %s is written", name)
	}
	assert.Equal(t, keysOf(reflect.TypeOf(policy.Policy{}), "yaml"), properties(t, settings))
	for i := range reflect.TypeOf(policy.Policy{}).NumField() {
		f := reflect.TypeOf(policy.Policy{}).Field(i)
		if f.Type.Kind() != reflect.Struct {
			continue
		}
		name := f.Tag.Get("yaml")
		if name == "" {
			name = strings.ToLower(f.Name)
		}
		assert.Equal(t, keysOf(f.Type, "yaml"), properties(t, settings, "properties", name), name)
	}
	assert.Equal(t, keysOf(reflect.TypeOf(fulfillment.KitRow{}), "json"), properties(t, schemaTree(t, "kit"), "$defs", "row"))
	assert.Equal(t, keysOf(reflect.TypeOf(fulfillment.TaskRow{}), "json"), properties(t, schemaTree(t, "tasks"), "$defs", "row"))
	assert.Equal(t, keysOf(reflect.TypeOf(finding.Row{}), "json"), properties(t, schemaTree(t, "codes"), "$defs", "row"))
}

func requiredOf(s map[string]any, name string) []string {
	def, _ := s["$defs"].(map[string]any)[name].(map[string]any)
	list, _ := def["required"].([]any)
	var out []string
	for _, k := range list {
		out = append(out, k.(string))
	}
	return out
}

// The outside contract, word for word: keys are never renamed or dropped.
func TestTheSchemaRequiresWhatTheContractNames(t *testing.T) {
	sheet := schemaTree(t, "worksheet")
	for name, keys := range map[string]string{
		"worksheet": "order verdict stage quantities readings findings notChecked schedule deliveries kit tasks hazard sources",
		"finding":   "code gate severity title expression observed expected remedy citation",
		"culprit":   "name with stated consistent unit signature named",
		"kitItem":   "item quantity formula",
		"hazard":    "listed edition table antineoplastic closedTransfer handling",
		"sources":   "document held tables policy program zones now",
		"quantity":  "value unit stated derivation",
		"task":      "code role title",
		"delivery":  "arrival units daysSupply",
		"schedule":  "doseCount zone doses",
	} {
		assert.Subset(t, requiredOf(sheet, name), strings.Fields(keys), name)
	}
	names, _ := sheet["$defs"].(map[string]any)["name"].(map[string]any)
	var known []string
	for _, part := range []string{"enum", "examples"} {
		list, _ := names[part].([]any)
		for _, n := range list {
			known = append(known, n.(string))
		}
	}
	assert.Subset(t, known, strings.Fields(`dose dosePerKg dosePerArea dosingWeight bodySurfaceArea idealBodyWeight adjustedBodyWeight creatinineClearance concentration volume rate drugRate drugRatePerKg duration interval dosesPerDay dailyDose doseCount courseLength orderedQuantity homeQuantity fill residual delivered nominalRate endsAt endsEarliest endsLatest startBefore finishBy glucoseInfusionRate osmolarity`))
}

func BenchmarkOwnPolicy(b *testing.B) {
	file := policy.DefaultFile()
	require.NoError(b, schema.Own("policy", file)) // compiled once, outside the count
	b.ReportAllocs()
	for b.Loop() {
		if err := schema.Own("policy", file); err != nil {
			b.Fatal(err)
		}
	}
}
