package conformance

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/sig"
)

// state is one order on its way through the steps.
type state struct {
	kase      order.Case
	order     order.Order
	ref       policy.Reference
	now       time.Time
	drug      compendium.Drug
	drugKnown bool
	drugWhy   string // why the drug has no row
	hazard    compendium.Listing
	body      arithmetic.Body
	agreement arithmetic.Agreement
	numbers   order.Quantities
	zone      schedule.Zone
	zoneSays  string
	plan      plan.Plan
	situation fulfillment.Situation
	kit       []fulfillment.KitItem
	tasks     []fulfillment.Task
	unread    []order.Unused
	line      *verification.Line // among all infusions of the patient; nil until all are prepared
}

func prepare(c order.Case, o order.Order, ref policy.Reference, now time.Time) *state {
	s := &state{kase: c, order: o, ref: ref, now: now}
	s.lookUp()
	s.readWords()
	s.measure()
	s.sums()
	s.reconcile()
	s.locate()
	s.plan = plan.Draft(s.order, s.numbers, s.kase, s.planRules(), s.zone, now)
	s.timeNumbers()
	s.situation = s.situate()
	s.kit = fulfillment.Kit(s.situation)
	s.tasks = fulfillment.Tasks(s.situation)
	return s
}

// lookUp finds the drug in our tables by its codes, exact listed names and
// active ingredients; anything else is unknown, never a near match.
func (s *state) lookUp() {
	d := s.order.Drug
	asked := compendium.Asked{Item: verification.ItemOf(d.Concept)}
	asked.Names = append(asked.Names, d.Name)
	for _, i := range d.Ingredients {
		if i.Active == nil || *i.Active {
			asked.Ingredients = append(asked.Ingredients, verification.ItemOf(i.Concept))
		} else {
			asked.Inactive = append(asked.Inactive, verification.ItemOf(i.Concept))
		}
	}
	s.drug, s.drugWhy = s.ref.Tables.Find(asked)
	s.drugKnown = s.drugWhy == ""
	s.hazard = s.ref.Policy.Assess(s.assessedAs(asked), s.ref.Tables.Hazard(asked), s.now)
	if d.Name == "" {
		s.order.Drug.Name = s.drug.Name
	}
}

// assessedAs is the name by which a site's assessment of risk is looked up:
// that of the row, or of a drug without a row when the order names nothing
// else. An assessment of one ingredient says nothing about a mixture.
func (s *state) assessedAs(asked compendium.Asked) string {
	if s.drugKnown {
		return s.drug.Name
	}
	name := compendium.Fold(s.order.Drug.Name)
	for _, i := range append(slices.Clone(asked.Ingredients), asked.Item) {
		for _, n := range i.Names {
			if _, carrier := compendium.Carrier(n); !carrier && compendium.Fold(n) != name {
				return ""
			}
		}
	}
	return name
}

// readWords adds what the directions say in words. Numbers with a role of
// their own (a device's size, a maximum) are no statements about the
// infusion.
func (s *state) readWords() {
	for _, line := range s.order.Lines {
		readings := sig.Read(line)
		s.order.Readings = append(s.order.Readings, readings...)
		if line.Kind != "dosage-text" && line.Kind != "patient-instruction" {
			continue
		}
		s.order.Stated = append(s.order.Stated, sig.Stated(readings)...)
		s.deviceWords(line, readings)
		for _, words := range sig.Unread(line) {
			s.unread = append(s.unread, order.Unused{Place: line.Place, Reason: "words not understood: " + words})
		}
	}
}

// deviceWords fills what the words say of the device where nothing coded
// does.
func (s *state) deviceWords(line order.Line, readings []order.Reading) {
	d := &s.order.Device
	for _, r := range readings {
		switch {
		case r.Field == "device" && d.Kind == "":
			d.Kind, d.FromText, d.Place = r.Value, true, r.Place
		case r.Field == "nominalRate":
			if _, ok := d.Parameter("nominalRate"); ok {
				continue
			}
			q, err := quantity.Parse(r.Value, r.Unit, quantity.Volume.Per(quantity.Time))
			if err == nil {
				d.Parameters = append(d.Parameters, order.Stated{Name: "nominalRate", Quantity: q, Literal: r.Value, Place: r.Place, Witness: order.Text})
			}
		}
	}
}

// newest is the newest usable measurement of a kind.
func newest(c order.Case, name string) order.Measurement {
	for _, m := range c.Measurements {
		if m.Name == name && !m.Quantity.Absent() {
			return m
		}
	}
	return order.Measurement{}
}

