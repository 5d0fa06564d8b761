package equation_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/quantity"
)

// limits are pairs on the two sides of a limit: the first inputs hold, the
// second do not and the message names what is needed.
var limits = []struct{ code, holds, not, says string }{
	{"E10", "sex=female height=60[in_i]", "sex=female height=59.99[in_i]", "60 inches"},
	{"E10", "sex=female height=152.4cm", "sex=female height=152.3cm", "152.4 cm"},
	{"E10", "sex=male height=170cm age=18a", "sex=male height=170cm age=17.99a", "adults"},
	{"E10", "sex=male height=170cm", "sex=other height=170cm", "male or female"},
	{"E11", "idealBodyWeight=73kg weight=73.1kg", "idealBodyWeight=73kg weight=73kg", "above the idealBodyWeight"},
	{"E11", "idealBodyWeight=73kg weight=90kg adjustmentFactor=1", "idealBodyWeight=73kg weight=90kg adjustmentFactor=1.1", "at most 1"},
	{"E12", "height=1cm weight=1kg", "height=0cm weight=1kg", "height must be above 0"},
	{"E13", "height=1cm weight=0.1kg", "height=1cm weight=0kg", "weight must be above 0"},
	{"E14", "height=1cm weight=0.1kg", "height=-1cm weight=1kg", "height must not be below 0"},
	{"E16", "sex=male age=18a weight=80kg serumCreatinine=1mg/dL", "sex=male age=17a weight=80kg serumCreatinine=1mg/dL", "18 years"},
	{"E16", "sex=male age=130a weight=80kg serumCreatinine=1mg/dL", "sex=male age=131a weight=80kg serumCreatinine=1mg/dL", "at most 130 years"},
	{"E16", "sex=female age=40a weight=80kg serumCreatinine=1mg/dL", "sex=unknown age=40a weight=80kg serumCreatinine=1mg/dL", "male or female"},
	{"E16-ideal", "sex=male age=18a idealBodyWeight=70kg serumCreatinine=1mg/dL", "sex=male age=17a idealBodyWeight=70kg serumCreatinine=1mg/dL", "18 years"},
	{"E16-adjusted", "sex=male age=18a adjustedBodyWeight=70kg serumCreatinine=1mg/dL", "sex=male age=18a adjustedBodyWeight=70kg serumCreatinine=0mg/dL", "serumCreatinine must be above 0"},
	{"E17", "sex=female age=18a serumCreatinine=1mg/dL", "sex=female age=17.9a serumCreatinine=1mg/dL", "18 years"},
	{"E17", "sex=female age=130a serumCreatinine=1mg/dL", "sex=female age=130.1a serumCreatinine=1mg/dL", "130 years"},
	{"E17", "sex=female age=50a serumCreatinine=1mg/dL", "sex=f age=50a serumCreatinine=1mg/dL", "male or female"},
	{"E17-older", "sex=female age=18a serumCreatinine=1mg/dL", "sex=female age=17.9a serumCreatinine=1mg/dL", "18 years"},
	{"E18", "height=100cm serumCreatinine=0.5mg/dL age=1a", "height=100cm serumCreatinine=0.5mg/dL age=0.99a", "from 1 year"},
	{"E18", "height=100cm serumCreatinine=0.5mg/dL", "height=100cm serumCreatinine=0.5mg/dL age=18a", "below 18 years"},
	{"E18-child", "height=100cm serumCreatinine=0.5mg/dL age=1a", "height=100cm serumCreatinine=0.5mg/dL age=0.99a", "from 1 year"},
	{"E18-child", "height=160cm serumCreatinine=0.5mg/dL age=17.99a", "height=160cm serumCreatinine=0.5mg/dL age=18a", "below 18 years"},
	{"E18-child", "height=160cm serumCreatinine=0.5mg/dL age=10a", "height=160cm serumCreatinine=0.5mg/dL", "give age"},
	{"E25", "dextrose=100g lipid=20g lipidEnergy=9kcal/g", "dextrose=100g lipid=20g", "9 and 10 kcal/g are both published"},
	{"E25", "dextrose=100g lipid=0g", "dextrose=100g lipidVolume=100mL", "give lipidEnergyPerVolume"},
	{"E25", "dextrose=100g lipidVolume=100mL lipidEnergyPerVolume=2kcal/mL", "dextrose=100g lipidVolume=100mL lipidEnergy=9kcal/g", "20 and 30 % emulsion"},
	{"E25", "dextrose=100g aminoAcids=50g aminoAcidConcentration=5g/dL", "dextrose=100g aminoAcidConcentration=5g/dL", "give aminoAcids"},
	{"E25", "dextrose=100g lipidConcentration=0g/dL", "dextrose=100g lipidConcentration=2g/dL", "give lipid, or volume"},
	{"E26", "volume=1L cycle=2h rampUp=1h rampDown=1h", "volume=1L cycle=1.9h rampUp=1h rampDown=1h", "at least as long"},
	{"E27", "volume=1L cycle=4.1h", "volume=1L cycle=4h", "longer than 4 h"},
	{"E27-taper", "volume=1L cycle=4.1h", "volume=1L cycle=4h", "longer than 4 h"},
	{"E28", "strongerConcentration=10g/dL weakerConcentration=5g/dL targetConcentration=10g/dL volume=1L", "strongerConcentration=10g/dL weakerConcentration=5g/dL targetConcentration=10.1g/dL volume=1L", "between"},
	{"E28-weaker", "strongerConcentration=10g/dL weakerConcentration=5g/dL targetConcentration=5g/dL volume=1L", "strongerConcentration=10g/dL weakerConcentration=5g/dL targetConcentration=4.9g/dL volume=1L", "between"},
	{"E28", "strongerConcentration=10g/dL weakerConcentration=9.9g/dL targetConcentration=10g/dL volume=1L", "strongerConcentration=10g/dL weakerConcentration=10g/dL targetConcentration=10g/dL volume=1L", "above the weakerConcentration"},
	{"E28-add", "concentration=8g/dL volume=1L targetConcentration=8g/dL", "concentration=7.9g/dL volume=1L targetConcentration=8g/dL", "only weakens"},
	{"E29", "additive=1mL vialStrength=1mg/mL diluent=0mL", "additive=0mL vialStrength=1mg/mL diluent=0mL", "additive must be above 0"},
	{"E30", "demand=1mg lockout=6min window=1h basal=0mg/h", "demand=1mg lockout=0min window=1h", "lockout must be above 0"},
	{"E32", "volume=100mL step=100mL/h@1h", "volume=101mL step=100mL/h@1h", "1 mL left: give a last step without a time"},
	{"E32", "volume=200mL step=100mL/h@1h step=50mL/h", "volume=200mL step=100mL/h step=50mL/h", "a time for step 1"},
	{"E32", "volume=200mL step=100mL/h@1h step=50mL/h", "volume=200mL step=0mL/h@1h step=50mL/h", "above 0 in step 1"},
	{"E32", "volume=200mL step=100mL/h", "volume=200mL", "give step"},
	{"E34", "dose=5mg roundTo=10mg", "dose=4.9mg roundTo=10mg", "round to nothing"},
	{"E35", "fill=100mL nominalRate=2mL/h emittedFraction=100%", "fill=100mL nominalRate=2mL/h emittedFraction=100.1%", "at most 100 %"},
	{"E35-longest", "fill=100mL nominalRate=2mL/h tolerance=99%", "fill=100mL nominalRate=2mL/h tolerance=100%", "below 100 %"},
	{"E35-shortest", "fill=100mL nominalRate=2mL/h tolerance=0%", "fill=100mL nominalRate=0mL/h tolerance=0%", "nominalRate must be above 0"},
	{"E36", "volume=100mL withdrawalFraction=100%", "volume=100mL withdrawalFraction=101%", "at most 100 %"},
	{"E37", "volume=20mL residual=20mL", "volume=20mL residual=20.1mL", "at most the volume"},
	{"E37-open", "keepOpenRate=10mL/h dosesPerDay=3/d duration=8h", "keepOpenRate=10mL/h dosesPerDay=3/d duration=8.1h", "fit into a day"},
	{"E38-dates", "start=2026-01-05 end=2026-01-05", "start=2026-01-05 end=2026-01-04", "after the start"},
	{"E38-dates", "start=2026-01-05T08:00:00Z end=2026-01-05T08:00:01Z", "start=2026-01-05T08:00:00Z end=2026-01-05T08:00:00Z", "after the start"},
	{"E38-dates", "start=2026-01-05T08:00:00Z end=2026-01-06T08:00:00Z", "start=2026-01-05T08:00:00Z end=2026-01-06", "both as dates or both as instants"},
}

