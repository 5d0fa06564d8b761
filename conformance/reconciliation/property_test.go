package reconciliation_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/reconciliation"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/testdata/orders"
)

// An unchanged night says nothing but what is wrong in the document itself.
func TestAnUnchangedNightIsQuiet(t *testing.T) {
	n, orders_ := 0, 0
	for _, f := range orders.All() {
		doc, faults := element.Read(f.Document, element.Limit{})
		if len(faults) > 0 {
			continue
		}
		cases, faults := r4.ReadCases(doc, f.Now)
		if len(faults) > 0 {
			continue
		}
		for _, c := range cases {
			s := judged(c, f.Now)
			list := compare(t, s, s, reconciliation.Held{}, night(f.Now))
			for _, r := range list {
				orders_++
				assert.Equal(t, reconciliation.Unchanged, r.State)
				if len(r.Findings) > 0 {
					n++
					for _, x := range r.Findings {
						t.Log(f.Name, r.Key, x.Code, x.Observed, "|", x.Expected)
					}
				}
			}
		}
	}
	t.Log(n, "of", orders_)
}
