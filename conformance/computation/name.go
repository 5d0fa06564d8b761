package computation

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/quantity"
)

// Name is one quantity that can be given or worked out.
type Name struct {
	Name string
	// Unit is the UCUM unit it is answered in; "@" stands for what the drug
	// is measured in. Empty: a word or an instant.
	Unit string
	// Body is the power of the patient's own mass in it: −1 in mg/kg.
	Body int8
	// Means says in words what it is, or which words it takes.
	Means string
}

// also lists other dimensions a NAME may be given in: a creatinine is mass
// or amount per volume, lipid is grams or millilitres of an emulsion.
var also = map[string][]string{"serumCreatinine": {"umol/L"}}

// names are the quantities of the outside contract and those its equations
// need, in the order they are listed for a person.
var names = []Name{
	{"dose", "@", 0, "drug in one dose, or in one container of a continuous infusion"},
	{"dosePerKg", "@/kg", -1, "dose per kg of dosing weight"},
	{"dosePerArea", "@/m2", 0, "dose per m² of body surface"},
	{"dailyDose", "@/d", 0, "drug in 24 hours"},
	{"dailyDosePerKg", "@/kg/d", -1, "drug in 24 hours per kg"},
	{"loadingDose", "@", 0, "dose given before the infusion"},
	{"loadingDosePerKg", "@/kg", -1, "loading dose per kg"},
	{"roundedDose", "@", 0, "dose rounded to the step of roundTo"},
	{"roundTo", "@", 0, "step a dose is rounded to"},
	{"roundingChange", "%", 0, "change of the dose by rounding"},
	{"concentration", "@/mL", 0, "drug per volume of the finished container"},
	{"volume", "mL", 0, "volume of the finished container"},
	{"rate", "mL/h", 0, "pump rate"},
	{"ratePerKg", "mL/kg/h", -1, "pump rate per kg"},
	{"drugRate", "@/h", 0, "drug per time"},
	{"drugRatePerKg", "@/kg/h", -1, "drug per time and kg"},
	{"duration", "h", 0, "time of one infusion"},
	{"interval", "h", 0, "time from one dose to the next"},
	{"dosesPerDay", "/d", 0, "doses in 24 hours"},
	{"doseCount", "1", 0, "doses in the course"},
	{"courseLength", "d", 0, "length of the course"},
	{"start", "", 0, "start, an RFC 3339 instant or a date"},
	{"end", "", 0, "end, an RFC 3339 instant or a date"},
	{"zone", "", 0, "time zone of the home, for example America/Chicago"},

	{"age", "a", 0, "age in years"},
	{"sex", "", 0, "male or female"},
	{"weight", "kg", 1, "actual body weight"},
	{"height", "cm", 0, "height"},
	{"poundsPerKilogram", "1", 0, "pounds in a kilogram when a source rounds it, 2.2[lb_av]/kg"},
	{"dosingWeight", "kg", 1, "weight the dose is reckoned by"},
	{"idealBodyWeight", "kg", 1, "ideal body weight"},
	{"adjustedBodyWeight", "kg", 1, "adjusted body weight"},
	{"adjustmentFactor", "1", 0, "factor of the adjusted weight, 0.4 when not given"},
	{"percentOfIdeal", "%", 0, "actual weight as a part of the ideal weight"},
	{"bodySurfaceArea", "m2", 0, "body surface area"},
	{"serumCreatinine", "mg/dL", 0, "serum creatinine"},
	{"creatinineClearance", "mL/min", 0, "creatinine clearance"},
	{"glomerularFiltrationRate", "mL/min/{1.73_m2}", 0, "glomerular filtration rate; mL/min when it is not indexed"},
	{"absoluteFiltrationRate", "mL/min", 0, "filtration rate of this body, not indexed"},
	{"targetAUC", "mg.min/mL", 0, "target area under the curve (carboplatin)"},

	{"dropFactor", "{drop}/mL", 0, "drops in a millilitre of this set"},
	{"dropRate", "{drop}/min", 0, "drops in a minute"},
	{"step", "", 0, "rate of one step, with @ and its time: 30mL/h@30min; repeatable, in order"},
	{"cycle", "h", 0, "time of a nutrition cycle"},
	{"rampUp", "h", 0, "time at half rate at the start of a cycle"},
	{"rampDown", "h", 0, "time at half rate at the end of a cycle"},
	{"plateauRate", "mL/h", 0, "full rate of a nutrition cycle"},
	{"taperRate", "mL/h", 0, "first and last rate of a four-step cycle"},
	{"basal", "@/h", 0, "background rate of a patient-controlled infusion"},
	{"demand", "@", 0, "dose of one press"},
	{"lockout", "min", 0, "least time between two presses"},
	{"window", "h", 0, "time a limit counts over"},
	{"maximumDose", "@", 0, "most drug in the window"},
	{"maximumVolume", "mL", 0, "most volume in the window"},

	{"vialStrength", "@/mL", 0, "drug per volume in the vial"},
	{"vialContent", "@", 0, "drug in one vial or unit"},
	{"vialVolume", "mL", 0, "volume of one vial after reconstitution"},
	{"vialCount", "1", 0, "vials opened for one dose"},
	{"waste", "@", 0, "drug discarded"},
	{"billingUnit", "@", 0, "drug in one billing unit"},
	{"billingUnits", "1", 0, "billing units given"},
	{"additive", "mL", 0, "volume drawn from the vial"},
	{"diluent", "mL", 0, "volume of diluent"},
	{"strongerConcentration", "@/mL", 0, "stronger of two solutions"},
	{"weakerConcentration", "@/mL", 0, "weaker of two solutions"},
	{"targetConcentration", "@/mL", 0, "concentration wanted"},
	{"strongerVolume", "mL", 0, "volume of the stronger solution"},
	{"weakerVolume", "mL", 0, "volume of the weaker solution"},
	{"labelVolume", "mL", 0, "volume on the label of a bag"},
	{"overfill", "mL", 0, "volume above the label"},
	{"withdrawalFraction", "%", 0, "part of the bag above which diluent is withdrawn first"},
	{"withdrawalThreshold", "mL", 0, "additive volume above which diluent is withdrawn first"},

	{"molarMass", "g/mol", 0, "mass of a mole, of the salt and hydrate as weighed"},
	{"valence", "eq/mol", 0, "equivalents in a mole"},
	{"particles", "osm/mol", 0, "particles a formula unit gives in solution"},
	{"drugMass", "mg", 0, "mass of the drug"},
	{"drugAmount", "mmol", 0, "amount of substance of the drug"},
	{"drugEquivalents", "meq", 0, "equivalents of the drug"},
	{"osmoles", "mosm", 0, "osmoles in the container"},
	{"osmolarity", "mosm/L", 0, "osmolarity, estimated"},
	{"dextrose", "g", 0, "dextrose in the container, in g or g/dL"},
	{"aminoAcids", "g", 0, "amino acids in the container, in g or g/dL"},
	{"lipid", "g", 0, "lipid in the container, in g, g/dL or mL of emulsion"},
	{"electrolytes", "meq", 0, "electrolytes in the container, in meq or meq/L"},
	{"dextroseConcentration", "g/dL", 0, "dextrose per volume"},
	{"aminoAcidConcentration", "g/dL", 0, "amino acids per volume"},
	{"lipidConcentration", "g/dL", 0, "lipid per volume"},
	{"electrolyteConcentration", "meq/L", 0, "electrolytes per volume"},
	{"lipidVolume", "mL", 0, "volume of the lipid emulsion"},
	{"lipidEnergy", "kcal/g", 0, "energy of lipid: 9 and 10 kcal/g are both published"},
	{"lipidEnergyPerVolume", "kcal/mL", 0, "energy of the emulsion"},
	{"aminoAcidFactor", "mosm/g", 0, "osmoles of amino acids, 10 mosm/g when not given"},
	{"dextroseFactor", "mosm/g", 0, "osmoles of dextrose, 5 mosm/g when not given"},
	{"lipidFactor", "mosm/g", 0, "osmoles of lipid, 0.7 mosm/g when not given"},
	{"electrolyteFactor", "mosm/meq", 0, "osmoles of electrolytes, 1 mosm/meq when not given"},
	{"energy", "kcal", 0, "energy in the container"},
	{"glucoseInfusionRate", "mg/kg/min", -1, "glucose per kg and minute"},

	{"fill", "mL", 0, "volume filled into the reservoir"},
	{"nominalRate", "mL/h", 0, "rate printed on a fixed-flow device"},
	{"emittedFraction", "%", 0, "part of the fill that leaves the reservoir"},
	{"flowRatio", "1", 0, "flow of this device here over its nominal flow"},
	{"tolerance", "%", 0, "tolerance of the flow"},
	{"runTime", "h", 0, "time the reservoir runs"},
	{"shortestRun", "h", 0, "time it runs at the fast edge"},
	{"longestRun", "h", 0, "time it runs at the slow edge"},
	{"viscosityRatio", "1", 0, "viscosity over that of the calibration liquid"},
	{"flowFraction", "%", 0, "flow over that of the calibration liquid, a bound"},
	{"residual", "mL", 0, "volume left in the set or device"},
	{"residualFraction", "%", 0, "part of the dose left in the set or device"},
	{"keepOpenRate", "mL/h", 0, "rate that keeps the vein open"},
	{"keepOpenVolume", "mL/d", 0, "volume it adds in 24 hours"},
	{"supply", "@", 0, "drug supplied"},
	{"supplyUnits", "1", 0, "doses supplied"},
	{"daysSupply", "d", 0, "whole days the supply lasts"},
	{"orderedQuantity", "1", 0, "units to dispense"},
}

