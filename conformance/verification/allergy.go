package verification

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
)

// grade is how bad a reaction on record was. What is not told is never mild.
type grade int

const (
	sideEffect  grade = iota // described, and nothing an immune reaction does
	mildGrade                // described, of the skin, and said to be mild
	undescribed              // neither: not told, or not known to be mild
	severeGrade
)

var gradeWords = map[grade]string{sideEffect: "described as a side effect", mildGrade: "described as mild",
	undescribed: "not known to be mild", severeGrade: "severe"}

// reactionSays is the grade, and the words of the record that it was read from.
func reactionSays(a order.Allergy) string {
	var told []string
	for _, r := range a.Reactions {
		if n := strings.ToLower(strings.TrimSpace(r.Name())); n != "" && n != strings.ToLower(a.Substance.Name()) && !slices.Contains(told, n) {
			told = append(told, n)
		}
	}
	if a.Severity != "" && !slices.Contains(told, a.Severity) {
		told = append(told, a.Severity)
	}
	switch g := graded(a); {
	case len(told) > 0:
		return gradeWords[g] + " (on record: " + strings.Join(told, ", ") + ")"
	case g == undescribed:
		return "not described"
	default:
		return gradeWords[g]
	}
}

// graded reads reactions, severity and criticality. Every reaction must be
// understood for the whole to be mild. A rash is mild when the record says so,
// or says that the criticality is low and nothing of the severity.
func graded(a order.Allergy) grade {
	mild := a.Severity == "mild" || a.Severity == "" && a.Criticality == "low"
	effects, known := len(a.Reactions) > 0, len(a.Reactions) > 0
	for _, r := range a.Reactions {
		text, codes := r.Text, []string(nil)
		for _, k := range r.Codings {
			text += " . " + k.Display
			codes = append(codes, k.Code)
		}
		kinds := compendium.ReactionKinds(text, codes...)
		has := func(kind string) bool { return slices.Contains(kinds, kind) }
		switch {
		case has(compendium.GraveReaction):
			return severeGrade
		case has(compendium.ImmediateReaction), len(kinds) == 0:
			known, effects = false, false
		case has(compendium.MildReaction):
			effects = false
			mild = mild || a.Severity == "" && slices.Contains(strings.Fields(strings.ToLower(text)), "mild")
		}
	}
	switch {
	case a.Severity == "severe" || a.Criticality == "high":
		return severeGrade
	case effects:
		return sideEffect
	case known && mild:
		return mildGrade
	}
	return undescribed
}

// substanceSays is the substance as written, else by the names of the tables, else
// by its code.
func substanceSays(a order.Allergy) string {
	if n := strings.TrimSpace(a.Substance.Name()); n != "" {
		return strings.ToLower(n)
	}
	if known := compendium.SubstancesOf(ItemOf(a.Substance)); len(known) > 0 {
		return words(known)
	}
	if len(a.Substance.Codings) > 0 {
		return "the substance with the code " + a.Substance.Codings[0].Code
	}
	return "a substance without a name"
}

