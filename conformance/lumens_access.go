package conformance

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/lumen"
	"weir.example/weir/mapping/order"
)

// newbornDays is 28: the age up to which the ceftriaxone label forbids
// calcium by vein.
const newbornDays = 28

// access is the line, or lines, in use.
type access struct {
	lumens  []lumen.Lumen
	named   []string // the lumens that orders ask for, folded: the first of lumens
	missing []verification.Fact
}

// readLine takes the lumens from the lines in use. Orders that name a lumen
// name the first ones; a name says nothing where the line has one only.
func readLine(c order.Case, uses []*use) access {
	var a access
	var lines []order.Access
	for _, x := range c.Access {
		if x.Kind != "" && x.Kind != "subcutaneous" && x.Removed.Absent() {
			lines = append(lines, x)
		}
	}
	for _, u := range uses {
		if name := lumenName(u.order.Lumen); name != "" && !slices.Contains(a.named, name) {
			a.named = append(a.named, name)
		}
	}
	lacks := func(f verification.Fact) access { a.missing = append(a.missing, f); return a }
	switch {
	case len(lines) == 0:
		return lacks(verification.Access)
	case slices.ContainsFunc(lines, func(x order.Access) bool { return x.Lumens < 1 }):
		return lacks(verification.LumenCount)
	case len(lines) > 1 && slices.ContainsFunc(uses, func(u *use) bool { return u.order.Lumen+u.order.AccessDevice != "" }):
		return lacks(verification.NotPlaced("orders for a certain lumen, and more than one line in use"))
	}
	for n, x := range lines {
		for i := range x.Lumens {
			name := fmt.Sprintf("lumen %d", i+1)
			switch {
			case len(lines) > 1:
				name = fmt.Sprintf("line %d (%s), lumen %d", n+1, x.Kind, i+1)
			case x.Lumens == 1:
				name = "the one lumen"
			case i < len(a.named):
				name = a.named[i] + " lumen"
			}
			a.lumens = append(a.lumens, lumen.Lumen{Name: name, Draws: x.Kind != "peripheral" && x.Kind != "midline"})
		}
	}
	switch n := len(a.lumens); {
	case n > 3:
		return lacks(verification.NotPlaced(fmt.Sprintf("%d lumens; at most 3 can be planned", n)))
	case n > 1 && len(a.named) > n:
		return lacks(verification.NotPlaced(fmt.Sprintf("the orders name %d lumens, and the line has %d", len(a.named), n)))
	}
	return a
}

// lumenName is a lumen's name without the word for it: "Red lumen" is "red".
func lumenName(s string) string {
	return strings.TrimSpace(strings.TrimSuffix(strings.ToLower(strings.TrimSpace(s)), "lumen"))
}

// asked is the lumen an order names, by its place in the line.
func (a access) asked(o order.Order) []int {
	i := slices.Index(a.named, lumenName(o.Lumen))
	if i < 0 || len(a.lumens) < 2 {
		return nil
	}
	return []int{i}
}

// pairing is what the table says of two orders: of their drugs, and of a
// drug and the fluid the other is made with.
func (a access) pairing(u, v *use) verification.Pairing {
	p := verification.Pairing{A: u.name, B: v.name, Together: together(u, v)}
	p.SameLumen = len(a.lumens) == 1 || len(a.asked(u.order)) > 0 && slices.Equal(a.asked(u.order), a.asked(v.order))
	young, age := u.newborn()
	drugs, fluids := u.parts()
	others, theirs := v.parts()
	p.Meeting = lumen.Compatible
	take := func(x, y string, drugsBoth bool) {
		row, known := compendium.PairOf(x, y)
		m := lumen.Unknown
		switch {
		case !known && !drugsBoth:
			return // a drug and a fluid without a row: its diluent rules speak
		case known:
			m = meeting(row, young)
		}
		if grave(m) > grave(p.Meeting) || grave(m) == grave(p.Meeting) && p.Row.Verdict == "" {
			p.Meeting, p.Row = m, row
		}
	}
	for _, x := range drugs {
		for _, y := range others {
			take(x, y, true)
		}
		for _, y := range theirs {
			take(x, y, false)
		}
	}
	for _, x := range fluids {
		for _, y := range others {
			take(x, y, false)
		}
	}
	if p.Meeting == lumen.Contraindicated {
		p.Age = age
	}
	return p
}

// meeting translates a row. Nothing here shows that a condition holds.
func meeting(row compendium.Pair, newborn bool) lumen.Meeting {
	switch {
	case row.Newborn != "" && newborn:
		return lumen.Contraindicated
	case row.Verdict == "compatible" && row.Condition == "":
		return lumen.Compatible
	case row.Verdict == "incompatible" && row.Between == "":
		return lumen.Separate
	}
	return lumen.Apart
}

// grave orders meetings: what is not known stands above what is, until a
// table says that the two may never meet.
func grave(m lumen.Meeting) int {
	return map[lumen.Meeting]int{lumen.Compatible: 0, lumen.Unknown: 1, lumen.Apart: 2, lumen.Separate: 3, lumen.Contraindicated: 4}[m]
}

// parts are the drugs of an order and the fluids they are made with, by name.
func (u *use) parts() (drugs, fluids []string) {
	drugs = []string{u.drugName()}
	for _, i := range u.order.Drug.Ingredients {
		name := i.Concept.Name()
		code, fluid := compendium.Carrier(name)
		switch {
		case fluid:
			fluids = append(fluids, compendium.DiluentName(code))
		case name != "" && (i.Active == nil || *i.Active) && !slices.Contains(drugs, name) && (!u.drugKnown || len(u.order.Drug.Ingredients) > 2):
			drugs = append(drugs, name)
		}
	}
	return drugs, fluids
}

// together is when two infusions first run at the same time as they are
// ordered, "" when they never do. Times that no order names are none: they
// are laid out so that the two do not meet.
func together(u, v *use) string {
	if len(u.missing)+len(v.missing) > 0 || !u.onClock() || !v.onClock() {
		return ""
	}
	for _, x := range u.stretches() {
		for _, y := range v.stretches() {
			if x[0].Before(y[1]) && y[0].Before(x[1]) {
				at := x[0]
				if at.Before(y[0]) {
					at = y[0]
				}
				return at.In(u.zone.Location).Format("15:04 on 2 January 2006")
			}
		}
	}
	return ""
}

func (u *use) onClock() bool {
	t := u.order.Timing
	return u.all || len(t.TimesOfDay)+len(t.Events) > 0
}

// stretches are from when until when the doses of the first weeks run.
func (u *use) stretches() [][2]time.Time {
	const enough = 200
	var out [][2]time.Time
	if u.run == 0 { // until it is stopped
		end := u.to
		if end.IsZero() {
			end = u.from.AddDate(10, 0, 0)
		}
		return [][2]time.Time{{u.from, end}}
	}
	for _, t := range u.plan.HomeDoses {
		if out = append(out, [2]time.Time{t, t.Add(u.run)}); len(out) == enough {
			break
		}
	}
	return out
}

// newborn: 28 days of age or less. Unknown counts as yes, and is said.
func (s *state) newborn() (yes bool, why string) {
	born := s.kase.Patient.BirthDate
	switch {
	case born.Absent():
		return true, "the patient's age is not known"
	case s.now.Sub(born.Time) < (newbornDays+1)*lineDay:
		return true, "the patient is 28 days of age or less"
	}
	return false, ""
}
