package r4

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/worksheet"
)

// WriteNight writes what of a stored answer is another when only warnings and
// tasks were added to the worksheet or taken from it, which no dispense,
// request or plan says anything else by: dispenses, which name every issue,
// tasks, issues and the provenance. Of the worksheet its JSON and the
// references of patient, order, encounter and pharmacy are enough; the order
// as read is not looked at. Before is what the last provenance of the answer
// names, as Type/id and in its order. Stored gives a dispense as it is stored.
// In the order of WriteStored; tasks with numbers in them, which say what they
// said, have no content. False: the answer does not look like one of ours.
func WriteNight(w worksheet.Worksheet, before []string, stored func(id string) (element.Node, error)) ([]Made, bool, error) {
	b := bundlerFor(w, ordinals{})
	b.proof = b.make("Provenance", runOf(w.Sources))
	b.plan = b.make("CarePlan", "home")
	b.issues = b.writeIssues()
	tasks := b.writeTasks()
	first := slices.IndexFunc(before, func(p string) bool { return strings.HasPrefix(p, "Task/") })
	if first < 0 || len(b.issues) == 0 {
		return nil, false, nil
	}
	var dispenses, others, issues []entry
	for i, p := range before {
		kind, id, _ := strings.Cut(p, "/")
		switch e := (entry{kind: kind, id: id}); {
		case kind == "MedicationDispense" && i < first:
			dispenses = append(dispenses, e)
		case kind == "Task" || kind == "DetectedIssue":
		case kind == "MedicationDispense" || i < first || id == "":
			return nil, false, nil
		default:
			others = append(others, e)
		}
	}
	for _, i := range b.issues {
		issues = append(issues, i.entry)
	}
	if !slices.ContainsFunc(others, func(e entry) bool { return e.kind == b.plan.kind && e.id == b.plan.id }) {
		return nil, false, nil
	}
	list := slices.Concat(dispenses, tasks, others, issues)
	b.writeProvenance(list)
	list = append(list, b.proof)
	x := shelf{stored: placed(list), now: w.Sources.Now}
	var names []element.Value
	for _, e := range issues {
		names = append(names, own(e))
	}
	var out []Made
	done := 0
	for _, e := range list {
		m := Made{Type: e.kind, ID: e.id}
		switch e.kind {
		case "MedicationDispense":
			n, err := stored(e.id)
			if err != nil {
				return nil, false, err
			}
			if !n.Get("detectedIssue").Exists() || !n.Get("eventHistory").Exists() {
				return nil, false, nil
			}
			m = x.edited(e, element.Edit(element.RawNode(n), element.F("detectedIssue", element.List(names...)), element.F("eventHistory", element.List(own(b.proof)))))
		case "Task":
			var task worksheet.Task
			if done > 0 {
				task = w.Tasks[done-1]
			}
			if done++; len(task.Inputs) == 0 {
				m = x.made(e)
			}
			m.Task = task
		case "DetectedIssue", "Provenance":
			m = x.made(e)
		}
		out = append(out, m)
	}
	return out, true, nil
}
