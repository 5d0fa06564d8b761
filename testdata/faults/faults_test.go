package faults_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/testdata/faults"
)

func TestEveryFaultIsAnEditOfTheValidOrder(t *testing.T) {
	list, err := faults.All()
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(list), 86)
	valid, err := faults.Valid()
	require.NoError(t, err)
	names, edits := map[string]bool{}, map[string]bool{}
	for _, f := range list {
		t.Run(f.Source+" "+f.Name, func(t *testing.T) {
			document, err := f.Document()
			require.NoError(t, err)
			assert.NotEqual(t, string(valid), string(document))
			assert.False(t, names[f.Name], "the name stands twice")
			assert.False(t, edits[f.Edit], "the edit stands twice")
			names[f.Name], edits[f.Edit] = true, true
		})
	}
}
