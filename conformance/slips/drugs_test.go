package slips_test

// kind is a way of ordering an infusion.
type kind string

const (
	fixedDose   kind = "fixed dose"
	perKgAdult  kind = "per kg, adult"
	perKgChild  kind = "per kg, child"
	dripPerKg   kind = "drip per kg"
	perHour     kind = "amount per hour"
	wholeDay    kind = "over the whole day"
	perArea     kind = "per m²"
	fluid       kind = "fluid"
	unitsHour   kind = "units per hour"
	electrolyte kind = "electrolyte"
	controlled  kind = "patient-controlled, basal"
)

// kinds with how often each is drawn.
var kinds = []struct {
	kind  kind
	share int
}{{fixedDose, 18}, {perKgAdult, 16}, {perKgChild, 14}, {dripPerKg, 14}, {perHour, 8}, {wholeDay, 6}, {perArea, 8}, {fluid, 6},
	{unitsHour, 4}, {electrolyte, 3}, {controlled, 3}}

func (k kind) continuous() bool {
	return k == dripPerKg || k == perHour || k == wholeDay || k == unitsHour || k == controlled
}

// drug is an invented drug of a class. No number is a clinical statement;
// they are only of the size such orders have.
type drug struct {
	class     string
	kind      kind
	unit      string   // mg, [iU], meq; "" for a fluid
	doses     []string // per dose, per kg or per m², or the amount per time in rateUnit
	rateUnit  string   // of a running drug
	drugUnit  string   // the other unit the amount per time is written in
	step      string   // pharmacists round to
	most      string   // no dose is above
	volumes   []string // mL
	drawn     bool     // the volume is dose ÷ strength
	strengths []string // known concentrations
	strengthU string   // unit of the strengths
	minutes   []string
	fastest   string // mg per hour: time is dose ÷ fastest
	every     []int64
	days      []int64
	counts    []int64 // doses of a course of long intervals
}

func list(s ...string) []string { return s }
func ints(n ...int64) []int64   { return n }

