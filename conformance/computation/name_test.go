package computation

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// What a person reads is never a program's own name.
func TestEveryNameHasWordsAndAUnit(t *testing.T) {
	seen := map[string]bool{}
	for _, n := range names {
		assert.False(t, seen[n.Name], "%s stands twice", n.Name)
		seen[n.Name] = true
		assert.NotRegexp(t, `[a-z][A-Z]`, notation.Name(n.Name))
		assert.NotEmpty(t, n.Means, n.Name)
		if n.Unit != "" {
			_, ok := n.InUnit(quantity.Mass)
			assert.True(t, ok, n.Name)
		}
	}
	for _, name := range arithmetic.Names {
		assert.True(t, seen[name], "%s of the network cannot be given", name)
	}
}

// An equation over a NAME that nobody can give or read would never be used.
func TestEveryEquationIsOverNamesOfTheList(t *testing.T) {
	for _, e := range append(links(), equation.All()...) {
		for _, name := range append(append([]string{e.Output}, e.Inputs...), e.Optional...) {
			_, ok := lookup(name)
			assert.True(t, ok, "%s: %s", e.Code, name)
		}
	}
}
