package reconciliation

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// bothKnown: the patient stands on both sides, so that what differs is a
// change and not a first sight.
func (p *pair) bothKnown() bool { return !p.before.empty() && !p.after.empty() && p.state != Absent }

// matters: what changed of the patient is told at each order that may be given
// and that was judged without it.
func (p *pair) matters() bool { return p.was != nil && p.bothKnown() && p.inForce() }

// patientChanged: row m11. The checks of the order have been run again by the
// caller; here stands what made that necessary. Names of substances, streets
// and numbers stay in the patient's record.
func patientChanged(p *pair) (a answer) {
	if !p.matters() {
		return a
	}
	x, y := p.before.Case, p.after.Case
	next, reach := p.beforeNext(), false
	say := func(place finding.Place, observed, expected string) {
		a.found("nightly-patient-changed", place, observed, expected)
	}
	if was, now := newest(x, "weight"), newest(y, "weight"); was != nil && now != nil {
		limit := p.night.Reference.Policy.Dose.WeightChange.Number
		within := "within " + notation.Number(limit.Mul(quantity.Int(100))) + " % of the weight that was judged by"
		switch by, ok := changeOf(was.Quantity, now.Quantity); {
		case !ok:
			say(now.Place, "weight "+plain(now.Quantity)+", which cannot be compared with "+plain(was.Quantity), within)
		case limit.Less(by):
			say(now.Place, "weight "+plain(now.Quantity)+", "+notation.Number(by.Mul(quantity.Int(100)).RoundDigits(3))+" % from "+plain(was.Quantity), within)
		}
	}
	for _, c := range []struct {
		what     string
		was, now []fact
	}{{"allergy", allergies(x), allergies(y)}, {"other medicine", medicines(x), medicines(y)}, {"condition", concepts(x.Conditions), concepts(y.Conditions)}} {
		for _, f := range c.now {
			if !holds(c.was, f) && (c.what == "allergy" || p.newlyFound(f.place)) {
				say(f.place, "a new "+c.what+" is on record since the last judgement", "the order judged with it")
			}
		}
		for _, f := range c.was {
			if c.what == "allergy" && !holds(c.now, f) {
				say(y.Patient.Place, "an allergy that was on record is gone", "the hospital's word that it was refuted")
			}
		}
	}
	if was, now := x.Pregnancy.Status, y.Pregnancy.Status; now != was && now != "" && (now == "pregnant" || was == "pregnant") {
		say(y.Pregnancy.Place, "pregnancy: "+pregnancy[now], "as judged: "+pregnancy[was])
	}
	if x.Patient.Gender != y.Patient.Gender {
		say(y.Patient.Place, "sex on record is another than before", "the sex that clearance and ideal weight were worked out with")
	}
	if was, now := addresses(x.Patient), addresses(y.Patient); was != now {
		reach = true
		say(placeOfAddress(y.Patient), "the home address is another than before", "the address that visits and deliveries are booked for")
	}
	if was, now := phones(x.Patient.Phones), phones(y.Patient.Phones); was != now {
		reach = true
		say(y.Patient.Place, "a telephone number of the patient is another than before", "the numbers that calls go to")
	}
	if len(a.findings) > 0 {
		a.ask("judge-order", next, "what is known of the patient changed: judge the order with it before the next release")
	}
	if reach {
		a.ask("confirm-contact", next, "address or telephone changed")
	}
	return a
}

var pregnancy = map[string]string{"pregnant": "pregnant", "not-pregnant": "not pregnant", "unknown": "not known", "": "not stated"}

// newlyFound: tonight's judgement has a finding that rests on the element. A
// new medicine that meets nothing is no change for this order.
func (p *pair) newlyFound(place finding.Place) bool {
	return p.now.sheet == nil || slices.ContainsFunc(p.now.sheet.Findings, func(f worksheet.Finding) bool {
		return f.Expression == place.Expression || slices.Contains(f.Evidence, place.Expression)
	})
}

// standsIn reports whether the judgement of a version has a finding.
func standsIn(v *version, code finding.Code) bool {
	if v == nil || v.sheet == nil {
		return false
	}
	for _, f := range v.sheet.Findings {
		if f.Code == string(code) {
			return true
		}
	}
	return false
}

