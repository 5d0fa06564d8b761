package element

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const bundle = `{
  "resourceType": "Bundle",
  "entry": [
    {"resource": {"resourceType": "Patient", "name": [{"given": ["Ada", "Bé"], "family": "Ö\u00e9\ud83d\ude00"}]}},
    {"resource": {"resourceType": "MedicationRequest",
      "contained": [{"resourceType": "Medication", "ingredient": [{"isActive": true}]}],
      "dosageInstruction": [
        {"text": "over 30 minutes", "doseAndRate": [{"doseQuantity": {"value": 1.50, "code": "g"}}]},
        {"text": "flush"}],
      "_status": {"extension": [{"url": "u", "valueCode": "unknown"}]}}}
  ]
}`

func TestTheTreeAnswers(t *testing.T) {
	d, findings := Read([]byte(bundle), Limit{})
	require.Empty(t, findings)
	root := d.Root()
	patient := root.Get("entry").At(0).Get("resource")
	order := root.Get("entry").At(1).Get("resource")
	dose, suffix := order.Get("dosageInstruction").At(0).Get("doseAndRate").At(0).Choice("dose")

	t.Run("kinds and lengths", func(t *testing.T) {
		assert.Equal(t, Object, root.Kind())
		assert.Equal(t, 2, root.Len())
		assert.Equal(t, Array, root.Get("entry").Kind())
		assert.Equal(t, 2, root.Get("entry").Len())
		assert.Equal(t, Bool, order.Get("contained").At(0).Get("ingredient").At(0).Get("isActive").Kind())
		assert.Equal(t, Number, dose.Get("value").Kind())
	})
	t.Run("literals keep their digits and strings lose their escapes", func(t *testing.T) {
		assert.Equal(t, "1.50", dose.Get("value").Literal())
		assert.Empty(t, dose.Get("value").Text(), "a number is no text")
		assert.Equal(t, "true", order.Get("contained").At(0).Get("ingredient").At(0).Get("isActive").Literal())
		assert.Equal(t, "Öé😀", patient.Get("name").At(0).Get("family").Text())
		assert.Equal(t, "Öé😀", patient.Get("name").At(0).Get("family").Literal())
		assert.Empty(t, root.Get("entry").Literal())
	})
	t.Run("the choice gives node and type", func(t *testing.T) {
		assert.Equal(t, "Quantity", suffix)
		assert.Equal(t, "doseQuantity", dose.Name())
		code, suffix := order.Get("_status").Get("extension").At(0).Choice("value")
		assert.Equal(t, "Code", suffix)
		assert.Equal(t, "unknown", code.Text())
		none, suffix := order.Choice("dosage")
		assert.True(t, none.Exists(), "dosageInstruction has the form of a choice; the caller names the stem")
		assert.Equal(t, "Instruction", suffix)
		none, suffix = order.Choice("contain")
		assert.False(t, none.Exists())
		assert.Empty(t, suffix)
	})
	t.Run("of two choices the first is given", func(t *testing.T) {
		d, _ := Read([]byte(resource(`"valueString":"a","valueQuantity":{"value":1}`)), Limit{})
		_, suffix := d.Root().Choice("value")
		assert.Equal(t, "String", suffix)
	})
	t.Run("each gives elements, or the lone value", func(t *testing.T) {
		given := patient.Get("name").At(0).Get("given").Each()
		require.Len(t, given, 2)
		assert.Equal(t, "Bé", given[1].Text())
		assert.Len(t, patient.Each(), 1)
		assert.Empty(t, patient.Get("telecom").Each())
	})
	t.Run("members come in the order of the document", func(t *testing.T) {
		names := []string{}
		for _, m := range order.Members() {
			names = append(names, m.Name())
		}
		assert.Equal(t, []string{"resourceType", "contained", "dosageInstruction", "_status"}, names)
		assert.Empty(t, root.Get("entry").Members(), "an array has no members")
	})
	t.Run("parents", func(t *testing.T) {
		assert.Equal(t, root.Get("entry"), root.Get("entry").At(0).Parent())
		assert.False(t, root.Parent().Exists())
		assert.Empty(t, root.Get("entry").At(0).Name())
	})
	t.Run("expression, line and column", func(t *testing.T) {
		text := order.Get("dosageInstruction").At(1).Get("text")
		assert.Equal(t, "Bundle.entry[1].resource.dosageInstruction[1].text", text.Expression())
		line, column := text.Position()
		assert.Equal(t, []int{9, 18}, []int{line, column})
		assert.Equal(t, "Bundle.entry[1].resource.contained[0].ingredient[0].isActive",
			order.Get("contained").At(0).Get("ingredient").At(0).Get("isActive").Expression())
		assert.Equal(t, "Bundle.entry[1].resource._status.extension[0].valueCode",
			order.Get("_status").Get("extension").At(0).Get("valueCode").Expression())
		line, column = patient.Get("name").At(0).Get("family").Position()
		// 4 blanks, 13 for {"resource": , 17 {"resourceType": , 11 "Patient", , 8 "name": , 2 [{,
		// 9 "given": , 8 ["Ada", , 7 "Bé"], , 10 "family": make 89 characters before it.
		assert.Equal(t, []int{4, 90}, []int{line, column}, "é is one character")
		place := text.Place()
		assert.Equal(t, text.Expression(), place.Expression)
		assert.Equal(t, 9, place.Line)
		assert.Equal(t, 18, place.Column)
	})
	t.Run("raw bytes", func(t *testing.T) {
		assert.Equal(t, `{"value": 1.50, "code": "g"}`, string(dose.Raw()))
		assert.Equal(t, bundle, string(root.Raw()))
	})
	t.Run("out of range and wrong kind are nothing", func(t *testing.T) {
		for _, n := range []Node{{}, root.At(0), root.Get("entry").At(2), root.Get("entry").At(-1), dose.Get("value").Get("x"), root.Get("entry").Get("x")} {
			assert.False(t, n.Exists())
			assert.Equal(t, None, n.Kind())
			assert.Zero(t, n.Len())
			assert.Empty(t, n.Each())
			assert.Empty(t, n.Members())
			assert.Empty(t, n.Name())
			assert.Empty(t, n.Literal())
			assert.Empty(t, n.Expression())
			assert.Empty(t, n.Raw())
			assert.False(t, n.Parent().Exists())
			assert.False(t, n.Get("a").Get("b").At(1).Exists())
			line, column := n.Position()
			assert.Equal(t, []int{0, 0}, []int{line, column})
		}
		assert.False(t, (*Document)(nil).Root().Exists())
	})
	t.Run("null has no text", func(t *testing.T) {
		d, _ := Read([]byte(resource(`"a":null`)), Limit{})
		assert.True(t, d.Root().Get("a").Exists())
		assert.Empty(t, d.Root().Get("a").Literal())
	})
}