// measure gathers the body, and states weight and surface where the order
// reckons a dose by them and does not say which it used.
func (s *state) measure() {
	p := s.kase.Patient
	s.body = arithmetic.Body{Weight: newest(s.kase, "weight"), Height: newest(s.kase, "height"), Creatinine: newest(s.kase, "creatinine"),
		Born: p.BirthDate.Time, Now: s.now, Female: p.Gender == "female", SexKnown: p.Gender == "female" || p.Gender == "male",
		Adult: s.ref.Policy.Records.AdultYears}
	has := func(name string) bool {
		for _, x := range s.order.Stated {
			if x.Name == name {
				return true
			}
		}
		return false
	}
	if w := s.body.Weight; !w.Quantity.Absent() && !has("dosingWeight") {
		s.order.Stated = append(s.order.Stated, order.Stated{Name: "dosingWeight", Quantity: w.Quantity, Literal: w.Literal, Place: w.Place,
			Witness: order.Record, Label: "newest body weight"})
	}
	if surface, _, ok := s.body.Surface(); ok && !has("bodySurfaceArea") && has("dosePerArea") {
		s.order.Stated = append(s.order.Stated, surface)
	}
}

// perMillilitre gives a strength in mg per mL, the unit the trade reads, when
// it was stated as one amount in another ("2 g in 100 mL"). The value is the
// same, exactly.
func perMillilitre(list []order.Stated) {
	for i, x := range list {
		if x.Name != "concentration" || strings.Trim(x.Literal, "0123456789.") == "" && x.Literal != "" && x.Quantity.Unit.Code() != "g/mL" {
			continue
		}
		if q, err := x.Quantity.In(milligramPerMillilitre); err == nil {
			list[i].Quantity, list[i].Literal = q, ""
			if q.IsPoint() && q.Low.RoundDigits(4).Equal(q.Low) {
				list[i].Literal = q.Low.Significant(4)
			}
		}
	}
}

var milligramPerMillilitre = quantity.MustUnit("mg/mL")

func (s *state) reconcile() {
	perMillilitre(s.order.Stated)
	u := arithmetic.Usual{Ranges: map[string]quantity.Quantity{}, TopStep: s.topStep(), OtherWeights: s.otherWeights()}
	for _, x := range s.order.Stated {
		if x.Name == "dose" {
			u.Drug = x.Quantity.Unit.Dimension()
			break
		}
	}
	if s.drugKnown {
		s.usual(&u)
	}
	constant, plateau := s.apart()
	s.agreement = arithmetic.Reconcile(constant, u)
	s.agreement.Describe()
	s.numbers = s.agreement.Quantities
	if plateau != nil {
		s.numbers["rate"] = *plateau
		s.agreement.Unchecked = slices.DeleteFunc(s.agreement.Unchecked, func(u arithmetic.Unchecked) bool { return u.Name == "volume" || u.Name == "duration" })
	}
	if _, q, ok := s.body.Surface(); ok {
		have, stated := s.numbers["bodySurfaceArea"]
		if stated {
			have.Derivation = append(q.Derivation, have.Derivation...)
			q = have
		}
		s.numbers["bodySurfaceArea"] = q
	}
	for name, work := range map[string]func() (order.Quantity, bool){"idealBodyWeight": s.body.Ideal, "adjustedBodyWeight": s.body.Adjusted,
		"creatinineClearance": s.body.Clearance, "osmolarity": s.osmolarity, "glucoseInfusionRate": s.glucose} {
		if q, ok := work(); ok {
			s.numbers[name] = q
		}
	}
	if verification.OnDialysis(s.kase) { // a creatinine then tells the dialysis, not the kidneys
		delete(s.numbers, "creatinineClearance")
	}
}

// otherWeights are the weights the hospital may have used in silence: none
// when the order says itself which weight it reckons by.
func (s *state) otherWeights() []arithmetic.OtherWeight {
	for _, x := range s.order.Stated {
		if x.Name == "dosingWeight" && x.Witness != order.Record {
			return nil
		}
	}
	var out []arithmetic.OtherWeight
	if q, ok := s.body.Ideal(); ok {
		out = append(out, arithmetic.OtherWeight{Says: "ideal body weight", Quantity: quantity.Point(q.Value, q.Unit)})
	}
	if q, ok := s.body.Adjusted(); ok {
		out = append(out, arithmetic.OtherWeight{Says: "adjusted body weight", Quantity: quantity.Point(q.Value, q.Unit)})
	}
	return out
}

