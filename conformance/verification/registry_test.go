package verification

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
)

// allFixtures are those of every group.
func allFixtures() []fixture {
	return slices.Concat(recordFixtures, impossibleFixtures, carriedFixtures(), doseFixtures, kidneyFixtures, bandFixtures, clearanceFixtures, dailyFixtures, diluentFixtures, rateFixtures, rateTimeFixtures, rateStrengthFixtures, rateStepFixtures, rateAdditiveFixtures, regimenFixtures, deviceFixtures, fillFixtures, pumpFixtures, sheetFixtures, endFixtures, gapFixtures, scheduleFixtures, hazardFixtures, accessFixtures, therapyFixtures, lumenFixtures, singleFixtures, lowFixtures, weightChoiceFixtures, roundingFixtures, farFixtures, labelWeightFixtures, sizeFixtures, injuryFixtures, opioidFixtures, pregnancyFixtures,
		stabilityFixtures, roomFixtures, lineFixtures, flushFixtures, allergyFixtures, careFixtures, specialFixtures, monitoringFixtures, recordedFixtures)
}

func TestEveryRuleStandsInTheTableOfCodes(t *testing.T) {
	seen := map[finding.Code]bool{}
	for _, r := range Rules() {
		assert.False(t, seen[r.Code], "%s is asked twice", r.Code)
		seen[r.Code] = true
		row, ok := finding.Lookup(r.Code)
		if !assert.True(t, ok, "%s is not in the table", r.Code) {
			continue
		}
		assert.NotEmpty(t, row.Title, r.Code)
		assert.NotEmpty(t, row.Remedy, r.Code)
		assert.NotEmpty(t, row.Citation, r.Code)
		assert.True(t, row.Stage.Valid() || row.Stage == finding.Every, "%s has stage %q", r.Code, row.Stage)
		assert.NotContains(t, []finding.Gate{finding.NoGate, finding.Refused}, row.Gate, "%s can never be a finding", r.Code)
		assert.NotNil(t, r.Check, r.Code)
		assert.NotEmpty(t, r.Needs, "%s needs nothing, so it would pass on nothing", r.Code)
		for _, n := range r.scope() {
			assert.Contains(t, append(slices.Clone(r.Needs), r.Uses...), n, "%s cannot see a fact of its scope", r.Code)
		}
	}
}

// Every answer a rule can give is shown by at least one fixture.
func TestEveryRuleHasFixturesForItsAnswers(t *testing.T) {
	shown := map[finding.Code]map[Kind]int{}
	for _, x := range allFixtures() {
		if shown[x.rule] == nil {
			shown[x.rule] = map[Kind]int{}
		}
		shown[x.rule][x.want]++
	}
	for _, r := range Rules() {
		have := shown[r.Code]
		assert.Positive(t, have[Found], "%s: no finding", r.Code)
		if r.Code != "hazard-listed" { // listed is what it reports: it cannot pass
			assert.Positive(t, have[Pass], "%s: no pass", r.Code)
		}
		if r.Applies != nil {
			assert.Positive(t, have[NotApplicable], "%s: never not applicable", r.Code)
		}
		if r.Lacks != nil {
			assert.Positive(t, have[Indeterminate], "%s: never indeterminate", r.Code)
		}
		if r.NotYet != nil {
			assert.Positive(t, have[NotEffective], "%s: never too early", r.Code)
		}
	}
}

// each runs every fixture with its rule and outcome.
func each(t *testing.T, f func(t *testing.T, x fixture, r Rule, facts Facts, o Outcome)) {
	for _, x := range allFixtures() {
		t.Run(string(x.rule)+": "+x.name, func(t *testing.T) {
			r, facts := ruleOf(t, x.rule), x.world().facts()
			f(t, x, r, facts, Run([]Rule{r}, facts, x.stage(t))[0])
		})
	}
}

