package verification

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// world is everything the rules may ask about one order. Each fixture starts
// from a correct order and changes one thing.
type world struct {
	order     order.Order
	kase      order.Case
	policy    policy.Policy
	now       time.Time
	agreement arithmetic.Agreement
	numbers   order.Quantities
	plan      plan.Plan
	drug      compendium.Drug
	hazard    compendium.Listing
	zone      bool
	line      Line // empty: no other infusion
	kit       []fulfillment.KitItem
	unlisted  bool // the drug has no row in our table
}

// fixture is one case of one rule. Expectations come from the rule's row in
// the tables of checks and of practice, never from a run.
type fixture struct {
	rule    finding.Code
	name    string
	change  func(*world)
	want    Kind
	at      finding.Stage // "": the stage of the rule itself
	missing Fact          // of an indeterminate answer
	says    string        // part of what was observed
}

func place(e string) finding.Place {
	return finding.Place{Expression: "Bundle.entry[1].resource." + e, Line: 7, Column: 3}
}

func q(value, unit string) quantity.Quantity {
	return quantity.Point(quantity.MustNumber(value), quantity.MustUnit(unit))
}

func settled(value, unit string) order.Quantity {
	n := quantity.MustNumber(value)
	return order.Quantity{Value: n, Low: n, High: n, Unit: quantity.MustUnit(unit), Place: place("dosageInstruction[0]")}
}

func stated(name, value, unit string, w order.Witness) order.Stated {
	return order.Stated{Name: name, Quantity: q(value, unit), Literal: value, Witness: w, Place: place("stated." + string(w) + "." + name)}
}

func day(s string) time.Time {
	t, err := time.Parse("2006-01-02T15:04Z07:00", s)
	if err != nil {
		panic(err)
	}
	return t
}

func instant(s string) order.Instant {
	return order.Instant{Time: day(s), Literal: s, Place: place("instant")}
}

// ago is an instant before the clock of the base order.
func ago(d time.Duration) order.Instant {
	t := baseNow.Add(-d)
	return order.Instant{Time: t, Literal: t.Format(time.RFC3339), Place: place("instant")}
}

const oneDay = 24 * time.Hour

var baseNow = day("2026-11-10T19:20Z")

func concept(text string) order.Concept { return order.Concept{Text: text, Place: place("concept")} }

func rxnorm(code, text string) order.Concept {
	return order.Concept{Text: text, Codings: []order.Coding{{System: compendium.RxNorm, Code: code}}, Place: place("concept")}
}

func measured(name, value, unit string, at order.Instant) order.Measurement {
	return order.Measurement{Name: name, Quantity: q(value, unit), Literal: value, At: at, Place: place("observation." + name)}
}

func band(value, low, high, unit string) compendium.Band {
	return compendium.Band{Value: json.Number(value), Low: json.Number(low), High: json.Number(high), Unit: unit}
}

func renalBand(low, high, factor, interval string) compendium.RenalBand {
	f, i := band(factor, "", "", "1"), band(interval, "", "", "h")
	r := compendium.RenalBand{Crcl: band("", low, high, "mL/min"), DoseFactor: &f}
	if interval != "" {
		r.Interval = &i
	}
	return r
}

func fact(id, topic, population string, v compendium.Value) compendium.Fact {
	return compendium.Fact{ID: id, Topic: topic, Population: population, Value: v, Standing: compendium.Sourced, Source: "test row", Gates: true}
}

// row is a drug row with one fact for each rule that reads the table. The
// renal bands are those of a cephalosporin label; the lowest band begins at
// 11 so that a clearance below every band exists.
func row() compendium.Drug {
	return compendium.Drug{Name: "cefazolin", Kinds: []string{"anti-infective", "cephalosporin"}, Facts: []compendium.Fact{
		fact("1", "max_daily_dose", "adult", compendium.Value{Band: band("12", "", "", "g")}),
		fact("2", "max_daily_dose", "pediatric", compendium.Value{Band: band("6", "", "", "g/d")}),
		fact("3", "renal_dose_adjustment", "adult", compendium.Value{Bands: []compendium.RenalBand{
			renalBand("55", "", "1", ""), renalBand("35", "54", "1", "8"), renalBand("11", "34", "0.5", "12")}}),
		fact("4", "diluent_compatible", "all", compendium.Value{List: []string{"NS", "D5W"}}),
		fact("5", "diluent_incompatible", "all", compendium.Value{List: []string{"LR"}}),
	}}
}

