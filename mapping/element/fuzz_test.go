package element

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
)

// FuzzRead: no input makes Read panic; every place it returns is inside the
// document; every node answers; and what has no finding is JSON for the
// standard library too, is refused by nobody when written again, and keeps
// its canonical form.
func FuzzRead(f *testing.F) {
	names, _ := filepath.Glob(filepath.Join(parsing, "*.json"))
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
		f.Add([]byte(resource(`"a":` + string(data))))
	}
	f.Add([]byte(bundle))
	f.Add([]byte(resource(`"given":["a",null],"_given":[null,{"id":"g"}],"value":-0.0,"value":1E21`)))
	limit := Limit{Depth: 12, String: 200, Nodes: 200, Entries: 3, Contained: 3, Extensions: 3, Codings: 3}
	f.Fuzz(func(t *testing.T, data []byte) {
		d, findings := Read(data, limit)
		for i, found := range findings {
			inDocument(t, data, found)
			if i > 0 && i < maxFaults {
				a, b := findings[i-1].Place, found.Place
				assert.True(t, a.Line < b.Line || a.Line == b.Line && a.Column <= b.Column, "sorted by place")
			}
		}
		children := 0
		for at := range d.nodes {
			n := Node{d, int32(at)}
			children += len(n.children())
			_, _, _, _ = n.Expression(), n.Literal(), n.Name(), n.Raw()
			if n.Parent().Exists() {
				assert.Contains(t, n.Parent().children(), n)
			}
		}
		assert.Equal(t, max(0, d.Size()-1), children, "every node but the root hangs in the tree once")
		if len(findings) > 0 {
			return
		}
		assert.True(t, json.Valid(data))
		again, findings := Read(Encode(RawNode(d.Root())), limit)
		for _, found := range findings { // escapes may be written longer than they came
			assert.Equal(t, limits, found.Code)
		}
		if len(findings) == 0 {
			assert.Equal(t, string(Canonical(d.Root())), string(Canonical(again.Root())))
		}
	})
}
