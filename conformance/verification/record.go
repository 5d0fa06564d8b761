package verification

import (
	"cmp"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
)

// here makes one finding; the runner adds the rule's code.
func here(p finding.Place, observed, expected string) []finding.Finding {
	return []finding.Finding{{Place: p, Observed: observed, Expected: expected, Detail: expected}}
}

// below names an element that is not there, under the element that should
// hold it.
func below(p finding.Place, path string) finding.Place {
	p.Expression += "." + path
	p.Span = [2]int{}
	return p
}

func states(o order.Order, names ...string) bool {
	for _, s := range o.Stated {
		for _, n := range names {
			if s.Name == n {
				return true
			}
		}
	}
	return false
}

func stateIn(o order.Order, w order.Witness, names ...string) (order.Stated, bool) {
	for _, s := range o.Stated {
		for _, n := range names {
			if s.Name == n && s.Witness == w {
				return s, true
			}
		}
	}
	return order.Stated{}, false
}

var doseNames = []string{"dose", "dosePerKg", "dosePerArea", "drugRate", "drugRatePerKg", "dailyDose"}
var paceNames = []string{"rate", "drugRate", "drugRatePerKg", "duration"}

// elementMissing: row a1. Status and intent cannot be absent from a document
// that was accepted.
func elementMissing(f Facts) []finding.Finding {
	o, patient := f.order(), f.kase().Patient
	var out []finding.Finding
	lack := func(absent bool, path, what string) {
		if absent {
			out = append(out, here(below(o.Place, path), "nothing sent", what)...)
		}
	}
	lack(o.Drug.Name == "" && o.Drug.Concept.Absent(), "medication", "the drug, with its RxNorm ingredient code")
	lack(!states(o, doseNames...) && !doseInVolume(o), "dosageInstruction.doseAndRate.dose", "the dose of one administration, with its unit")
	out = append(out, doseOpen(o)...)
	lack(o.Route.Absent(), "dosageInstruction.route", "the route")
	if words := wordsOf(strings.ToLower(o.Route.Name())); slices.ContainsFunc(words, func(w string) bool { return slices.Contains(notInfused, w) }) || o.Route.Code("http://snomed.info/sct") == oralRoute {
		out = append(out, here(o.Route.Place, "route: "+cmp.Or(o.Route.Name(), "oral"), "a route by which it can be infused, or another order")...)
	}
	lack(!states(o, paceNames...), "dosageInstruction.doseAndRate.rate", "a rate or an infusion time")
	lack(!timed(o) && !drip(o), "dosageInstruction.timing", "when and how often a dose is given")
	lack(o.Requester.Name == "" && o.Requester.Ref.URL == "" && o.Requester.Ref.Identifier.Value == "", "requester", "the prescriber")
	if patient.BirthDate.Absent() {
		out = append(out, here(below(patient.Place, "birthDate"), "nothing sent", "the patient's birth date")...)
	}
	if len(patient.Identifiers) == 0 {
		out = append(out, here(below(patient.Place, "identifier"), "nothing sent", "an identifier of the patient")...)
	}
	return out
}

// Routes by which nothing is infused: words, and SNOMED CT 26643006, oral
// (from memory).
const oralRoute = "26643006"

var notInfused = []string{"oral", "mouth", "sublingual", "buccal", "rectal", "topical", "transdermal", "inhalation", "nasal", "ophthalmic", "otic", "vaginal"}

// doseOpen: the order leaves a range for the dose, and nobody chose: no
// container can be filled with a range. As needed, that is asked about with
// the number of doses. It holds: the rest of the order is there.
func doseOpen(o order.Order) []finding.Finding {
	var open *order.Stated
	for i, s := range o.Stated {
		if s.Name != "dose" || s.Witness != order.Coded && s.Witness != order.Text {
			continue
		}
		if s.Quantity.IsPoint() {
			return nil
		}
		open = &o.Stated[i]
	}
	if open == nil || slices.ContainsFunc(o.Directions, func(d order.Direction) bool { return d.AsNeeded }) {
		return nil
	}
	q := open.Quantity
	x := here(open.Place, "a range of doses: "+notation.Code(q.Low.Decimal(), q.Unit.Code())+" to "+notation.Code(q.High.Decimal(), q.Unit.Code()), "one dose")
	x[0].AtMost = finding.Hold
	return x
}

