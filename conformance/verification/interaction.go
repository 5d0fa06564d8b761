package verification

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
)

// interactions: row i5, every pair of a drug of the order and another medicine
// of the patient that the table names. What only locks the line counts where the
// row speaks of a lock: the dose is too small for anything else.
func interactions(f Facts) []finding.Finding {
	var out []finding.Finding
	seen := map[string]bool{}
	for _, b := range otherMedicines(f) {
		once := map[string]bool{} // two names of one medicine are one interaction
		for _, own := range orderedNames(f, false) {
			for _, other := range b.names {
				for _, row := range compendium.Interact(own, other) {
					key := own + "|" + other + "|" + row.Effect
					if seen[key] || once[own+"|"+row.Effect] || b.lock && !strings.Contains(row.Action, "lock") {
						continue
					}
					seen[key], once[own+"|"+row.Effect] = true, true
					action, name := row.Action, other
					if b.paused {
						name += " (on hold on record)"
						action = "that it stays on hold until this course is over; else: " + action
					}
					x := here(b.place, own+" and "+name+": "+row.Effect+" ("+row.Source+")", action+"; one acknowledgement holds "+courseWords(f))[0]
					x.Standing = row.Standing
					x.Evidence = []string{f.order().Place.Expression}
					out = append(out, x)
				}
			}
		}
	}
	return out
}

// courseWords is until when an acknowledgement holds.
func courseWords(f Facts) string {
	const change = ", and no longer than both stay as they are"
	end := f.order().Course.End
	switch {
	case end.Absent():
		return "until the end of the course is ordered" + change
	case end.DateOnly:
		return "until the end of the course on " + notation.Date(end.Time) + change
	}
	at := end.Time
	if z := f.plan().Zone; z.Known() {
		at = at.In(z.Location)
	} else if t, err := time.Parse(time.RFC3339, end.Literal); err == nil {
		at = t // the sender's own offset
	}
	return "until the end of the course on " + notation.Date(at) + change
}

// interactionsUnknown: a medicine without a name, and one that no table names.
// The second is ours to know: it is listed and holds nothing.
func interactionsUnknown(f Facts) []Fact {
	out := medicineUnnamed(f)
	if slices.ContainsFunc(otherMedicines(f), func(b otherMedicine) bool { return b.name != "" && len(b.names) == 0 && !b.lock }) {
		out = append(out, InteractionRow)
	}
	return out
}