// newest is the newest usable measurement of a name.
func newest(c order.Case, name string) *order.Measurement {
	var out *order.Measurement
	for i, m := range c.Measurements {
		if m.Name == name && !m.Quantity.Absent() && (out == nil || m.At.Time.After(out.At.Time)) {
			out = &c.Measurements[i]
		}
	}
	return out
}

// changeOf is how far the second is from the first, as a fraction of it.
func changeOf(was, now quantity.Quantity) (quantity.Number, bool) {
	in, err := now.In(was.Unit)
	if err != nil {
		return quantity.Number{}, false
	}
	a, b := was.Middle(), in.Middle()
	if a.Sign() <= 0 {
		return quantity.Number{}, false
	}
	return b.Quo(a).Sub(quantity.Int(1)).Abs(), true
}

// fact is one thing on record, by words that make it the same on both sides.
type fact struct {
	words string
	place finding.Place
}

func holds(list []fact, f fact) bool {
	return slices.ContainsFunc(list, func(x fact) bool { return x.words == f.words })
}

func allergies(c order.Case) []fact {
	var out []fact
	for _, x := range c.Allergies {
		if x.NoneKnown || !x.Active {
			continue
		}
		text := conceptWords(x.Substance)
		for _, r := range x.Reactions {
			text += "|" + conceptWords(r)
		}
		out = append(out, fact{text + "|" + x.Severity + "|" + x.Criticality, x.Place})
	}
	return out
}

func medicines(c order.Case) []fact {
	var out []fact
	for _, x := range c.Medicines {
		if !over(x.Status) && x.Status != "not-taken" {
			out = append(out, fact{conceptWords(x.Drug), x.Place})
		}
	}
	return out
}

func concepts(list []order.Concept) []fact {
	var out []fact
	for _, x := range list {
		out = append(out, fact{conceptWords(x), x.Place})
	}
	return out
}

func addresses(p order.Patient) string {
	var out []string
	for _, x := range p.Addresses {
		if x.Use != "old" && x.Type != "postal" {
			out = append(out, compendium.Fold(strings.Join(append(slices.Clone(x.Lines), x.City, x.State, x.PostalCode, x.Country), " ")))
		}
	}
	slices.Sort(out)
	return strings.Join(slices.Compact(out), "\n")
}

func placeOfAddress(p order.Patient) finding.Place {
	if len(p.Addresses) > 0 {
		return p.Addresses[0].Place
	}
	return p.Place
}

// phones compares digits alone: a blank more is no other number.
func phones(list []order.Line) string {
	var out []string
	for _, x := range list {
		out = append(out, strings.Map(func(r rune) rune {
			if r >= '0' && r <= '9' || r == '+' {
				return r
			}
			return -1
		}, x.Words))
	}
	slices.Sort(out)
	return strings.Join(slices.Compact(out), "\n")
}

// identityDrift: row m17 (Home care national patient safety goals,
// NPSG.01.01.01). Name, birth date or an identifier is another than when the
// order was judged, or the record was taken out of use for another one. The
// values are not repeated: they stand in both records.
func identityDrift(p *pair) (a answer) {
	if !p.bothKnown() || p.state == New || !p.inForce() && p.stock.count() == 0 {
		return a
	}
	x, y := p.before.Case.Patient, p.after.Case.Patient
	var what []string
	place := y.Place
	if x.BirthDate.Literal != y.BirthDate.Literal {
		what, place = append(what, "birth date"), y.BirthDate.Place
	}
	if nameOf(x) != nameOf(y) {
		what, place = append(what, "name"), y.NamePlace
	}
	if otherIdentifier(x.Identifiers, y.Identifiers) {
		what = append(what, "identifier")
	}
	if y.Inactive && !x.Inactive {
		what = append(what, "record taken out of use for another one")
	}
	if len(what) == 0 {
		return a
	}
	a.found("nightly-identity-drift", place, strings.Join(what, ", ")+": another than when the order was judged", "two identifiers that agree between hospital, patient and this record")
	a.ask("dispatch-block", p.clock(), "whose order this is must be settled first")
	a.ask("compare-identity", p.beforeNext(), strings.Join(what, ", ")+": compare two identifiers with hospital and patient")
	return a
}

// nameOf folds case and blanks: a name in capitals is the same name.
func nameOf(p order.Patient) string {
	return compendium.Fold(p.Family) + "|" + compendium.Fold(strings.Join(p.Given, " "))
}

