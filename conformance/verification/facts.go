package verification

import (
	"maps"
	"slices"
	"time"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/policy"
)

// Fact names one thing rules may ask for.
type Fact string

// The facts. Those in ours are tables of this program: when they are
// missing the rule is not checked, without holding the order.
const (
	Order      Fact = "order"
	Case       Fact = "case"
	Policy     Fact = "policy"
	Now        Fact = "now"
	Agreement  Fact = "agreement"
	Quantities Fact = "quantities"
	Plan       Fact = "plan"
	Kit        Fact = "kit"
	DrugRow    Fact = "drug table row"
	Hazard     Fact = "hazard assessment"
	Weight     Fact = "weight"
	Height     Fact = "height"
	Creatinine Fact = "creatinine"
	Age        Fact = "birth date"
	Sex        Fact = "sex"
	Zone       Fact = "time zone of the home"
	Access     Fact = "access device"
	Clearance  Fact = "creatinine clearance"
	TableLimit Fact = "limit in the drug table"
	NeededRate Fact = "rate from volume and infusion time"
	Comparable Fact = "few enough numbers to compare"
	HomeDoses  Fact = "doses at home"
	CourseEnd  Fact = "end of the course"
	DailyDose  Fact = "dose in 24 hours"
	Dose       Fact = "dose"
	DrugRate   Fact = "drug rate by weight"
	Interval   Fact = "interval between doses"
	Nominal    Fact = "nominal rate above zero"
	Diluent    Fact = "carrier fluid"
	Strength   Fact = "strength of the lock"
	Substance  Fact = "substance of an allergy"
	Placed     Fact = "date the line was placed"
	Indication Fact = "indication"
	Dialysis   Fact = "a dose for dialysis (no clearance holds that is worked out from creatinine)"
	// ClearanceWeight: no ideal weight is defined for the body, and the
	// actual one may be far above it.
	ClearanceWeight Fact = "weight to work the clearance out with"
	Container       Fact = "volume of the container"
	RunTime         Fact = "infusion time"
	Rate            Fact = "rate"
	Concentration   Fact = "concentration of the container"
	Method          Fact = "method (push or infusion)"
	Tip             Fact = "where the tip of the line lies"
	Route           Fact = "route"
	Steps           Fact = "rate and time of each step"
	Settings        Fact = "the setting of the pump sheet in the order"
	Discharge       Fact = "when the infusion in hospital ends"
	DeviceRow       Fact = "this device in the site's catalogue or the table of devices"
	Residual        Fact = "volume that stays in this device"
	Timetable       Fact = "timetable of the line"
	LumenCount      Fact = "number of lumens of the line"
	Conversion      Fact = "a conversion of the opioid given, which is another drug or another route, to the one ordered"
	LastDay         Fact = "opioid of the last 24 hours, with each dose and its time"
	DosingWeight    Fact = "weight the dose is reckoned by"
	CreatinineDate  Fact = "date and unit of a creatinine"
	Made            Fact = "when the prepared units were made"
	Storage         Fact = "how the prepared units are stored"
	SterilityRow    Fact = "sterility category, method and components in which the units are made"
	Dating          Fact = "a dose still to be given from a unit that can be dated"
	Warmth          Fact = "infusion device, and so how warm the drug runs"
	LineUsed        Fact = "which of the lines it runs through"
	Osmolarity      Fact = "osmolarity of the mixture"
	Solutes         Fact = "every ingredient in the table of solutes"
	// LeastOsmolarity and Dextrose are numbers of the order, given by the engine.
	LeastOsmolarity Fact = "osmolarity of the ingredients that are in the table of solutes"
	Dextrose        Fact = "dextrose in the finished container"
	InteractionRow  Fact = "another medicine in the table of interactions"
	// EarlierCreatinine: there may be none. That is said and holds nothing.
	EarlierCreatinine Fact = "an earlier creatinine to compare with"
)

// regimen is the fact that a limit hangs on, in the words of the table: a
// regimen or a state of the patient, which no number of an order tells.
func regimen(words string) Fact { return Fact("regimen (" + words + ")") }

// ours are facts the hospital cannot send, or may truly not have: their
// absence never holds.
var ours = []Fact{DrugRow, TableLimit, DeviceRow, Residual, EarlierCreatinine, InteractionRow, SterilityRow, Dating, Solutes}

// Ours reports whether the fact comes from the program's own tables.
func (f Fact) Ours() bool { return slices.Contains(ours, f) }

// Facts is what is known about one order, by name.
type Facts struct {
	values  map[Fact]any
	limited bool // to these names
	names   []Fact
	told    map[int]compendium.Circumstance // see circumstance; nil: nothing is kept
}

// Known are facts by name, for one judgement. A nil value is not known.
func Known(values map[Fact]any) Facts {
	maps.DeleteFunc(values, func(_ Fact, v any) bool { return v == nil })
	return Facts{values: values, told: map[int]compendium.Circumstance{}}
}

// With returns the facts with one more. A nil value is not added.
func (f Facts) With(name Fact, value any) Facts {
	m := make(map[Fact]any, len(f.values)+1)
	for k, v := range f.values {
		if f.may(k) {
			m[k] = v
		}
	}
	if value != nil {
		m[name] = value
	}
	return Facts{values: m}
}

// Has reports whether a fact is known.
func (f Facts) Has(name Fact) bool {
	_, ok := f.values[name]
	return ok && f.may(name)
}

func (f Facts) may(name Fact) bool { return !f.limited || slices.Contains(f.names, name) }

// only keeps the named facts, so that a rule cannot read what it does not
// declare.
func (f Facts) only(names []Fact) Facts {
	if f.limited {
		names = slices.DeleteFunc(slices.Clone(names), func(n Fact) bool { return !f.may(n) })
	}
	return Facts{values: f.values, limited: true, names: names, told: f.told}
}

// lacking are the named facts that are not known.
func (f Facts) lacking(names []Fact) []Fact {
	var out []Fact
	for _, n := range names {
		if !f.Has(n) {
			out = append(out, n)
		}
	}
	return out
}

func get[T any](f Facts, name Fact) T {
	if !f.may(name) {
		var none T
		return none
	}
	v, _ := f.values[name].(T)
	return v
}

func (f Facts) order() order.Order              { return get[order.Order](f, Order) }
func (f Facts) kase() order.Case                { return get[order.Case](f, Case) }
func (f Facts) now() time.Time                  { return get[time.Time](f, Now) }
func (f Facts) agreement() arithmetic.Agreement { return get[arithmetic.Agreement](f, Agreement) }
func (f Facts) quantities() order.Quantities    { return get[order.Quantities](f, Quantities) }
func (f Facts) plan() plan.Plan                 { return get[plan.Plan](f, Plan) }
func (f Facts) drug() compendium.Drug           { return get[compendium.Drug](f, DrugRow) }
func (f Facts) hazard() compendium.Listing      { return get[compendium.Listing](f, Hazard) }
func (f Facts) creatinine() order.Measurement   { return get[order.Measurement](f, Creatinine) }

// policy is always known: without a site's file the defaults apply.
func (f Facts) policy() *policy.Policy {
	if p := get[*policy.Policy](f, Policy); p != nil {
		return p
	}
	return policy.Default()
}