// Names lists every NAME in the order a person reads them.
func Names() []Name { return slices.Clone(names) }

func lookup(name string) (Name, bool) {
	i := slices.IndexFunc(names, func(n Name) bool { return n.Name == name })
	if i < 0 {
		return Name{}, false
	}
	return names[i], true
}

type amount struct {
	dimension quantity.Dimension
	unit      string
}

// amounts are what a drug may be measured in, with the unit answers are
// given in. "{unit}" is a thing that is counted.
var amounts = []amount{
	{quantity.Mass, "mg"}, {quantity.International, "[iU]"}, {quantity.Pharmacopeial, "[USP'U]"}, {quantity.Enzyme, "U"},
	{quantity.Equivalent, "meq"}, {quantity.Amount, "mmol"}, {quantity.Energy, "kcal"}, {quantity.None, "{unit}"},
}

// OfDrug reports whether the NAME is measured in what the drug is.
func (n Name) OfDrug() bool { return strings.Contains(n.Unit, "@") }

// InUnit is the unit the NAME is answered in for a drug measured so.
func (n Name) InUnit(drug quantity.Dimension) (quantity.Unit, bool) {
	code := n.Unit
	if n.OfDrug() {
		i := slices.IndexFunc(amounts, func(a amount) bool { return a.dimension == drug })
		if i < 0 {
			return quantity.Unit{}, false
		}
		code = strings.Replace(code, "@", amounts[i].unit, 1)
	}
	return n.read(code)
}

// read reads a unit with the patient's mass where the NAME has it.
func (n Name) read(code string) (quantity.Unit, bool) {
	u, err := quantity.ParseUnit(code)
	if err != nil {
		return quantity.Unit{}, false
	}
	want := u.Dimension()
	for range n.Body {
		want = want.Times(quantity.BodyMass).Per(quantity.Mass)
	}
	for range -n.Body {
		want = want.Times(quantity.Mass).Per(quantity.BodyMass)
	}
	return u.As(want)
}
