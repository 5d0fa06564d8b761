package element

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Rows J1 to J3 and J8 of the project's hostile inputs, as members of a resource: they
// begin at line 2 column 1. Grammar: RFC 8259; one meaning only: RFC 7493.
func TestTextThatIsNotStrictJSON(t *testing.T) {
	cases := []struct {
		name, members string
		want          at
	}{
		{"the same name twice", `"value":1250,"value":12500`, at{syntax, "Observation.value", 2, 14}},
		{"the same name twice with equal values", `"value":1,"value":1`, at{syntax, "Observation.value", 2, 11}},
		{"the same name once in an escape", `"a":1,"\u0061":2`, at{syntax, "Observation.a", 2, 7}},
		{"both names in escapes", `"\u0061":1,"\u0061":2`, at{syntax, "Observation.a", 2, 12}},
		{"the same name twice in an extension", `"extension":[{"url":"u","url":"v"}]`, at{syntax, "Observation.extension[0].url", 2, 25}},
		{"resourceType twice", `"resourceType":"Patient"`, at{syntax, "Observation.resourceType", 2, 1}},
		{"a byte that is not UTF-8 in a value", "\"a\":\"x\xFFy\"", at{syntax, "Observation.a", 2, 7}},
		{"a byte that is not UTF-8 in a name", "\"\xFF\":1", at{syntax, "Observation", 2, 2}},
		{"a surrogate half in a value", `"a":"\ud83d"`, at{syntax, "Observation.a", 2, 6}},
		{"a surrogate half behind a whole pair", `"a":"\ud83d\ude00\ude00"`, at{syntax, "Observation.a", 2, 18}},
		{"a NUL in a string", "\"a\":\"\x00\"", at{syntax, "Observation", 2, 6}},
		{"a control character in a string", "\"a\":\"x\x01\"", at{syntax, "Observation", 2, 7}},
		{"a line feed in a string", "\"a\":\"x\ny\"", at{syntax, "Observation", 2, 7}},
		{"a line comment", "// one\n\"a\":1", at{syntax, "Observation", 2, 1}},
		{"a comment before a value", `"a":/* mg */5`, at{syntax, "Observation", 2, 5}},
		{"NaN", `"a":NaN`, at{syntax, "Observation", 2, 5}},
		{"Infinity", `"a":-Infinity`, at{syntax, "Observation", 2, 6}},
		{"a plus sign", `"a":+1`, at{syntax, "Observation", 2, 5}},
		{"a zero before the number", `"a":01`, at{syntax, "Observation", 2, 6}},
		{"a zero before a negative number", `"a":-01`, at{syntax, "Observation", 2, 7}},
		{"no digit before the point", `"a":.5`, at{syntax, "Observation", 2, 5}},
		{"a comma for a decimal point", `"a":2,5`, at{syntax, "Observation", 2, 7}},
		{"a trailing comma in an array", `"a":[1,2,]`, at{syntax, "Observation.a", 2, 9}},
		{"a trailing comma in an object", `"a":{"b":1,}`, at{syntax, "Observation.a", 2, 11}},
		{"single quotes", `'a':1`, at{syntax, "Observation", 2, 1}},
		{"a missing comma", `"a":1 "b":2`, at{syntax, "Observation", 2, 7}},
		{"a missing colon", `"a" 1`, at{syntax, "Observation", 2, 5}},
		{"True with a capital", `"a":True`, at{syntax, "Observation", 2, 5}},
		{"an unknown escape", `"a":"\x41"`, at{syntax, "Observation", 2, 6}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			text := resource(c.members)
			d, findings := Read([]byte(text), Limit{})
			assert.Equal(t, []at{c.want}, placed(findings))
			for _, f := range findings {
				inDocument(t, []byte(text), f)
			}
			assert.Equal(t, "Observation", d.Root().Get("resourceType").Text(), "what stands before the fault is readable")
		})
	}
}

func TestBothPlacesOfADuplicateAreNamed(t *testing.T) {
	_, findings := Read([]byte("{\"resourceType\":\"Observation\",\n\"value\": 1250,\n  \"value\": 12500}"), Limit{})
	require.Len(t, findings, 1)
	f := findings[0]
	assert.Equal(t, at{syntax, "Observation.value", 3, 3}, placed(findings)[0])
	assert.Contains(t, f.Detail, "first at line 2 column 1, again at line 3 column 3")
	assert.Equal(t, `"value": 1250, then "value": 12500`, f.Observed)
	assert.Equal(t, []string{"Observation.value"}, f.Evidence)
	assert.NotContains(t, f.Detail, "1250", "a detail may be logged")
	assert.Contains(t, f.Diagnostic, "12500")
}

func TestThreeOfANameGiveTwoFaultsThatNameTheFirst(t *testing.T) {
	for _, filler := range []int{0, few + 1} { // pairs compared, and the map for many members
		var b strings.Builder
		for i := range filler {
			b.WriteString(`"m` + strings.Repeat("x", i) + `":1,`)
		}
		_, findings := Read([]byte(resource(b.String()+"\n\"a\":1,\n\"a\":2,\n\"\\u0061\":3")), Limit{})
		require.Len(t, findings, 2)
		assert.Contains(t, findings[0].Detail, "first at line 3 column 1, again at line 4 column 1")
		assert.Contains(t, findings[1].Detail, "first at line 3 column 1, again at line 5 column 1")
	}
}

func TestNamesThatDifferInCaseAreTwoMembers(t *testing.T) {
	d, findings := Read([]byte(resource(`"dose":1,"Dose":2`)), Limit{})
	assert.Empty(t, findings, "whether Dose exists is not judged here")
	assert.Equal(t, "1", d.Root().Get("dose").Literal())
	assert.False(t, d.Root().Get("DOSE").Exists())
}

