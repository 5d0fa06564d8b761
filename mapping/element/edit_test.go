package element_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

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

// Written at once it is what it is when the values are made first, also
// where a text that is taken away leaves an object or a list empty.
func TestAppendAsIsRewriteAndCompact(t *testing.T) {
	doc, _ := element.Read([]byte(`{"resourceType":"Basic","a":{"gone":"x"},"b":{},"c":[],"d":["x","x"],"e":[{"gone":"x"},null,""],"f":"","g":"\u00fc\n\"x"}`), element.Limit{}) // empty values are faults, and in the tree
	n := doc.Root()
	text := rapid.SampledFrom([]string{"", "x", "y", "stays", "ü", "a\"b\\c\n"})
	f := func(name, text string) string {
		switch {
		case text == "x":
			return ""
		case name == "b":
			return text + "!"
		}
		return text
	}
	var value func(depth int) *rapid.Generator[element.Value]
	value = func(depth int) *rapid.Generator[element.Value] {
		return rapid.Custom(func(t *rapid.T) element.Value {
			var v element.Value
			switch kind := rapid.IntRange(0, 7).Draw(t, "kind"); {
			case kind == 0:
			case kind == 1:
				v = element.RawNode(n)
			case kind == 2:
				v = element.Num(rapid.SampledFrom([]string{"", "1.50"}).Draw(t, "number"))
			case kind == 3:
				v = element.Boolean(rapid.Bool().Draw(t, "bool"))
			case kind == 4 && depth > 0:
				for _, name := range []string{"a", "b"} {
					v = v.With(element.F(name, value(depth-1).Draw(t, name)))
				}
			case kind == 5 && depth > 0:
				v = element.List(rapid.SliceOfN(value(depth-1), 0, 3).Draw(t, "items")...)
			default:
				v = element.Str(text.Draw(t, "text"))
			}
			if rapid.IntRange(0, 9).Draw(t, "always") == 0 {
				v = element.Always(v)
			}
			return v
		})
	}
	rapid.Check(t, func(t *rapid.T) {
		v := value(3).Draw(t, "value")
		want := string(element.Compact(element.Rewrite(v, f)))
		if got := string(element.AppendAs([]byte("before"), v, f)); got != "before"+want {
			t.Fatalf("%s, not %s", got, want)
		}
	})
}
