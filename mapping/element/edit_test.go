package element_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
)

func read(t *testing.T, text string) element.Node {
	doc, faults := element.Read([]byte(text), element.Limit{})
	require.Empty(t, faults)
	return doc.Root()
}

// What is not changed keeps its literals, its order and its escapes' meaning.
func TestRewriteChangesNamedStringsOnly(t *testing.T) {
	n := read(t, `{"resourceType":"Basic","dose":1.50,"subject":{"reference":"urn:uuid:a","display":"urn:uuid:a"},"list":[{"reference":"x"},{"reference":"urn:uuid:a"}],"words":["a","b"]}`)
	f := func(name, text string) string {
		if name == "reference" {
			return strings.Replace(text, "urn:uuid:a", "Patient/1", 1)
		}
		return text
	}
	want := `{"resourceType":"Basic","dose":1.50,"subject":{"reference":"Patient/1","display":"urn:uuid:a"},"list":[{"reference":"x"},{"reference":"Patient/1"}],"words":["a","b"]}`
	assert.Equal(t, want, string(element.Compact(element.Rewrite(element.RawNode(n), f))))
	built := element.Obj(element.F("a", element.List(element.Obj(element.F("reference", element.Str("urn:uuid:a"))), element.RawNode(n))))
	assert.Equal(t, `{"a":[{"reference":"Patient/1"},`+want+`]}`, string(element.Compact(element.Rewrite(built, f))))
	same := func(_, text string) string { return text }
	assert.Equal(t, string(n.Raw()), string(element.Compact(element.Rewrite(element.RawNode(n), same))))
}

func TestEditReplacesPutsInAndTakesOut(t *testing.T) {
	n := read(t, `{"resourceType":"Basic","id":"old","meta":{"versionId":"7"},"n":1.0}`)
	out := element.Edit(element.RawNode(n), element.F("id", element.Str("new")), element.F("meta", element.Value{}), element.F("status", element.Str("active")))
	assert.Equal(t, `{"resourceType":"Basic","status":"active","id":"new","n":1.0}`, string(element.Compact(out)))
	assert.Equal(t, `{"resourceType":"Basic","x":1}`, string(element.Compact(element.Edit(element.Obj(element.F("resourceType", element.Str("Basic"))), element.F("x", element.Int(1))))))
}
