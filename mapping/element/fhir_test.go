package element

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Emptiness and nulls: https://hl7.org/fhir/R4/json.html ("an array can never
// be empty", "objects are never empty", null only to fill up arrays of
// primitives) and datatypes.html ("strings shall not be empty", characters).
func TestRulesForEveryElement(t *testing.T) {
	none := []at(nil)
	one := func(code code, expression string, col int) []at { return []at{{code, expression, 2, col}} }
	cases := []struct {
		name, members string
		want          []at
	}{
		{"an empty string", `"status":""`, one(value, "Observation.status", 10)},
		{"a space", `"status":" "`, one(value, "Observation.status", 10)},
		{"tab and line feed in escapes", `"status":"\t\n"`, one(value, "Observation.status", 10)},
		{"a no-break space alone", "\"status\":\"\u00A0\"", one(value, "Observation.status", 10)},
		{"a zero-width space alone", `"status":"\u200b"`, one(value, "Observation.status", 10)},
		{"a space before a word", `"status":" final"`, none},
		{"a no-break space before a word", "\"status\":\"\u00A0x\"", none},
		{"an empty array", `"category":[]`, one(structure, "Observation.category", 12)},
		{"an empty object", `"code":{}`, one(structure, "Observation.code", 8)},
		{"an empty object in an array", `"category":[{"text":"a"},{}]`, one(structure, "Observation.category[1]", 26)},
		{"null as a member", `"status":null`, one(structure, "Observation.status", 10)},
		{"null in an array", `"given":["a",null]`, one(structure, "Observation.given[1]", 14)},
		{"null in an array of objects", `"category":[{"text":"a"},null]`, one(structure, "Observation.category[1]", 26)},
		{"a nameless member", `"":1`, one(structure, "Observation", 1)},
		{"an array in an array", `"a":[[1],[2]]`, []at{{structure, "Observation.a[0]", 2, 6}, {structure, "Observation.a[1]", 2, 10}}},
		{"a form feed in an escape", `"text":"a\fb"`, one(value, "Observation.text", 8)},
		{"U+0000 in an escape", `"text":"a\u0000b"`, one(value, "Observation.text", 8)},
		{"U+001F in an escape", `"text":"a\u001fb"`, one(value, "Observation.text", 8)},
		{"tab, line feed and carriage return in escapes", `"text":"a\tb\nc\rd"`, none},
		{"U+007F", `"text":"a\u007fb"`, none},
		{"negative zero", `"value":-0`, one(value, "Observation.value", 9)},
		{"negative zero with decimals", `"value":-0.0`, one(value, "Observation.value", 9)},
		{"negative zero with an exponent", `"value":-0E1`, one(value, "Observation.value", 9)},
		{"zero with decimals", `"value":0.00`, none},
		{"false and 0", `"a":false,"b":0`, none},

		{"extension of a value that is there", `"birthDate":"1970-01-01","_birthDate":{"id":"b"}`, none},
		{"extension of a value that is not there", `"_birthDate":{"extension":[{"url":"u"}]}`, none},
		{"padded on both sides", `"given":["a",null],"_given":[null,{"id":"g"}]`, none},
		{"the companion before the values", `"_given":[null,{"id":"g"}],"given":["a",null]`, none},
		{"a companion array alone", `"_given":[{"id":"g"}]`, none},
		{"a companion array alone with padding", `"_given":[null,{"id":"g"}]`, one(structure, "Observation._given[0]", 11)},
		{"null opposite null", `"given":["a",null],"_given":[{"id":"g"},null]`, one(structure, "Observation.given[1]", 14)},
		{"a companion too short", `"given":["a","b"],"_given":[{"id":"g"}]`, one(structure, "Observation._given", 28)},
		{"a companion too long", `"given":["a"],"_given":[null,{"id":"g"}]`, one(structure, "Observation._given", 24)},
		{"a companion that is a string", `"_given":"a"`, one(structure, "Observation._given", 10)},
		{"a companion array with a string", `"given":["a","b"],"_given":[null,"x"]`, one(structure, "Observation._given", 28)},
		{"an empty companion", `"given":["a"],"_given":[{}]`, one(structure, "Observation._given[0]", 25)},
		{"a companion that is null", `"birthDate":"1970-01-01","_birthDate":null`, one(structure, "Observation._birthDate", 39)},
		{"values an array, companion an object", `"given":["a",null],"_given":{"id":"g"}`, one(structure, "Observation.given[1]", 14)},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			text := []byte(resource(c.members))
			_, findings := Read(text, Limit{})
			got := placed(findings)
			if len(c.want) == 0 {
				assert.Empty(t, got)
			} else {
				assert.Equal(t, c.want, got)
			}
			for _, f := range findings {
				inDocument(t, text, f)
			}
		})
	}
}

func TestAllFaultsAreGivenInTheOrderOfTheirPlaces(t *testing.T) {
	text := resource("\"a\":{},\n\"b\":\"\",\n\"c\":1E400,\n\"b\":null,\n\"d\":\"\\ud800\"") + "x"
	want := []at{
		{structure, "Observation.a", 2, 5},
		{value, "Observation.b", 3, 5},
		{limits, "Observation.c", 4, 5},
		{syntax, "Observation.b", 5, 1},
		{structure, "Observation.b", 5, 5},
		{syntax, "Observation.d", 6, 6},
		{syntax, "Observation", 6, 14},
	}
	for range 3 {
		_, findings := Read([]byte(text), Limit{})
		assert.Equal(t, want, placed(findings))
	}
}

// A detail may be logged, so nothing of the document may reach it.
func TestNoDetailHoldsAnythingOfTheDocument(t *testing.T) {
	const canary = "Zq7Canary"
	texts := []string{
		resource(`"` + canary + `":"","` + canary + `":"` + canary + `\u0001"`),
		resource(`"` + canary + `":{},"a":["` + canary + `",null]`),
		resource(`"a":"` + canary + `\ud800"`),
		resource(`"a":` + canary),
		resource(`"a":"` + canary),
		`{"resourceType":"` + canary + ` x"} ` + canary,
		`{"resourceTYPE":"` + canary + `"}`,
		"<" + canary + ">",
		canary,
		resource(`"` + canary + `":-0.0,"_` + canary + `":"x"`),
	}
	for _, text := range texts {
		_, findings := Read([]byte(text), Limit{})
		assert.NotEmpty(t, findings, text)
		for _, f := range findings {
			assert.NotContains(t, f.Detail, canary)
			assert.NotContains(t, f.Remedy, canary)
			assert.NotContains(t, f.Expected, canary)
		}
	}
}
