package compendium_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

// What follows are corrections by which a reviewing pharmacist and an
// infusion nurse took the danger out of single facts: a number that is true
// of one regimen and would stop, or worse pass, another. The published
// source is named where there is one; the rest is common practice, no source.

func drug(t testing.TB, name string) compendium.Drug {
	t.Helper()
	d, why := compendium.Embedded().Find(compendium.Named("", name))
	require.Empty(t, why, name)
	return d
}

func factOf(t testing.TB, id string) compendium.Fact {
	t.Helper()
	for _, d := range compendium.Embedded().Drugs {
		if f, ok := d.Fact(id); ok {
			return f
		}
	}
	require.Fail(t, "no such fact", id)
	return compendium.Fact{}
}

func about(dose, doseUnit, interval string) compendium.Circumstance {
	c := compendium.Circumstance{Quantities: map[string]quantity.Quantity{}}
	if dose != "" {
		c.Quantities["dose"] = quantity.Point(quantity.MustNumber(dose), quantity.MustUnit(doseUnit))
	}
	if interval != "" {
		c.Quantities["interval"] = quantity.Point(quantity.MustNumber(interval), quantity.MustUnit("h"))
	}
	return c
}

func holds(t testing.TB, id string, c compendium.Circumstance) compendium.Answer {
	answer, _ := factOf(t, id).Holds(c)
	return answer
}

func TestNumbersOfOneRegimenNeverGateByThemselves(t *testing.T) {
	for id, why := range map[string]string{
		"fluorouracil-005":       "800 mg a day belongs to the old bolus schedule: 46 h of 4,390 mg give 2,290 mg in 24 h",
		"fluorouracil-009":       "24 h would end before the 46 h it is meant for",
		"fluorouracil-017":       "21 d: 14 d is the limit to use",
		"fluorouracil-018":       "21 d worn: 72 h is the limit to use",
		"foscarnet-005":          "120 mg/kg/d is maintenance; induction gives 180",
		"gentamicin-002":         "5 mg/kg/d is conventional dosing; extended-interval gives 7 at once",
		"tobramycin-002":         "the same",
		"morphine-004":           "an opioid has no ceiling",
		"morphine-006":           "nor a floor",
		"morphine-007":           "nor a usual day",
		"hydromorphone-001":      "the same",
		"hydromorphone-002":      "the same",
		"hydromorphone-005":      "the same",
		"milrinone-002":          "0.125 to 0.25 micrograms/kg/min are usual in palliative use",
		"ganciclovir-012":        "closed transfer is policy, not the label",
		"ganciclovir-013":        "24 h is microbiological; 14 d stands in the text, 185 d were studied (PMID 28975863)",
		"ertapenem-007":          "a note: 28 d in diabetic foot infection",
		"nafcillin-016":          "must not drive hazard-vesicant-access",
		"potassium-chloride-003": "40 mEq an hour is never selectable at home",
		"potassium-chloride-004": "nor 400 mEq a day",
		"potassium-chloride-006": "premixes as made, no limit",
		"parenteral-nutrition-dextrose-amino-acids-lipid-006": "24 h basis; the plateau gates",
	} {
		f := factOf(t, id)
		assert.False(t, f.Gates, "%s: %s", id, why)
		assert.NotEmpty(t, f.Review, id)
	}
	for _, d := range compendium.Embedded().Drugs {
		for _, f := range d.Facts {
			if f.Topic == "concentration_recommended" || f.Topic == "infusion_duration" {
				assert.False(t, f.Gates, "%s: what is recommended is no limit", f.ID)
			}
			if d.Is("opioid") && strings.HasPrefix(f.Topic, "max_") {
				assert.False(t, f.Gates, "%s: an opioid has no ceiling", f.ID)
			}
			if d.Is("immune-globulin") && (strings.HasPrefix(f.Topic, "infusion_rate") || f.Topic == "usual_dose") && f.Gates {
				assert.Contains(t, []string{"immune-globulin-intravenous-human-017", "immune-globulin-intravenous-human-018", "immune-globulin-intravenous-human-019"}, f.ID,
					"only the limit of the named product gates")
			}
		}
	}
}

