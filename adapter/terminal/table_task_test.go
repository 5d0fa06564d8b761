package terminal

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/worksheet"
)

// Who starts an infusion reads its numbers beside the task, in the order of an
// infusion order read aloud.
func TestTheNumbersStandBesideATask(t *testing.T) {
	p := &page{}
	w := worksheet.Worksheet{Verdict: "ready", Tasks: []worksheet.Task{
		{Code: "start-infusion", Role: "nurse", Title: "Start the first home dose", Inputs: map[string]string{"rate": "200 mL per hour", "infusion time": "30 minutes", "dose": "2 g", "volume": "100 mL"}},
		{Code: "teach-back", Role: "nurse", Title: "Teach-back"},
	}}
	tasks(p, w)
	assert.Equal(t, `
TASKS by role
  nurse
  not dated                   Start the first home dose
                              as ordered: dose 2 g, volume 100 mL, rate 200 mL per hour,
                              infusion time 30 minutes
  not dated                   Teach-back
`, p.b.String())
}

// A number in dispute is named, and a finding that waits says what to do.
func TestATaskSaysWhatIsInDisputeAndWhatToDo(t *testing.T) {
	p := &page{}
	w := worksheet.Worksheet{Verdict: "block", Quantities: map[string]worksheet.Quantity{"rate": {Disputed: true}}, Tasks: []worksheet.Task{
		{Code: "disconnect", Role: "nurse", Title: "Disconnect", Inputs: map[string]string{"dose": "2 g"}},
		{Code: "access-removal-plan", Role: "nurse", Title: "Nobody has planned to take the line out", Finding: "access-removal-plan"},
	}}
	tasks(p, w)
	assert.Contains(t, p.b.String(), "as ordered: dose 2 g, rate in dispute: ask")
	assert.Contains(t, p.b.String(), "Nobody has planned to take the line out. Nurse: ask the")
}
