package orders

import (
	"strings"
	"testing"
	"time"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/finding"
)

func TestEveryScenarioHasItsCases(t *testing.T) {
	want := []string{"s1-cefazolin-elastomeric", "s2-vancomycin-kidneys", "s2-vancomycin-kidneys-changed", "s3-fluorouracil-46h",
		"s4-ceftriaxone-child", "s5-nutrition-cycle", "s6-hydration-gravity", "s7-daptomycin-discharge", "s7-daptomycin-discharge-planned"}
	var bases []string
	variants := 0
	for _, f := range All() {
		if f.Base == "" {
			bases = append(bases, f.Name)
		} else {
			variants++
		}
	}
	assert.Equal(t, want, bases)
	assert.GreaterOrEqual(t, variants, 25)
}

func TestEveryBundleInAFolderHasACase(t *testing.T) {
	dirs, err := files.ReadDir(".")
	require.NoError(t, err)
	for _, dir := range dirs {
		if dir.Name() == "variants" {
			continue
		}
		inside, err := files.ReadDir(dir.Name())
		require.NoError(t, err)
		for _, e := range inside {
			if name, ok := strings.CutSuffix(e.Name(), ".json"); ok {
				f, err := Load(name)
				assert.NoError(t, err)
				assert.Empty(t, f.Base)
			}
		}
	}
}

func TestACaseSaysWhatItMust(t *testing.T) {
	f, err := Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	assert.True(t, f.Now.Equal(time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC)))
	assert.Equal(t, "release", f.Stage)
	assert.False(t, f.StandingLock, "S1 alone has no standing protocol")
	assert.Contains(t, f.Expect, Expectation{Kind: "finding", Stage: "release", Code: "device-family", Gate: "block", Line: 14})
	other, err := Load("s3-fluorouracil-46h")
	require.NoError(t, err)
	assert.True(t, other.StandingLock)
	assert.Equal(t, []string{"release", "pack"}, other.Stages())
	assert.Len(t, other.At("pack"), 3)
	_, err = Load("s8")
	assert.ErrorContains(t, err, `"s8"`)
}

// A code or gate that the table of codes does not know could never be met,
// or never be absent.
func TestExpectationsUseKnownCodes(t *testing.T) {
	for _, f := range All() {
		for _, e := range f.Expect {
			if e.Code == "" {
				continue
			}
			row, ok := finding.Lookup(finding.Code(e.Code))
			if !assert.True(t, ok, "%s line %d: no code %s", f.Name, e.Line, e.Code) {
				continue
			}
			if e.Gate != "" {
				assert.Equal(t, row.Gate, finding.Gate(e.Gate), "%s line %d: %s", f.Name, e.Line, e.Code)
			}
			if e.Kind == "finding" {
				assert.True(t, row.Stage.Reached(finding.Stage(e.Stage)), "%s line %d: %s does not gate at %s yet", f.Name, e.Line, e.Code, e.Stage)
			}
		}
	}
}

func TestExpectationsDoNotContradictEachOther(t *testing.T) {
	for _, f := range All() {
		seen := map[Expectation]string{}
		for _, e := range f.Expect {
			key := Expectation{Stage: e.Stage, Code: e.Code, Order: e.Order}
			if e.Kind == "finding" || e.Kind == "no-finding" {
				assert.NotContains(t, seen, key, "%s line %d: %s is said twice", f.Name, e.Line, e.Code)
				seen[key] = e.Kind
			}
		}
	}
}

// The NAMEs of the outside contract (worksheet, quantities).
const names = " dose dosePerKg dosePerArea dosingWeight bodySurfaceArea idealBodyWeight adjustedBodyWeight creatinineClearance concentration volume rate drugRate drugRatePerKg duration interval dosesPerDay dailyDose doseCount courseLength orderedQuantity homeQuantity fill residual delivered nominalRate endsAt endsEarliest endsLatest startBefore finishBy glucoseInfusionRate osmolarity "

func TestExpectedQuantitiesHaveANameOfTheContract(t *testing.T) {
	for _, f := range All() {
		for _, e := range f.Expect {
			if e.Kind == "quantity" || e.Kind == "culprit" {
				assert.Contains(t, names, " "+e.Name+" ", "%s line %d", f.Name, e.Line)
			}
		}
	}
}

// order, where set, names an identifier that the document really holds.
func TestExpectedOrdersAreInTheDocument(t *testing.T) {
	for _, f := range All() {
		root, err := parse(f.Document)
		require.NoError(t, err)
		for _, e := range f.Expect {
			if e.Order != "" {
				_, r, err := find(root, e.Order)
				if assert.NoError(t, err, "%s line %d", f.Name, e.Line) {
					assert.Equal(t, "MedicationRequest", r.member("resourceType").str())
				}
			}
		}
	}
}

func TestDocumentsAreStrictJSON(t *testing.T) {
	for _, f := range All() {
		assert.True(t, jsontext.Value(f.Document).IsValid(), "%s: duplicate names, bad UTF-8 or no JSON", f.Name)
	}
}

func TestCallersCannotChangeAFixture(t *testing.T) {
	f, err := Load("s1-fixed")
	require.NoError(t, err)
	clear(f.Document)
	clear(f.Expect)
	again, err := Load("s1-fixed")
	require.NoError(t, err)
	assert.True(t, jsontext.Value(again.Document).IsValid())
	assert.NotEmpty(t, again.Expect[0].Kind)
}

// A document and the parse of it say the same: the writer of variants neither
// loses nor changes a literal, whatever the base.
func TestWritingABaseAgainChangesNoLiteral(t *testing.T) {
	for _, f := range All() {
		root, err := parse(f.Document)
		require.NoError(t, err)
		text, err := root.text()
		require.NoError(t, err)
		assert.Empty(t, cmp.Diff(tokens(t, f.Document), tokens(t, text)), f.Name)
	}
}

func tokens(t *testing.T, data []byte) []string {
	var out []string
	d := jsontext.NewDecoder(strings.NewReader(string(data)))
	for d.PeekKind() != 0 {
		token, err := d.ReadToken()
		require.NoError(t, err)
		out = append(out, token.String())
	}
	return out
}
