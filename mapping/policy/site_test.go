package policy_test

import (
	"bytes"
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
		{"an unassessed drug, closed transfer asked for", `closedTransfer: required`, listing("unassessed", "", "unknown", "unassessed"), "2026-11-25", "unassessed", "required", "closed transfer by"},
		{"the same after it lapsed", `closedTransfer: required`, listing("unassessed", "", "unknown", "unassessed"), "2028-01-01", "unassessed", "required", "closed transfer by"},
		{"an unassessed drug is not made safe by its closed transfer", `closedTransfer: "no"`, listing("unassessed", "", "unknown", "unassessed"), "2026-11-25", "unassessed", "unassessed", ""},
	} {
		p := load(t, "hazard:", "  assessments:", "    - {drug: alpha, reason: r, role: pharmacist, by: J. Example, on: 2026-09-01, "+c.entry+"}")
		got := p.Assess("alpha", c.l, day(c.now))
		assert.Equal(t, [2]string{c.listed, c.want}, [2]string{got.Listed, got.ClosedTransfer}, c.says)
		assert.Contains(t, got.Says, c.note, c.says)
		assert.Equal(t, c.l, p.Assess("beta", c.l, day(c.now)), "another drug is not touched")
	}
}

// What a site wrote of handling is not dropped: it stands beside the listing
// from the day of the assessment on, also after it lapsed.
func TestTheHandlingOfAnAssessmentIsSaid(t *testing.T) {
	p := load(t, "hazard:", "  assessments:", "    - {drug: alpha, closedTransfer: \"no\", handling: vials only, reason: r, role: pharmacist, by: J. Example, on: 2026-09-01}")
	l := compendium.Listing{Listed: "yes", Table: "2", ClosedTransfer: "by-policy"}
	for now, want := range map[string]bool{"2026-08-31T12:00:00Z": false, "2026-09-01T12:00:00Z": true, "2027-10-01T12:00:00Z": true} {
		assert.Equal(t, want, strings.HasSuffix(p.Assess("alpha", l, clock(t, now)).Says, "; handled here: vials only"), now)
	}
}

// An assessment holds from its day, by the calendar of the place that asks,
// and is reviewed after 12 months; one of 29 February by 1 March.
func TestAnAssessmentHoldsForTwelveMonths(t *testing.T) {
	p := load(t, "hazard:", "  assessments:", "    - {drug: alpha, closedTransfer: required, reason: r, role: pharmacist, by: J. Example, on: 2026-09-01}",
		"    - {drug: gamma, closedTransfer: required, reason: r, role: pharmacist, by: J. Example, on: 2028-02-29}")
	for _, c := range []struct {
		drug, now string
		want      policy.Validity
	}{
		{"alpha", "2026-08-31T23:59:59-05:00", policy.Future}, {"alpha", "2026-09-01T00:00:00-05:00", policy.Current}, {"alpha", "2026-09-01T00:00:00+13:00", policy.Current},
		{"alpha", "2027-08-31T23:59:59-05:00", policy.Current}, {"alpha", "2027-09-01T00:00:00-05:00", policy.Expired}, {"alpha", "2090-01-01T00:00:00Z", policy.Expired},
		{"gamma", "2029-02-28T23:59:59Z", policy.Current}, {"gamma", "2029-03-01T00:00:00Z", policy.Expired},
		{"beta", "2026-11-25T00:00:00Z", policy.NoAssessment}, {"", "2026-11-25T00:00:00Z", policy.NoAssessment},
	} {
		now, err := time.Parse(time.RFC3339, c.now)
		require.NoError(t, err)
		a, have := p.Assessment(c.drug, now)
		assert.Equal(t, c.want, have, "%s at %s", c.drug, c.now)
		assert.Equal(t, have == policy.NoAssessment, a.Drug == "")
	}
}

