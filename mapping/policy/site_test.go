package policy_test

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

// by is what makes an entry somebody's: who, why, when.
const by = ", source: site protocol 7, reason: observed, by: \"J. Example\", on: 2026-09-01"

const device = "catalogue:\n  - {name: reservoir of 100 mL, class: elastomeric, nominalVolume: 100 mL, nominalRates: [200 mL/h], source: instructions for use"

const port = "lock:\n  protocols:\n    - {access: port, population: adult, volume: 5 mL, source: site protocol 3, "

const formula = "stability:\n  - {drug: cefazolin, kind: prepared, container: elastomeric, diluent: NS, storage: refrigerated, source: study 4, by: J. Example, on: 2026-09-01, "

// Every refusal names file, line, column and key; on the other side of the
// same boundary the file is accepted.
func TestASiteFileIsRefusedAtItsPlaceAndAcceptedBeside(t *testing.T) {
	for says, c := range map[string]struct{ bad, at, need, good string }{
		"a block relaxed to a warning":   {"gates:\n  rate-diluent: warn\n", "site.yaml:2:3: gates.rate-diluent relaxes a block to warn", "never relaxed below hold", "gates:\n  rate-diluent: hold\n"},
		"a hold relaxed to a note":       {"gates:\n  dose-renal: note\n", "site.yaml:2:3: gates.dose-renal relaxes a hold to note", "never relaxed below warn", "gates:\n  dose-renal: warn\n"},
		"a second check let go":          {"gates:\n  second-check: hold\n", "site.yaml:2:3: gates.second-check relaxes block to hold", "no site relaxes this one", "gates:\n  second-check: block\n"},
		"an unassessed drug let go":      {"gates:\n  hazard-unassessed: warn\n", "site.yaml:2:3: gates.hazard-unassessed relaxes hold", "no site relaxes this one", "gates:\n  hazard-unassessed: block\n"},
		"a code nobody has":              {"gates:\n  dose-renale: hold\n", "site.yaml:2:3: gates.dose-renale is no finding code", "weir explain", "gates:\n  dose-renal: block\n"},
		"a refusal of documents":         {"gates:\n  document-json: warn\n", "site.yaml:2:3: gates.document-json is no rule", "", "gates:\n  device-conditions: warn\n"},
		"a gate of another word":         {"gates:\n  dose-renal: stop\n", `site.yaml:2:3: gates.dose-renal is "stop"`, "block, hold, warn or note", "gates:\n  dose-renal: hold\n"},
		"a number nobody can dial":       {"telephone:\n  night: ask the nurse\n", `site.yaml:2:3: telephone.night is "ask the nurse"`, "dialled", "telephone:\n  night: \"+1 (555) 010-0150\"\n"},
		"a number of two digits":         {"telephone:\n  emergency: \"91\"\n", "site.yaml:2:3: telephone.emergency", "three digits", "telephone:\n  emergency: \"911\"\n"},
		"41 days of supply":              {"delivery:\n  longestDays: 41\n", "site.yaml:2:3: delivery.longestDays is 41", "1 to 31", "delivery:\n  longestDays: 31\n"},
		"25 hours to warm up":            {"delivery:\n  warmUp: 25h\n", "site.yaml:2:3: delivery.warmUp is 25h", "at most 24h", "delivery:\n  warmUp: 24h\n"},
		"a tolerance of 60 %":            {"device:\n  tolerance: 0.6\n", "site.yaml:2:3: device.tolerance is 0.6", "up to 0.5", "device:\n  tolerance: 0.2\n"},
		"a block at 20 % of a sum":       {"dose:\n  arithmeticBlock: 0.2\n", "site.yaml:2:3: dose.arithmeticBlock is 0.2", "up to 0.1", "dose:\n  arithmeticBlock: 0.1\n"},
		"a creatinine good for a year":   {"dose:\n  creatinineDays: 365\n", "site.yaml:2:3: dose.creatinineDays is 365", "1 to 30", "dose:\n  creatinineDays: 30\n"},
		"adults of 11 years":             {"records:\n  adultYears: 11\n", "site.yaml:2:3: records.adultYears is 11", "12 to 21", "records:\n  adultYears: 16\n"},
		"precautions of 500 hours":       {"hazard:\n  bodyFluidHours: 500\n", "site.yaml:2:3: hazard.bodyFluidHours is 500", "24 to 168", "hazard:\n  bodyFluidHours: 168\n"},
		"precautions of 2 hours":         {"hazard:\n  bodyFluidHoursByDrug: {fluorouracil: 2}\n", "site.yaml:2:26: hazard.bodyFluidHoursByDrug.fluorouracil is 2", "24 to 168", "hazard:\n  bodyFluidHoursByDrug: {fluorouracil: 72}\n"},
		"waste of another word":          {"hazard:\n  wasteByDrug: {mitomycin: yellow}\n", `site.yaml:2:17: hazard.wasteByDrug.mitomycin is "yellow"`, "listed, bulk, trace, local", "hazard:\n  wasteByDrug: {mitomycin: listed}\n"},
		"an osmolarity nobody names":     {"access:\n  osmolarityMost: 1200\n", "site.yaml:2:3: access.osmolarityMost is 1200", "600", "access:\n  osmolarityMost: 600\n"},
		"a gate before the task":         {"access:\n  planGateDays: 31\n", "site.yaml:2:3: access.planGateDays is 31", "0 to 30", "access:\n  planGateDays: 30\n"},
		"a device in another unit":       {device + ", residual: 2 mL/h}\n", `site.yaml:2:132: catalogue[0].residual is "2 mL/h", another kind of quantity`, "mL", device + ", residual: 2 mL}\n"},
		"a device without a blank":       {device + ", residual: 2mL}\n", `catalogue[0].residual is "2mL", which is no number with a unit`, "a blank", device + ", residual: 2 mL}\n"},
		"a device in cc":                 {device + ", residual: 2 cc}\n", `catalogue[0].residual is "2 cc"`, "UCUM", device + ", residual: 2 mL}\n"},
		"a device of six litres":         {strings.Replace(device, "100 mL, nominalRates", "6 L, nominalRates", 1) + "}\n", "catalogue[0].nominalVolume", "up to 5000 mL", device + "}\n"},
		"a device that does not flow":    {strings.Replace(device, "200 mL/h", "0 mL/h", 1) + "}\n", "catalogue[0].nominalRates[0]", "above 0", device + "}\n"},
		"a device filled backwards":      {device + ", fillLeast: 110 mL, fillMost: 50 mL}\n", "catalogue[0].fillMost is below fillLeast", "not empty", device + ", fillLeast: 50 mL, fillMost: 110 mL}\n"},
		"a device of no class":           {strings.Replace(device, "elastomeric", "balloon", 1) + "}\n", `catalogue[0].class is "balloon"`, "elastomeric", device + "}\n"},
		"drops of 100 a millilitre":      {device + ", dropFactor: 100}\n", "catalogue[0].dropFactor is 100", "10 to 60", device + ", dropFactor: 60}\n"},
		"heparin of 1,000 in a port":     {port + "solution: heparin, strength: \"1000 [USP'U]/mL\"}\n", "lock.protocols[0].strength", "up to 100", port + "solution: heparin, strength: \"100 [USP'U]/mL\"}\n"},
		"heparin without a strength":     {port + "solution: heparin}\n", "lock.protocols[0].strength is missing", "such as 5", port + "solution: sodium chloride 0.9 %}\n"},
		"a newborn locked with 100":      {strings.Replace(port, "adult", "neonate", 1) + "solution: heparin, strength: \"100 [USP'U]/mL\"}\n", "for newborns too", "below 100", strings.Replace(port, "adult", "neonate", 1) + "solution: heparin, strength: \"10 [USP'U]/mL\"}\n"},
		"everybody locked with 100":      {strings.Replace(port, "adult", "all", 1) + "solution: heparin, strength: \"100 [USP'U]/mL\"}\n", "for newborns too", "below 100", strings.Replace(port, "adult", "child", 1) + "solution: heparin, strength: \"100 [USP'U]/mL\"}\n"},
		"citrate of 30 %":                {port + "solution: citrate, strength: 30 %}\n", `lock.protocols[0].strength is "30 %"`, "has killed", port + "solution: citrate, strength: 4 %}\n"},
		"a lock of 50 mL":                {strings.Replace(port, "5 mL", "50 mL", 1) + "solution: saline}\n", `lock.protocols[0].volume is "50 mL"`, "up to 20 mL", port + "solution: saline}\n"},
		"an assessment by nobody":        {"hazard:\n  assessments:\n    - {drug: fluconazole, closedTransfer: \"no\", reason: r, role: pharmacist, on: 2026-09-01}\n", "hazard.assessments[0].by is missing", "who", "hazard:\n  assessments:\n    - {drug: fluconazole, closedTransfer: \"no\", reason: r, role: pharmacist, by: J. Example, on: 2026-09-01}\n"},
		"an assessment of nothing":       {"hazard:\n  assessments:\n    - {drug: fluconazole, reason: r, role: pharmacist, by: J. Example, on: 2026-09-01}\n", "closedTransfer is missing, and so is listed", "decided", "hazard:\n  assessments:\n    - {drug: thiamine, listed: \"no\", edition: e, reason: r, role: pharmacist, by: J. Example, on: 2026-09-01}\n"},
		"an assessment on no day":        {"hazard:\n  assessments:\n    - {drug: fluconazole, closedTransfer: \"no\", reason: r, role: pharmacist, by: J. Example, on: 2026-02-30}\n", `site.yaml:3:94: hazard.assessments[0].on has "2026-02-30"`, "calendar", "hazard:\n  assessments:\n    - {drug: fluconazole, closedTransfer: \"no\", reason: r, role: pharmacist, by: J. Example, on: 2026-02-28}\n"},
		"an override without a unit":     {"overrides:\n  - {fact: vancomycin-010, value: \"12\"" + by + "}\n", "site.yaml:2:28: overrides[0].value is \"12\"", "a blank", "overrides:\n  - {fact: vancomycin-010, value: 12 mg/min" + by + "}\n"},
		"an override in mcg":             {"overrides:\n  - {fact: vancomycin-010, value: 12 mcg/min" + by + "}\n", "overrides[0].value is \"12 mcg/min\"", "UCUM", "overrides:\n  - {fact: vancomycin-010, value: 12000 ug/min" + by + "}\n"},
		"an override of nothing":         {"overrides:\n  - {fact: vancomycin-010" + by + "}\n", "overrides[0].value is missing", "low and high", "overrides:\n  - {fact: cefazolin-006, gates: false" + by + "}\n"},
		"an override by nobody":          {"overrides:\n  - {fact: vancomycin-010, value: 12 mg/min, source: s, reason: r, on: 2026-09-01}\n", "overrides[0].by is missing", "who", "overrides:\n  - {fact: vancomycin-010, value: 12 mg/min" + by + "}\n"},
		"a fact overruled twice":         {"overrides:\n  - {fact: vancomycin-010, value: 12 mg/min" + by + "}\n  - {fact: vancomycin-010, value: 9 mg/min" + by + "}\n", "site.yaml:3:6: overrides[1].fact", "once", "overrides:\n  - {fact: vancomycin-010, value: 12 mg/min" + by + "}\n  - {fact: vancomycin-014, value: 6 mg/mL" + by + "}\n"},
		"a range upside down":            {formula + "limit: 9 d, concentration: {low: 20 mg/mL, high: 10 mg/mL}}\n", "concentration.high is below low", "a range", formula + "limit: 9 d, concentration: {low: 10 mg/mL, high: 20 mg/mL}}\n"},
		"a formula of 181 days":          {formula + "limit: 181 d, concentration: {value: 20 mg/mL}}\n", `stability[0].limit is "181 d"`, "up to 180 d", formula + "limit: 180 d, concentration: {value: 20 mg/mL}}\n"},
		"a formula without a strength":   {formula + "limit: 9 d}\n", "stability[0].concentration.value is missing", "a number", formula + "limit: 9 d, concentration: {value: 20 mg/mL}}\n"},
		"a formula for no known storage": {strings.Replace(formula, "refrigerated", "cellar", 1) + "limit: 9 d, concentration: {value: 20 mg/mL}}\n", `stability[0].storage is "cellar"`, "refrigerated", strings.Replace(formula, "refrigerated", "worn", 1) + "limit: 3 d, concentration: {value: 20 mg/mL}}\n"},
	} {
		t.Run(says, func(t *testing.T) {
			_, err := policy.Read("site.yaml", []byte(c.bad))
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.at)
			assert.Contains(t, err.Error(), c.need)
			assert.True(t, strings.HasPrefix(err.Error(), "site.yaml:"), err.Error())
			_, err = policy.Read("site.yaml", []byte(c.good))
			assert.NoError(t, err, "the other side of the boundary")
		})
	}
}