// Stability of fluorouracil: globalauthorid.com abstract and Cancer Chemother
// Pharmacol 2000;46:501. A worn reservoir lasts 72 h, longer than its 46 h
// run; kept before, 14 d.
func TestFluorouracilOutlastsItsOwnRun(t *testing.T) {
	d := drug(t, "fluorouracil")
	k := compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Concentration: quantity.Point(quantity.MustNumber("47.7"), quantity.MustUnit("mg/mL"))}
	for storage, hours := range map[string]string{"worn": "72", "refrigerated": "336", "room": "336"} {
		k.Storage = storage
		_, data := d.Stability(k)
		require.NotNil(t, data, storage)
		assert.Equal(t, hours, data.Hours.Decimal(), storage)
	}
	assert.True(t, d.GenotypeTest, "an enzyme-gene test before the start: safety labelling of 2026-02-05 as reported; the label itself was not read")
	_, found := d.Fact("fluorouracil-021")
	assert.True(t, found)
}

// Foscarnet label, table 13 (medlibrary.org): induction, maintenance and the
// herpes columns are tables of their own.
func TestFoscarnetHasACeilingForEachRegimen(t *testing.T) {
	assert.Equal(t, compendium.Yes, holds(t, "foscarnet-018", about("", "", "12")))
	assert.Equal(t, compendium.Yes, holds(t, "foscarnet-018", about("", "", "8")))
	assert.Equal(t, compendium.No, holds(t, "foscarnet-018", about("", "", "24")))
	assert.Equal(t, compendium.Yes, holds(t, "foscarnet-019", about("", "", "24")))
	assert.Equal(t, compendium.Unknown, holds(t, "foscarnet-019", about("", "", "12")), "herpes is given every 8 to 12 h")
	assert.Equal(t, compendium.Unknown, holds(t, "foscarnet-019", about("", "", "")), "without an interval nobody can tell")
	for _, herpes := range []string{"Herpes simplex encephalitis", "HSV-2 infection, acyclovir-resistant", "Herpes zoster", "Disseminated zoster", "Herpesviral vesicular dermatitis"} {
		c := about("", "", "8")
		c.Indications = []string{herpes}
		assert.Equal(t, compendium.No, holds(t, "foscarnet-018", c), herpes)
		assert.Equal(t, compendium.Yes, holds(t, "foscarnet-019", c), herpes)
		assert.Equal(t, compendium.No, holds(t, "foscarnet-010", c), herpes)
		assert.Equal(t, compendium.Unknown, holds(t, "foscarnet-021", c), "%s: every 8 or every 12 h with normal kidneys", herpes)
	}
	for _, other := range []string{"Cytomegalovirus retinitis", "Human herpesvirus 5 colitis"} {
		c := about("", "", "12")
		c.Indications = []string{other}
		assert.Equal(t, compendium.Yes, holds(t, "foscarnet-018", c), other)
		assert.Equal(t, compendium.No, holds(t, "foscarnet-019", c), other)
		assert.Equal(t, compendium.No, holds(t, "foscarnet-020", c), other)
	}
	assert.Equal(t, "180", factOf(t, "foscarnet-018").Value.Band.Value.String())
	assert.Equal(t, "120", factOf(t, "foscarnet-019").Value.Band.Value.String())
	for _, id := range []string{"foscarnet-020", "foscarnet-021"} {
		f := factOf(t, id)
		assert.Contains(t, f.Condition, "herpes")
		assert.Equal(t, compendium.PerWeight, f.Value.Clearance.Per)
	}
}

