package verification

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// MedicineName is the name of another medicine that stands without one.
const MedicineName Fact = "name of another medicine"

// otherMedicine is another medicine of the patient at the time of the order: an order
// for a vein or by mouth, or what the patient says to take.
type otherMedicine struct {
	says     string
	names    []string // generic, as far as the tables know them
	name     string   // as written, folded
	place    finding.Place
	replaced bool // the order takes its place, and it is still active
	single   bool // one dose
	restates bool // words of a vein: of the same drug it is the order itself in other words
	lock     bool // only locks or flushes the line
	paused   bool // on hold on record
}

// otherMedicines are all other medicines that may be given at the time of the order.
func otherMedicines(f Facts) []otherMedicine {
	o, k := f.order(), f.kase()
	var out []otherMedicine
	for _, x := range slices.Concat(k.Orders, k.Related) {
		intended := x.Intent == "" || activeIntents[x.Intent]
		if x.Place.Expression == o.Place.Expression || over[x.Status] || x.Status == "draft" || x.DoNotPerform || !intended || !atOneTime(f, o, x) {
			continue
		}
		b := otherMedicine{says: "an order", names: givenNames(x.Drug, false), name: compendium.Fold(x.Drug.Name), place: x.Place, single: x.Course.Single, paused: x.Status == "on-hold",
			lock: x.Role == "lock" || x.Role == "flush"}
		switch x.Role {
		case "oral":
			b.says = "an order by mouth"
		case "replaced":
			b.says, b.replaced = "the order that was replaced, still active", true
		}
		if b.name == "" {
			b.name = compendium.Fold(x.Drug.Concept.Name())
		}
		out = append(out, b)
	}
	for _, m := range k.Medicines {
		if m.Source != "MedicationStatement" || over[m.Status] || m.Status == "not-taken" {
			continue // orders are read above
		}
		text := strings.ToLower(m.Text + " " + m.Drug.Name())
		out = append(out, otherMedicine{says: "what the patient takes", names: genericNames(m.Drug), name: compendium.Fold(m.Drug.Name()), place: m.Place, paused: m.Status == "on-hold",
			restates: slices.ContainsFunc(strings.Fields(text), func(w string) bool { return w == "iv" || w == "intravenous" || w == "intravenously" || w == "infusion" })})
	}
	return out
}

// genericNames are the generic names of a concept, without carrier fluids.
func genericNames(c order.Concept) []string {
	return slices.DeleteFunc(slices.Clone(compendium.SubstancesOf(ItemOf(c))), func(n string) bool { return n == "dextrose" })
}

// atOneTime: nothing shows that one ends before the other begins, or that the
// other is over. An end that is not told is open.
func atOneTime(f Facts, a, b order.Order) bool {
	after := func(x, y order.Order) bool { // x begins when y is over; a date alone, on the day that y is over
		end, known := courseEnd(y)
		start := x.Course.Start
		if known && !start.Absent() && start.DateOnly {
			return !dayEnd(start).Before(end)
		}
		return known && !start.Absent() && !start.Time.Before(end)
	}
	end, known := courseEnd(b)
	return !after(a, b) && !after(b, a) && !(known && end.Before(f.now()))
}

// courseEnd is when an order is over; a date alone includes its day.
func courseEnd(o order.Order) (time.Time, bool) {
	switch c := o.Course; {
	case !c.End.Absent() && c.End.DateOnly:
		return c.End.Time.AddDate(0, 0, 1), true
	case !c.End.Absent():
		return c.End.Time, true
	}
	return time.Time{}, false
}

// duplicateTherapy: row i4, the same ingredient or class twice at one time.
// What stands for another moment on purpose (one loading dose, a premedication,
// a rescue dose) is no second course.
func duplicateTherapy(f Facts) []finding.Finding {
	var out []finding.Finding
	o := f.order()
	if over[o.Status] { // that it may not be given is found by its status
		return nil
	}
	own := orderedNames(f, false)
	own = slices.DeleteFunc(own, func(n string) bool { return n == "dextrose" })
	for _, b := range otherMedicines(f) {
		if b.lock || b.single || o.Course.Single || aside(f, b) {
			continue
		}
		what, found := sharedBetween(own, b.names)
		if !found && b.name != "" && b.name == compendium.Fold(o.Drug.Name) {
			what, found = b.name, true
		}
		if !found || b.restates && !strings.Contains(what, " (both ") {
			continue
		}
		x := here(b.place, what+": ordered here, and "+b.says+" has it at the same time", "one of the two; the other stopped by the prescriber, or the word that both are meant")[0]
		if b.paused {
			x.Observed += "; that one is on hold"
			x.Expected = "the one on hold stopped by the prescriber, or the word that it starts again only when this one is over"
		}
		if b.replaced {
			x.Expected = "the order that was replaced, stopped by the prescriber"
		}
		x.Evidence = []string{o.Place.Expression}
		out = append(out, x)
	}
	return out
}

// aside: an order beside the course by its role.
func aside(f Facts, b otherMedicine) bool {
	return slices.ContainsFunc(f.kase().Related, func(r order.Order) bool {
		return r.Place.Expression == b.place.Expression && (r.Role == "premedication" || r.Role == "rescue" || r.Role == "additive")
	})
}

// sharedBetween finds a drug that both have, else a class of which two at one
// time are a duplicate.
func sharedBetween(a, b []string) (string, bool) {
	for _, x := range a {
		if slices.Contains(b, x) {
			return x, true
		}
	}
	for _, x := range a {
		for _, c := range compendium.ClassesOf(x) {
			for _, y := range b {
				if c.Twice && slices.Contains(c.Members, y) {
					return x + " and " + y + " (both " + c.Name + ")", true
				}
			}
		}
	}
	return "", false
}

// medicineUnnamed: another medicine that nobody named cannot be compared.
func medicineUnnamed(f Facts) []Fact {
	if slices.ContainsFunc(otherMedicines(f), func(b otherMedicine) bool { return b.name == "" && len(b.names) == 0 }) {
		return []Fact{MedicineName}
	}
	return nil
}
