package reconciliation

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/schedule"
)

// More is said of an open task from the very instants that are named, and not
// before.
func TestFromWhenATaskIsOverdue(t *testing.T) {
	ref := policy.Reference{Policy: policy.Default()}
	due := time.Date(2027, 1, 12, 11, 0, 0, 0, time.UTC)
	open := OpenTask{ID: "1", Code: "refill-call", Role: "supply", Order: "x", Due: due}
	asked := func(at time.Time) string {
		found, tasks := Overdue([]OpenTask{open}, Night{Now: at, Reference: ref}, schedule.Zone{}, finding.Place{Expression: "here"})
		if len(found) != len(tasks) {
			t.Fatal("a finding without a task")
		}
		if len(tasks) == 0 {
			return ""
		}
		return tasks[0].Code
	}
	from := OverdueFrom(open, ref.Policy.Night)
	assert.Len(t, from, 2)
	assert.Equal(t, due.Add(15*time.Minute+1), from[0])
	for _, x := range []struct {
		at   time.Time
		want string
	}{{from[0].Add(-1), ""}, {from[0], "escalate-next"}, {from[1].Add(-1), "escalate-next"}, {from[1], "escalate-supervisor"}} {
		assert.Equal(t, x.want, asked(x.at), x.at)
	}
	for _, x := range []OpenTask{{Code: "escalate-next", Due: due}, {Code: "refill-call"}} {
		assert.Empty(t, OverdueFrom(x, ref.Policy.Night))
	}
}
