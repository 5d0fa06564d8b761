package worklist_test

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"weir.example/weir/testdata/orders"
)

// BenchmarkPages serves a page of the list with 50 orders that came through
// the door, with the tasks that each of them gives, and the page of one.
func BenchmarkPages(b *testing.B) {
	s := opened(b)
	take := door(b, s)
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(b, err)
	for n := range 50 {
		one := f
		for from, to := range map[string]string{"88213007": "8%07d", "MG-004417": "MG-%06d", "pat-004417": "pat-%06d", "https://marrowgate.example/fhir/Observation/": "https://marrowgate.example/fhir/Observation/n%d-"} {
			one.Document = bytes.ReplaceAll(one.Document, []byte(from), []byte(fmt.Sprintf(to, n)))
		}
		take(one)
	}
	p := pages(s)
	p.Rows = 50
	h := p.Handler()
	list := open(b, h, "/")
	first := ""
	for _, a := range list.find("a") {
		if to, _ := attr(a, "href"); first == "" && len(to) > 8 && to[:8] == "/orders/" {
			first = to
		}
	}
	for name, path := range map[string]string{"list": "/", "order": first} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				get(b, h, path)
			}
		})
	}
}
