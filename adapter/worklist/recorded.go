package worklist

import (
	"cmp"
	"context"
	"slices"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

// recorded is what the record says of a task of ours.
type recorded struct {
	ID, Code, Role, Status string
	Says                   string // its description
	Due                    time.Time
}

// recorded reads the tasks that were made for an order, by due time; those
// without one come first. What came in a document is none of them, though it
// may be a Task about the order: it is shown as received.
func (p Pages) recorded(ctx context.Context, o adapter.OrderLine) ([]recorded, error) {
	var out []recorded
	of := adapter.Criterion{Name: "focus", Few: true, Any: []adapter.Match{{Op: adapter.OpEqual, Text: "MedicationRequest/" + o.Resource}}}
	for page := (adapter.Page{Limit: 1000}); ; {
		slice, err := p.Store.Search(ctx, adapter.Query{Type: "Task", All: []adapter.Criterion{of}}, page)
		if err != nil {
			return nil, err
		}
		for _, r := range slice.Resources {
			if r.Source == "" && r.Patient == o.Patient { // never another patient's
				out = append(out, recordedOf(r))
			}
		}
		if page.After = slice.Next; page.After == "" {
			break
		}
	}
	slices.SortFunc(out, func(a, b recorded) int { return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.ID, b.ID)) })
	return out, nil
}

// recordedOf reads a task of ours: the first coding of its code and of who
// does it are of our code systems.
func recordedOf(r adapter.Resource) recorded {
	n := element.ReadAgain(r.JSON, 1).Root()
	due, _ := time.Parse(time.RFC3339, n.Get("restriction").Get("period").Get("end").Text())
	return recorded{ID: r.ID, Code: n.Get("code").Get("coding").At(0).Get("code").Text(), Role: n.Get("performerType").At(0).Get("coding").At(0).Get("code").Text(),
		Status: n.Get("status").Text(), Says: shown(n.Get("description").Text()), Due: due}
}

// title says what to do. A task that no table knows has only its own words.
func (r recorded) title() string {
	title := titleOf(r.Code)
	if plain := words(shown(r.Code)); title == plain {
		return cmp.Or(r.Says, plain)
	}
	return title
}