func TestBothSidesOfEveryLimit(t *testing.T) {
	for _, c := range limits {
		e := find(t, c.code)
		_, err := e.Solve(given(t, c.holds))
		assert.NoError(t, err, "%s holds for %s", c.code, c.holds)
		_, err = e.Solve(given(t, c.not))
		assert.ErrorIs(t, err, equation.ErrOutside, "%s does not hold for %s", c.code, c.not)
		assert.ErrorContains(t, err, c.says, c.code)
	}
}

func TestTheRateOfCalvertIsCappedAbove125(t *testing.T) {
	for _, rate := range []string{"125", "125.1", "180"} {
		assert.Equal(t, "750", worked(t, "E20", "targetAUC=5mg.min/mL absoluteFiltrationRate="+rate+"mL/min", "mg", 0), rate)
	}
	assert.Equal(t, "749.5", worked(t, "E20", "targetAUC=5mg.min/mL absoluteFiltrationRate=124.9mL/min", "mg", 1))
}

// At κ both powers are 1, so the two branches meet: 142 × 0.9938^age.
func TestTheBranchesOfTheKidneyEquationMeet(t *testing.T) {
	for _, c := range []struct{ sex, kappa, want string }{{"male", "0.9", "105.8"}, {"female", "0.7", "107.1"}} {
		at := worked(t, "E17", "sex="+c.sex+" age=47.28a serumCreatinine="+c.kappa+"mg/dL", "mL/min", 1)
		above := worked(t, "E17", "sex="+c.sex+" age=47.28a serumCreatinine="+c.kappa+"00001mg/dL", "mL/min", 1)
		below := worked(t, "E17", "sex="+c.sex+" age=47.28a serumCreatinine="+quantity.MustNumber(c.kappa).Sub(quantity.MustNumber("0.000001")).Decimal()+"mg/dL", "mL/min", 1)
		assert.Equal(t, at, above, c.sex)
		assert.Equal(t, at, below, c.sex)
		assert.Equal(t, c.want, at, c.sex)
	}
}