// givenNames are the generic names of what a drug is made of, as far as the
// tables know them. With all, also what is called inactive: the body reacts to it
// all the same. Without, a carrier fluid is no drug.
func givenNames(d order.Drug, all bool) []string {
	concepts := []order.Concept{{Text: d.Name}, d.Concept}
	for _, i := range d.Ingredients {
		if all || i.Active == nil || *i.Active {
			concepts = append(concepts, i.Concept)
		}
	}
	var out []string
	for _, c := range concepts {
		for _, n := range compendium.SubstancesOf(ItemOf(c)) {
			if (all || n != "dextrose") && !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	return out
}

// orderedNames are those of the order, with the row that was found for it.
func orderedNames(f Facts, all bool) []string {
	out := givenNames(f.order().Drug, all)
	row := f.drug()
	names := []string{row.Name}
	for _, p := range row.Parts {
		names = append(names, p.Name)
	}
	for _, n := range names {
		if n != "" && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

// inForce: a record that counts. Refuted ones and those entered in error are
// not read at all.
func inForce(a order.Allergy) bool { return a.Active && !a.NoneKnown }

// saysName: a text or display has the name as whole words. Hydromorphone is not
// morphine.
func saysName(c order.Concept, name string) bool {
	want := wordsOf(strings.ToLower(name))
	says := func(text string) bool {
		have := wordsOf(strings.ToLower(text))
		for i := 0; len(want) > 0 && i+len(want) <= len(have); i++ {
			if slices.Equal(have[i:i+len(want)], want) {
				return true
			}
		}
		return false
	}
	return says(c.Text) || slices.ContainsFunc(c.Codings, func(k order.Coding) bool { return says(k.Display) })
}

// allergies are the records that count, and what a problem or a flag tells of an
// allergy to something the tables know, unless a record says the same or worse.
func allergies(f Facts) []order.Allergy {
	var out []order.Allergy
	for _, a := range f.kase().Allergies {
		if inForce(a) {
			out = append(out, a)
		}
	}
	recorded := out
	for _, p := range slices.Concat(f.kase().Conditions, f.kase().Flags) {
		a := order.Allergy{Active: true, Substance: p, Reactions: []order.Concept{p}, Place: p.Place}
		says := slices.ContainsFunc(append([]string{p.Text}, displays(p)...), compendium.SaysAllergy)
		of := compendium.AllergenOf(ItemOf(p))
		if !says || len(of.Drugs)+len(of.Classes) == 0 || slices.ContainsFunc(recorded, func(r order.Allergy) bool {
			return graded(r) >= graded(a) && slices.Equal(of.Drugs, compendium.SubstancesOf(ItemOf(r.Substance))) && sameClasses(of, compendium.AllergenOf(ItemOf(r.Substance)))
		}) {
			continue
		}
		if a.Place.Expression == "" {
			a.Place = f.kase().Patient.Place
		}
		out = append(out, a)
	}
	return out
}

func displays(c order.Concept) (out []string) {
	for _, k := range c.Codings {
		out = append(out, k.Display)
	}
	return out
}

func sameClasses(a, b compendium.Allergen) bool {
	return slices.EqualFunc(a.Classes, b.Classes, func(x, y compendium.AllergyClass) bool { return x.Name == y.Name })
}

// toOrdered: the allergy is to what is ordered, by code, by the whole name, by
// a name within its words, or by a name of the tables.
func toOrdered(f Facts, a order.Allergy) bool {
	d := f.order().Drug
	if sameSubstance(a.Substance, d, false) || saysName(a.Substance, d.Name) {
		return true
	}
	names := orderedNames(f, true)
	return slices.ContainsFunc(compendium.SubstancesOf(ItemOf(a.Substance)), func(n string) bool { return slices.Contains(names, n) })
}

// sameDrugAllergy: row i1, an allergy to the ordered drug itself. It blocks
// after a severe reaction. After any other, or none that is told, a pharmacist
// decides: what happened may have been a side effect, or the first sign.
func sameDrugAllergy(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, a := range allergies(f) {
		if !toOrdered(f, a) {
			continue
		}
		g := graded(a)
		x := here(a.Place, "active allergy to the ordered drug: "+substanceSays(a)+"; reaction "+reactionSays(a), "another drug, or the allergy record refuted by the prescriber")[0]
		if g != severeGrade {
			x.AtMost = finding.Hold
			x.Expected = "what happened, when and how bad it was; then another drug, or the prescriber's word that this one may be given"
			x.Remedy = "Pharmacist: ask patient and prescriber what happened; correct the record or change the drug."
		}
		out = append(out, x)
	}
	return append(out, formerAllergy(f)...)
}

// formerAllergy: a severe reaction to the ordered drug in a record that is no
// longer active and was not refuted. Somebody may have tested the patient, or
// tidied a list.
func formerAllergy(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, a := range f.kase().Allergies {
		if a.Active || a.NoneKnown || graded(a) != severeGrade || !toOrdered(f, a) {
			continue
		}
		x := here(a.Place, "an allergy to the ordered drug, no longer active on record: "+substanceSays(a)+"; reaction "+reactionSays(a),
			"why it is no longer active: tested, borne since, or the prescriber's word")[0]
		x.AtMost = finding.Hold
		x.Remedy = "Pharmacist: ask prescriber or allergy clinic why the record was closed; correct the record or change the drug."
		out = append(out, x)
	}
	return out
}

// dosesGiven tells of completed doses of the ordered drug: what a pharmacist
// asks for first.
func dosesGiven(f Facts) string {
	n := 0
	var last order.Instant
	for _, a := range f.kase().Administrations {
		if a.Status == "completed" && given(a.Drug, f.order().Drug) {
			n++
			if a.Start.Time.After(last.Time) {
				last = a.Start
			}
		}
	}
	switch {
	case n == 0:
		return ""
	case last.Absent():
		return fmt.Sprintf("; completed doses of it on record: %d", n)
	}
	return fmt.Sprintf("; completed doses of it on record: %d, the last on %s", n, notation.Date(last.Time))
}

// classAllergy: an allergy to a related drug that holds.
func classAllergy(f Facts) []finding.Finding { return relatedAllergy(f, false) }

// classAllergyMinor: a mild reaction to a related drug with another side chain.
func classAllergyMinor(f Facts) []finding.Finding { return relatedAllergy(f, true) }

func relatedAllergy(f Facts, minor bool) []finding.Finding {
	var out []finding.Finding
	for _, a := range allergies(f) {
		g := graded(a)
		if g == sideEffect || toOrdered(f, a) {
			continue
		}
		c, ok := crossing(f, a)
		only := c.By == compendium.CrossDoubtful || c.By == compendium.CrossSeldom && g == mildGrade
		if !ok || only != minor {
			continue
		}
		expected := "what happened and when, and the prescriber's decision; a supervised first dose"
		tolerated := dosesGiven(f)
		if tolerated != "" {
			expected = "whether those doses were borne without a reaction; then the prescriber's decision"
		}
		switch {
		case minor && tolerated != "":
			expected = "an acknowledgement, when those doses were borne without a reaction"
		case minor:
			expected = "an acknowledgement; a supervised first dose with emergency drugs at hand"
		}
		x := here(a.Place, "allergy on record: "+substanceSays(a)+"; reaction "+reactionSays(a)+"; "+c.Says+" (source: "+c.Source+")"+tolerated, expected)[0]
		x.Evidence = []string{f.order().Drug.Place.Expression}
		x.Standing = c.Standing
		out = append(out, x)
	}
	return out
}

// crossing is the gravest one with anything that is ordered.
func crossing(f Facts, a order.Allergy) (worst compendium.Crossing, any bool) {
	allergen := compendium.AllergenOf(ItemOf(a.Substance))
	order := []string{compendium.CrossDoubtful, compendium.CrossSeldom, compendium.CrossCommon, compendium.CrossChain, compendium.CrossNamed}
	for _, n := range orderedNames(f, true) {
		if c, ok := allergen.Cross(n); ok && (!any || slices.Index(order, worst.By) < slices.Index(order, c.By)) {
			worst, any = c, true
		}
	}
	return worst, any
}

// NotCompared is an allergy on record whose substance the tables do not know:
// it was compared by code and name only.
func NotCompared(substance string) Fact {
	if substance = strings.TrimSpace(substance); substance == "" {
		return Substance
	}
	return Fact(string(Substance) + " (" + strings.ToLower(substance) + ")")
}

// notCompared names the allergies that nobody could compare, also those in a
// list of several in one record. What is recorded as
// a food or something of the surroundings, and is not in the tables, is no drug.
func notCompared(f Facts) []Fact {
	var out []Fact
	for _, a := range f.kase().Allergies {
		outside := len(a.Categories) > 0 && !slices.ContainsFunc(a.Categories, func(c string) bool { return c != "food" && c != "environment" })
		named := a.Substance.Name() != ""
		switch {
		case !inForce(a) || outside && named:
		case !toOrdered(f, a) && !compendium.AllergenOf(ItemOf(a.Substance)).Known():
			out = append(out, NotCompared(a.Substance.Name()))
		default:
			for _, part := range compendium.UnknownParts(a.Substance.Text) {
				if toOrdered(f, order.Allergy{Substance: order.Concept{Text: part}}) {
					continue
				}
				out = append(out, NotCompared(part))
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// classNotCompared: without a name of the ordered drug that the tables know,
// nothing tells its class.
func classNotCompared(f Facts) []Fact {
	out := notCompared(f)
	if len(orderedNames(f, true)) == 0 && len(allergies(f)) > 0 {
		out = append(out, DrugRow)
	}
	return out
}