// base is a correct order: cefazolin 2 g in 100 mL over 30 min (200 mL per
// hour) every 8 hours for an adult of 74 kg with a PICC; last hospital dose
// 10 Nov 14:00, first home dose 22:00, 105 home doses after 21 in hospital.
func base() *world {
	yes, no := true, false
	w := &world{now: baseNow, policy: *policy.Default(), drug: row(), zone: true,
		hazard: compendium.Listing{Listed: "no", Antineoplastic: "no", ClosedTransfer: "no", Edition: "2024"}}
	w.order = order.Order{Key: "urn:orders|A-1", Ref: order.Reference{URL: "urn:uuid:order-1"}, Status: "active", Intent: "order", StatusPlace: place("status"),
		IntentPlace: place("intent"), Place: place("order"), TimingPlace: place("dosageInstruction[0].timing"), Route: order.Concept{
			Text: "intravenous", Place: place("route"), Codings: []order.Coding{{System: "http://snomed.info/sct", Code: "47625008"}}},
		Drug: order.Drug{Name: "cefazolin", Concept: rxnorm("2180", "cefazolin"), Place: place("medication"), Ingredients: []order.Ingredient{
			{Concept: rxnorm("2180", "cefazolin"), Active: &yes, Place: place("ingredient[0]")},
			{Concept: concept("sodium chloride 0.9 %"), Active: &no, Place: place("ingredient[1]")}}},
		Indications: []order.Concept{concept("vertebral infection")}, Requester: order.Person{Name: "Ilse Varga"},
		Course: order.Course{Start: instant("2026-11-03T22:00-05:00"), End: instant("2026-12-15T15:00-05:00")},
		Timing: schedule.Timing{Frequency: 1, Period: q("8", "h")}, Ordered: order.Supplied{Doses: 105, Place: place("quantity")},
		Device: order.InfusionDevice{Kind: "elastomeric", Place: place("device"), Parameters: []order.Stated{stated("nominalRate", "200", "mL/h", order.Device)}},
		Stated: []order.Stated{stated("dose", "2", "g", order.Coded), stated("volume", "100", "mL", order.Coded), stated("duration", "30", "min", order.Coded)}}
	w.kase = order.Case{Patient: order.Patient{Identifiers: []order.Identifier{{System: "urn:mrn", Value: "MG-1"}}, BirthDate: instant("1979-08-22T00:00Z"), Gender: "female",
		Phones: []order.Line{{Words: "555 0100"}}, Addresses: []order.Address{{City: "Marrow"}}, Place: place("patient")},
		Measurements: []order.Measurement{measured("weight", "74", "kg", ago(2*oneDay)), measured("height", "168", "cm", ago(2*oneDay)), measured("creatinine", "0.8", "mg/dL", ago(oneDay))},
		Allergies:    []order.Allergy{{NoneKnown: true, Place: place("allergy")}}, Reviews: []order.Concept{concept("infectious disease note")},
		Administrations: []order.Administration{{Drug: rxnorm("2180", "cefazolin"), Status: "completed", Start: instant("2026-11-10T14:00-05:00")}},
		Access:          []order.Access{{Kind: "picc", Placed: instant("2026-11-06T12:00Z"), TipConfirmed: true, Place: place("access")}},
		People:          []order.Person{{Name: "Ilse Varga", Roles: []string{"follows-after-discharge"}}},
		Services:        []order.Service{{Kind: "laboratory", Status: "active", Recipients: []string{"clinic"}, Place: place("service[0]")}, {Kind: "access-plan", Place: place("service[1]")}},
		Related:         []order.Order{lock("heparin", "10", "[USP'U]/mL")}}
	w.numbers = order.Quantities{"dose": settled("2", "g"), "volume": settled("100", "mL"), "duration": settled("30", "min"), "interval": settled("8", "h"),
		"dailyDose": settled("6", "g/d"), "creatinineClearance": settled("95", "mL/min"), "idealBodyWeight": settled("66", "kg")}
	zone, err := schedule.LoadZones().Zone("America/New_York")
	if err != nil {
		panic(err)
	}
	first := day("2026-11-10T22:00-05:00")
	w.plan = plan.Plan{Zone: zone, FirstHomeDose: first, LastDose: day("2026-12-15T14:00-05:00"), CourseEnd: day("2026-12-15T15:00-05:00"), Complete: true,
		HomeDoses: make([]time.Time, 105), HospitalCount: 21, Interval: 8 * time.Hour, Gap: 8 * time.Hour,
		Deliveries: []plan.Delivery{{Arrival: day("2026-11-10T18:00-05:00"), FirstDose: first, Units: 21}}}
	return w
}

