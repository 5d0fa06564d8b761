package alertload_test

// card is one usual regimen of an adult with normal kidneys, as an intake
// pharmacist knows it. The doses are those of the drug's labelling or of the
// published guidance for home antimicrobials (IDSA 2018, doi
// 10.1093/cid/ciy745), written from memory; volumes and times are common
// practice, no source.
type card struct {
	name, code string // generic name and RxNorm ingredient; "" where none is used
	dose       string // as ordered; "" where it is reckoned by perKg
	unit       string // UCUM
	perKg      string // mg per kg of actual weight, rounded to step
	step       string
	volume     int    // mL of the container
	minutes    int    // of one infusion
	hours      int    // between doses; minutes = 60 × hours is a continuous infusion
	fluid      string // carrier
	device     string // elastomeric, electronic-pump or push (minutes is then the time of the push)
	tests      []lab  // what must be ordered while it runs
	days       []int  // lengths of a course
	reason     string
	anti       bool     // an anti-infective: a specialist has seen the patient
	with       []beside // what must go with it
	check      bool     // a second person checks
	central    bool     // not by a midline
	backup     bool     // a second pump
	mixed      bool     // mixed just before use: made up it lasts hours
	down       bool     // rounded down: the dose is the most by weight
}

// lab is a laboratory test by LOINC.
type lab struct{ code, display string }

// beside is a companion order.
type beside struct{ code, name, role, text, dose, unit string }

// The tests, by LOINC code and display.
var (
	counts     = lab{"58410-2", "CBC panel - Blood by Automated count"}
	metabolic  = lab{"51990-0", "Basic metabolic panel - Blood"}
	creatinine = lab{"2160-0", "Creatinine [Mass/volume] in Serum or Plasma"}
	liver      = lab{"24325-3", "Hepatic function panel - Serum or Plasma"}
	trough     = lab{"4092-3", "Vancomycin [Mass/volume] in Serum or Plasma --trough"}
	gentLevel  = lab{"3665-7", "Gentamicin [Mass/volume] in Serum or Plasma --trough"}
	tobraLevel = lab{"4059-2", "Tobramycin [Mass/volume] in Serum or Plasma --trough"}
	amikLevel  = lab{"3321-7", "Amikacin [Mass/volume] in Serum or Plasma --trough"}
	kinase     = lab{"2157-6", "Creatine kinase [Enzymatic activity/volume] in Serum or Plasma"}
	potassium  = lab{"2823-3", "Potassium [Moles/volume] in Serum or Plasma"}
	magnesium  = lab{"19123-9", "Magnesium [Mass/volume] in Serum or Plasma"}
	vorLevel   = lab{"38370-3", "Voriconazole [Mass/volume] in Serum or Plasma"}
	ferritin   = lab{"2276-4", "Ferritin [Mass/volume] in Serum or Plasma"}
)

const (
	saline   = "sodium chloride 0.9 % injection"
	dextrose = "dextrose 5 % injection"
)

var blood = []lab{counts, metabolic}

func also(tests []lab, more ...lab) []lab { return append(append([]lab{}, tests...), more...) }

const bones, blooded = "osteomyelitis of the foot", "bloodstream infection"

var weeks = []int{14, 21, 28, 42}

