package storetest

import (
	"cmp"
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

// Task is what a stored task that was made for an order says.
type Task struct {
	ID, Code, Role, Status string
	Version                int64
	Due, Updated           time.Time
}

// Tasks are those of an order by due time and id.
func Tasks(tb testing.TB, s adapter.Store, key string) []Task {
	ctx := context.WithoutCancel(tb.Context())
	line, err := s.Order(ctx, key)
	require.NoError(tb, err)
	list, err := s.Search(ctx, ofOrder(line.Resource), adapter.Page{Limit: 1000})
	require.NoError(tb, err)
	require.Empty(tb, list.Next)
	var out []Task
	for _, r := range list.Resources {
		if r.Source != "" { // received
			continue
		}
		require.Equal(tb, line.Patient, r.Patient)
		n := element.ReadAgain(r.JSON, 1).Root()
		due, _ := time.Parse(time.RFC3339, n.Get("restriction").Get("period").Get("end").Text())
		out = append(out, Task{ID: r.ID, Code: n.Get("code").Get("coding").At(0).Get("code").Text(), Role: n.Get("performerType").At(0).Get("coding").At(0).Get("code").Text(),
			Status: n.Get("status").Text(), Version: r.Version, Due: due.UTC(), Updated: r.Updated})
	}
	slices.SortFunc(out, func(a, b Task) int { return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.ID, b.ID)) })
	return out
}

// ofOrder asks for the tasks about an order by the id of its request.
func ofOrder(request string) adapter.Query {
	return adapter.Query{Type: "Task", All: []adapter.Criterion{{Name: "focus", Few: true, Any: []adapter.Match{{Op: adapter.OpEqual, Text: "MedicationRequest/" + request}}}}}
}
