package conformance_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// changed judges a case with some elements changed.
func changed(t *testing.T, base, edits string) []worksheet.Worksheet {
	f, err := orders.Variant("changed", "why: test\nbase: "+base+"\n"+edits+"\nexpect verdict hold")
	require.NoError(t, err)
	j := judge(t, f, f.Stage)
	require.Empty(t, j.Faults)
	return j.Worksheets
}

// lumenCodes are the findings and the rules not checked about the line.
func lumenCodes(w worksheet.Worksheet) (found, unchecked []string) {
	for _, f := range w.Findings {
		if strings.HasPrefix(f.Code, "lumen-") {
			found = append(found, f.Code)
		}
	}
	for _, n := range w.NotChecked {
		if strings.HasPrefix(n.Code, "lumen-") {
			unchecked = append(unchecked, n.Code)
		}
	}
	return found, unchecked
}

func placements(w worksheet.Worksheet) string {
	var out []string
	for _, p := range w.Lumens.Placements {
		out = append(out, fmt.Sprintf("%s %s %v", p.Name, p.Lumen, p.Starts))
	}
	return strings.Join(out, "; ")
}

// twoLumens gives the line of S2 a second lumen.
const twoLumens = `set Device/dev-picc type {"coding":[{"system":"http://snomed.info/sct","code":"1396489007","display":"Double lumen PICC"}],"text":"Double-lumen PICC"}
set Device/dev-picc property[0].valueQuantity[0].value 2
`

func asks(order, lumen string) string {
	return "add " + order + ` dosageInstruction[0].extension [{"url":"https://weir.example/fhir/StructureDefinition/access-lumen","extension":[{"url":"lumen","valueString":"` + lumen + "\"}]}]\n"
}

func TestASingleInfusionHasNoDayOfTheLine(t *testing.T) {
	for _, name := range []string{"s1-cefazolin-elastomeric", "s2-vancomycin-kidneys", "s5-nutrition-cycle"} {
		f, err := orders.Load(name)
		require.NoError(t, err)
		for _, w := range judge(t, f, f.Stage).Worksheets {
			assert.Nil(t, w.Lumens, name)
			found, unchecked := lumenCodes(w)
			assert.Empty(t, append(found, unchecked...), name)
		}
	}
}

// Two infusions of one lumen never run at the same time in a day that was
// placed, whatever placed it: compared stretch by stretch.
func TestNoTwoStretchesOfALumenMeet(t *testing.T) {
	days := 0
	for _, f := range orders.All() {
		for _, w := range judge(t, f, f.Stage).Worksheets {
			if w.Lumens == nil || w.Lumens.Outcome != "placed" {
				continue
			}
			days++
			busy := map[string]string{}
			for _, s := range w.Lumens.Stretches {
				if s.From == s.Until {
					continue // all day: nothing else is planned there, see the next test
				}
				for m := minutes(s.From); m != minutes(s.Until); m = (m + 1) % 1440 {
					key := fmt.Sprint(s.Lumen, m)
					assert.Empty(t, busy[key], "%s: %s at minute %d", f.Name, s.Name, m)
					busy[key] = s.Name
				}
			}
			for _, says := range w.Lumens.Says {
				assert.Empty(t, notation.Scan(says), f.Name)
			}
		}
	}
	assert.GreaterOrEqual(t, days, 6)
}

func minutes(clock string) int {
	var h, m int
	if _, err := fmt.Sscanf(clock, "%d:%d", &h, &m); err != nil {
		panic(err)
	}
	return 60*h + m
}

func TestWhoRunsWhere(t *testing.T) {
	w := changed(t, "s2-milrinone-two-lumens", "")
	require.Len(t, w, 2)
	assert.Equal(t, "milrinone lumen 1 []; ertapenem lumen 2 [10:00]; blood draw lumen 2 [08:00]", placements(w[0]))
	assert.Equal(t, w[0].Lumens, w[1].Lumens, "one line, one day")

	w = changed(t, "s2-milrinone-two-lumens", asks("V-500117", "Red lumen")+asks("V-500118", "blue"))
	assert.Equal(t, "milrinone red lumen []; ertapenem blue lumen [10:00]; blood draw blue lumen [08:00]", placements(w[0]))

	w = changed(t, "s2-milrinone-two-lumens", asks("V-500117", "red")+asks("V-500118", "red"))
	found, _ := lumenCodes(w[0])
	assert.Equal(t, []string{"lumen-timetable"}, found, "both are ordered for the red lumen")
	assert.Equal(t, "impossible", w[0].Lumens.Outcome)
	i := slices.IndexFunc(w[0].Findings, func(f worksheet.Finding) bool { return f.Code == "lumen-timetable" })
	assert.Contains(t, w[0].Findings[i].Expected, "lumen", "the lumen that is there, not a new line")
}

// The same two drugs of a pair that may never meet, in the cases that differ
// by one thing.
func TestIncompatibleOnlyWhereTheyMeet(t *testing.T) {
	blocked := func(base, edits string) bool {
		found, _ := lumenCodes(changed(t, base, edits)[0])
		return slices.Contains(found, "lumen-incompatible")
	}
	const start = "set V-500119 dosageInstruction[0].timing.repeat.timeOfDay "
	assert.True(t, blocked("s2-ceftriaxone-together", ""))
	assert.True(t, blocked("s2-ceftriaxone-together", start+`["11:00:00"]`), "vancomycin runs to 11:05 at least")
	assert.False(t, blocked("s2-ceftriaxone-together", start+`["13:00:00"]`))
	assert.False(t, blocked("s2-ceftriaxone-together", twoLumens), "each has a lumen")
	assert.True(t, blocked("s2-ceftriaxone-together", twoLumens+asks("V-500117", "red")+asks("V-500119", "red")))
	assert.False(t, blocked("s2-ceftriaxone-together", twoLumens+asks("V-500117", "red")+asks("V-500119", "blue")))
	assert.False(t, blocked("s2-ceftriaxone-together", `set V-500119 status "stopped"`), "what was stopped runs no more")
}

func TestWhatIsNotKnownIsNotChecked(t *testing.T) {
	for name, edits := range map[string]string{
		"no number of lumens":     "set Device/dev-picc type {\"text\":\"PICC\"}\ndelete Device/dev-picc property",
		"no times":                `delete V-500118 dosageInstruction[0].timing`,
		"a line that is not told": "drop Device/dev-picc\ndrop DeviceUseStatement/use-dev-picc",
	} {
		for _, w := range changed(t, "s2-two-drugs", edits) {
			found, _ := lumenCodes(w)
			assert.Empty(t, found, name)
			assert.NotEmpty(t, w.Lumens.Says, name)
			assert.Equal(t, "not decided", w.Lumens.Outcome, name)
			assert.NotEqual(t, "ready", w.Verdict, name)
		}
	}
}

// The stretches of days differ: what never runs in the same days is never
// held against each other.
func TestOnlyWhatRunsInTheSameDaysShares(t *testing.T) {
	w := changed(t, "s2-ceftriaxone-together", `set V-500119 dosageInstruction[0].timing.repeat.boundsPeriod.start "2027-03-12T09:00:00-06:00"
set V-500119 dosageInstruction[0].timing.repeat.boundsPeriod.end "2027-03-20"`)
	for _, x := range w {
		found, unchecked := lumenCodes(x)
		assert.Empty(t, append(found, unchecked...))
		assert.Nil(t, x.Lumens)
	}
}
