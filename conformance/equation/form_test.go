package equation_test

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/conformance/equation"
)

var (
	code = regexp.MustCompile(`^E([0-3][0-9]|40)(-[a-z]+)?$`)
	name = regexp.MustCompile(`^[a-z][A-Za-z]+$`)
)

func TestEveryEquationSaysWhatItIs(t *testing.T) {
	seen, last := map[string]bool{}, 0
	for _, e := range equation.All() {
		assert.Regexp(t, code, e.Code)
		assert.False(t, seen[e.Code], "%s stands twice", e.Code)
		seen[e.Code] = true
		n, _ := strconv.Atoi(e.Code[1:3])
		assert.GreaterOrEqual(t, n, last, "%s is out of order", e.Code)
		last = n
		for what, text := range map[string]string{"title": e.Title, "formula": e.Formula, "limits": e.Limits, "source": e.Source} {
			assert.NotEmpty(t, text, "%s: no %s", e.Code, what)
			assert.Equal(t, strings.TrimSpace(text), text, "%s: %s", e.Code, what)
		}
		assert.True(t, strings.HasSuffix(e.Limits, "."), "%s: the limits are a sentence", e.Code)
		assert.NotNil(t, e.Solve, e.Code)
	}
	assert.Empty(t, skipped(seen), "codes without an equation")
}

// skipped are codes that neither stand here nor belong to the network, to
// units (E09, E19) or to the plan (E39, E40).
func skipped(seen map[string]bool) (out []string) {
	elsewhere := []int{1, 2, 3, 5, 6, 7, 9, 15, 19, 39, 40}
	for n := 1; n <= 40; n++ {
		c := "E" + strconv.Itoa(100 + n)[1:]
		if !seen[c] && !slices.Contains(elsewhere, n) {
			out = append(out, c)
		}
	}
	return out
}

// A formula begins with the NAME it gives and holds every NAME it takes, so
// that it can be shown with the numbers filled in.
func TestAFormulaHoldsItsNames(t *testing.T) {
	inWords := []string{"sex", "age", "step", "aminoAcidConcentration", "lipidConcentration"} // said in the text or in the limits
	for _, e := range equation.All() {
		assert.True(t, strings.HasPrefix(e.Formula, e.Output+" = "), "%s: %s", e.Code, e.Formula)
		assert.Equal(t, 1, strings.Count(e.Formula, " = "), e.Code)
		for _, n := range append(slices.Clone(e.Inputs), e.Optional...) {
			assert.Regexp(t, name, n, e.Code)
			if !slices.Contains(inWords, n) {
				assert.Regexp(t, `\b`+n+`\b`, e.Formula, "%s does not show %s", e.Code, n)
			}
		}
	}
}

// Of equations that give one quantity from the same numbers one is in use
// and the others are variants; two that start from different numbers stand
// side by side.
func TestOfTwoEquationsWithTheSameInputsOneIsAVariant(t *testing.T) {
	seen := map[string]string{}
	for _, e := range equation.All() {
		if e.Variant {
			continue
		}
		inputs := slices.Sorted(slices.Values(e.Inputs))
		key := e.Output + " from " + strings.Join(inputs, " ")
		assert.Empty(t, seen[key], "%s and %s", seen[key], e.Code)
		seen[key] = e.Code
	}
}

func TestFindingAnEquation(t *testing.T) {
	e, ok := equation.Find("E16-ideal")
	assert.True(t, ok)
	assert.Equal(t, "creatinineClearance", e.Output)
	assert.True(t, e.Variant)
	_, ok = equation.Find("E99")
	assert.False(t, ok)
	all := equation.All()
	all[0].Title = "changed"
	assert.NotEqual(t, "changed", equation.All()[0].Title, "the list is a copy")
}
