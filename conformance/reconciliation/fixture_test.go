package reconciliation_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/reconciliation"
)

func check(t *testing.T, f fixture, r reconciliation.Result) {
	if f.says != "" {
		assert.Contains(t, says(r, f.code), f.says)
	}
	for _, code := range f.tasks {
		assert.Contains(t, tasks(r), code)
	}
	switch {
	case f.alone && f.found:
		assert.Equal(t, []string{string(f.code)}, codes(r))
	case f.alone:
		assert.Empty(t, codes(r))
	}
}

func TestTheQuietScene(t *testing.T) {
	r := newScene(t).run(t)
	assert.Equal(t, reconciliation.Unchanged, r.State)
	assert.Empty(t, codes(r))
	assert.Empty(t, r.Tasks)
	assert.Empty(t, r.NotChecked)
}