var cards = []card{
	{name: "cefazolin", code: "2180", dose: "2", unit: "g", volume: 100, minutes: 30, hours: 8, fluid: saline, device: "elastomeric", tests: blood, days: weeks, reason: bones, anti: true},
	{name: "ceftriaxone", code: "2193", dose: "2", unit: "g", volume: 100, minutes: 30, hours: 24, fluid: saline, device: "elastomeric", tests: also(blood, liver), days: weeks, reason: bones, anti: true},
	{name: "ceftriaxone", code: "2193", dose: "1", unit: "g", volume: 50, minutes: 30, hours: 24, fluid: saline, device: "electronic-pump", tests: also(blood, liver), days: weeks, reason: "Lyme arthritis", anti: true},
	{name: "cefepime", code: "20481", dose: "2", unit: "g", volume: 100, minutes: 30, hours: 8, fluid: saline, device: "elastomeric", tests: blood, days: []int{7, 10, 14}, reason: "Pseudomonas aeruginosa osteomyelitis", anti: true},
	{name: "cefepime", code: "20481", dose: "2", unit: "g", volume: 100, minutes: 30, hours: 12, fluid: saline, device: "elastomeric", tests: blood, days: []int{7, 10, 14}, reason: "severe urinary infection", anti: true},
	{name: "ceftazidime", code: "2191", dose: "2", unit: "g", volume: 100, minutes: 30, hours: 8, fluid: saline, device: "elastomeric", tests: blood, days: []int{14, 21}, reason: "meningitis", anti: true},
	{name: "cefoxitin", code: "2189", dose: "2", unit: "g", volume: 100, minutes: 30, hours: 8, fluid: saline, device: "elastomeric", tests: blood, days: []int{2}, reason: "pelvic infection", anti: true},
	{name: "ceftaroline fosamil", code: "1040004", dose: "600", unit: "mg", volume: 100, minutes: 60, hours: 12, fluid: saline, device: "electronic-pump", mixed: true, tests: blood, days: []int{7, 14}, reason: "skin infection", anti: true},
	{name: "meropenem", code: "29561", dose: "1", unit: "g", volume: 100, minutes: 30, hours: 8, fluid: saline, device: "electronic-pump", mixed: true, tests: also(blood, liver), days: []int{7, 14}, reason: "abdominal infection", anti: true},
	{name: "aztreonam", code: "1272", dose: "2", unit: "g", volume: 100, minutes: 30, hours: 8, fluid: saline, device: "elastomeric", tests: also(blood, liver), days: []int{7, 14}, reason: "Pseudomonas aeruginosa infection", anti: true},
	{name: "piperacillin-tazobactam", code: "74169", dose: "4.5", unit: "g", volume: 100, minutes: 240, hours: 8, fluid: saline, device: "electronic-pump", mixed: true, tests: also(blood, liver), days: []int{7, 14}, reason: "abdominal infection", anti: true},
	{name: "piperacillin-tazobactam", code: "74169", dose: "3.375", unit: "g", volume: 100, minutes: 240, hours: 8, fluid: saline, device: "electronic-pump", mixed: true, tests: also(blood, liver), days: []int{7, 14}, reason: "abdominal infection", anti: true},
	{name: "ampicillin-sulbactam", dose: "3", unit: "g", volume: 100, minutes: 30, hours: 6, fluid: saline, device: "electronic-pump", tests: also(blood, liver), days: []int{7, 14}, reason: "skin infection", anti: true},
	{name: "nafcillin", code: "7233", dose: "12", unit: "g", volume: 240, minutes: 1440, hours: 24, fluid: saline, device: "electronic-pump", tests: also(blood, liver), days: weeks, reason: "endocarditis", anti: true, central: true},
	{name: "oxacillin", code: "7773", dose: "12", unit: "g", volume: 240, minutes: 1440, hours: 24, fluid: saline, device: "electronic-pump", tests: also(blood, liver), days: weeks, reason: "endocarditis", anti: true, central: true},
	{name: "penicillin g potassium", code: "203133", dose: "20", unit: "10*6.[USP'U]", volume: 500, minutes: 1440, hours: 24, fluid: dextrose, device: "electronic-pump", tests: also(blood, liver), days: weeks, reason: "endocarditis", anti: true},
	{name: "vancomycin", code: "11124", dose: "1000", unit: "mg", volume: 250, minutes: 120, hours: 12, fluid: saline, device: "electronic-pump", tests: also(blood, trough), days: weeks, reason: bones, anti: true},
	{name: "vancomycin", code: "11124", dose: "1250", unit: "mg", volume: 250, minutes: 150, hours: 12, fluid: saline, device: "electronic-pump", tests: also(blood, trough), days: weeks, reason: bones, anti: true},
	{name: "daptomycin", code: "22299", perKg: "6", step: "50", unit: "mg", volume: 50, minutes: 30, hours: 24, fluid: saline, device: "elastomeric", tests: also(blood, kinase), days: weeks, reason: blooded, anti: true},
	{name: "telavancin", code: "473837", perKg: "10", step: "10", unit: "mg", volume: 250, minutes: 60, hours: 24, fluid: saline, device: "electronic-pump", mixed: true, tests: blood, days: []int{7, 14}, reason: "skin infection", anti: true, check: true},
	{name: "dalbavancin", code: "1539239", dose: "1500", unit: "mg", volume: 500, minutes: 60, hours: 168, fluid: dextrose, device: "electronic-pump", tests: blood, days: []int{1}, reason: "skin infection", anti: true},
	{name: "gentamicin", code: "1596450", perKg: "1", step: "10", unit: "mg", volume: 100, minutes: 60, hours: 8, fluid: saline, device: "electronic-pump", tests: also(blood, gentLevel), days: []int{14}, reason: "endocarditis", anti: true},
	{name: "tobramycin", code: "10627", perKg: "1", step: "10", unit: "mg", volume: 100, minutes: 60, hours: 8, fluid: saline, device: "electronic-pump", tests: also(blood, tobraLevel), days: []int{14}, reason: "Pseudomonas aeruginosa infection", anti: true},
	{name: "amikacin", code: "641", perKg: "7.5", step: "50", unit: "mg", volume: 100, minutes: 60, hours: 12, fluid: saline, device: "electronic-pump", tests: also(blood, amikLevel), days: []int{14}, reason: "mycobacterial infection", anti: true, down: true},
	{name: "clindamycin", code: "2582", dose: "900", unit: "mg", volume: 100, minutes: 60, hours: 8, fluid: saline, device: "electronic-pump", tests: also(blood, liver), days: []int{7, 14}, reason: "skin infection", anti: true},
	{name: "metronidazole", code: "6922", dose: "500", unit: "mg", volume: 100, minutes: 60, hours: 8, fluid: saline, device: "electronic-pump", tests: blood, days: []int{7, 14}, reason: "abdominal infection", anti: true},
	{name: "doxycycline", code: "3640", dose: "100", unit: "mg", volume: 250, minutes: 120, hours: 12, fluid: saline, device: "electronic-pump", mixed: true, tests: blood, days: []int{14}, reason: "tick-borne infection", anti: true},
	{name: "tigecycline", code: "384455", dose: "50", unit: "mg", volume: 100, minutes: 60, hours: 12, fluid: saline, device: "electronic-pump", mixed: true, tests: also(blood, liver), days: []int{7, 14}, reason: "abdominal infection", anti: true},
	{name: "linezolid", code: "190376", dose: "600", unit: "mg", volume: 300, minutes: 120, hours: 12, fluid: saline, device: "electronic-pump", tests: blood, days: []int{7, 14}, reason: "skin infection", anti: true},
	{name: "micafungin", code: "325887", dose: "100", unit: "mg", volume: 100, minutes: 60, hours: 24, fluid: saline, device: "electronic-pump", mixed: true, tests: also(blood, liver), days: []int{14, 28}, reason: "candidaemia", anti: true},
	{name: "caspofungin", code: "140108", dose: "50", unit: "mg", volume: 250, minutes: 60, hours: 24, fluid: saline, device: "electronic-pump", mixed: true, tests: also(blood, liver), days: []int{14, 28}, reason: "candidaemia", anti: true},
	{name: "fluconazole", code: "4450", dose: "400", unit: "mg", volume: 200, minutes: 120, hours: 24, fluid: saline, device: "electronic-pump", tests: also(blood, liver), days: []int{14, 28}, reason: "candidaemia", anti: true, check: true},
	{name: "voriconazole", code: "121243", perKg: "4", step: "10", unit: "mg", volume: 250, minutes: 120, hours: 12, fluid: saline, device: "electronic-pump", tests: also(blood, liver, vorLevel), days: []int{14}, reason: "invasive aspergillosis", anti: true, check: true},
	{name: "acyclovir", code: "281", perKg: "5", step: "50", unit: "mg", volume: 100, minutes: 60, hours: 8, fluid: saline, device: "electronic-pump", mixed: true, tests: blood, days: []int{7}, reason: "mucocutaneous herpes simplex", anti: true, with: []beside{hydration}},
	{name: "milrinone", code: "52769", dose: "24", unit: "mg", volume: 120, minutes: 1440, hours: 24, fluid: dextrose, device: "electronic-pump", tests: also(blood, magnesium), days: []int{14, 28}, reason: "end-stage heart failure", check: true, central: true, backup: true},
	{name: "pantoprazole", code: "40790", dose: "40", unit: "mg", volume: 100, minutes: 15, hours: 24, fluid: saline, device: "electronic-pump", mixed: true, days: []int{7, 10}, reason: "reflux with erosive oesophagitis"},
	{name: "ondansetron", code: "26225", dose: "8", unit: "mg", volume: 50, minutes: 15, hours: 12, fluid: saline, device: "electronic-pump", mixed: true, days: []int{3, 5}, reason: "nausea after chemotherapy"},
	{name: "methylprednisolone sodium succinate", dose: "1000", unit: "mg", volume: 100, minutes: 60, hours: 24, fluid: saline, device: "electronic-pump", tests: blood, days: []int{3}, reason: "multiple sclerosis relapse"},
	{name: "deferoxamine", code: "3131", perKg: "40", step: "100", unit: "mg", volume: 250, minutes: 480, hours: 24, fluid: saline, device: "electronic-pump", tests: also(blood, ferritin), days: []int{7, 14}, reason: "transfusional iron overload"},
	{name: "magnesium sulfate", code: "6585", dose: "2", unit: "g", volume: 100, minutes: 120, hours: 24, fluid: saline, device: "electronic-pump", tests: also(blood, magnesium), days: []int{7, 14}, reason: "magnesium deficiency", check: true},
	{name: "furosemide", code: "4603", dose: "40", unit: "mg", volume: 50, minutes: 30, hours: 24, fluid: saline, device: "electronic-pump", tests: also(blood, potassium), days: []int{3, 5}, reason: "heart failure with oedema"},
}

// hydration is what goes with a drug that crystallises in the kidney.
var hydration = beside{code: "9863", name: "sodium chloride 0.9 % injection, 500 mL", role: "premedication", text: "500 mL IV over 60 min, started 60 min before each dose", dose: "500", unit: "mL"}