// doseInVolume: the dose itself is given in mL, or the drug is a plain fluid.
// The volume of a container is no dose.
func doseInVolume(o order.Order) bool {
	for _, name := range []string{o.Drug.Name, o.Drug.Concept.Name()} {
		if _, fluid := compendium.Carrier(name); fluid && states(o, "volume") {
			return true
		}
	}
	for _, s := range o.Stated {
		if s.Name == "volume" && (s.Witness == order.Text || strings.Contains(s.Place.Expression, "doseAndRate")) {
			return true
		}
	}
	return false
}

// drip: a rate without an infusion time runs until it is stopped and has no
// frequency.
func drip(o order.Order) bool {
	return states(o, "rate", "drugRate", "drugRatePerKg") && !states(o, "duration") && len(o.Steps) == 0
}

func timed(o order.Order) bool {
	t := o.Timing
	return t.Frequency > 0 || !t.Period.Absent() || len(t.Events) > 0 || t.Code != "" || len(t.When) > 0 ||
		len(t.DaysOfWeek) > 0 || len(t.TimesOfDay) > 0 || t.Count > 0 || states(o, "interval", "dosesPerDay")
}

func indicationMissing(f Facts) []finding.Finding {
	o := f.order()
	if len(o.Indications) > 0 {
		return nil
	}
	return here(below(o.Place, "reasonReference"), "nothing sent", "what the infusion is for")
}

var activeIntents = map[string]bool{"order": true, "original-order": true, "reflex-order": true, "filler-order": true, "instance-order": true}

func notActive(f Facts) []finding.Finding {
	o := f.order()
	switch {
	case o.DoNotPerform:
		return here(below(o.Place, "doNotPerform"), "true: the order says the drug must not be given", "an order to give it")
	case o.Status != "active" && o.Status != "completed":
		return here(o.StatusPlace, o.Status, "active; a stop is a call to the prescriber, never a deletion")
	case !activeIntents[o.Intent]:
		return here(o.IntentPlace, o.Intent, "order")
	}
	return nil
}

func completed(f Facts) []finding.Finding {
	o := f.order()
	if o.Status != "completed" {
		return nil
	}
	return here(o.StatusPlace, "completed", "active, or the pharmacist's word that nothing more is due")
}

// sized: the dose is reckoned per kilogram or per square metre.
func sized(f Facts) bool {
	return states(f.order(), "dosePerKg", "dailyDosePerKg", "drugRatePerKg", "dosePerArea")
}

func sizeMissing(f Facts) []Fact {
	var lacks []Fact
	if !f.Has(Weight) && !states(f.order(), "dosingWeight") {
		lacks = append(lacks, Weight)
	}
	if states(f.order(), "dosePerArea") && !f.Has(Height) && !states(f.order(), "bodySurfaceArea") {
		lacks = append(lacks, Height)
	}
	return lacks
}

func patientDataMissing(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, lack := range sizeMissing(f) {
		out = append(out, here(f.kase().Patient.Place, "no "+string(lack)+" in the document", "a measured "+string(lack)+": the dose is reckoned from it")...)
	}
	return out
}

func allergyMissing(f Facts) []finding.Finding {
	for _, a := range f.kase().Allergies {
		if a.NoneKnown || a.Active {
			return nil
		}
	}
	observed := "neither an allergy nor a record that none is known"
	if len(f.kase().Allergies) > 0 {
		observed = "only allergies that are no longer active, and no record that none is known"
	}
	return here(f.kase().Patient.Place, observed, "an allergy record; \"none known\" is one, absence is not")
}

func accessMissing(f Facts) []finding.Finding {
	for _, a := range f.kase().Access {
		if a.Kind != "" && a.Removed.Absent() {
			return nil
		}
	}
	return here(f.order().Place, "no vascular access described", "type, lumens, date placed and tip position of the line in use")
}