func TestRelaxFollowsWhatIsLeftToAnAssessment(t *testing.T) {
	listing := func(listed, table, antineoplastic, closed string) compendium.Listing {
		return compendium.Listing{Listed: listed, Table: table, Antineoplastic: antineoplastic, ClosedTransfer: closed}
	}
	for _, c := range []struct {
		says string
		l    compendium.Listing
		a    policy.Assessment
		want bool
		why  string
	}{
		{"tightening", listing("yes", "1", "yes", "by-policy"), policy.Assessment{ClosedTransfer: "required"}, true, "no less"},
		{"the same", listing("yes", "1", "yes", "required"), policy.Assessment{ClosedTransfer: "required"}, true, "no less"},
		{"nothing on closed transfer", listing("yes", "1", "yes", "required"), policy.Assessment{Handling: "gloves"}, true, "no less"},
		{"Table 2", listing("yes", "2", "yes", "by-policy"), policy.Assessment{ClosedTransfer: "no"}, true, "Table 2"},
		{"Table 1, no antineoplastic", listing("yes", "1", "no", "by-policy"), policy.Assessment{ClosedTransfer: "no"}, true, "no antineoplastic"},
		{"Table 1, unknown whether", listing("yes", "1", "unknown", "required"), policy.Assessment{ClosedTransfer: "no"}, false, "Table 1"},
		{"Table 1, antineoplastic", listing("yes", "1", "yes", "required"), policy.Assessment{ClosedTransfer: "by-policy"}, false, "infused"},
		{"an unknown table", listing("yes", "unknown", "no", "by-policy"), policy.Assessment{ClosedTransfer: "no"}, false, "not known"},
		{"unassessed, not listed", listing("unassessed", "", "unknown", "unassessed"), policy.Assessment{Listed: "no", Edition: "site list 4", By: "J. Example"}, true, "site list 4"},
		{"unassessed, in no edition", listing("unassessed", "", "unknown", "unassessed"), policy.Assessment{Listed: "no", By: "J. Example"}, false, "edition"},
		{"unassessed, by nobody", listing("unassessed", "", "unknown", "unassessed"), policy.Assessment{Listed: "no", Edition: "site list 4"}, false, "whom"},
		{"unassessed, only closed transfer", listing("unassessed", "", "unknown", "unassessed"), policy.Assessment{ClosedTransfer: "no"}, false, "not listed"},
		{"unassessed, by policy", listing("unassessed", "", "unknown", "unassessed"), policy.Assessment{ClosedTransfer: "by-policy"}, false, "not listed"},
		{"unassessed, tightened", listing("unassessed", "", "unknown", "unassessed"), policy.Assessment{ClosedTransfer: "required"}, true, "more"},
	} {
		allowed, why := policy.Relax(c.l, c.a)
		assert.Equal(t, c.want, allowed, c.says)
		assert.Contains(t, why, c.why, c.says)
	}
}

func TestOneStrengthMayStandAlone(t *testing.T) {
	alone := load(t, formula+"limit: 9 d, concentration: 20 mg/mL}")
	below := load(t, formula+"limit: 9 d, concentration: {value: 20 mg/mL}}")
	assert.Equal(t, below.Stability, alone.Stability)
	assert.Equal(t, policy.Amount("20 mg/mL"), alone.Stability[0].Concentration.Value)
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
	assert.Contains(t, err.Error(), `site.yaml:4:6: overrides[1].fact: no fact has the id "vancomycin-099"`)
	assert.Contains(t, err.Error(), "site.yaml:5:28: overrides[2].value: the unit mg is of another kind than mg/mL")
	same, err := policy.Default().Overrule(compendium.Embedded())
	require.NoError(t, err)
	assert.Same(t, compendium.Embedded(), same)
}

func TestAFormulaDatesItsOwnPreparationOnly(t *testing.T) {
	p := load(t, strings.TrimSuffix(formula+"limit: 9 d, temperature: 5 Cel, concentration: {low: 10 mg/mL, high: 25 mg/mL}}", "\n"))
	keeping := compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "refrigerated", Concentration: quantity.Point(quantity.Int(20), quantity.MustUnit("mg/mL"))}
	day := time.Date(2026, 9, 1, 0, 0, 0, 0, time.FixedZone("", -5*3600))
	assert.Nil(t, p.Formula("cefazolin", keeping, day.Add(-time.Second)), "the day before it was signed")
	have := p.Formula("cefazolin", keeping, day)
	require.NotNil(t, have)
	assert.Equal(t, "216", have.Hours.Decimal())
	assert.Equal(t, compendium.ByFormula, have.Layer)
	assert.Equal(t, compendium.Band{Value: "5", Unit: "Cel"}, *have.Temperature)
	assert.Nil(t, p.Formula("ceftriaxone", keeping, day))
	other := keeping
	other.Concentration = quantity.Point(quantity.Int(26), quantity.MustUnit("mg/mL"))
	assert.Nil(t, p.Formula("cefazolin", other, day), "another strength")
	other = keeping
	other.Storage = "room"
	assert.Nil(t, p.Formula("cefazolin", other, day), "another storage")
	other = keeping
	other.Concentration = quantity.Quantity{}
	assert.Nil(t, p.Formula("cefazolin", other, day), "no strength")
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
	for _, c := range refusals(f) {
		f.Add([]byte(c.Bad))
		f.Add([]byte(c.Good))
	}
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
			assert.True(t, x.Line >= 1 && x.Column >= 1 && x.File == "site.yaml" && x.Problem != "" && x.Expected != "", "%+v", x)
			assert.LessOrEqual(t, x.Line, 1+bytes.Count(data, []byte("\n"))+bytes.Count(data, []byte("\r"))+bytes.Count(data, []byte("\u0085"))+bytes.Count(data, []byte("\u2028"))+bytes.Count(data, []byte("\u2029")))
		}
	})
}
