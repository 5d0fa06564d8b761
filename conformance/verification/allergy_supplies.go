package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/order"
)

// concern is something that the patient must not meet, and the record that
// says so.
type concern struct {
	of     compendium.SupplyAllergen
	place  finding.Place
	atMost finding.Gate
}

// concerns are read from allergies, and from problems and flags: heparin-induced
// thrombocytopenia stands in a problem list as often as among allergies.
func concerns(f Facts) []concern {
	var out []concern
	add := func(c concern) {
		i := slices.IndexFunc(out, func(x concern) bool { return x.of.Name == c.of.Name })
		switch {
		case i < 0:
			out = append(out, c)
		case c.atMost == finding.NoGate && out[i].atMost != finding.NoGate:
			out[i] = c
		}
	}
	for _, a := range f.kase().Allergies {
		if !inForce(a) {
			continue
		}
		c := concern{place: a.Place}
		if g := graded(a); g == mildGrade || g == sideEffect {
			c.atMost = finding.Hold
		}
		for _, c.of = range compendium.AllergenOf(ItemOf(a.Substance)).Supplies {
			add(c)
		}
	}
	for _, p := range slices.Concat(f.kase().Conditions, f.kase().Flags) {
		var codes []string
		text := p.Text
		for _, k := range p.Codings {
			codes = append(codes, k.Code)
			text += " . " + k.Display
		}
		out := excludes(text)
		if !out && spelled(text) {
			text += " . heparin induced thrombocytopenia"
		}
		for _, s := range compendium.ProblemSupplies(text, codes...) {
			if coded := slices.ContainsFunc(codes, func(c string) bool { return slices.Contains(s.Codes, c) }); out && len(s.Problems) > 0 && !coded {
				continue
			}
			add(concern{of: s, place: p.Place})
		}
	}
	return out
}

// spelled: a problem names heparin-induced thrombocytopenia by its capital
// letters, which "hit by a car" does not.
func spelled(text string) bool {
	w := wordsOf(text)
	for i, x := range w {
		if x == "HIT" && (i == 0 || !slices.Contains([]string{"no", "not", "without", "denies", "negative"}, strings.ToLower(w[i-1]))) && (i+1 == len(w) || w[i+1] != "BY" && w[i+1] != "AND") {
			return true
		}
	}
	return false
}

// excludes: heparin-induced thrombocytopenia is named, and the words right after
// it say that it was not.
func excludes(text string) bool {
	words := " " + strings.Join(wordsOf(strings.ToLower(text)), " ") + " "
	for _, name := range []string{" hit ", " heparin induced thrombocytopenia ", " heparin induced thrombocytopaenia "} {
		_, after, found := strings.Cut(words, name)
		for _, filler := range []string{"hit ", "was ", "is ", "has been "} {
			after = strings.TrimPrefix(after, filler)
		}
		if found && slices.ContainsFunc([]string{"ruled out ", "excluded ", "unlikely ", "negative "}, func(x string) bool { return strings.HasPrefix(after, x) }) {
			return true
		}
	}
	return false
}

func (f Facts) kit() []fulfillment.KitItem { return get[[]fulfillment.KitItem](f, Kit) }

// suppliesAllergy: what is sent, locked or flushed with holds, or may hold, what
// the patient must not meet.
func suppliesAllergy(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, c := range concerns(f) {
		met := meetings(f, c.of)
		if len(met) == 0 {
			continue
		}
		x := here(c.place, c.of.Name+" must not reach the patient, and is or may be in: "+words(met)+" ("+c.of.Source+")", c.of.Instead)[0]
		x.Standing, x.AtMost = c.of.Standing, c.atMost
		if x.Place.Expression == "" {
			x.Place = f.kase().Patient.Place
		}
		out = append(out, x)
	}
	return out
}

// over are states of an order under which nothing more is given.
var over = map[string]bool{"completed": true, "stopped": true, "cancelled": true, "entered-in-error": true}

// meetings are where an allergen meets the patient.
func meetings(f Facts, s compendium.SupplyAllergen) []string {
	var out []string
	say := func(w string) {
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	k := f.kase()
	for _, r := range k.Related {
		if (r.Role == "lock" || r.Role == "flush") && !over[r.Status] && s.In(drugText(r)) {
			say("the " + r.Role + " order")
		}
	}
	if len(locks(f)) == 0 {
		for _, a := range k.Access {
			if p, stands := f.policy().LockProtocol(a.Kind, protocolPopulation(f)); stands && a.Removed.Absent() && s.In(p.Solution) {
				say("the lock of the standing protocol")
			}
		}
	}
	for _, x := range k.Supplies {
		if x.Status == "cancelled" || x.Status == "entered-in-error" || s.FreeIn(x.Text) {
			continue
		}
		held := compendium.AllergenOf(compendium.Item{Names: []string{x.Text}}).Supplies
		may := slices.Contains(s.Items, x.Item) && !freeItem(k, s, x.Item)
		if may || slices.ContainsFunc(held, func(h compendium.SupplyAllergen) bool { return h.Name == s.Name }) || s.In(x.Text) {
			say("what is asked for: " + strings.ToLower(x.Text))
		}
	}
	for _, i := range f.kit() {
		if slices.Contains(s.Items, i.Item) && !freeItem(k, s, i.Item) && !askedItem(k, i.Item) {
			say("the kit: " + i.Name)
		}
	}
	return out
}

// freeItem: a record says that this item, or all that is sent, is without it.
func freeItem(k order.Case, s compendium.SupplyAllergen, item string) bool {
	return slices.ContainsFunc(k.Supplies, func(x order.Supply) bool { return (x.Item == item || x.Item == "") && s.FreeIn(x.Text) })
}

// askedItem: the hospital asks for the item itself, and its words are judged.
func askedItem(k order.Case, item string) bool {
	return slices.ContainsFunc(k.Supplies, func(x order.Supply) bool { return x.Item == item && x.Text != "" })
}

// suppliesUnknown: what could not be compared, and a kit that is not planned
// while it matters what is in it.
func suppliesUnknown(f Facts) []Fact {
	out := notCompared(f)
	if len(f.kit()) == 0 && slices.ContainsFunc(concerns(f), func(c concern) bool { return len(c.of.Items) > 0 }) {
		out = append(out, HomeDoses)
	}
	return out
}
