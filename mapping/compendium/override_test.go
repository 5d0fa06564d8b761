package compendium_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
)

func number(value, unit string) *compendium.Band {
	return &compendium.Band{Value: json.Number(value), Unit: unit}
}

func TestASitesNumberStandsInPlaceOfTheTables(t *testing.T) {
	shipped := compendium.Embedded()
	before, _ := shipped.Find(compendium.Named("", "vancomycin"))
	own := compendium.Override{Fact: "vancomycin-010", Band: number("12", "mg/min"), Source: "site protocol 7", Reason: "observed patients", By: "J. Example, RPh", On: "2026-09-01"}
	after, faults := shipped.Overrule([]compendium.Override{own, {Fact: "cefazolin-006", Band: number("8", "g"), Source: "site protocol 8", By: "J. Example, RPh", On: "2026-09-01", Reason: "stricter"}})
	require.Empty(t, faults)
	d, _ := after.Find(compendium.Named("", "vancomycin"))
	f, ok := d.Fact("vancomycin-010")
	require.True(t, ok)
	assert.Equal(t, "12", f.Value.Band.Value.String())
	assert.Equal(t, compendium.LocalStanding, f.Standing)
	assert.Equal(t, "site protocol 7", f.Source)
	require.NotNil(t, f.Override)
	assert.Equal(t, "10", f.Override.Was.Value.String())
	assert.True(t, f.Override.Loosened, "between 10 and 12 mg/min the rule holds instead of passing")
	assert.Equal(t, "J. Example, RPh", f.Override.By)
	c, _ := after.Find(compendium.Named("", "cefazolin"))
	stricter, _ := c.Fact("cefazolin-006")
	assert.False(t, stricter.Override.Loosened)
	again, _ := shipped.Find(compendium.Named("", "vancomycin"))
	assert.Equal(t, before, again, "the shipped tables are as they were")
	assert.Equal(t, shipped.Hash, after.Hash, "the hash is that of the files: the site's own are in its policy")
}

func TestAnOverrideThatWouldHarmIsRefused(t *testing.T) {
	no, yes := false, true
	for says, c := range map[string]struct {
		o         compendium.Override
		key, need string
	}{
		"a fact that is not there":            {compendium.Override{Fact: "vancomycin-999", Band: number("1", "g")}, "fact", "vancomycin-999"},
		"a block that would never gate":       {compendium.Override{Fact: "vancomycin-010", Gates: &no}, "gates", "blocks"},
		"an incompatibility that never gates": {compendium.Override{Fact: "daptomycin-017", Gates: &no}, "gates", "blocks"},
		"a unit of another kind":              {compendium.Override{Fact: "vancomycin-010", Band: number("10", "mg")}, "value", "another kind than mg/min"},
		"no unit":                             {compendium.Override{Fact: "vancomycin-010", Band: number("10", "mcg/min")}, "value", "mcg"},
		"a slip of the decimal point":         {compendium.Override{Fact: "vancomycin-010", Band: number("100", "mg/min")}, "value", "5 times away"},
		"a slip the other way":                {compendium.Override{Fact: "vancomycin-010", Band: number("1", "mg/min")}, "value", "5 times away"},
		"an hour read as a minute":            {compendium.Override{Fact: "vancomycin-010", Band: number("10", "mg/h")}, "value", "5 times away"},
		"nothing":                             {compendium.Override{Fact: "vancomycin-010", Band: number("0", "mg/min")}, "value", "5 times away"},
		"a fact in words":                     {compendium.Override{Fact: "vancomycin-028", Band: number("1", "kg")}, "value", "no single number"},
	} {
		_, faults := compendium.Embedded().Overrule([]compendium.Override{{Fact: "cefazolin-006", Band: number("8", "g"), Source: "s"}, c.o})
		if assert.Len(t, faults, 1, says) {
			assert.Equal(t, 1, faults[0].Index, says)
			assert.Equal(t, c.key, faults[0].Key, says)
			assert.Contains(t, faults[0].Problem, c.need, says)
			assert.NotEmpty(t, faults[0].Expected, says)
		}
	}
	for says, o := range map[string]compendium.Override{
		"five times as much":                  {Fact: "vancomycin-010", Band: number("50", "mg/min"), Source: "s"},
		"a fifth":                             {Fact: "vancomycin-010", Band: number("2", "mg/min"), Source: "s"},
		"the same in another unit":            {Fact: "vancomycin-010", Band: number("600", "mg/h"), Source: "s"},
		"a fact that never gated, now gating": {Fact: "fluorouracil-005", Gates: &yes, Source: "s", Reason: "old schedule used here"},
		"a hold that the site does not ask":   {Fact: "cefazolin-006", Gates: &no, Source: "s", Reason: "reviewed"},
		"how long a dose is stable":           {Fact: "cefazolin-021", Band: number("7", "d"), Source: "s"},
	} {
		_, faults := compendium.Embedded().Overrule([]compendium.Override{o})
		assert.Empty(t, faults, says)
	}
}

// The second of two overrides would be held against the first: five times
// five is a slip that passes.
func TestAFactIsOverruledOnce(t *testing.T) {
	yes := true
	twice := []compendium.Override{
		{Fact: "vancomycin-010", Band: number("50", "mg/min"), Source: "s"}, {Fact: "cefazolin-006", Band: number("8", "g"), Source: "s"},
		{Fact: "vancomycin-010", Band: number("250", "mg/min"), Source: "s"},
	}
	after, faults := compendium.Embedded().Overrule(twice)
	require.Len(t, faults, 1)
	assert.Equal(t, 2, faults[0].Index)
	assert.Equal(t, "fact", faults[0].Key)
	assert.Contains(t, faults[0].Problem, "vancomycin-010")
	d, _ := after.Find(compendium.Named("", "vancomycin"))
	f, _ := d.Fact("vancomycin-010")
	assert.Equal(t, "50", f.Value.Band.Value.String())
	for _, o := range []compendium.Override{twice[0], {Fact: "vancomycin-010", Gates: &yes, Source: "s", Reason: "r"}, {Fact: "vancomycin-999"}} {
		_, faults := compendium.Embedded().Overrule([]compendium.Override{o, o})
		assert.NotEmpty(t, faults)
		assert.Equal(t, 1, faults[len(faults)-1].Index)
		assert.Contains(t, faults[len(faults)-1].Problem, "twice")
	}
}