// Extended-interval aminoglycosides: idmp.ucsf.edu gentamicin page: 7 mg/kg
// every 24 h from 60 mL/min, every 36 h at 40 to 59, every 48 h above 20.
func TestExtendedIntervalBandsHoldForExtendedIntervalsOnly(t *testing.T) {
	for _, id := range []string{"gentamicin-016", "tobramycin-015"} {
		f := factOf(t, id)
		assert.Equal(t, compendium.Yes, holds(t, id, about("", "", "24")), id)
		assert.Equal(t, compendium.Yes, holds(t, id, about("", "", "48")), id)
		assert.Equal(t, compendium.No, holds(t, id, about("", "", "8")), id)
		require.Len(t, f.Value.Bands, 3)
		for i, want := range []struct{ low, every string }{{"60", "24"}, {"40", "36"}, {"20.01", "48"}} {
			assert.Equal(t, want.low, f.Value.Bands[i].Crcl.Low.String())
			assert.Equal(t, want.every, f.Value.Bands[i].Interval.Value.String())
			assert.Equal(t, "7", f.Value.Bands[i].Dose.Value.String())
		}
	}
	for _, f := range drug(t, "amikacin").Facts {
		assert.NotEqual(t, "renal_dose_adjustment", f.Topic, "amikacin has no entry: not checked, never not applicable")
	}
}

// Iron sucrose, label times by dose: 200 mg in 15 min, 300 mg in 1.5 h,
// 400 mg in 2.5 h, 500 mg in 3.5 h.
func TestIronTimesHoldForTheirOwnDose(t *testing.T) {
	ids := map[string]string{"iron-sucrose-006": "200", "iron-sucrose-007": "300", "iron-sucrose-008": "400", "iron-sucrose-009": "500"}
	for id, own := range ids {
		for _, dose := range ids {
			c := about(dose, "mg", "")
			c.Method = "infusion"
			want := map[bool]compendium.Answer{true: compendium.Yes, false: compendium.No}[dose == own]
			assert.Equal(t, want, holds(t, id, c), "%s for %s mg", id, dose)
		}
	}
	push := about("200", "mg", "")
	push.Method = "push"
	assert.Equal(t, compendium.Yes, holds(t, "iron-sucrose-005", push))
	assert.Equal(t, compendium.No, holds(t, "iron-sucrose-006", push))
	push.Method = ""
	assert.Equal(t, compendium.Unknown, holds(t, "iron-sucrose-006", push), "a method is never guessed")
}

func TestInotropesGateAtTheirTopAndNotBelow(t *testing.T) {
	assert.Equal(t, "40", factOf(t, "dobutamine-004").Value.Band.Value.String())
	assert.Equal(t, "20", factOf(t, "dobutamine-014").Value.Band.Value.String())
	assert.Contains(t, factOf(t, "dobutamine-014").Condition, "hold")
	assert.Equal(t, "0.75", factOf(t, "milrinone-003").Value.Band.Value.String())
	assert.Equal(t, "0.125", factOf(t, "milrinone-013").Value.Low.String())
	assert.Equal(t, "fixed dosing weight", factOf(t, "milrinone-014").Value.Weight)
}

// Cefazolin: api.fda.gov label record set_id 18e7366a, and the direct
// injection of 3 to 5 min (medlibrary.org label reprint).
func TestCefazolinKeepsADayWarmAndTenDaysColdOnceDiluted(t *testing.T) {
	d := drug(t, "cefazolin")
	for storage, hours := range map[string]string{"room": "24", "refrigerated": "240"} {
		label, _ := d.Stability(compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "NS", Storage: storage, Concentration: quantity.Point(quantity.Int(20), quantity.MustUnit("mg/mL"))})
		require.NotNil(t, label, storage)
		assert.Equal(t, hours, label.Hours.Decimal(), storage)
		assert.Equal(t, compendium.Sourced, label.Standing)
	}
	push := compendium.Circumstance{Method: "push"}
	assert.Equal(t, compendium.Yes, holds(t, "cefazolin-022", push))
	assert.Equal(t, "3", factOf(t, "cefazolin-022").Value.Band.Value.String())
}