func TestWhatFollowsTheDocument(t *testing.T) {
	cases := []struct{ name, rest, detail string }{
		{"a second document", `{"resourceType":"Patient"}`, "second document"},
		{"an array", `[]`, "second document"},
		{"a word", `x`, "something follows"},
		{"a closing brace", `}`, "something follows"},
		{"a comma", `,`, "something follows"},
		{"a comment", `// end`, "comment"},
		{"a NUL", "\x00", "something follows"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, findings := Read([]byte(resource(`"a":1`)+"\n "+c.rest), Limit{})
			require.Len(t, findings, 1)
			assert.Equal(t, at{syntax, "Observation", 3, 2}, placed(findings)[0])
			assert.Contains(t, findings[0].Detail, c.detail)
		})
	}
	_, findings := Read([]byte(resource(`"a":1`)+" \r\n\t\n"), Limit{})
	assert.Empty(t, findings, "white space may follow")
}

func TestWhatIsNoJSONAtAllIsNamed(t *testing.T) {
	utf16 := func(s string) string {
		var b strings.Builder
		for _, c := range []byte(s) {
			b.WriteByte(c)
			b.WriteByte(0)
		}
		return b.String()
	}
	cases := []struct{ name, text, detail, remedy string }{
		{"nothing", "", "the document is empty", "arrived whole"},
		{"white space", " \n\t ", "the document is empty", "arrived whole"},
		{"a byte order mark alone", "\uFEFF", "the document is empty", "arrived whole"},
		{"XML", `<?xml version="1.0"?><Bundle xmlns="http://hl7.org/fhir"/>`, "XML", "This is XML; send FHIR JSON"},
		{"XML behind a byte order mark", "\uFEFF<Bundle/>", "XML", "This is XML; send FHIR JSON"},
		{"an HTML page", "\n<!DOCTYPE HTML><html><body>Sign in</body></html>", "an HTML page", "sign-in"},
		{"HL7 version 2", "MSH|^~\\&|A|B\rPID|1", "HL7 version 2", "FHIR R4 JSON"},
		{"gzip", "\x1F\x8B\x08\x00", "gzip", "uncompressed"},
		{"a PDF", "%PDF-1.7", "a PDF", "FHIR JSON"},
		{"UTF-16 with a mark, little end first", "\xFF\xFE" + utf16(`{}`), "UTF-16", "UTF-8"},
		{"UTF-16 with a mark, big end first", "\xFE\xFF\x00{\x00}", "UTF-16", "UTF-8"},
		{"UTF-16 without a mark", utf16(`{"resourceType":"Patient"}`), "UTF-16", "UTF-8"},
		{"words", "Dear colleague", "the document is not JSON", "FHIR R4 resource in JSON"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			d, findings := Read([]byte(c.text), Limit{})
			require.Len(t, findings, 1)
			assert.Equal(t, at{syntax, "$this", 1, 1}, placed(findings)[0])
			assert.Contains(t, findings[0].Detail, c.detail)
			assert.Contains(t, findings[0].Remedy, c.remedy)
			assert.False(t, d.Root().Exists())
		})
	}
}

func TestAByteOrderMarkIsRefusedAndTheRestIsRead(t *testing.T) {
	d, findings := Read([]byte("\uFEFF"+resource(`"status":""`)), Limit{})
	assert.Equal(t, []at{{syntax, "Observation", 1, 1}, {value, "Observation.status", 2, 10}}, placed(findings))
	assert.Equal(t, "Observation", d.Root().Get("resourceType").Text())
}

func TestJSONThatIsNoResource(t *testing.T) {
	cases := []struct {
		name, text string
		want       at
	}{
		{"an array of resources", `[{"resourceType":"Patient"}]`, at{structure, "$this", 1, 1}},
		{"a number", `5`, at{structure, "$this", 1, 1}},
		{"null", `null`, at{structure, "$this", 1, 1}},
		{"a string", `"Bundle"`, at{structure, "$this", 1, 1}},
		{"an object without resourceType", ` {"dose":5}`, at{structure, "$this", 1, 2}},
		{"resourceType in another case", `{"resourcetype":"Patient"}`, at{structure, "$this.resourcetype", 1, 17}},
		{"resourceType a number", `{"resourceType":4}`, at{structure, "$this.resourceType", 1, 17}},
		{"resourceType no name", `{"resourceType":"a b"}`, at{value, "$this.resourceType", 1, 17}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, findings := Read([]byte(c.text), Limit{})
			assert.Equal(t, []at{c.want}, placed(findings))
		})
	}
	_, findings := Read([]byte(`{"status":"final","resourceType":"Observation"}`), Limit{})
	assert.Empty(t, findings, "json.html: the order of members has no meaning")
}

func TestADocumentCutOffIsReadAsFarAsItGoes(t *testing.T) {
	whole := resource(`"code":{"text":"weight"},"note":[{"text":"a"},{"text":"b"}]`)
	for n := 1; n < len(whole); n++ {
		d, findings := Read([]byte(whole[:n]), Limit{})
		require.NotEmpty(t, findings, "cut after %d bytes", n)
		for _, f := range findings {
			inDocument(t, []byte(whole[:n]), f)
			assert.Equal(t, syntax, f.Code, "a cut makes no empty element: %s", f.Detail)
		}
		if n > len(`{"resourceType":"Observation"`) {
			assert.Equal(t, "Observation", d.Root().Get("resourceType").Text())
		}
	}
	_, findings := Read([]byte(whole[:60]), Limit{})
	assert.Contains(t, findings[0].Detail, "what begins at line")
}