func TestAllFaultsOfAFileAreListedInItsOrder(t *testing.T) {
	file := "gates:\n  rate-diluent: note\nhome:\n  zone: Nowhere/Nothing\ndelivery:\n  holidays: [2026-11-26, 2026-02-30]\n  longestDays: 90\ndose:\n  arithmeticWarn: 0.07\n"
	_, err := policy.Read("site.yaml", []byte(file))
	var faults policy.Faults
	require.ErrorAs(t, err, &faults)
	var keys []string
	for _, f := range faults {
		keys = append(keys, f.Key)
	}
	assert.Equal(t, []string{"gates.rate-diluent", "home.zone", "delivery.holidays[1]", "delivery.longestDays", "dose.arithmeticWarn"}, keys)
	assert.Equal(t, 5, strings.Count(err.Error(), "site.yaml:"))
}

// A rule that a site lowered, raised or left alone.
func TestTheGateOfARuleIsTheSitesOwnWhereItHasOne(t *testing.T) {
	p := load(t, "gates:", "  rate-diluent: hold", "  device-conditions: hold")
	assert.Equal(t, finding.Hold, p.Gate("rate-diluent", finding.Block))
	assert.Equal(t, finding.Hold, p.Gate("device-conditions", finding.Note))
	assert.Equal(t, finding.Hold, p.Gate("dose-renal", finding.Hold))
}