var drugs = []drug{
	{class: "beta-lactam", kind: fixedDose, unit: "mg", doses: list("500", "1000", "2000", "3000"), step: "250", volumes: list("50", "100"), minutes: list("20", "30", "60"), every: ints(6, 8, 12, 24), days: ints(7, 10, 14, 28, 42)},
	{class: "beta-lactam, premixed", kind: fixedDose, unit: "mg", doses: list("1000", "2000"), step: "500", drawn: true, strengths: list("20", "40"), strengthU: "mg/mL", minutes: list("30"), every: ints(8, 12, 24), days: ints(5, 7, 14)},
	{class: "beta-lactam with inhibitor", kind: fixedDose, unit: "mg", doses: list("2250", "3375", "4500"), step: "1125", volumes: list("50", "100"), minutes: list("30", "240"), every: ints(6, 8), days: ints(7, 10, 14)},
	{class: "carbapenem", kind: fixedDose, unit: "mg", doses: list("500", "1000"), step: "500", volumes: list("50", "100"), minutes: list("15", "30", "180"), every: ints(6, 8, 24), days: ints(7, 14, 28)},
	{class: "azole", kind: fixedDose, unit: "mg", doses: list("200", "400", "800"), step: "100", drawn: true, strengths: list("2"), strengthU: "mg/mL", minutes: list("60", "120", "240"), every: ints(24), days: ints(14, 28)},
	{class: "quinolone", kind: fixedDose, unit: "mg", doses: list("250", "400", "500", "750"), step: "50", drawn: true, strengths: list("5", "2"), strengthU: "mg/mL", minutes: list("60", "90"), every: ints(12, 24), days: ints(5, 7, 10)},
	{class: "iron complex", kind: fixedDose, unit: "mg", doses: list("100", "200", "300", "500", "1000"), step: "50", volumes: list("100", "250"), minutes: list("15", "30", "60", "90"), every: ints(168), counts: ints(1, 2, 3, 5)},
	{class: "bisphosphonate", kind: fixedDose, unit: "mg", doses: list("4", "5", "60", "90"), step: "1", volumes: list("100", "250", "500"), minutes: list("15", "20", "120"), every: ints(672), counts: ints(1, 3, 6)},
	{class: "antiemetic", kind: fixedDose, unit: "mg", doses: list("4", "8", "16"), step: "4", volumes: list("50"), minutes: list("15"), every: ints(8, 12), days: ints(3, 5)},
	{class: "corticosteroid", kind: fixedDose, unit: "mg", doses: list("250", "500", "1000"), step: "125", volumes: list("100", "250"), minutes: list("30", "60"), every: ints(24), days: ints(3, 5)},
	{class: "antibody, one dose for all", kind: fixedDose, unit: "mg", doses: list("300", "360", "600", "1200"), step: "60", volumes: list("250", "500"), minutes: list("30", "60", "90"), every: ints(336, 672), counts: ints(3, 6, 12)},

	{class: "glycopeptide", kind: perKgAdult, unit: "mg", doses: list("12.5", "15", "20", "25"), step: "250", most: "3000", volumes: list("250", "500"), fastest: "1000", every: ints(8, 12, 18, 24), days: ints(7, 14, 28, 42)},
	{class: "aminoglycoside", kind: perKgAdult, unit: "mg", doses: list("1.7", "2.5", "5", "7"), step: "20", most: "700", volumes: list("50", "100"), minutes: list("30", "60"), every: ints(8, 24, 36), days: ints(5, 7, 14)},
	{class: "lipopeptide", kind: perKgAdult, unit: "mg", doses: list("4", "6", "8", "10"), step: "50", most: "1500", volumes: list("50", "100"), minutes: list("30"), every: ints(24, 48), days: ints(14, 28, 42)},
	{class: "antiviral", kind: perKgAdult, unit: "mg", doses: list("5", "7.5", "10"), step: "25", most: "1200", volumes: list("100", "250"), minutes: list("60"), every: ints(8, 12, 24), days: ints(7, 14, 21)},
	{class: "immune globulin", kind: perKgAdult, unit: "mg", doses: list("400", "500", "1000"), step: "5000", most: "160000", drawn: true, strengths: list("50", "100"), strengthU: "mg/mL", minutes: list("180", "240", "270", "300", "360"), every: ints(24), days: ints(2, 3, 4, 5)},
	{class: "antibody by weight", kind: perKgAdult, unit: "mg", doses: list("3", "5", "7.5", "10"), step: "100", most: "1800", volumes: list("250"), minutes: list("60", "90", "120"), every: ints(336, 1344), counts: ints(3, 6)},
	{class: "replaced enzyme", kind: perKgAdult, unit: "[iU]", doses: list("15", "30", "60"), step: "400", most: "9600", volumes: list("100", "150", "250"), minutes: list("60", "90", "120"), every: ints(336), counts: ints(6, 12)},

	{class: "beta-lactam, child", kind: perKgChild, unit: "mg", doses: list("25", "50", "75", "100"), step: "50", most: "2000", drawn: true, strengths: list("20", "40", "100"), strengthU: "mg/mL", minutes: list("15", "30"), every: ints(6, 8, 12, 24), days: ints(7, 10, 14)},
	{class: "aminoglycoside, child", kind: perKgChild, unit: "mg", doses: list("2.5", "5", "7.5"), step: "2", most: "400", drawn: true, strengths: list("2", "10"), strengthU: "mg/mL", minutes: list("30", "60"), every: ints(8, 24), days: ints(5, 7)},
	{class: "glycopeptide, child", kind: perKgChild, unit: "mg", doses: list("10", "15", "20"), step: "10", most: "1500", drawn: true, strengths: list("5"), strengthU: "mg/mL", minutes: list("60", "90", "120"), every: ints(6, 8, 12), days: ints(7, 14, 28)},
	{class: "antiviral, child", kind: perKgChild, unit: "mg", doses: list("10", "15", "20"), step: "5", most: "900", drawn: true, strengths: list("5", "7"), strengthU: "mg/mL", minutes: list("60"), every: ints(8, 12), days: ints(10, 14, 21)},
	{class: "antifungal, child", kind: perKgChild, unit: "mg", doses: list("3", "6", "12"), step: "5", most: "400", drawn: true, strengths: list("2"), strengthU: "mg/mL", minutes: list("60", "120"), every: ints(24), days: ints(14, 21)},
	{class: "corticosteroid, child", kind: perKgChild, unit: "mg", doses: list("10", "30"), step: "10", most: "1000", volumes: list("50", "100"), minutes: list("60"), every: ints(24), days: ints(3, 5)},

	{class: "inotrope", kind: dripPerKg, unit: "mg", doses: list("0.125", "0.25", "0.375", "0.5", "0.75"), rateUnit: "ug/kg/min", drugUnit: "mg/h", volumes: list("100", "200"), strengths: list("0.2", "0.4"), strengthU: "mg/mL"},
	{class: "catecholamine", kind: dripPerKg, unit: "mg", doses: list("2", "2.5", "3", "5", "7.5", "10"), rateUnit: "ug/kg/min", drugUnit: "ug/min", volumes: list("250", "500"), strengths: list("1", "2", "4"), strengthU: "mg/mL"},
	{class: "vasopressor", kind: dripPerKg, unit: "mg", doses: list("0.03", "0.05", "0.1", "0.15", "0.2"), rateUnit: "ug/kg/min", drugUnit: "ug/min", volumes: list("250"), strengths: list("16", "32", "64"), strengthU: "ug/mL"},
	{class: "prostanoid", kind: dripPerKg, unit: "mg", doses: list("2", "4", "8", "12", "18", "25", "32"), rateUnit: "ng/kg/min", drugUnit: "ug/h", volumes: list("50", "100"), strengths: list("15", "30", "60"), strengthU: "ug/mL"},
	{class: "bronchodilator", kind: dripPerKg, unit: "mg", doses: list("0.2", "0.4", "0.5", "0.7"), rateUnit: "mg/kg/h", drugUnit: "mg/h", volumes: list("250", "500"), strengths: list("0.8", "1.6", "4"), strengthU: "mg/mL"},
	{class: "sedative", kind: dripPerKg, unit: "mg", doses: list("0.02", "0.05", "0.08", "0.1"), rateUnit: "mg/kg/h", drugUnit: "mg/h", volumes: list("50", "100"), strengths: list("0.5", "1"), strengthU: "mg/mL"},
	{class: "opioid by weight", kind: dripPerKg, unit: "mg", doses: list("0.5", "1", "1.5", "2"), rateUnit: "ug/kg/h", drugUnit: "ug/h", volumes: list("50", "100", "250"), strengths: list("10", "25", "50"), strengthU: "ug/mL"},

	{class: "loop diuretic", kind: perHour, unit: "mg", doses: list("4", "5", "8", "10", "15", "20"), rateUnit: "mg/h", drugUnit: "mg/h", volumes: list("50", "100", "250"), strengths: list("1", "2", "10"), strengthU: "mg/mL"},
	{class: "calcium blocker", kind: perHour, unit: "mg", doses: list("2.5", "5", "7.5", "10", "15"), rateUnit: "mg/h", drugUnit: "mg/h", volumes: list("100", "125", "250"), strengths: list("0.1", "0.2", "1"), strengthU: "mg/mL"},
	{class: "antiarrhythmic", kind: perHour, unit: "mg", doses: list("0.5", "1"), rateUnit: "mg/min", drugUnit: "mg/h", volumes: list("200", "250", "500"), strengths: list("1.8", "3.6"), strengthU: "mg/mL"},
	{class: "acid blocker", kind: perHour, unit: "mg", doses: list("4", "8"), rateUnit: "mg/h", drugUnit: "mg/h", volumes: list("100", "200", "250"), strengths: list("0.4", "0.8"), strengthU: "mg/mL"},

	{class: "beta-lactam over 24 h", kind: wholeDay, unit: "mg", doses: list("6000", "8000", "10000", "12000", "13500", "16000"), step: "500", volumes: list("240", "250", "270", "480", "500"), minutes: list("1440"), every: ints(24), days: ints(7, 14, 28, 42)},
	{class: "penicillin over 24 h", kind: wholeDay, unit: "[iU]", doses: list("12000000", "18000000", "20000000", "24000000"), step: "1000000", volumes: list("240", "250", "500"), minutes: list("1440"), every: ints(24), days: ints(14, 28, 42)},

	{class: "antimetabolite over 46 h", kind: perArea, unit: "mg", doses: list("1600", "1800", "2000", "2400", "3000"), step: "50", volumes: list("92", "100", "115", "230", "250"), minutes: list("2760"), every: ints(336), counts: ints(4, 6, 8, 12)},
	{class: "antimetabolite over 46 h, fine step", kind: perArea, unit: "mg", doses: list("2000", "2400"), step: "10", volumes: list("92", "96", "230"), minutes: list("2760"), every: ints(336), counts: ints(6, 12)},
	{class: "platinum", kind: perArea, unit: "mg", doses: list("65", "75", "85", "100"), step: "5", volumes: list("250", "500"), minutes: list("60", "120"), every: ints(336, 504), counts: ints(4, 6)},

	{class: "electrolyte fluid", kind: fluid, doses: list("42", "50", "75", "80", "100", "125", "150"), volumes: list("500", "1000", "2000")},
	{class: "hydration each day", kind: fluid, volumes: list("500", "1000", "1500", "2000"), minutes: list("120", "180", "240", "480"), every: ints(12, 24), days: ints(3, 5, 7)},
	{class: "nutrition at one rate", kind: fluid, volumes: list("1200", "1500", "1800", "2000", "2400"), minutes: list("600", "720", "840", "960", "1440"), every: ints(24), days: ints(7, 14, 28)},

	{class: "heparin", kind: unitsHour, unit: "[iU]", doses: list("600", "800", "1000", "1200", "1450", "1800"), rateUnit: "[iU]/h", drugUnit: "[iU]/h", volumes: list("250", "500"), strengths: list("40", "50", "100"), strengthU: "[iU]/mL"},
	{class: "insulin", kind: unitsHour, unit: "[iU]", doses: list("1", "1.5", "2", "3", "5", "8"), rateUnit: "[iU]/h", drugUnit: "[iU]/h", volumes: list("100", "250"), strengths: list("0.5", "1"), strengthU: "[iU]/mL"},

	{class: "potassium salt", kind: electrolyte, unit: "meq", doses: list("10", "20", "40", "60"), step: "10", volumes: list("100", "250", "500", "1000"), fastest: "10", every: ints(12, 24), days: ints(1, 2, 3)},
	{class: "magnesium salt", kind: electrolyte, unit: "meq", doses: list("8", "16", "32", "48"), step: "8", volumes: list("100", "250"), minutes: list("60", "120", "240"), every: ints(24), days: ints(1, 3, 5)},

	{class: "opioid", kind: controlled, unit: "mg", doses: list("0.5", "1", "1.5", "2", "3", "5"), rateUnit: "mg/h", drugUnit: "mg/h", volumes: list("50", "100", "250"), strengths: list("1", "5", "10"), strengthU: "mg/mL"},
	{class: "strong opioid", kind: controlled, unit: "mg", doses: list("0.1", "0.2", "0.3", "0.5", "0.8"), rateUnit: "mg/h", drugUnit: "mg/h", volumes: list("30", "50", "100"), strengths: list("0.2", "0.5", "1"), strengthU: "mg/mL"},
}

var drugsOf = func() map[kind][]*drug {
	m := map[kind][]*drug{}
	for i := range drugs {
		m[drugs[i].kind] = append(m[drugs[i].kind], &drugs[i])
	}
	return m
}()