// A press is counted when its whole lockout lies in the window.
func TestPressesAreWholeLockouts(t *testing.T) {
	for window, want := range map[string]string{"59min": "9", "60min": "10", "65min": "10", "66min": "11"} {
		assert.Equal(t, want, worked(t, "E30", "demand=1mg lockout=6min window="+window, "mg", 0), window)
	}
}

func TestWhatIsCountedRoundsUpAndWhatLastsRoundsDown(t *testing.T) {
	for _, c := range []struct{ code, inputs, want, unit string }{
		{"E33", "dose=700.1mg vialContent=100mg", "8", "1"}, {"E33-billing", "dose=80mg billingUnit=10mg", "8", "1"}, {"E33-billing", "dose=80.1mg billingUnit=10mg", "9", "1"},
		{"E33-waste", "dose=700.1mg vialContent=100mg", "99.9", "mg"}, {"E34", "dose=2.49mg roundTo=1mg", "2", "mg"},
		{"E38", "dose=130mg vialContent=125mg dosesPerDay=2/d courseLength=7d", "28", "1"}, {"E38", "dose=125mg vialContent=125mg dosesPerDay=2/d courseLength=7.1d", "15", "1"},
		{"E38-supply", "supply=27.9mg dailyDose=1mg/d", "27", "d"}, {"E38-supply", "supply=28mg dailyDose=1mg/d", "28", "d"}, {"E38-supply", "supply=0.9mg dailyDose=1mg/d", "0", "d"},
		{"E38-units", "supplyUnits=63 dosesPerDay=4/d", "15", "d"}, {"E38-units", "supplyUnits=64 dosesPerDay=4/d", "16", "d"},
		{"E38-dates", "start=2026-02-27 end=2026-03-01", "3", "d"}, {"E38-dates", "start=2026-03-01T00:00:00Z end=2026-03-01T00:00:00.5Z", "0.5", "s"},
	} {
		assert.Equal(t, c.want, worked(t, c.code, c.inputs, c.unit, 3), "%s of %s", c.code, c.inputs)
	}
}

// The steps stop inside the one in which the container empties.
func TestASteppedInfusionEndsWhereTheVolumeDoes(t *testing.T) {
	const steps = " step=60mL/h@30min step=120mL/h@30min step=240mL/h"
	for volume, want := range map[string]string{"15mL": "15", "30mL": "30", "60mL": "45", "90mL": "60", "130mL": "70"} {
		assert.Equal(t, want, worked(t, "E32", "volume="+volume+steps, "min", 3), volume)
	}
	assert.Equal(t, "15", worked(t, "E32", "volume=15mL step=60mL/h@30min step=120mL/h@1h", "min", 3), "empty before its last step ends")
}

// Lipid in g and in mL of its emulsion is the same lipid.
func TestLipidIsCountedOnce(t *testing.T) {
	assert.Equal(t, "430", worked(t, "E25", "dextrose=100g lipid=10g lipidEnergy=9kcal/g lipidVolume=50mL lipidEnergyPerVolume=2kcal/mL", "kcal", 0))
	assert.Equal(t, "440", worked(t, "E25", "dextrose=100g lipid=10g lipidVolume=50mL lipidEnergyPerVolume=2kcal/mL", "kcal", 0))
	assert.Equal(t, "340", worked(t, "E25", "dextrose=100g lipid=0g lipidVolume=0mL", "kcal", 0), "without lipid its energy is not asked for")
	assert.Equal(t, "0", worked(t, "E25", "dextrose=0g aminoAcids=0g", "kcal", 0))
}
