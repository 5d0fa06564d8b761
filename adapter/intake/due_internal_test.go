package intake

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/worksheet"
)

// Work that is due now since its usual time has passed stays due when it was;
// of several of one kind each keeps its own time, and one that is over is left
// out from the front.
func TestWorkStaysDueWhenItWasAskedFor(t *testing.T) {
	now := time.Date(2027, 1, 13, 9, 0, 0, 0, time.UTC)
	at := func(hours int) string { return now.Add(time.Duration(hours) * time.Hour).Format(time.RFC3339) }
	task := func(code, due, says string) worksheet.Task {
		return worksheet.Task{Code: code, Role: "nurse", Title: code, Due: due, Says: says}
	}
	due := func(list []worksheet.Task) (out []string) {
		for _, x := range list {
			out = append(out, x.Code+" "+x.Due+" "+x.Says)
		}
		return out
	}
	passed := "; " + fulfillment.Passed
	for name, c := range map[string]struct{ was, list, want []worksheet.Task }{
		"each delivery its own": {
			[]worksheet.Task{task("deliver", at(-50), "delivery 1 of 3: 7 doses"), task("deliver", at(-2), "delivery 2 of 3: 7 doses"), task("deliver", at(90), "delivery 3 of 3: 7 doses")},
			[]worksheet.Task{task("deliver", at(0), "delivery 1 of 3: 7 doses"+passed), task("deliver", at(0), "delivery 2 of 3: 7 doses"+passed), task("deliver", at(90), "delivery 3 of 3: 7 doses")},
			[]worksheet.Task{task("deliver", at(-50), "delivery 1 of 3: 7 doses"), task("deliver", at(-2), "delivery 2 of 3: 7 doses"), task("deliver", at(90), "delivery 3 of 3: 7 doses")},
		},
		"the first draw is over": {
			[]worksheet.Task{task("draw", at(-90), "blood count"), task("draw", at(-1), "blood count"), task("draw", at(70), "blood count")},
			[]worksheet.Task{task("draw", at(0), "blood count"+passed), task("draw", at(70), "blood count")},
			[]worksheet.Task{task("draw", at(-1), "blood count"), task("draw", at(70), "blood count")},
		},
		"in the order of their times": {
			[]worksheet.Task{task("a", at(-1), ""), task("b", at(-3), "")},
			[]worksheet.Task{task("a", at(0), fulfillment.Passed), task("b", at(0), fulfillment.Passed), task("c", "", "open")},
			[]worksheet.Task{task("b", at(-3), ""), task("a", at(-1), ""), task("c", "", "open")},
		},
		"at the very instant, and in other words": {
			[]worksheet.Task{task("teach", at(0), "before the patient leaves hospital")},
			[]worksheet.Task{task("teach", at(0), fulfillment.Passed)},
			[]worksheet.Task{task("teach", at(0), "before the patient leaves hospital")},
		},
		"not what is due later, nor what was due later": {
			[]worksheet.Task{task("a", at(1), ""), task("b", at(-1), "")},
			[]worksheet.Task{task("a", at(0), fulfillment.Passed), task("b", at(2), "")},
			[]worksheet.Task{task("a", at(0), fulfillment.Passed), task("b", at(2), "")},
		},
		"not what was not asked for": {
			nil,
			[]worksheet.Task{task("a", at(0), fulfillment.Passed)},
			[]worksheet.Task{task("a", at(0), fulfillment.Passed)},
		},
	} {
		sameDue(c.list, c.was, now)
		assert.Equal(t, due(c.want), due(c.list), name)
	}
}