// A rule asked without the runner, with every fact at hand, says the same:
// it reads nothing that it does not declare.
func TestBlankingWhatARuleDoesNotDeclareChangesNothing(t *testing.T) {
	each(t, func(t *testing.T, x fixture, r Rule, all Facts, o Outcome) {
		blanked := all.only(append(slices.Clone(r.Needs), r.Uses...))
		if r.Applies != nil {
			require.Equal(t, r.Applies(all), r.Applies(blanked))
			require.Equal(t, r.Applies(all), r.Applies(all.only(append(slices.Clone(r.scope()), Policy, Now))), "Applies reads what is not in its scope")
		}
		if r.Lacks != nil {
			require.Equal(t, r.Lacks(all), r.Lacks(blanked))
		}
		if r.NotYet != nil {
			require.Equal(t, r.NotYet(all), r.NotYet(blanked))
		}
		direct, seen := r.Check(all), r.Check(blanked)
		require.Equal(t, direct, seen)
		for i := range direct {
			direct[i].Code = r.Code
		}
		switch o.Kind {
		case Found:
			assert.Equal(t, direct, o.Findings)
		case Pass:
			assert.Empty(t, direct)
		case NotEffective:
			if len(o.Missing) == 0 {
				assert.Equal(t, direct, o.Due)
			}
		}
	})
}

// Without a needed fact nobody passes and nothing is found: the rule names
// the fact. A rule that does not apply needs only what tells it so.
func TestWithoutANeededFactARuleNamesIt(t *testing.T) {
	each(t, func(t *testing.T, x fixture, r Rule, all Facts, o Outcome) {
		for _, need := range r.Needs {
			var rest []Fact
			for name := range all.values {
				if name != need {
					rest = append(rest, name)
				}
			}
			got := Run([]Rule{r}, all.only(rest), x.stage(t))[0]
			if r.Applies != nil && !r.Applies(all) && !slices.Contains(r.scope(), need) {
				assert.Equal(t, o, got, "without %s", need)
				continue
			}
			allowed := []Kind{Indeterminate}
			if r.NotYet != nil {
				allowed = append(allowed, NotEffective) // without the plan the end is not near
			}
			if o.Kind == NotEffective {
				allowed = append(allowed, NotEffective)
			}
			assert.Contains(t, allowed, got.Kind, "without %s", need)
			assert.Contains(t, got.Missing, need)
			assert.Empty(t, got.Findings)
		}
	})
}

func TestNothingKnownIsNeverAPassNorAPanic(t *testing.T) {
	for _, r := range Rules() {
		for _, at := range finding.Stages {
			o := Run([]Rule{r}, Facts{}, at)[0]
			assert.Contains(t, []Kind{Indeterminate, NotEffective}, o.Kind, r.Code)
			assert.NotEmpty(t, o.Missing, r.Code)
			assert.Empty(t, o.Findings, r.Code)
		}
		assert.NotPanics(t, func() { r.Check(Facts{}) }, r.Code)
		for _, f := range []func(Facts) bool{r.Applies, r.NotYet} {
			if f != nil {
				assert.NotPanics(t, func() { f(Facts{}) }, r.Code)
			}
		}
		if r.Lacks != nil {
			assert.NotPanics(t, func() { r.Lacks(Facts{}) }, r.Code)
		}
	}
}

// What is a finding at its stage is an open task at the stage before, with
// the same words, and gates again at every later stage.
func TestBeforeItsStageAFindingIsATask(t *testing.T) {
	each(t, func(t *testing.T, x fixture, r Rule, all Facts, o Outcome) {
		if o.Kind != Found {
			return
		}
		row, _ := finding.Lookup(r.Code)
		for _, at := range finding.Stages {
			got := Run([]Rule{r}, all, at)[0]
			if row.Stage != finding.Every && at.Compare(row.Stage) < 0 {
				assert.Equal(t, NotEffective, got.Kind, at)
				assert.Empty(t, got.Findings, at)
				assert.Equal(t, o.Findings, got.Due, at)
				continue
			}
			assert.Equal(t, Found, got.Kind, at)
			assert.Equal(t, o.Findings, got.Findings, at)
		}
	})
}

// A finding says where, what and what instead, in words that nobody misreads.
func TestEveryFindingSaysWhereWhatAndWhatInstead(t *testing.T) {
	each(t, func(t *testing.T, x fixture, r Rule, all Facts, o Outcome) {
		for _, f := range append(o.Findings, o.Due...) {
			assert.Equal(t, r.Code, f.Code)
			assert.NotEmpty(t, f.Place.Expression, "no place")
			assert.NotEmpty(t, f.Observed, "nothing observed")
			assert.NotEmpty(t, f.Expected, "nothing expected")
			for _, text := range []string{f.Observed, f.Expected, f.Remedy, f.Detail, f.Diagnostic} {
				assert.Empty(t, notation.Scan(text), text)
			}
		}
	})
}