func followerMissing(f Facts) []finding.Finding {
	if len(withRole(f.kase().People, "follows-after-discharge", "follow")) > 0 {
		return nil
	}
	return here(f.order().Place, "nobody named to follow the patient after discharge", "a named prescriber who follows, with a telephone number")
}

// withRole finds people by coded role or by a word of the role's text.
func withRole(people []order.Person, code, word string) []order.Person {
	var out []order.Person
	for _, p := range people {
		for _, r := range p.Roles {
			if r == code || word != "" && strings.Contains(strings.ToLower(r), word) {
				out = append(out, p)
				break
			}
		}
	}
	return out
}

func contactMissing(f Facts) []finding.Finding {
	p := f.kase().Patient
	var out []finding.Finding
	if len(p.Phones) == 0 {
		out = append(out, here(below(p.Place, "telecom"), "no telephone number", "a number the patient answers")...)
	}
	if len(p.Addresses) == 0 {
		out = append(out, here(below(p.Place, "address"), "no address", "the address the delivery goes to")...)
	}
	return out
}

func reviewMissing(f Facts) []finding.Finding {
	if len(f.kase().Reviews) > 0 {
		return nil
	}
	return here(f.order().Place, "no specialist note in the document", "a specialist's review before home antimicrobials")
}

func isAntiInfective(f Facts) bool { return f.drug().Is("anti-infective") }

func ageOutside(f Facts) []finding.Finding {
	born := f.kase().Patient.BirthDate
	days := int(f.now().Sub(born.Time).Hours()) / 24
	if days >= f.policy().Records.LeastAgeDays {
		return nil
	}
	return here(born.Place, "under one month old", "a specialist's decision: no recommendation covers this age at home")
}

func lastDoseUnknown(f Facts) []finding.Finding {
	o := f.order()
	for _, a := range f.kase().Administrations {
		if (a.Status == "completed" || a.Status == "in-progress") && given(a.Drug, o.Drug) {
			return nil
		}
	}
	if o.Course.Single || !o.Course.Start.Absent() && o.Course.Start.Time.After(f.now()) {
		return nil
	}
	return here(o.Place, "no administration of the drug in the document", "when the last hospital dose was given")
}

// carried hands on what the reader found while translating, by code.
func carried(code finding.Code) func(Facts) []finding.Finding {
	return func(f Facts) []finding.Finding {
		var out []finding.Finding
		lists := [][]finding.Finding{f.order().Faults, f.kase().Patient.Conflicts}
		for _, r := range f.kase().Related { // a flush or a lock has no worksheet of its own
			lists = append(lists, r.Faults)
		}
		for _, x := range slices.Concat(lists...) {
			if x.Code == code {
				out = append(out, x)
			}
		}
		return out
	}
}

// numberImpossible: what the reader did not use, and stated numbers of zero,
// which no equation can use.
func numberImpossible(f Facts) []finding.Finding {
	out := carried("record-number-impossible")(f)
	for _, o := range append([]order.Order{f.order()}, f.kase().Related...) {
		for _, s := range o.Stated {
			if low, _ := s.Quantity.Base(); !s.Quantity.Absent() && low.Sign() <= 0 {
				out = append(out, here(s.Place, s.Name+" "+notation.Code(s.Quantity.Low.Decimal(), s.Quantity.Unit.Code()), "a number above 0; this one is not used")...)
			}
		}
	}
	return out
}

func modifierUnknown(f Facts) []finding.Finding {
	out := carried("record-modifier-unknown")(f)
	for _, p := range f.order().UnknownModifier {
		out = append(out, here(p, "a modifier extension this program does not know", "no modifier, or the meaning from the sender: it may reverse the order")...)
	}
	return dedupe(out)
}

func unresolved(f Facts) []finding.Finding {
	out := carried("record-reference-unresolved")(f)
	for _, p := range f.order().Unresolved {
		out = append(out, here(p, "points at something that is not in the document", "the resource itself")...)
	}
	return dedupe(out)
}

func dedupe(list []finding.Finding) []finding.Finding {
	seen := map[string]bool{}
	var out []finding.Finding
	for _, f := range list {
		if !seen[f.Place.Expression] {
			seen[f.Place.Expression] = true
			out = append(out, f)
		}
	}
	return out
}