// What USP <800> leaves to a site's assessment of risk, and what not: Table 2,
// and Table 1 without antineoplastics, may be relaxed; an antineoplastic of
// Table 1 that is infused never. Twelve months, then it only tightens.
func TestAnAssessmentOfRiskTightensAlwaysAndRelaxesWhatItMay(t *testing.T) {
	listing := func(listed, table, antineoplastic, closed string) compendium.Listing {
		return compendium.Listing{Listed: listed, Table: table, Antineoplastic: antineoplastic, ClosedTransfer: closed, Edition: "NIOSH 2024"}
	}
	day := func(s string) time.Time { at, _ := time.Parse(time.DateOnly, s); return at }
	for _, c := range []struct {
		says, entry  string
		l            compendium.Listing
		now          string
		listed, want string
		note         string
	}{
		{"Table 2 relaxed", `closedTransfer: "no"`, listing("yes", "2", "no", "by-policy"), "2026-11-25", "yes", "no", "relaxed by"},
		{"Table 2 antineoplastic relaxed", `closedTransfer: "no"`, listing("yes", "2", "yes", "by-policy"), "2026-11-25", "yes", "no", "relaxed by"},
		{"Table 1, no antineoplastic, relaxed", `closedTransfer: "no"`, listing("yes", "1", "no", "by-policy"), "2026-11-25", "yes", "no", "relaxed by"},
		{"Table 1 antineoplastic stays", `closedTransfer: "no"`, listing("yes", "1", "yes", "required"), "2026-11-25", "yes", "required", "may not relax"},
		{"and not half relaxed either", `closedTransfer: by-policy`, listing("yes", "1", "yes", "required"), "2026-11-25", "yes", "required", "may not relax"},
		{"a disputed table stays", `closedTransfer: "no"`, listing("yes", "unknown", "no", "by-policy"), "2026-11-25", "yes", "by-policy", "may not relax"},
		{"tightened", `closedTransfer: required`, listing("yes", "2", "no", "by-policy"), "2026-11-25", "yes", "required", "closed transfer by"},
		{"tightened after it lapsed", `closedTransfer: required`, listing("yes", "2", "no", "by-policy"), "2028-01-01", "yes", "required", "closed transfer by"},
		{"a drug not listed, handled as hazardous here", `closedTransfer: required`, listing("no", "", "no", "no"), "2026-11-25", "no", "required", "closed transfer by"},
		{"the last day of the year", `closedTransfer: "no"`, listing("yes", "2", "no", "by-policy"), "2027-08-31", "yes", "no", "relaxed by"},
		{"lapsed after 12 months", `closedTransfer: "no"`, listing("yes", "2", "no", "by-policy"), "2027-09-01", "yes", "by-policy", "lapsed"},
		{"before it was made", `closedTransfer: "no"`, listing("yes", "2", "no", "by-policy"), "2026-08-31", "yes", "by-policy", "relaxes nothing"},
		{"an unassessed drug, looked for", `listed: "no", edition: site list 4`, listing("unassessed", "", "unknown", "unassessed"), "2026-11-25", "no", "no", "not listed"},
		{"an unassessed drug, lapsed", `listed: "no", edition: site list 4`, listing("unassessed", "", "unknown", "unassessed"), "2027-09-01", "unassessed", "unassessed", "lapsed"},
		{"an unassessed drug, listed here", `listed: "yes", edition: site list 4, closedTransfer: required`, listing("unassessed", "", "unknown", "unassessed"), "2026-11-25", "yes", "required", "listed by"},
		{"an unassessed drug is not made safe by its closed transfer", `closedTransfer: "no"`, listing("unassessed", "", "unknown", "unassessed"), "2026-11-25", "unassessed", "unassessed", ""},
	} {
		p := load(t, "hazard:", "  assessments:", "    - {drug: alpha, reason: r, role: pharmacist, by: J. Example, on: 2026-09-01, "+c.entry+"}")
		got := p.Assess("alpha", c.l, day(c.now))
		assert.Equal(t, [2]string{c.listed, c.want}, [2]string{got.Listed, got.ClosedTransfer}, c.says)
		assert.Contains(t, got.Says, c.note, c.says)
		assert.Equal(t, c.l, p.Assess("beta", c.l, day(c.now)), "another drug is not touched")
	}
}