func TestClearancesAreReadOnTheBasisOfTheirTable(t *testing.T) {
	basis := map[string]string{}
	for _, d := range compendium.Embedded().Drugs {
		for _, f := range d.Facts {
			if f.Topic != "renal_dose_adjustment" || len(f.Value.Bands) == 0 {
				continue
			}
			require.NotNil(t, f.Value.Clearance, "%s says nothing of its basis", f.ID)
			unit := map[string]string{compendium.PerMinute: "mL/min", compendium.PerSurface: "mL/min/{1.73_m2}", compendium.PerWeight: "mL/min/kg"}[f.Value.Clearance.Per]
			for _, b := range f.Value.Bands {
				assert.Equal(t, unit, b.Crcl.Unit, f.ID)
			}
			basis[d.Name] = f.Value.Clearance.Per
		}
	}
	for _, name := range []string{"ertapenem", "acyclovir", "milrinone", "aztreonam"} {
		assert.Equal(t, compendium.PerSurface, basis[name], name)
	}
	assert.Equal(t, compendium.PerWeight, basis["foscarnet"])
	assert.Equal(t, "ideal, actual if lower", factOf(t, "telavancin-002").Value.Clearance.Weight)
}

func TestWhatWasMissingIsThere(t *testing.T) {
	extended := false
	for _, f := range drug(t, "piperacillin-tazobactam").About("usual_dose", "adult") {
		v := f.Value
		extended = extended || v.Dose != nil && v.InfusionDuration != nil && v.Dose.Value == "3.375" && v.Interval.Value == "8" && v.InfusionDuration.Value == "4"
	}
	assert.True(t, extended, "3.375 g every 8 h over 4 h")
	long := factOf(t, "penicillin-g-potassium-018")
	assert.Equal(t, "24", long.Value.InfusionDuration.Value.String(), "the 24-hour infusion")
	potassium := factOf(t, "penicillin-g-potassium-006").Value.Other["potassium"]
	per := factOf(t, "penicillin-g-potassium-006").Value.Other["per"]
	one, each := quantity.MustNumber(potassium.Value.String()), quantity.MustNumber(per.Value.String())
	assert.Equal(t, "40", one.Quo(each).Mul(quantity.Int(24)).Places(0), "24 million units bring about 40 mEq of potassium")
	for _, id := range []string{"nafcillin-019", "ampicillin-011"} {
		f := factOf(t, id)
		assert.True(t, f.Gates, id)
		assert.Equal(t, "12", f.Value.Band.Value.String(), id)
		assert.Equal(t, compendium.Memory, f.Standing, id)
	}
	globulin := drug(t, "immune globulin intravenous (human)")
	for _, id := range []string{"017", "018", "019"} { // drugs.com immune globulin dosage
		_, ok := globulin.Fact("immune-globulin-intravenous-human-" + id)
		assert.True(t, ok, id)
	}
	ratio := factOf(t, "hydromorphone-010").Value.Other["ratio"]
	assert.Equal(t, [2]string{"5", "7"}, [2]string{ratio.Low.String(), ratio.High.String()}, "a swap of two opioids is seen by this ratio")
}

func TestPotassiumAndNutritionGateWhereTheyShould(t *testing.T) {
	home := factOf(t, "potassium-chloride-001")
	assert.True(t, home.Gates)
	assert.Equal(t, "10", home.Value.Band.Value.String())
	peripheral := compendium.Circumstance{Site: "peripheral"}
	assert.Equal(t, compendium.Yes, holds(t, "potassium-chloride-007", peripheral))
	assert.Equal(t, compendium.No, holds(t, "potassium-chloride-007", compendium.Circumstance{Site: "central"}))
	_, never := drug(t, "potassium chloride").Flagged(compendium.NeverGravity)
	assert.True(t, never, "by gravity: hold")
	plateau := factOf(t, "parenteral-nutrition-dextrose-amino-acids-lipid-005")
	assert.True(t, plateau.Gates)
	assert.Equal(t, [2]string{"5", "7"}, [2]string{plateau.Value.Low.String(), plateau.Value.High.String()}, "above 5 warn, above 7 mg/kg/min hold")
}

