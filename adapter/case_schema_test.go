package adapter

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestACaseIsBroughtUpToDateStepByStep(t *testing.T) {
	add := func(s string) func([]byte) ([]byte, error) {
		return func(b []byte) ([]byte, error) { return append(append([]byte{}, b...), s...), nil }
	}
	steps := map[int]func([]byte) ([]byte, error){1: add(" 2"), 2: add(" 3")}
	for schema, want := range map[int]string{1: "x 2 3", 2: "x 3", 3: "x"} {
		got, err := upgradeCase(StoredCase{Patient: "p", Version: 7, Schema: schema, JSON: []byte("x")}, 3, steps)
		require.NoError(t, err)
		assert.Equal(t, StoredCase{Patient: "p", Version: 7, Schema: 3, JSON: []byte(want)}, got)
	}
	var newer *SchemaNewer
	_, err := upgradeCase(StoredCase{Schema: 4}, 3, steps)
	require.ErrorAs(t, err, &newer)
	assert.Equal(t, SchemaNewer{What: "case", Have: 4, Know: 3}, *newer)
	var invalid *Invalid
	_, err = upgradeCase(StoredCase{Schema: 0}, 3, steps)
	assert.ErrorAs(t, err, &invalid, "a step that is missing")
	broken := errors.New("broken")
	steps[2] = func([]byte) ([]byte, error) { return nil, broken }
	_, err = upgradeCase(StoredCase{Schema: 1}, 3, steps)
	assert.ErrorIs(t, err, broken)
}

func TestEveryOlderCaseHasItsStep(t *testing.T) {
	for schema := 1; schema < CaseSchema; schema++ {
		assert.NotNil(t, caseSteps[schema], "schema %d", schema)
	}
	assert.Len(t, caseSteps, CaseSchema-1)
	got, err := UpgradeCase(StoredCase{Schema: CaseSchema, JSON: []byte("{}")})
	require.NoError(t, err)
	assert.Equal(t, "{}", string(got.JSON))
}
