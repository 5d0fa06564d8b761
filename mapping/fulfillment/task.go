package fulfillment

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"
)

//go:embed tasks.json
var tasksFile []byte

// TaskRow is one row of the table of tasks. Offset is in hours from the
// anchor; negative is before it.
type TaskRow struct {
	Code, Role, Title, Anchor string
	Offset                    int
	Lead                      int // at least so many hours before the first delivery arrives
	After, When               []string
	Prepares                  bool
	Staffed                   bool // nobody is called or visited for it at night
	Numbers                   bool // the numbers of the infusion stand beside it
	Closes, Source            string
}

// TaskRows returns the table of tasks.
var TaskRows = sync.OnceValue(func() []TaskRow {
	var file struct{ Rows []TaskRow }
	if err := json.Unmarshal(tasksFile, &file); err != nil || len(file.Rows) == 0 {
		panic(fmt.Sprint("task table: ", err)) // a fault of this build, caught by the first test
	}
	return file.Rows
})

// TasksFile returns the embedded table of tasks, for the schema check.
func TasksFile() []byte { return tasksFile }

// Task is one thing a person must do. Due is zero when it cannot be fixed;
// Says then tells what is missing.
type Task struct {
	Code, Role, Title, Closes, Says string
	Due                             time.Time
	After                           []string
	Prepares                        bool
	Inputs                          map[string]string
}

// Passed is what a task says that is due now because its usual time has
// passed.
const Passed = "the usual time has passed: due now"

// Anchors of rows that no order has by itself: onMove only a move of a revised
// plan asks for, onNight only a finding of the nightly comparison.
const (
	onMove  = "move"
	onNight = "night"
)

func (r TaskRow) asked() bool { return r.Anchor == onMove || r.Anchor == onNight }

// Asked is the task that a move of a revised plan or a nightly finding asks
// for: its row by the code of plan.Move.Task or its own, due when it is
// asked for. False when no such row has the code.
func Asked(code string, due time.Time, says string) (Task, bool) {
	i := slices.IndexFunc(TaskRows(), func(r TaskRow) bool { return r.asked() && r.Code == code })
	if i < 0 {
		return Task{}, false
	}
	r := TaskRows()[i]
	return Task{Code: r.Code, Role: r.Role, Title: r.Title, Closes: r.Closes, Says: says, Due: due, After: r.After, Prepares: r.Prepares}, true
}

// Tasks places every row that applies, sorted by due time, undated ones
// last. A due time that has passed at the clock is shown as due now. Rows for
// moves and for the night are not among them.
func Tasks(s Situation) []Task {
	var out []Task
	for _, row := range TaskRows() {
		if !row.asked() && s.all(row.When) {
			out = append(out, row.place(s)...)
		}
	}
	slices.SortStableFunc(out, func(a, b Task) int {
		switch {
		case a.Due.IsZero() != b.Due.IsZero():
			if a.Due.IsZero() {
				return 1
			}
			return -1
		}
		return a.Due.Compare(b.Due)
	})
	return out
}

