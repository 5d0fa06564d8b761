package main

import (
	"encoding/json"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/notation"
)

func TestComputeEndsAsTheContractSays(t *testing.T) {
	for _, x := range []struct {
		name string
		args []string
		code int
	}{
		{"numbers that agree", []string{"volume=100mL", "duration=30min", "rate=200mL/h"}, 0},
		{"numbers that cannot all be true", []string{"volume=100mL", "duration=30min", "rate=20mL/h"}, 1},
		{"the same, never failing", []string{"volume=100mL", "duration=30min", "rate=20mL/h", "--fail-on", "never"}, 0},
		{"an infusion longer than its interval", []string{"duration=20h", "interval=8h"}, 1},
		{"one as long as its interval", []string{"duration=8h", "interval=8h"}, 0},
		{"nothing given", nil, 2},
		{"an unknown NAME", []string{"speed=3mL/h"}, 2},
		{"no unit", []string{"rate=125"}, 2},
		{"a unit that is not UCUM", []string{"rate=5mcg/min"}, 2},
		{"a unit of another quantity", []string{"rate=10mg/h"}, 2},
		{"zero", []string{"dose=0mg"}, 2},
		{"below zero", []string{"dose=-5mg"}, 2},
		{"an unknown equation", []string{"rate=5mL/h", "--equation", "E99"}, 2},
		{"an unknown output", []string{"rate=5mL/h", "--output", "fhir"}, 2},
		{"two measures without a molar mass", []string{"dose=15meq", "vialStrength=2mg/mL"}, 2},
		{"a step beside another rate", []string{"rate=50mL/h", "step=5mL/h"}, 1},
		{"a step beside the same rate", []string{"rate=5mL/h", "step=5mL/h"}, 0},
		{"a step beside another rate per kg", []string{"ratePerKg=1mL/kg/h", "step=2mL/kg/h"}, 2},
		{"two weights", []string{"weight=154kg", "weight=70kg", "dosePerKg=15mg/kg", "dose=2310mg"}, 2},
		{"both sexes", []string{"sex=male", "sex=female", "age=60a"}, 2},
		{"a dose in percent", []string{"dose=15%", "volume=100mL"}, 2},
		{"equivalents against moles", []string{"dose=40meq", "dose=40mmol"}, 2},
		{"a count in mg per kg", []string{"doseCount=15mg/kg"}, 2},
		{"a tolerance above the whole", []string{"tolerance=15", "fill=240mL"}, 2},
		{"a filtration rate for a surface that is not read", []string{"glomerularFiltrationRate=90mL/min/{BSA}", "targetAUC=5mg.min/mL"}, 2},
		{"more steps than are read", append(slices.Repeat([]string{"step=10mL/h@1min"}, 51), "volume=20mL"), 2},
		{"a zone that is none", []string{"zone=Nowhere", "rate=5mL/h"}, 2},
		{"a list of NAMEs", []string{"--list"}, 0},
		{"a list for programs", []string{"--list", "--output", "json"}, 0},
	} {
		t.Run(x.name, func(t *testing.T) {
			r := weir(t, "", append([]string{"compute"}, x.args...)...)
			assert.Equal(t, x.code, r.code, r.out+r.err)
			if x.code == 2 {
				assert.Empty(t, r.out, "data and refusals do not mix")
				assert.NotEmpty(t, r.err)
			}
		})
	}
}

// The example of the help text: the slip that killed is named.
func TestTheConcentrationTypedAsTheRateIsNamedAtNight(t *testing.T) {
	r := weir(t, "", "compute", "dose=4390mg", "volume=92mL", "duration=46h", "rate=47.7mL/h")
	assert.Equal(t, 1, r.code)
	assert.Contains(t, r.out, "47.7 is the concentration")
	assert.Contains(t, r.out, "is the rate 2 mL per hour meant?")
}

// The order in which somebody says things is no part of what is said.
func TestTheOrderOfArgumentsNeverMatters(t *testing.T) {
	args := []string{"dose=1250mg", "volume=250mL", "duration=90min", "rate=16.7mL/h", "interval=12h", "weight=71kg", "height=172cm", "sex=female", "age=61a", "serumCreatinine=88umol/L"}
	want := weir(t, "", append([]string{"compute", "--output", "json"}, args...)...)
	require.Equal(t, 1, want.code)
	r := rand.New(rand.NewPCG(1, 2))
	for range 10 {
		r.Shuffle(len(args), func(i, j int) { args[i], args[j] = args[j], args[i] })
		assert.Equal(t, want.out, weir(t, "", append([]string{"compute", "--output", "json"}, args...)...).out)
	}
}

