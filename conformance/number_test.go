package conformance_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/element"
	"weir.example/weir/testdata/orders"
)

// wild are literals that JSON and R4 decimals allow and no order means.
var wild = []string{"999999999999999999", "1E20", "1E-20", "0", "-1", "0.000000000000000001"}

// numbers lists the places of every number of a document.
func numbers(n element.Node, visit func(element.Node)) {
	for _, m := range n.Members() {
		for _, x := range m.Each() {
			if x.Kind() == element.Number {
				visit(x)
			}
			numbers(x, visit)
		}
	}
}

// A wild number anywhere ends in an answer, and one in the directions of the
// judged order never leaves it ready.
func TestWildNumbers(t *testing.T) {
	tried := 0
	of := map[string]string{"s1-fixed": "Bundle.entry[14].resource.dosageInstruction", "s3-fixed": "Bundle.entry[12].resource.dosageInstruction"}
	for _, name := range []string{"s1-fixed", "s3-fixed"} {
		f, err := orders.Load(name)
		require.NoError(t, err)
		in := conformance.Input{Document: f.Document, Now: f.Now, Stage: "release",
			Reference: reference(t, f.StandingLock)}
		require.Equal(t, "ready", conformance.Judge(in).Worksheets[0].Verdict)
		lines := bytes.SplitAfter(f.Document, []byte("\n"))
		d, _ := element.Read(f.Document, element.Limit{})
		numbers(d.Root(), func(n element.Node) {
			p := n.Place()
			for _, literal := range wild {
				line := lines[p.Line-1]
				at := p.Column - 1
				require.True(t, bytes.HasPrefix(line[at:], []byte(n.Literal())), p.Expression)
				if n.Literal() == literal {
					continue
				}
				var b bytes.Buffer
				for i, l := range lines {
					if i == p.Line-1 {
						fmt.Fprintf(&b, "%s%s%s", line[:at], literal, line[at+len(n.Literal()):])
						continue
					}
					b.Write(l)
				}
				tried++
				in.Document = b.Bytes()
				j := conformance.Judge(in)
				require.True(t, len(j.Worksheets)+len(j.Faults) > 0, "%s %s: no answer", p.Expression, literal)
				// sequence only sorts instructions. Nothing bounds yet how large or
				// small a flush, a lock's strength or a stock vial's strength is;
				// there only 0 and -1 are asserted.
				stated := strings.Contains(p.Expression, "dosageInstruction") || strings.Contains(p.Expression, "strength")
				if !stated || strings.HasSuffix(p.Expression, "sequence") || !strings.HasPrefix(p.Expression, of[name]) && literal != "0" && literal != "-1" {
					continue
				}
				for _, w := range j.Worksheets {
					assert.NotEqual(t, "ready", w.Verdict, "%s: %s = %s", name, p.Expression, literal)
				}
			}
		})
	}
	assert.Greater(t, tried, 200)
	t.Logf("%d documents with a wild number", tried)
}
