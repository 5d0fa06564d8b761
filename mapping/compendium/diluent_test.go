package compendium_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/compendium"
)

func TestACarrierFluidIsFoundInItsNameByWhatItIsMadeOf(t *testing.T) {
	for name, code := range map[string]string{
		"sodium chloride 0.9 %":                                          "NS",
		"sodium chloride 0.9% injection":                                 "NS",
		"0.9 % Sodium Chloride":                                          "NS",
		"sodium chloride 0.90 percent":                                   "NS",
		"sodium chloride 0.9 % (0.9 percent), 50 mL":                     "NS",
		"cefazolin 2 g in sodium chloride 0.9 % injection, 100 mL":       "NS",
		"sodium chloride 0.9 % 1,000 mL with potassium chloride 20 mmol": "NS",
		"dextrose 5 % injection":                                         "D5W",
		"Dextrose 5% in water":                                           "D5W",
		"dextrose 5 % in water, 100 mL":                                  "D5W", // the 10 of 100 is no strength
		"dextrose 5 % in sterile water":                                  "D5W",
		"dextrose 10 % in water, 500 mL":                                 "D10W", // nor the 5 of 500
		"dextrose 5 % in sodium chloride 0.9 %":                          "D5NS",
		"sodium chloride 0.9 % and dextrose 5 %":                         "D5NS",
		"dextrose 5 % in lactated Ringer's":                              "D5LR",
		"lactated Ringer's":                                              "LR",
		"Ringer's lactate solution":                                      "LR",
		"sterile water for injection":                                    "SWFI",
		// a strength that is missing, or another one, is not guessed
		"sodium chloride":                        "",
		"sodium chloride 0.45 %":                 "HNS",
		"sodium chloride 3 %":                    "",
		"sodium chloride 10.9 %":                 "",
		"sodium chloride 9 %":                    "",
		"sodium chloride .9 %":                   "",
		"sodium chloride 0,9 %":                  "",
		"dextrose":                               "",
		"dextrose 50 mL":                         "",
		"dextrose 15 % final, amino acids 90 g":  "",
		"dextrose 50 %":                          "",
		"dextrose 2.5 %":                         "",
		"dextrose 1,5 %":                         "",
		"dextrose 5 % in sodium chloride 0.45 %": "D5HNS",
		"dextrose 5 % in sodium chloride 0.2 %":  "",
		"dextrose in sodium chloride 0.9 %":      "",
		"dextrose 10 % in sodium chloride 0.9 %": "",
		"Ringer's injection":                     "RINGER",
		"acetated Ringer's":                      "",
		"water":                                  "",
		"bacteriostatic water":                   "",
		"potassium chloride 0.9 %":               "",
		"heparin 100 units/mL":                   "",
		"":                                       "",
	} {
		got, ok := compendium.Diluent(name)
		assert.Equal(t, code, got, name)
		assert.Equal(t, code != "", ok, name)
	}
}

func TestTheFullNameOfAFluidLeadsBackToItsCode(t *testing.T) {
	for _, code := range []string{"NS", "D5W", "D10W", "D5NS", "D5LR", "LR", "SWFI"} {
		name := compendium.DiluentName(code)
		assert.NotEqual(t, code, name)
		got, ok := compendium.Diluent(name)
		assert.True(t, ok, name)
		assert.Equal(t, code, got, name)
	}
	assert.Equal(t, "XX", compendium.DiluentName("XX"), "a code without a name is shown as it is")
}

// Every fluid that the facts name by code has a name for people.
func TestFluidsOfTheFactsHaveNames(t *testing.T) {
	for _, d := range compendium.Embedded().Drugs {
		for _, f := range d.Facts {
			for _, code := range f.Value.Diluent {
				assert.NotEqual(t, code, compendium.DiluentName(code), "%s names the fluid %s", f.ID, code)
			}
		}
	}
}

// Only 5, 10 and 0.9 are strengths that are known.
func TestNoOtherStrengthIsReadAsAKnownOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		strength := rapid.StringMatching(`(0|[1-9][0-9]{0,2})(\.[0-9]{0,2}[1-9])?`).Draw(t, "strength")
		code, ok := compendium.Diluent("dextrose " + strength + " % in water, " + rapid.SampledFrom([]string{"50", "100", "500", "1,000"}).Draw(t, "mL") + " mL")
		assert.Equal(t, map[string]string{"5": "D5W", "10": "D10W"}[strength], code)
		assert.Equal(t, code != "", ok)
	})
}
