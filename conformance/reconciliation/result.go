package reconciliation

import (
	"slices"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/worksheet"
)

// State says how tonight's order stands to the one we hold.
type State string

// The states. Absent is not in the hospital's state: never a stop. Older is
// a message older than what is held: nothing of it is applied.
const (
	New       State = "new"
	Changed   State = "changed"
	Unchanged State = "unchanged"
	Absent    State = "absent"
	Older     State = "older"
)

// Found is one finding of the night. New: no finding of its code stood for
// the order before this run.
type Found struct {
	finding.Finding
	New bool
}

// Result is the answer for one order. Findings are worst first, tasks by due
// time; a finding that asks nobody for anything has no task.
type Result struct {
	Key        string
	Order      worksheet.Order // of the side that holds; its Expression is of that side's document
	State      State
	Findings   []Found
	Tasks      []fulfillment.Task
	Moves      []plan.Move            // of the revised plan, for what was made and booked; in Tasks too
	Told       []plan.Move            // to be held: moves that stand after this run
	NotChecked []worksheet.NotChecked // what could not be compared for want of a fact of ours
	Reopened   []finding.Code         // findings whose override has expired
	Due        []worksheet.Delivery   // of an order in force: those that arrive within the longest delivery from now, so that each has its dispense
}

// Worst is the strictest gate by the table; the site's own gates are the
// caller's to apply.
func (r Result) Worst() finding.Gate {
	worst := finding.NoGate
	for _, f := range r.Findings {
		if g := f.Gate(); g.Weight() > worst.Weight() {
			worst = g
		}
	}
	return worst
}

// Has reports whether the result has a finding of the code.
func (r Result) Has(code finding.Code) bool {
	return slices.ContainsFunc(r.Findings, func(f Found) bool { return f.Code == code })
}

// answer is what one rule says of one order.
type answer struct {
	findings []finding.Finding
	tasks    []fulfillment.Task
	unknown  []worksheet.NotChecked
}

// found adds a finding.
func (a *answer) found(code finding.Code, place finding.Place, observed, expected string) *finding.Finding {
	a.findings = append(a.findings, finding.Finding{Code: code, Place: place, Observed: observed, Expected: expected})
	return &a.findings[len(a.findings)-1]
}

// ask adds the task of a row of the table of tasks.
func (a *answer) ask(code string, due time.Time, says string) {
	t, ok := fulfillment.Asked(code, due, says)
	if !ok {
		t = fulfillment.Task{Code: code, Role: "pharmacist", Title: "A task without a row: " + code, Due: due, Says: says} // a fault of this build; a test looks for it
	}
	a.tasks = append(a.tasks, t)
}

// lacking adds what could not be compared. The fact is one of ours, so that
// it is listed and does not hold the order.
func (a *answer) lacking(code finding.Code, name, says string) {
	a.unknown = append(a.unknown, worksheet.NotChecked{Code: string(code), Missing: []string{name}, Says: says})
}
