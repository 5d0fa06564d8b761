package finding_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/finding"
)

func TestACodeGatesFromItsStageOn(t *testing.T) {
	for _, c := range []struct {
		name     string
		code, at finding.Stage
		want     bool
	}{
		{"the stage itself", finding.Pack, finding.Pack, true},
		{"the stage before: an open task", finding.Pack, finding.Release, false},
		{"the stage after", finding.Pack, finding.Dispatch, true},
		{"intake gates at the last stage too", finding.Intake, finding.Close, true},
		{"close does not gate at intake", finding.Close, finding.Intake, false},
		{"every gates at the first", finding.Every, finding.Intake, true},
		{"every gates at the last", finding.Every, finding.Close, true},
		{"documents have no stage and are always refused", "", finding.Intake, true},
		{"an unknown stage of a code is the safe side", "nonsense", finding.Intake, true},
		{"an unknown stage of judging is the safe side", finding.Close, "nonsense", true},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, c.code.Reached(c.at)) })
	}
}

func TestStagesStandInOrder(t *testing.T) {
	for i, s := range finding.Stages {
		assert.True(t, s.Valid())
		for j, other := range finding.Stages {
			assert.Equal(t, j >= i, s.Reached(other), "%s at %s", s, other)
			assert.Equal(t, i < j, s.Compare(other) < 0)
		}
	}
	assert.False(t, finding.Every.Valid(), "nobody judges at every stage at once")
	assert.False(t, finding.Stage("").Valid())
}
