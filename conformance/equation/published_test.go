package equation_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/quantity"
)

// published are figures printed in a source, to the digits it prints. The
// code behind a source is its entry in the list of worked examples.
var published = []struct{ code, inputs, want, unit, source string }{
	{"E04", "rate=125mL/h dropFactor=21{drop}/mL", "43.75", "{drop}/min", "practice problem, 500 mL in 4 h (DRP-01)"},
	{"E04", "rate=10mL/h dropFactor=15{drop}/mL", "2.5", "{drop}/min", "question and answer on drops at 10 mL/h (DRP-04)"},
	{"E04", "rate=125mL/h dropFactor=10{drop}/mL", "21", "{drop}/min", "lecture slides: intravenous solutions (DRP-06)"},
	{"E04", "rate=100mL/h dropFactor=10{drop}/mL", "17", "{drop}/min", "Advanced Calculations, Nursing 201, 2014 (DRP-08)"},
	{"E04", "rate=20mL/h dropFactor=60{drop}/mL", "20", "{drop}/min", "100 dosage calculation practice and answers (DRP-10)"},
	{"E04", "rate=125mL/h dropFactor=20{drop}/mL", "42", "{drop}/min", "drug units and calculations, 1000 mL in 8 h (DRP-11)"},
	{"E04-rate", "dropRate=43.75{drop}/min dropFactor=21{drop}/mL", "125", "mL/h", "practice problem, read backwards (DRP-01)"},
	{"E06-adjusted", "adjustedBodyWeight=119.8kg", "119.8", "kg", "university pharmacy calculations module, its weight for gentamicin (BWT-04)"},
	{"E06-ideal", "idealBodyWeight=73kg", "73", "kg", "university pharmacy calculations module (BWT-01)"},
	{"E08", "loadingDosePerKg=50ug/kg drugRatePerKg=0.5ug/kg/min", "0.77", "mg/kg/d", "milrinone lactate in dextrose, US labelling (WKG-14)"},
	{"E08-dose", "loadingDose=3.5mg drugRate=2.1mg/h", "53.9", "mg/d", "the same in 70 kg: 0.77 × 70 (WKG-14)"},

	{"E10", "sex=male height=70[in_i]", "73", "kg", "university pharmacy calculations module (BWT-01)"},
	{"E10", "sex=male height=175cm", "70.5", "kg", "equations of online calculators, rule (DBW-02)"},
	{"E11", "idealBodyWeight=73kg weight=190kg", "119.8", "kg", "university pharmacy calculations module (BWT-02)"},
	{"E11", "idealBodyWeight=73kg weight=190kg adjustmentFactor=0.25", "102.25", "kg", "by hand: 73 + 117 ÷ 4"},
	{"E11-percent", "idealBodyWeight=73kg weight=190kg", "260", "%", "university pharmacy calculations module (BWT-05)"},
	{"E12", "height=100cm weight=16kg", "0.67", "m2", "Pediatric body surface area, worked example (BSA-01)"},
	{"E12", "height=180cm weight=80kg", "2", "m2", "by hand: √4"},
	{"E12", "height=175cm weight=75kg", "1.909", "m2", "recomputed where a web page errs in the third decimal"},
	{"E13", "height=175cm weight=70kg", "1.848", "m2", "BSA formulas and references (DBS-03)"},
	{"E13", "height=175cm weight=75kg", "1.903", "m2", "recomputed where a web page errs in the third decimal"},
	{"E14", "height=110cm weight=18kg", "0.740", "m2", "BSA formulas and references (DBS-01)"},
	{"E14", "height=175cm weight=75kg", "1.917", "m2", "recomputed where a web page errs in the third decimal"},

	{"E16", "sex=male age=60a weight=80kg serumCreatinine=1.2mg/dL", "74.1", "mL/min", "Creatinine clearance, health formulas (REN-01)"},
	{"E16", "sex=female age=47a weight=74kg serumCreatinine=0.8mg/dL", "101.6", "mL/min", "by hand: 93 × 74 ÷ 57.6 × 0.85"},
	{"E16-ideal", "sex=female age=45a idealBodyWeight=60kg serumCreatinine=0.9mg/dL", "74.8", "mL/min", "Creatinine clearance, pharmacology formulas (REN-03)"},
	{"E16-adjusted", "sex=male age=60a adjustedBodyWeight=80kg serumCreatinine=1.2mg/dL", "74.1", "mL/min", "Creatinine clearance, health formulas, the weight taken as adjusted (REN-01)"},
	{"E17", "sex=male age=70a serumCreatinine=0.8mg/dL", "95.2", "mL/min/{1.73_m2}", "package documentation, compared by its author with the National Kidney Foundation (REN-05)"},
	{"E17", "sex=female age=50a serumCreatinine=1.0mg/dL", "68.6", "mL/min/{1.73_m2}", "the same, examples (REN-07)"},
	{"E17", "sex=male age=58a serumCreatinine=1.4mg/dL", "58.3", "mL/min/{1.73_m2}", "National Kidney Foundation, rule; a web page prints 59.3 (DRN-01)"},
	{"E17", "sex=male age=55a serumCreatinine=1.2mg/dL", "71.4", "mL/min/{1.73_m2}", "recomputed where a web page prints 73"},
	{"E17-older", "sex=male age=45a serumCreatinine=1.0mg/dL", "90.5", "mL/min/{1.73_m2}", "recomputed where a web page prints 79.3"},
	{"E17-older", "sex=female age=50a serumCreatinine=0.7mg/dL", "101", "mL/min/{1.73_m2}", "by hand: 143.538 × 0.993^50 = 101.0251"},
	{"E17-absolute", "glomerularFiltrationRate=60mL/min/{1.73_m2} bodySurfaceArea=2.1m2", "72.8", "mL/min", "National Kidney Foundation, rule (DRN-03)"},
	{"E18", "height=100cm serumCreatinine=0.5mg/dL", "82.6", "mL/min/{1.73_m2}", "Pediatric GFR, worked example (REN-09)"},
	{"E18-child", "height=100cm serumCreatinine=0.5mg/dL age=4a", "82.6", "mL/min/{1.73_m2}", "Pediatric GFR, worked example (REN-09)"},
	{"E20", "targetAUC=5mg.min/mL absoluteFiltrationRate=90mL/min", "575", "mg", "Calvert formula, worked example (CAL-01)"},
	{"E20", "targetAUC=6mg.min/mL absoluteFiltrationRate=125mL/min", "900", "mg", "NCCN order templates, appendix B, 2020 (CAL-03)"},
	{"E20", "targetAUC=4mg.min/mL absoluteFiltrationRate=50mL/min", "300", "mg", "Calvert formula, worked example (CAL-05)"},

	{"E21", "drugMass=1g molarMass=246.47g/mol", "4.06", "mmol", "Sample osmolarity calculations (ELY-05)"},
	{"E21-equivalents", "drugAmount=4.057289mmol valence=2eq/mol", "8.11", "meq", "Sample osmolarity calculations, without its early rounding (ELY-05)"},
	{"E21-amount", "drugEquivalents=15meq valence=1eq/mol", "15", "mmol", "Pharmaceutical calculations lecture, F. Rahmawati (ELY-01)"},
	{"E21-mass", "drugAmount=15mmol molarMass=74.5g/mol", "1117.5", "mg", "Pharmaceutical calculations lecture, F. Rahmawati (ELY-01)"},
	{"E22", "volume=15mL concentration=5g/dL molarMass=180g/mol particles=1osm/mol", "4.17", "mosm", "practice problem: mOsmol of D5NS (OSM-03)"},
	{"E22", "volume=15mL concentration=0.9g/dL molarMass=58.5g/mol particles=2osm/mol", "4.62", "mosm", "practice problem: mOsmol of D5NS (OSM-04)"},
	{"E22-solution", "concentration=500g/L molarMass=246.47g/mol particles=2osm/mol", "4057", "mosm/L", "Sample osmolarity calculations (OSM-07)"},
	{"E22-solution", "concentration=9g/L molarMass=58.44g/mol particles=2osm/mol", "308", "mosm/L", "IV admixture osmolarity (OSM-11)"},
	{"E22-admixture", "osmoles=141.96mosm volume=562.5mL", "252", "mosm/L", "Calculating osmolarity of an IV admixture (OSM-01)"},
	{"E23", "aminoAcidConcentration=50g/L dextroseConcentration=100g/L lipidConcentration=20g/L electrolyteConcentration=150meq/L", "1164", "mosm/L", "Osmolarity of parenteral nutrition, example (OSM-09)"},
	{"E23", "aminoAcidConcentration=50g/L dextroseConcentration=100g/L lipidConcentration=20g/L electrolyteConcentration=150meq/L aminoAcidFactor=10mosm/g dextroseFactor=5mosm/g lipidFactor=1mosm/g electrolyteFactor=2mosm/meq",
		"1320", "mosm/L", "by hand with the other published factors: 500 + 500 + 20 + 300"},
	{"E24", "dextroseConcentration=10g/dL rate=4.3mL/h weight=2.58kg", "2.78", "mg/kg/min", "Glucose intake, 2.58 kg newborn (GIR-01)"},
	{"E24-mass", "dextrose=10.32g duration=24h weight=2.58kg", "2.78", "mg/kg/min", "the same over a day: 10.32 g (GIR-01)"},
	{"E25-dextrose", "dextroseConcentration=25g/dL volume=2.4L", "600", "g", "Nutrition textbook, box 18.5 (PNE-01)"},
	{"E25-amino", "aminoAcidConcentration=4.25g/dL volume=2.4L", "102", "g", "Nutrition textbook, box 18.5 (PNE-02)"},
	{"E25-lipid", "lipidConcentration=3g/dL volume=2.4L", "72", "g", "Nutrition textbook, box 18.5, its 72 g read backwards (PNE-03)"},
	{"E25", "dextrose=600g aminoAcids=102g lipid=72g lipidEnergy=9kcal/g", "3096", "kcal", "Nutrition textbook, box 18.5 (PNE-03)"},
	{"E25", "dextrose=400g lipidVolume=250mL lipidEnergyPerVolume=1.1kcal/mL", "1635", "kcal", "question of the week: parenteral nutrition (PNE-05)"},
	{"E25", "dextrose=250g lipid=50g lipidEnergy=10kcal/g", "1350", "kcal", "TPN calculation practice questions (PNE-11)"},
	{"E25", "dextrose=500g", "1700", "kcal", "Parenteral nutrition formula calculations, course slides, 1 L of D50 (PNE-12)"},
	{"E26", "volume=2000mL cycle=12h rampUp=1h rampDown=1h", "181.8", "mL/h", "Cyclic nutrition rate, example (CYC-01)"},
	{"E26", "volume=2000mL cycle=10h rampUp=0h rampDown=0h", "200", "mL/h", "by hand: no ramps"},
	{"E27", "volume=2000mL cycle=12h", "210.5", "mL/h", "Longhurst et al., abstract, rule (DCY-01)"},
	{"E27-taper", "volume=2000mL cycle=12h", "52.6", "mL/h", "Longhurst et al., abstract, rule (DCY-01)"},

	{"E28", "strongerConcentration=10g/dL weakerConcentration=5g/dL targetConcentration=8.5g/dL volume=150mL", "105", "mL", "Reconstitution of dextrose solutions (ALG-01)"},
	{"E28", "strongerConcentration=70g/dL weakerConcentration=0g/dL targetConcentration=25g/dL volume=1000mL", "357", "mL", "recomputed where a page rounds 5/14 first"},
	{"E28-weaker", "strongerConcentration=10g/dL weakerConcentration=5g/dL targetConcentration=8.5g/dL volume=150mL", "45", "mL", "Reconstitution of dextrose solutions, the rest of 150 mL (ALG-01)"},
	{"E28-add", "concentration=10g/dL volume=500mL targetConcentration=8g/dL", "125", "mL", "Pharmacy IV math question: D10W to 8 % (ALG-03)"},
	{"E29", "additive=10mL vialStrength=1mg/mL diluent=40mL", "200", "ug/mL", "Milrinone lactate, US labelling, dilution table (ALG-05)"},
	{"E29-volume", "additive=10mL diluent=40mL", "50", "mL", "Milrinone lactate, US labelling, dilution table (ALG-05)"},
	{"E29-draw", "dose=7500[iU] vialStrength=10000[iU]/mL", "0.75", "mL", "recomputed where a key prints 0.5 mL"},
	{"E29-vial", "vialContent=10mg vialVolume=10mL", "1", "mg/mL", "Milrinone lactate, US labelling, dilution table (ALG-05)"},

	{"E30", "basal=2mg/h demand=2mg lockout=6min window=4h", "88", "mg", "course problem on patient-controlled analgesia (PCA-01)"},
	{"E30", "basal=4mg/h demand=1mg lockout=6min window=1h", "14", "mg", "the same, page 2 (PCA-03)"},
	{"E30", "demand=0.2mg lockout=10min window=1h", "1.2", "mg", "One hour limit, hydromorphone, example 1 (PCA-05)"},
	{"E30", "basal=1mg/h demand=0.5mg lockout=15min window=24h", "72", "mg", "course problem on patient-controlled analgesia, rule (DPC-01)"},
	{"E30-volume", "maximumDose=72mg concentration=1mg/mL", "72", "mL", "course problem on patient-controlled analgesia, rule (DPC-01)"},

	{"E31", "ratePerKg=0.01mL/kg/min dosingWeight=70kg", "42", "mL/h", "NL-IVIG002 v1.0, 2017 (IGR-01)"},
	{"E31", "ratePerKg=0.04mL/kg/min dosingWeight=55kg", "132", "mL/h", "NL-IVIG002 v1.0, 2017 (IGR-03)"},
	{"E31", "ratePerKg=0.08mL/kg/min dosingWeight=95kg", "456", "mL/h", "NL-IVIG002 v1.0, 2017 (IGR-05)"},
	{"E31", "ratePerKg=0.12mL/kg/min dosingWeight=100kg", "720", "mL/h", "NL-IVIG002 v1.0, 2017 (IGR-07)"},
	{"E31-perkg", "drugRatePerKg=7.5ug/kg/min concentration=500ug/mL", "0.015", "mL/kg/min", "Dobutamine injection, US labelling, table 1 (WKG-05)"},
	{"E31-perkg", "drugRatePerKg=2.5ug/kg/min concentration=1000ug/mL", "0.0025", "mL/kg/min", "Dobutamine injection, US labelling, table 1 (WKG-07)"},
	// 70 kg × 5 mg/kg/min in 100 mg/mL is 210 mL/h; a quarter and a half of it first.
	{"E32", "volume=280mL step=52.5mL/h@30min step=105mL/h@30min step=210mL/h", "1.96", "h", "Medical algorithms: immunoglobulin infusion rate, rule (DIG-01)"},

	{"E33", "dose=733mg vialContent=100mg", "8", "1", "HOPA position statement, its 8 vials before rounding (DRD-01)"},
	{"E33", "dose=700mg vialContent=100mg", "7", "1", "by hand: exactly seven"},
	{"E33-waste", "dose=95{unit} vialContent=100{unit}", "5", "{unit}", "Medicare Claims Processing Manual ch. 17 s. 40 (VIA-01)"},
	{"E33-waste", "dose=700mg vialContent=100mg", "0", "mg", "by hand: exactly seven"},
	{"E33-billing", "dose=77mg billingUnit=10mg", "8", "1", "American College of Rheumatology, billing drug wastage, 2023 (VIA-03)"},
	{"E34", "dose=733mg roundTo=100mg", "700", "mg", "HOPA position statement, rule (DRD-01)"},
	{"E34", "dose=2.5mg roundTo=1mg", "3", "mg", "half up, as the teaching sources round 2.5 (DRP-04)"},
	{"E34-change", "dose=733mg roundedDose=700mg", "-4.5", "%", "HOPA position statement, rule (DRD-01)"},
	{"E34-change", "dose=440mg roundedDose=400mg", "-9.09", "%", "HOPA position statement, rule (DRD-04)"},

	{"E35", "fill=240mL nominalRate=5mL/h", "48", "h", "ISO 28620:2020, rule (DEL-01)"},
	{"E35", "fill=240mL nominalRate=5mL/h emittedFraction=94% flowRatio=1.108", "40.7", "h", "by hand: 48 × 0.94 ÷ 1.108"},
	{"E35-shortest", "fill=240mL nominalRate=5mL/h tolerance=15%", "41.74", "h", "ISO 28620:2020, rule (DEL-01)"},
	{"E35-longest", "fill=240mL nominalRate=5mL/h tolerance=15%", "56.47", "h", "ISO 28620:2020, rule (DEL-01)"},
	{"E35-ratio", "duration=24h flowRatio=1.108", "21.66", "h", "J Pain Symptom Manage 1997;14:210 (DEL-03)"},
	{"E35-viscosity", "viscosityRatio=2.59", "38.6", "%", "Ko et al., J Korean Med Sci 2022;37:e71 (DEL-06)"},
	{"E36", "volume=500mL withdrawalFraction=10%", "50", "mL", "The 10 percent rule for IV bags (VIA-05)"},
	{"E36-overfill", "dose=1000mg labelVolume=100mL overfill=9.26mL", "9.15", "mg/mL", "Am J Crit Care 2000;9:130: 109.26 mL on average"},
	{"E36-overfill", "dose=1000mg labelVolume=100mL overfill=9.26mL additive=10mL", "8.39", "mg/mL", "by hand: 1000 ÷ 119.26"},
	{"E37", "volume=50mL residual=20mL", "40", "%", "Priming volume and residual volume, rule (DLN-01)"},
	{"E37-open", "keepOpenRate=10mL/h dosesPerDay=3/d duration=1h", "210", "mL/d", "J Infus Nurs 2016, rule (DLN-03)"},

	{"E38", "dose=250mg vialContent=125mg dosesPerDay=2/d courseLength=7d", "28", "1", "Lecture notes: quantity to dispense (CNT-03)"},
	{"E38", "dose=1g vialContent=1g dosesPerDay=2/d courseLength=14d", "28", "1", "FHIR R4 Timing, rule: every 12 h for 14 d (DCT-01)"},
	{"E38-supply", "supply=1000[iU] dailyDose=35[iU]/d", "28", "d", "How to calculate day supply (CNT-05)"},
	{"E38-units", "supplyUnits=60{unit} dosesPerDay=4/d", "15", "d", "How to calculate day supply (CNT-07)"},
	{"E38-dates", "start=2015-01-16 end=2015-01-18", "3", "d", "FHIR R4 example medrx0339 (CNT-01)"},
	{"E38-dates", "start=2026-03-07T20:00:00-05:00 end=2026-03-08T08:00:00-04:00", "11", "h", "Daylight saving time chapter of a provincial manual (DST-03)"},
}

