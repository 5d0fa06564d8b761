package compendium_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
)

func TestEveryKindOfAccessIsFoundByItsWord(t *testing.T) {
	for _, a := range compendium.AccessDevices() {
		got, ok := compendium.AccessOf(a.Kind)
		require.True(t, ok, a.Kind)
		assert.Equal(t, a, got)
	}
	// the words by which an order names a line
	central := map[string]compendium.Answer{"central": compendium.Yes, "picc": compendium.Yes, "midline": compendium.No, "tunnelled": compendium.Yes,
		"peripheral": compendium.No, "port": compendium.Yes, "non-tunnelled": compendium.Yes, "subcutaneous": compendium.No, "dialysis": compendium.Yes}
	for kind, want := range central {
		a, ok := compendium.AccessOf(kind)
		require.True(t, ok, kind)
		assert.Equal(t, want, a.Central(), kind)
	}
	for _, kind := range []string{"", "PICC", "umbilical"} {
		_, ok := compendium.AccessOf(kind)
		assert.False(t, ok, kind)
	}
	assert.Equal(t, compendium.Unknown, compendium.Access{}.Central())
}

// Lock volumes: Nurs Res Pract 2015, 985686, table 4.
func TestPublishedLockVolumes(t *testing.T) {
	for kind, want := range map[string]string{"peripheral": "1", "midline": "1.5", "picc": "1.5", "non-tunnelled": "1.5", "tunnelled-small": "1.5", "tunnelled-large": "2.5", "port": "2.5"} {
		a, _ := compendium.AccessOf(kind)
		f, ok := a.Values.One("lockVolume", "")
		require.True(t, ok, kind)
		assert.Equal(t, want+" mL sourced", f.Value+" "+f.Unit+" "+f.Standing, kind)
	}
}

// A midline past 14 days holds: the guidance is for the choice (Ann Intern
// Med 2015;163(6 Suppl):S1). 600 mosm/L is the nursing standard, 900 the
// nutrition society's; both are shown.
func TestGuidanceOnDwellAndOsmolarity(t *testing.T) {
	midline, _ := compendium.AccessOf("midline")
	dwell, ok := midline.Values.One("dwell", "adult")
	require.True(t, ok)
	assert.Equal(t, "14 d hold", dwell.High+" "+dwell.Unit+" "+dwell.Gate)
	for _, kind := range []string{"peripheral", "midline"} {
		a, _ := compendium.AccessOf(kind)
		var got []string
		for _, f := range a.Values.All("osmolarityMax") {
			got = append(got, f.High+" "+f.By)
			assert.Empty(t, f.Gate, "the policy picks")
		}
		assert.Equal(t, []string{"600 nursing standard", "900 nutrition society"}, got, kind)
	}
	port, _ := compendium.AccessOf("port")
	assert.Empty(t, port.Values.All("osmolarityMax"))
	child, ok := port.Values.One("flushVolume", "pediatric")
	require.True(t, ok)
	assert.Equal(t, "3 to 5", child.Low+" to "+child.High)
	_, ok = port.Values.One("flushVolume", "")
	assert.False(t, ok, "an unknown age is no adult")
}