func TestASitesNumbersReachTheTablesAndAFaultItsLine(t *testing.T) {
	p := load(t, "overrides:", "  - {fact: vancomycin-010, value: 8 mg/min"+by+"}")
	own, err := p.Overrule(compendium.Embedded())
	require.NoError(t, err)
	d, _ := own.Find(compendium.Named("", "vancomycin"))
	f, _ := d.Fact("vancomycin-010")
	assert.Equal(t, "8", f.Value.Band.Value.String())
	assert.Equal(t, "site protocol 7", f.Source)
	bad, err := policy.Read("site.yaml", []byte("# words\noverrides:\n  - {fact: vancomycin-010, value: 8 mg/min"+by+"}\n  - {fact: vancomycin-099, value: 8 mg/min"+by+"}\n  - {fact: vancomycin-014, value: 5 mg"+by+"}\n"))
	require.NoError(t, err)
	_, err = bad.Overrule(compendium.Embedded())
	require.Error(t, err)
	assert.Contains(t, err.Error(), `site.yaml:4:5: overrides[1].fact no fact has the id "vancomycin-099"`)
	assert.Contains(t, err.Error(), "site.yaml:5:5: overrides[2].value the unit mg is of another kind than mg/mL")
	same, err := policy.Default().Overrule(compendium.Embedded())
	require.NoError(t, err)
	assert.Same(t, compendium.Embedded(), same)
}