func TestPublishedFigures(t *testing.T) {
	for _, c := range published {
		_, fraction, _ := strings.Cut(c.want, ".")
		want, err := quantity.ParseNumber(c.want)
		assert.NoError(t, err)
		assert.Equal(t, want.Decimal(), worked(t, c.code, c.inputs, c.unit, len(fraction)), "%s of %s: %s", c.code, c.inputs, c.source)
	}
}

func TestEveryEquationIsCheckedAgainstASource(t *testing.T) {
	seen := map[string]int{}
	for _, c := range published {
		assert.NotEmpty(t, c.source)
		seen[c.code]++
	}
	for _, e := range equation.All() {
		assert.NotZero(t, seen[e.Code], "%s has no figure", e.Code)
	}
}

// The sequence of Longhurst empties the bag: F, 2F, 4F × (T − 4 h), 2F, F.
func TestTheTaperEmptiesTheBag(t *testing.T) {
	b, err := find(t, "E27-taper").Solve(given(t, "volume=2000mL cycle=12h"))
	assert.NoError(t, err)
	v := given(t, "volume=2000mL step=1mL/h@1h step=1mL/h@1h step=1mL/h@8h step=1mL/h@1h step=1mL/h")
	for i, times := range []int64{1, 2, 4, 2, 1} {
		v.Steps[i].Rate = b.Low.Mul(quantity.Int(times))
	}
	run, err := find(t, "E32").Solve(v)
	assert.NoError(t, err)
	hours, _ := number(t, "12h")
	assert.True(t, run.Low.Equal(hours))
}