func lock(drug, strength, unit string) order.Order {
	l := order.Order{Role: "lock", Drug: order.Drug{Name: drug, Concept: concept(drug)}, Place: place("lock")}
	if strength != "" {
		l.Stated = []order.Stated{stated("concentration", strength, unit, order.Coded)}
	}
	return l
}

// facts gives the world to the rules as the engine does: a measurement that
// was not sent is no fact.
func (w *world) facts() Facts {
	f := Facts{}.With(Order, w.order).With(Case, w.kase).With(Policy, &w.policy).With(Now, w.now).With(Agreement, w.agreement).
		With(Quantities, w.numbers).With(Plan, w.plan).With(Hazard, w.hazard).With(Timetable, w.line).With(Kit, w.kit)
	if !w.unlisted {
		f = f.With(DrugRow, w.drug)
	}
	for name, as := range map[string]Fact{"weight": Weight, "height": Height, "creatinine": Creatinine} {
		for _, m := range w.kase.Measurements {
			if m.Name == name && !f.Has(as) {
				f = f.With(as, m)
			}
		}
	}
	if !w.kase.Patient.BirthDate.Absent() {
		f = f.With(Age, Facts{}.With(Case, w.kase).With(Now, w.now).years())
	}
	if w.zone {
		f = f.With(Zone, w.plan.Zone)
	}
	if len(w.kase.Access) > 0 {
		f = f.With(Access, w.kase.Access)
	}
	return f
}

func ruleOf(t testing.TB, code finding.Code) Rule {
	for _, r := range Rules() {
		if r.Code == code {
			return r
		}
	}
	require.Fail(t, "no rule", "%s", code)
	return Rule{}
}

// stage is where the fixture is judged.
func (x fixture) stage(t testing.TB) finding.Stage {
	if x.at != "" {
		return x.at
	}
	r, ok := finding.Lookup(x.rule)
	require.True(t, ok, "%s is not in the table", x.rule)
	if r.Stage == finding.Every {
		return finding.Release
	}
	return r.Stage
}

func (x fixture) world() *world {
	w := base()
	if x.change != nil {
		x.change(w)
	}
	return w
}

// judged runs the fixtures of one file.
func judged(t *testing.T, list []fixture) {
	t.Helper()
	for _, x := range list {
		t.Run(string(x.rule)+": "+x.name, func(t *testing.T) {
			o := Run([]Rule{ruleOf(t, x.rule)}, x.world().facts(), x.stage(t))[0]
			require.Equal(t, x.want, o.Kind, "missing %v, found %+v", o.Missing, o.Findings)
			assert.Equal(t, x.want == Found, len(o.Findings) > 0)
			if x.missing != "" {
				assert.Contains(t, o.Missing, x.missing)
			}
			if x.says != "" {
				all := append(o.Findings, o.Due...)
				require.NotEmpty(t, all)
				assert.Contains(t, all[0].Observed, x.says)
			}
		})
	}
}