func TestTheDocumentDoesNotFollowTheCallersBytes(t *testing.T) {
	data := []byte(bundle)
	d, _ := Read(data, Limit{})
	for i := range data {
		data[i] = 'x'
	}
	assert.Equal(t, "Bundle", d.Root().Get("resourceType").Text())
}

func TestNamesThatAreNoIdentifiersStandInBackquotes(t *testing.T) {
	cases := map[string]string{
		`"a.b"`:                             "Observation.`a.b`",
		`"a\u0060"`:                         "Observation.`a\\``",
		`"a\\"`:                             "Observation.`a\\\\`",
		`"a\n"`:                             "Observation.`a\\u000a`",
		`"1"`:                               "Observation.`1`",
		`"é"`:                               "Observation.`é`",
		`"` + strings.Repeat("é", 70) + `"`: "Observation.`" + strings.Repeat("é", 64) + "…`",
	}
	for name, want := range cases {
		d, _ := Read([]byte(resource(name+":1")), Limit{})
		assert.Equal(t, want, d.Root().Members()[1].Expression())
	}
}

// The remembered positions must give what counting from the start gives, also
// across blocks, in one long line and in many short ones.
func TestPositionsAgreeWithCounting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]string{"a", "é", "😀", "\n", "\r\n", "ab\n", "€€€€€€€\n"})
		text := ""
		for range rapid.IntRange(0, 4).Draw(t, "runs") {
			text += strings.Repeat(unit.Draw(t, "unit"), rapid.IntRange(1, 3_000).Draw(t, "times"))
		}
		d := &Document{text: text}
		offset := rapid.IntRange(0, len(text)).Draw(t, "offset")
		for offset > 0 && offset < len(text) && !utf8.RuneStart(text[offset]) {
			offset--
		}
		before := text[:offset]
		lineStart := strings.LastIndexByte(before, '\n') + 1
		line, column := d.position(offset)
		assert.Equal(t, strings.Count(before, "\n")+1, line)
		assert.Equal(t, utf8.RuneCountInString(before[lineStart:])+1, column)
	})
}