func (r TaskRow) place(s Situation) []Task {
	base := Task{Code: r.Code, Role: r.Role, Title: r.Title, Closes: r.Closes, After: r.After, Prepares: r.Prepares}
	if r.Numbers {
		base.Inputs = s.Numbers
	}
	offset := time.Duration(r.Offset) * time.Hour
	one := func(anchor time.Time, name string) []Task {
		t := base
		if anchor.IsZero() {
			t.Says = "due time open: " + name + " is not known"
			return []Task{t}
		}
		t.Due = anchor.Add(offset)
		if r.Lead > 0 && len(s.Deliveries) > 0 {
			if latest := s.Deliveries[0].Arrival.Add(-time.Duration(r.Lead) * time.Hour); latest.Before(t.Due) {
				t.Due = latest
			}
		}
		if r.Staffed {
			t.Due = s.staffed(t.Due)
		}
		if t.Due.Before(s.Now) {
			t.Due, t.Says = s.Now, Passed
		}
		return []Task{t}
	}
	var many []Task
	switch r.Anchor {
	case "discharge":
		return r.bedside(s, base)
	case "visit":
		if s.FirstHomeDose.IsZero() {
			return one(time.Time{}, "the first home dose")
		}
		return one(s.FirstHomeDose.Add(-s.VisitBefore), "")
	case "arrival":
		if len(s.Deliveries) == 0 {
			return one(time.Time{}, "the first delivery")
		}
		for i, d := range s.Deliveries {
			t := one(d.Arrival, "")[0]
			t.Says = joined([]string{fmt.Sprintf("delivery %d of %d: %s", i+1, len(s.Deliveries), counted(d.Doses, "dose")), t.Says})
			many = append(many, t)
		}
		return many
	case "refill":
		for _, d := range s.Deliveries[min(1, len(s.Deliveries)):] {
			many = append(many, one(d.Arrival, "")...)
		}
		return many
	case "draw":
		for _, d := range s.Draws {
			t := one(d.Day, "")[0]
			t.Says = joined(append(slices.Clone(d.Tests), t.Says))
			many = append(many, t)
		}
		return many
	case "week":
		if s.FirstHomeDose.IsZero() || s.LastDose.IsZero() {
			return one(time.Time{}, "the first or the last dose at home")
		}
		for at := s.FirstHomeDose.AddDate(0, 0, 7); at.Before(s.LastDose); at = at.AddDate(0, 0, 7) {
			many = append(many, one(at, "")...)
		}
		return many
	case "first-dose":
		return one(s.FirstHomeDose, "the first home dose")
	case "last-dose":
		return one(s.LastDose, "the last dose")
	case "course-end":
		return one(s.CourseEnd, "the end of the course")
	case "ends-at":
		return one(s.EndsAt, "the end of the infusion")
	case "ends-latest":
		return one(s.EndsLatest, "the latest end of the infusion")
	case "halfway":
		if s.FirstHomeDose.IsZero() || s.EndsAt.IsZero() {
			return one(time.Time{}, "the end of the infusion")
		}
		return one(s.FirstHomeDose.Add(s.EndsAt.Sub(s.FirstHomeDose)/2), "")
	case "body-fluid":
		if s.EndsAt.IsZero() {
			return one(time.Time{}, "the end of the last infusion")
		}
		return one(s.EndsAt.Add(s.BodyFluid), "")
	}
	return one(time.Time{}, r.Anchor)
}

// bedside: teaching is due 24 hours before the first home dose, in staffed
// hours, never after the patient has left, and never after the first visit:
// nobody starts what was not taught.
func (r TaskRow) bedside(s Situation, t Task) []Task {
	if s.FirstHomeDose.IsZero() && s.Discharge.IsZero() {
		t.Says = "due time open: neither the first home dose nor the discharge is known"
		return []Task{t}
	}
	if !s.FirstHomeDose.IsZero() {
		t.Due = s.staffed(s.FirstHomeDose.Add(-24 * time.Hour))
	}
	if !s.Discharge.IsZero() && (t.Due.IsZero() || t.Due.After(s.Discharge) || t.Due.Before(s.Now)) {
		t.Due, t.Says = s.Discharge, "before the patient leaves hospital"
	}
	if visit := s.FirstHomeDose.Add(-s.VisitBefore); !s.FirstHomeDose.IsZero() && t.Due.After(visit) {
		t.Due, t.Says = visit, "before the first home dose"
	}
	if t.Due.Before(s.Now) {
		t.Due, t.Says = s.Now, Passed
	}
	return []Task{t}
}

// staffed moves an instant back to the end of the last staffed hours when it
// falls outside them, in the patient's own time.
func (s Situation) staffed(at time.Time) time.Time {
	if s.Location == nil || s.OpenUntil <= s.OpenFrom {
		return at
	}
	local := at.In(s.Location)
	y, m, d := local.Date()
	clock := time.Duration(local.Hour())*time.Hour + time.Duration(local.Minute())*time.Minute
	wall := func(day int, since time.Duration) time.Time {
		return time.Date(y, m, day, int(since/time.Hour), int(since%time.Hour/time.Minute), 0, 0, s.Location)
	}
	switch {
	case clock < s.OpenFrom:
		return wall(d-1, s.OpenUntil)
	case clock > s.OpenUntil:
		return wall(d, s.OpenUntil)
	}
	return at
}

// joined writes what there is to say in one line; empty words are left out.
func joined(words []string) string {
	return strings.Join(slices.DeleteFunc(words, func(w string) bool { return w == "" }), "; ")
}