func TestLockLimits(t *testing.T) {
	for _, x := range []struct{ solution, line, population, strength, unit, want string }{
		{"heparin", "picc", "adult", "100", "[USP'U]/mL", "none"},
		{"heparin", "picc", "adult", "100.1", "[USP'U]/mL", "block"},
		{"heparin", "picc", "adult", "10000", "[iU]/mL", "block"},
		{"heparin", "picc", "adult", "1000", "U/mL", "block"},
		{"heparin", "", "", "5000", "[USP'U]/mL", "block"},
		{"heparin", "picc", "pediatric", "10", "[USP'U]/mL", "none"},
		{"heparin", "picc", "pediatric", "100", "[USP'U]/mL", "hold"},
		{"heparin", "picc", "neonate", "10", "[USP'U]/mL", "none"},
		{"heparin", "picc", "neonate", "50", "[USP'U]/mL", "hold"},
		{"heparin", "picc", "neonate", "100", "[USP'U]/mL", "block"},
		{"heparin", "dialysis", "adult", "100", "[USP'U]/mL", "none"},
		{"heparin", "dialysis", "adult", "1000", "[USP'U]/mL", "hold"},
		{"heparin", "dialysis", "adult", "5000", "[USP'U]/mL", "block"},
		{"heparin", "dialysis", "neonate", "1000", "[USP'U]/mL", "block"},
		{"citrate", "port", "adult", "4", "%", "none"},
		{"citrate", "port", "adult", "4.1", "%", "hold"},
		{"citrate", "dialysis", "adult", "30", "%", "block"},
		{"citrate", "dialysis", "adult", "46.7", "%", "block"},
		{"heparin", "picc", "adult", "100", "[USP'U]/kg/d", "none"},
		{"heparin", "picc", "pediatric", "101", "[iU]/kg/d", "hold"},
		{"heparin", "picc", "adult", "100", "mg/mL", "unknown"},
		{"ethanol", "picc", "adult", "70", "%", "unknown"},
	} {
		l, reached, known := compendium.Lock(x.solution, x.line, x.population, of(x.strength, x.unit))
		got := "unknown"
		switch {
		case known && reached:
			got = l.Gate
		case known:
			got = "none"
		}
		assert.Equal(t, x.want, got, "%+v", x)
	}
}

// MMWR 2002;51(RR-10), appendix B: lipid set 24 hours, nutrition with lipid 24
// hours and lipid alone 12 hours from hanging.
func TestChangeCycles(t *testing.T) {
	for _, x := range compendium.Changes() {
		got, ok := compendium.ChangeOf(x.Item)
		require.True(t, ok, x.Item)
		assert.Equal(t, x, got)
	}
	for item, want := range map[string]string{"set-lipid": "24", "hang-nutrition-lipid": "24", "hang-lipid": "12"} {
		x, _ := compendium.ChangeOf(item)
		every, ok := x.Values.One("every", "adult")
		require.True(t, ok, item)
		assert.Equal(t, want+" h sourced", every.Value+" "+every.Unit+" "+every.Standing, item)
	}
	_, ok := compendium.ChangeOf("pump")
	assert.False(t, ok)
}

func TestFaultyTablesOfAccessAreRefused(t *testing.T) {
	good := string(compendium.AccessFile())
	_, locks, changes, err := compendium.ParseAccess([]byte(good))
	require.NoError(t, err)
	assert.Equal(t, compendium.LockLimits(), locks)
	assert.Equal(t, compendium.Changes(), changes)
	for says, x := range map[string][2]string{
		"a kind twice":          {`"kind": "midline"`, `"kind": "picc"`},
		"no name":               {`"name": "midline catheter"`, `"name": ""`},
		"a limit without gate":  {`"gate": "block", "says": "stronger than`, `"gate": "", "says": "stronger than`},
		"a limit of two kinds":  {`"above": "4"`, `"above": "4", "from": "4"`},
		"a limit of no number":  {`"above": "4"`, `"above": "four"`},
		"a limit of no unit":    {`"above": "4", "unit": "%"`, `"above": "4", "unit": ""`},
		"a limit twice":         {`"population": "neonate", "from": "100"`, `"population": "pediatric", "above": "10"`},
		"another line":          {`"line": "dialysis", "above": "100"`, `"line": "fistula", "above": "100"`},
		"another population":    {`"population": "neonate"`, `"population": "newborn"`},
		"a change twice":        {`"item": "dressing-gauze"`, `"item": "dressing-transparent"`},
		"an unknown key":        {`"item": "dressing-gauze"`, `"item": "dressing-gauze", "often": "yes"`},
		"no value":              {`"item": "hang-lipid", "name": "hang time of lipid emulsion alone", "values": [{"name": "every"`, `"item": "hang-lipid", "name": "hang time of lipid emulsion alone", "values": [{"name": ""`},
		"no locks":              {`"locks": [`, `"locks": [], "lock": [`},
		"a lock without source": {`"source": "FDA Talk Paper T00-16, 14 April 2000: 4 % solutions are the alternative"`, `"source": ""`},
	} {
		require.Contains(t, good, x[0], says)
		_, _, _, err := compendium.ParseAccess([]byte(strings.Replace(good, x[0], x[1], 1)))
		assert.Error(t, err, says)
	}
}