func TestAFormulaDatesItsOwnPreparationOnly(t *testing.T) {
	p := load(t, strings.TrimSuffix(formula+"limit: 9 d, concentration: {low: 10 mg/mL, high: 25 mg/mL}}", "\n"))
	keeping := compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "refrigerated", Concentration: quantity.Point(quantity.Int(20), quantity.MustUnit("mg/mL"))}
	have := p.Formula("cefazolin", keeping)
	require.NotNil(t, have)
	assert.Equal(t, "216", have.Hours.Decimal())
	assert.Equal(t, compendium.ByFormula, have.Layer)
	assert.Nil(t, p.Formula("ceftriaxone", keeping))
	other := keeping
	other.Concentration = quantity.Point(quantity.Int(26), quantity.MustUnit("mg/mL"))
	assert.Nil(t, p.Formula("cefazolin", other), "another strength")
	other = keeping
	other.Storage = "room"
	assert.Nil(t, p.Formula("cefazolin", other), "another storage")
	other = keeping
	other.Concentration = quantity.Quantity{}
	assert.Nil(t, p.Formula("cefazolin", other), "no strength")
}

func TestBodyFluidHoursAreThoseOfTheDrug(t *testing.T) {
	p := load(t, "hazard:", "  bodyFluidHoursByDrug: {fluorouracil: 72}")
	assert.Equal(t, 72*time.Hour, p.BodyFluid("fluorouracil"))
	assert.Equal(t, 48*time.Hour, p.BodyFluid("ganciclovir"))
}

func TestTheInventedPharmacyIsAccepted(t *testing.T) {
	file, err := os.ReadFile("../../testdata/orders/policy-lanternlight.yaml")
	require.NoError(t, err)
	p, err := policy.Read("policy-lanternlight.yaml", file)
	require.NoError(t, err)
	_, err = p.Overrule(compendium.Embedded())
	require.NoError(t, err)
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(device + "}\n"))
	f.Add([]byte("overrides:\n  - {fact: vancomycin-010, value: 12 mg/min" + by + "}\n"))
	f.Add([]byte(port + "solution: heparin}\n"))
	f.Add([]byte("gates:\n  rate-diluent: note\n"))
	f.Add([]byte("a: &x [*x]\n"))
	f.Add([]byte("---\n...\n---\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := policy.Read("site.yaml", data)
		if err == nil {
			if _, err := p.Overrule(compendium.Embedded()); err != nil {
				assert.Contains(t, err.Error(), "site.yaml:")
			}
			return
		}
		var faults policy.Faults
		require.ErrorAs(t, err, &faults)
		for _, x := range faults {
			assert.True(t, x.Line >= 1 && x.Column >= 1, "%+v", x)
		}
	})
}