func TestLinesOfDrugsThatSalineHarmsAreFlushedWithDextrose(t *testing.T) {
	for _, name := range []string{"amphotericin b liposomal", "dalbavancin"} {
		d := drug(t, name)
		_, never := d.Flagged(compendium.NeverSaline)
		assert.True(t, never, name)
		flush := d.About("flush_fluid", "all")
		require.Len(t, flush, 1, name)
		assert.Equal(t, []string{"D5W"}, flush[0].Value.List, name)
	}
}

// Vancomycin label: 5 mg/mL; 10 mg/mL in selected patients only. Between the
// two it holds, above both it blocks, and neither waits for a word on the
// patient.
func TestVancomycinHasTwoConcentrationsAndOneIsForSelectedPatients(t *testing.T) {
	routine, selected := factOf(t, "vancomycin-014"), factOf(t, "vancomycin-015")
	for _, f := range []compendium.Fact{routine, selected} {
		answer, _ := f.Holds(compendium.Circumstance{})
		assert.Equal(t, compendium.Yes, answer, f.ID)
		assert.True(t, f.Gates, f.ID)
		assert.Equal(t, compendium.Sourced, f.Standing, f.ID)
	}
	assert.Equal(t, [2]string{"5", "hold"}, [2]string{routine.Value.Band.Value.String(), routine.Gate})
	assert.Equal(t, [2]string{"10", ""}, [2]string{selected.Value.Band.Value.String(), selected.Gate})
}

// A minimum time holds for its method: a push is no infusion, and a drug
// without data for a push has none.
func TestTimesOfAPushAreNotThoseOfAnInfusion(t *testing.T) {
	for _, c := range []struct {
		name, method string
		want         bool
	}{{"cefazolin", "push", true}, {"cefazolin", "infusion", false}, {"daptomycin", "push", false}, {"vancomycin", "push", true}, {"furosemide", "push", true}, {"furosemide", "infusion", false}} {
		any := false
		for _, f := range drug(t, c.name).About("infusion_duration_min", "adult") {
			answer, _ := f.Holds(compendium.Circumstance{Method: c.method, Quantities: map[string]quantity.Quantity{"dose": quantity.Point(quantity.Int(40), quantity.MustUnit("mg"))}})
			any = any || f.Gates && answer == compendium.Yes
		}
		assert.Equal(t, c.want, any, "%s by %s", c.name, c.method)
	}
}

// Companions: cidofovir and foscarnet hold without theirs, acyclovir and
// liposomal amphotericin warn (label texts named by the facts).
func TestCompanionsHoldOrWarnAsTheTableSays(t *testing.T) {
	for name, gate := range map[string]string{"cidofovir": "hold", "foscarnet": "hold", "acyclovir": "warn", "amphotericin b liposomal": "warn"} {
		list := drug(t, name).Companions
		require.NotEmpty(t, list, name)
		for _, c := range list {
			assert.Equal(t, gate, c.Gate, "%s needs %s", name, c.Need)
		}
	}
	assert.Equal(t, []string{"probenecid"}, drug(t, "cidofovir").Companions[0].Names)
}

// Nothing is flushed through a line that holds an inotrope, a prostacyclin,
// an opioid or blinatumomab (label for blinatumomab; else practice).
func TestNothingIsFlushedBehindAnInfusionThatMayNotSurge(t *testing.T) {
	for _, d := range compendium.Embedded().Drugs {
		_, flagged := d.Flagged(compendium.NoBolus)
		assert.Equal(t, d.Is("inotrope") || d.Is("prostacyclin") || d.Is("opioid") || d.Name == "blinatumomab", flagged, d.Name)
	}
}