// What a person reads obeys the rules for error-prone abbreviations.
func TestTheTableIsWrittenForPeople(t *testing.T) {
	for _, args := range [][]string{
		{"dose=4390mg", "volume=92mL", "duration=46h", "rate=47.7mL/h"},
		{"drugRatePerKg=0.5ug/kg/min", "weight=60kg", "concentration=500ug/mL"},
		{"dose=7500[USP'U]", "concentration=10000[USP'U]/mL"},
		{"sex=female", "age=45a", "weight=60kg", "height=160cm", "serumCreatinine=0.9mg/dL"},
		{"basal=1mg/h", "demand=0.5mg", "lockout=15min", "window=24h", "concentration=1mg/mL"},
		{"volume=280mL", "weight=70kg", "step=0.01mL/kg/min@30min", "step=0.04mL/kg/min"},
	} {
		out := weir(t, "", append([]string{"compute"}, args...)...).out
		before, _, _ := strings.Cut(out, "ONE MORE NUMBER") // NAMEs to type follow
		for _, line := range strings.Split(before, "\n") {
			if strings.Contains(line, " by ") || strings.Contains(line, "source") || strings.Contains(line, "where") {
				continue // titles of papers and the NAME that was typed
			}
			assert.Empty(t, notation.Scan(line), "%q", line)
		}
	}
}

func TestTheListHoldsEveryEquationWithItsSource(t *testing.T) {
	var list struct {
		Names     []struct{ Code, Unit, Means string }
		Equations []struct{ Code, Means, Needs, Holds, Source string }
	}
	require.NoError(t, json.Unmarshal([]byte(weir(t, "", "compute", "--list", "--output", "json").out), &list))
	assert.Greater(t, len(list.Names), 100)
	assert.Greater(t, len(list.Equations), 60)
	for _, e := range list.Equations {
		assert.NotEmpty(t, e.Source, e.Code)
		assert.NotEmpty(t, e.Holds, e.Code)
	}
	for _, name := range strings.Fields("age sex weight height serumCreatinine dropFactor dropRate vialStrength vialCount targetAUC glomerularFiltrationRate " +
		"lockout demand basal window step additive diluent tolerance particles molarMass valence aminoAcids dextrose lipid cycle rampUp rampDown start zone emittedFraction roundTo") {
		assert.Contains(t, weir(t, "", "compute", "--list").out, name)
	}
}

// A fixed-flow reservoir ends in a window: 240 mL at 5 mL per hour ± 15 %
// (ISO 28620:2020, 5.1) from 41.7 to 56.5 hours after its start, elapsed,
// though the clocks go forward in between.
func TestAReservoirEndsInAWindow(t *testing.T) {
	r := weir(t, "", "compute", "--output", "json", "fill=240mL", "nominalRate=5mL/h", "tolerance=15%", "start=2026-03-07T14:00:00-05:00", "zone=America/New_York")
	var answer struct {
		Quantities map[string]struct{ Value string }
	}
	require.NoError(t, json.Unmarshal([]byte(r.out), &answer))
	assert.Equal(t, "2026-03-09T15:00:00-04:00", answer.Quantities["endsAt"].Value)
	assert.Equal(t, "2026-03-09T08:44:20-04:00", answer.Quantities["endsEarliest"].Value)
	assert.Equal(t, "2026-03-09T23:28:14-04:00", answer.Quantities["endsLatest"].Value)
}

// Nothing that agrees is no agreement.
func TestSilenceIsNoPass(t *testing.T) {
	for _, args := range [][]string{{"dose=5mg"}, {"fill=270mL", "nominalRate=5mL/h", "rate=50mL/h"}, {"targetAUC=5mg.min/mL", "creatinineClearance=90mL/min", "dose=5750mg"}} {
		r := weir(t, "", append([]string{"compute"}, args...)...)
		assert.Contains(t, r.out, "Nothing was compared", args)
		for _, a := range args {
			name, _, _ := strings.Cut(a, "=")
			assert.Contains(t, strings.Join(strings.Fields(r.out[strings.Index(r.out, "NOT CHECKED"):]), " "), notation.Name(name))
		}
	}
}

// Counted things stay things, and equivalents meet mass through the molar
// mass: potassium chloride 74.55 g/mol, 40 meq are 2,982 mg.
func TestMeasuresAreNeverMixed(t *testing.T) {
	r := weir(t, "", "compute", "dose=100{unit}", "volume=10mL")
	assert.Contains(t, r.out, "10 unit")
	assert.NotContains(t, r.out, "mg per mL")
	assert.Equal(t, 0, weir(t, "", "compute", "dose=40meq", "dose=2982mg", "molarMass=74.55g/mol", "valence=1", "volume=1000mL").code)
	assert.Equal(t, 1, weir(t, "", "compute", "dose=400meq", "dose=2982mg", "molarMass=74.55g/mol", "valence=1", "volume=1000mL").code)
}