// usual takes from the drug's row what ranks explanations.
func (s *state) usual(u *arithmetic.Usual) {
	if step := s.drug.RoundingStep; step != nil && (step.Population == "all" || step.Population == "adult" && s.body.Years() >= s.ref.Policy.Records.AdultYears) {
		if q, err := quantity.Parse(step.Value, step.Unit, quantity.Mass); err == nil {
			u.Rounding = q
		}
	}
	widen := func(name string, b *compendium.Band) {
		if b == nil {
			return
		}
		q, err := b.Quantity()
		if err != nil {
			return
		}
		if have, ok := u.Ranges[name]; ok {
			if in, err := q.In(have.Unit); err == nil {
				q = quantity.Range(quantity.Least(have.Low, in.Low), quantity.Greatest(have.High, in.High), have.Unit)
			}
		}
		u.Ranges[name] = q
	}
	for _, f := range s.drug.Facts {
		switch f.Topic {
		case "usual_dose":
			if f.Value.Dose != nil && !strings.Contains(f.Value.Dose.Unit, "/") {
				widen("dose", f.Value.Dose)
			}
			widen("duration", f.Value.InfusionDuration)
			if f.Value.Continuous != nil && strings.HasSuffix(f.Value.Continuous.Unit, "/m2") {
				widen("dosePerArea", f.Value.Continuous)
			}
		case "concentration_recommended", "infusion_duration":
			name := map[string]string{"concentration_recommended": "concentration", "infusion_duration": "duration"}[f.Topic]
			band := f.Value.Band
			widen(name, &band)
		case "package_strength":
			for _, b := range f.Value.Strengths {
				if q, err := b.Quantity(); err == nil && strings.Contains(b.Unit, "/") {
					u.Concentrations = append(u.Concentrations, q)
				}
			}
		}
	}
}

// locate finds the time zone of the home: beside the order's own times, the
// address, then the site's setting, which is said.
func (s *state) locate() {
	type candidate struct{ name, says string }
	var names []candidate
	stated := func(name string, at finding.Place) {
		if _, err := s.ref.Zones.Zone(name); err != nil && name != "" {
			s.unread = append(s.unread, order.Unused{Place: at, Reason: "not used: the time zone it names is not in the time zone database"})
		}
		names = append(names, candidate{name, ""})
	}
	stated(s.order.Course.Start.Zone, s.order.Course.Start.Place)
	stated(s.order.Course.End.Zone, s.order.Course.End.Place)
	if a := s.order.DeliveryAddress; a != nil {
		stated(a.Zone, a.Place)
	}
	for _, a := range s.kase.Patient.Addresses {
		stated(a.Zone, a.Place)
	}
	for _, a := range s.kase.Patient.Addresses {
		names = append(names, candidate{schedule.OfState(a.State, a.Country), "the time zone is that of the whole state in the address"})
	}
	names = append(names, candidate{s.ref.Policy.Home.Zone, "the time zone is the site's setting: nothing in the document tells the patient's"})
	for _, n := range names {
		if z, err := s.ref.Zones.Zone(n.name); err == nil {
			s.zone, s.zoneSays = z, n.says
			return
		}
	}
}

// facts are what the rules may ask for.
func (s *state) facts() verification.Facts {
	f := map[verification.Fact]any{verification.Order: s.order, verification.Case: s.kase, verification.Policy: s.ref.Policy,
		verification.Now: s.now, verification.Agreement: s.agreement, verification.Quantities: s.numbers,
		verification.Plan: s.plan, verification.Kit: s.kit, verification.Hazard: s.hazard}
	if s.drugKnown {
		f[verification.DrugRow] = s.drug
	}
	for fact, m := range map[verification.Fact]order.Measurement{verification.Weight: s.body.Weight, verification.Height: s.body.Height, verification.Creatinine: s.body.Creatinine} {
		if !m.Quantity.Absent() {
			f[fact] = m
		}
	}
	if !s.kase.Patient.BirthDate.Absent() {
		f[verification.Age] = s.body.Years()
	}
	if s.body.SexKnown {
		f[verification.Sex] = s.kase.Patient.Gender
	}
	if s.zone.Known() {
		f[verification.Zone] = s.zone
	}
	if len(s.kase.Access) > 0 {
		f[verification.Access] = s.kase.Access
	}
	if q, _ := s.osmoles(); q.Value.Sign() > 0 {
		f[verification.LeastOsmolarity] = q
	}
	if q, ok := s.dextrose(); ok {
		f[verification.Dextrose] = q
	}
	if s.line != nil {
		f[verification.Timetable] = *s.line
	}
	return verification.Known(f)
}

// outcomes asks every rule.
func (s *state) outcomes(at finding.Stage) []verification.Outcome {
	return verification.Run(verification.Rules(), s.facts(), at)
}
