package worklist_test

import (
	"context"
	"fmt"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/orders"
)

// door takes documents in as they are posted.
func door(t testing.TB, s adapter.Store) func(orders.Fixture) {
	var n atomic.Int64
	in := &intake.Service{Store: s, Reference: reference(t), Judges: []schema.Judge{googlefhir.Judge}, Base: "http://127.0.0.1:8765/fhir", NewID: func() string { return fmt.Sprintf("id-%06d", n.Add(1)) }}
	return func(f orders.Fixture) {
		doc, faults := element.Read(f.Document, element.Limit{})
		require.Empty(t, faults)
		var items []intake.Item
		for i, e := range doc.Root().Get("entry").Each() {
			items = append(items, intake.Item{Way: intake.Create, Resource: e.Get("resource"), FullURL: e.Get("fullUrl").Text(), At: fmt.Sprintf("Bundle.entry[%d].resource", i)})
		}
		_, err := in.Receive(context.Background(), intake.Call{Now: f.Now, Agent: "operator", Request: "r-1", Media: "application/fhir+json", Bytes: f.Document}, items)
		require.NoError(t, err)
	}
}

// TestThePagesOfWhatTheDoorTookIn: a document goes in as it is posted, and
// its order is on the list and on its page, with its places marked.
func TestThePagesOfWhatTheDoorTookIn(t *testing.T) {
	s := opened(t)
	take := door(t, s)
	for _, name := range []string{"s1-cefazolin-elastomeric", "s3-fluorouracil-46h"} {
		f, err := orders.Load(name)
		require.NoError(t, err)
		take(f)
	}
	h := pages(s).Handler()
	list := open(t, h, "/")
	list.has("Amara Okonkwo-Reyes")
	list.has("The stated numbers cannot all be true")
	all, err := s.Orders(context.Background(), adapter.OrderFilter{}, adapter.Page{Limit: 10})
	require.NoError(t, err)
	require.Len(t, all.Orders, 2)
	for _, o := range all.Orders {
		p := open(t, h, "/orders/"+o.Resource)
		marked, waits := 0, 0
		for _, a := range p.find("a") {
			if to, _ := attr(a, "href"); len(to) > 2 && to[:2] == "#e" {
				marked++
			}
		}
		for _, row := range p.find("td") {
			if textOf(row, nil) == "waits: the order is not ready" {
				waits++
			}
		}
		assert.Greater(t, marked, 20, o.Drug)
		assert.Greater(t, waits, 2, o.Drug)
		assert.NotContains(t, p.text, "it was judged again since")
		assert.NotContains(t, p.text, "the marks may not fit")
		assert.Len(t, p.find("blockquote"), 1)
	}
}