// otherIdentifier: a number that was there is gone or another, or one system
// now gives two. A number of a system not seen before is only more to go by.
func otherIdentifier(was, now []order.Identifier) bool {
	values := func(list []order.Identifier, system string) (out []string) {
		for _, i := range list {
			if i.System == system && i.Value != "" {
				out = append(out, i.Value)
			}
		}
		slices.Sort(out)
		return slices.Compact(out)
	}
	for _, i := range was {
		if !slices.Equal(values(was, i.System), values(now, i.System)) {
			return true
		}
	}
	return false
}

// unavailable: row m13. Died, or in hospital again: a stay that began after
// the discharge that home therapy started from and is not over.
func unavailable(p *pair) (a answer) {
	if p.after.empty() {
		return a
	}
	if runs := p.inForce() || p.stock.count() > 0; !runs {
		return a
	}
	y := p.after.Case
	now := p.clock()
	if y.Patient.Deceased {
		a.found("nightly-patient-unavailable", y.Patient.Place, "the hospital's record says that the patient has died", "nothing delivered; the family called with care")
		a.ask("dispatch-block", now, "the record says that the patient has died")
		a.ask("call-family", now, "the record says that the patient has died")
		return a
	}
	stay := p.stayAgain()
	if stay == nil {
		return a
	}
	since := "in hospital, and since when is not on record"
	if !stay.Start.Absent() {
		since = "in hospital since " + p.day(stay.Start)
	}
	a.found("nightly-patient-unavailable", stay.Place, since, "at home; while in hospital nothing is delivered, and the ward gives what is to be given")
	a.ask("dispatch-block", now, "the patient is in hospital again")
	a.ask("call-hospital", p.beforeNext(), "the patient is in hospital again: what is given there, is the line used, when does the patient leave?")
	return a
}

// stayAgain is a stay in hospital that is going on and is not the one the
// order comes from: it began after home therapy had, or after the order was
// written and an earlier stay was over. What is planned now does not tell when
// home therapy began, since it follows the newest discharge.
func (p *pair) stayAgain() *order.Discharge {
	began, o := p.beganAtHome(), p.current().order
	over := func(start time.Time) bool {
		return slices.ContainsFunc(p.after.Case.Discharges, func(x order.Discharge) bool {
			return x.Inpatient && !x.At.Absent() && !x.At.Time.After(start)
		})
	}
	for i, d := range p.after.Case.Discharges {
		open := d.Status == "in-progress" || d.Status == "arrived" || d.Status == "onleave" || d.Status == "triaged"
		gone := !d.At.Absent() && !d.Planned && !d.At.Time.After(p.night.Now)
		start := d.Start.Time
		if !d.Inpatient || !open || gone || start.After(p.night.Now) {
			continue
		}
		if d.Start.Absent() { // it counts when it was not there before
			if p.was != nil && !slices.ContainsFunc(p.before.Case.Discharges, func(x order.Discharge) bool { return x.Inpatient && x.Ref.URL == d.Ref.URL && x.Start.Absent() }) {
				return &p.after.Case.Discharges[i]
			}
			continue
		}
		own := o.Encounter.URL != "" && o.Encounter.URL == d.Ref.URL
		later := !own && !o.AuthoredOn.Absent() && o.AuthoredOn.Time.Before(start) && over(start)
		if !began.IsZero() && start.After(began) || p.state != New && later {
			return &p.after.Case.Discharges[i]
		}
	}
	return nil
}

// beganAtHome is the first sign that the home part has begun: units that came,
// a dose on record, or a first dose that was planned before tonight and is
// past. Zero: none.
func (p *pair) beganAtHome() (first time.Time) {
	see := func(at time.Time) {
		if !at.IsZero() && !at.After(p.night.Now) && (first.IsZero() || at.Before(first)) {
			first = at
		}
	}
	see(courseOf(p.was).firstDose)
	for _, e := range p.held.Records {
		if e.Kind == plan.Delivered || e.Kind == plan.Given {
			see(e.At)
		}
	}
	for _, b := range p.batches() {
		see(b.handed())
	}
	for _, at := range p.givenAtHome(time.Time{}) {
		see(at)
	}
	return first
}
