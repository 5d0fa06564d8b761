package compendium_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
)

// The limits of USP <797> official 1 November 2023 as restated: Category 1
// and Category 2 without a passed test in Wis. Admin. Code Phar 15.37, the
// rest in study cards and a public source file only. Room, refrigerator,
// freezer; * marks a cell to look up before it gates.
func TestLimitsAsPublished(t *testing.T) {
	for _, x := range []struct {
		category, method string
		tested           bool
		components, want string
	}{
		{"immediate-use", "", false, "sterile", "4 h|4 h|-"},
		{"1", "", false, "", "12 h|24 h|-"},
		{"1", "aseptic", true, "nonsterile", "12 h|24 h|-"},
		{"2", "aseptic", false, "nonsterile", "1 d|4 d|45 d"},
		{"2", "aseptic", false, "sterile", "4 d|10 d|45 d"},
		{"2", "aseptic", true, "", "30 d|45 d*|60 d*"},
		{"2", "terminal", false, "", "14 d*|28 d*|45 d*"},
		{"2", "terminal", true, "", "45 d*|60 d*|90 d*"},
		{"3", "aseptic", true, "", "60 d*|90 d*|120 d*"},
		{"3", "terminal", true, "", "90 d*|120 d*|180 d*"},
		// not allowed for, or not known
		{"immediate-use", "", false, "nonsterile", "-|-|-"},
		{"immediate-use", "", false, "", "-|-|-"},
		{"2", "", false, "sterile", "-|-|-"},
		{"2", "aseptic", false, "", "-|-|-"},
		{"3", "aseptic", false, "sterile", "-|-|-"},
		{"", "aseptic", false, "sterile", "-|-|-"},
		{"4", "aseptic", true, "sterile", "-|-|-"},
		{"low-risk", "aseptic", false, "sterile", "-|-|-"}, // the chapter of 2008
		{"legacy-low-risk", "aseptic", false, "sterile", "-|-|-"},
	} {
		var got []string
		for _, storage := range []string{"room", "refrigerated", "frozen"} {
			f, ok := compendium.CategoryLimit(x.category, x.method, x.tested, x.components, storage)
			cell := f.Value + " " + f.Unit
			if f.Check {
				cell += "*"
			}
			if !ok {
				cell = "-"
			}
			got = append(got, cell)
			assert.Equal(t, f.Check, f.Standing == compendium.Corroborated, "what deserves a check is not called sourced")
		}
		assert.Equal(t, x.want, strings.Join(got, "|"), "%+v", x)
	}
	for _, storage := range []string{"", "worn", "total", "refrigerator", "legacy-low-risk"} {
		_, ok := compendium.CategoryLimit("2", "aseptic", false, "sterile", storage)
		assert.False(t, ok, storage)
	}
}

func TestEverySterilityRowAnswersItsOwnQuestion(t *testing.T) {
	for _, r := range compendium.SterilityLimits() {
		for _, want := range r.Values {
			got, ok := compendium.CategoryLimit(r.Category, r.Method, r.Tested == "yes", r.Components, want.Name)
			require.True(t, ok, r.Name)
			assert.Equal(t, want, got, r.Name)
			_, ok = got.Quantity()
			assert.True(t, ok)
		}
	}
}

func TestOpenedContainersAndStorages(t *testing.T) {
	for kind, want := range map[string]string{"single-dose-outside-iso-5": "0 h", "ampule": "0 h", "single-dose-in-iso-5": "12 h", "stock-solution": "12 h", "multiple-dose": "28 d", "pharmacy-bulk-package": "4 h"} {
		f, ok := compendium.InUse(kind)
		require.True(t, ok, kind)
		assert.Equal(t, want, f.Value+" "+f.Unit, kind)
		assert.True(t, f.Check, kind)
	}
	_, ok := compendium.InUse("vial")
	assert.False(t, ok)
	for storage, want := range map[string]string{"room": "20 25", "refrigerated": "2 8", "frozen": "-25 -10"} {
		f, ok := compendium.StorageTemperature(storage)
		require.True(t, ok, storage)
		assert.Equal(t, want, f.Low+" "+f.High, storage)
		_, ratio := f.Quantity()
		assert.False(t, ratio, "degrees Celsius are no ratio scale")
	}
	_, ok = compendium.StorageTemperature("worn")
	assert.False(t, ok)
}

func TestFaultyTablesOfSterilityAreRefused(t *testing.T) {
	good := string(compendium.SterilityFile())
	_, err := compendium.ParseSterility([]byte(good))
	require.NoError(t, err)
	for says, x := range map[string][2]string{
		"two answers":        {`"tested": "no", "components": "nonsterile"`, `"tested": "no", "components": "any"`},
		"another category":   {`"category": "1"`, `"category": "low"`},
		"another method":     {`"method": "terminal"`, `"method": "filtered"`},
		"another storage":    {`"name": "frozen"`, `"name": "freezer"`},
		"a container twice":  {`"kind": "ampule"`, `"kind": "multiple-dose"`},
		"no containers":      {`"containers": [`, `"containers": [], "container": [`},
		"a storage twice":    {`"kind": "frozen"`, `"kind": "room"`},
		"an unknown key":     {`"category": "1"`, `"category": "1", "note": "n"`},
		"an edition missing": {`"edition": "2026-11"`, `"edition": ""`},
		"no standing":        {`"standing": "sourced"`, `"standing": ""`},
		"a range of a limit": {`"value": "12", "unit": "h"`, `"low": "12", "unit": "h"`},
	} {
		require.Contains(t, good, x[0], says)
		_, err := compendium.ParseSterility([]byte(strings.Replace(good, x[0], x[1], 1)))
		assert.Error(t, err, says)
	}
}
