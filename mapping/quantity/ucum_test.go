package quantity

import (
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"math/big"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const ucum = "testdata/ucum/"

// answers are those of the reference library named in it; see the README
// beside the file.
type answers struct {
	Library string
	Codes   []struct {
		Code, Magnitude, Dimension string
		Valid, Arbitrary, Special  bool
		Moles, Equivalents         int
	}
	Conversions []struct{ Value, From, To, Result string }
}

const refused = "not convertible"

func readAnswers(t *testing.T) (a answers) {
	data, err := os.ReadFile(ucum + "answers.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &a))
	return a
}

func listed(t *testing.T, file string) (out []string) {
	data, err := os.ReadFile(ucum + file)
	require.NoError(t, err)
	for line := range strings.SplitSeq(string(data), "\n") {
		if line != "" && !strings.HasPrefix(line, "#") {
			out = append(out, line)
		}
	}
	return out
}

// differences are the rows of differences.tsv that nothing met yet.
type differences map[string][2]string

func readDifferences(t *testing.T, kind string) differences {
	out := differences{}
	for _, line := range listed(t, "differences.tsv") {
		row := strings.Split(line, "\t")
		require.Len(t, row, 5, line)
		require.Greater(t, len(strings.Fields(row[4])), 3, "a difference needs a reason: %s", line)
		if row[0] == kind {
			require.NotContains(t, out, row[1], "stands twice")
			require.NotEqual(t, row[2], row[3], line)
			out[row[1]] = [2]string{row[2], row[3]}
		}
	}
	return out
}

// judge compares one answer and takes the row that explains a difference off.
func (d differences) judge(t *testing.T, what, ours, theirs string, same bool) {
	row, known := d[what]
	switch {
	case same && known:
		assert.Fail(t, "no difference any more: take the row off", what)
	case !same && !known:
		assert.Fail(t, "a difference without a row", "%s: we say %s, the library %s", what, ours, theirs)
	case known:
		assert.Equal(t, row, [2]string{ours, theirs}, "%s: the difference is not the one written down", what)
	}
}

func (d differences) spent(t *testing.T, asked map[string]bool) {
	for what := range d {
		assert.True(t, asked[what], "a row about what is not on the list: %s", what)
	}
}

func TestTheAnswersAreThoseToTheLists(t *testing.T) {
	a := readAnswers(t)
	codes, conversions := listed(t, "codes.txt"), listed(t, "conversions.txt")
	assert.GreaterOrEqual(t, len(codes), 350)
	assert.GreaterOrEqual(t, len(conversions), 600)
	var answered, converted []string
	for _, c := range a.Codes {
		answered = append(answered, c.Code)
	}
	for _, c := range a.Conversions {
		converted = append(converted, c.Value+"\t"+c.From+"\t"+c.To)
	}
	for _, pair := range [][2][]string{{codes, answered}, {conversions, converted}} {
		slices.Sort(pair[0])
		slices.Sort(pair[1])
		assert.Equal(t, pair[0], slices.Compact(slices.Clone(pair[0])), "a line stands twice")
		assert.Equal(t, pair[0], pair[1], "run .ci/ucum update")
	}
}

// measures is what UCUM makes of our base units: the library counts moles by
// Avogadro's number and gives drop, calorie and French size a physical size.
// Multiplied out, its magnitude must be ours; the last two columns are its
// exponents of amount and whether a unit is arbitrary.
var measures = [dimensions]struct {
	size               string
	length, time, mass int
	moles, equivalents int
	arbitrary          bool
}{
	mass:          {size: "1", mass: 1},
	length:        {size: "1", length: 1},
	time:          {size: "1", time: 1},
	amount:        {size: "602213670000000000000000", moles: 1},
	equivalent:    {size: "602213670000000000000000", equivalents: 1},
	osmole:        {size: "602213670000000000000000", moles: 1},
	international: {size: "1", arbitrary: true},
	pharmacopeial: {size: "1", arbitrary: true},
	enzyme:        {size: "602213670000000000/60", time: -1, moles: 1}, // umol/min
	drop:          {size: "5/100000000", length: 3},                    // 1/20 mL
	energy:        {size: "4184", length: 2, time: -2, mass: 1},        // g.m2/s2
	french:        {size: "1/3000", length: 1},                         // a third of a mm
	bodyMass:      {size: "1"},
}

func TestUnitsAreReadAsTheReferenceLibraryReadsThem(t *testing.T) {
	a, known, asked := readAnswers(t), readDifferences(t, "code"), map[string]bool{}
	word := map[bool]string{true: "valid", false: "invalid"}
	for _, c := range a.Codes {
		asked[c.Code] = true
		u, err := ParseUnit(c.Code)
		known.judge(t, c.Code, word[err == nil], word[c.Valid], (err == nil) == c.Valid)
		if err != nil || !c.Valid {
			continue
		}
		size, moles, equivalents, arbitrary := u.factor.Rat(), 0, 0, false
		var l, s, g int
		for i, n := range u.dim {
			m, n := measures[i], int(n)
			one, ok := new(big.Rat).SetString(m.size)
			require.True(t, ok)
			size.Mul(size, raise(one, int64(n)))
			l, s, g = l+n*m.length, s+n*m.time, g+n*m.mass
			moles, equivalents, arbitrary = moles+n*m.moles, equivalents+n*m.equivalents, arbitrary || n != 0 && m.arbitrary
		}
		assert.Equal(t, c.Dimension, fmt.Sprintf("%d,%d,%d,0,0,0,0", l, s, g), c.Code)
		assert.Equal(t, c.Moles, moles, c.Code)
		assert.Equal(t, c.Equivalents, equivalents, c.Code)
		assert.Equal(t, c.Arbitrary, arbitrary, c.Code)
		assert.False(t, c.Special, "%s: no ratio scale, and yet read", c.Code)
		assert.True(t, near(t, size, c.Magnitude), "%s is %s, the library says %s", c.Code, size.FloatString(30), c.Magnitude)
	}
	known.spent(t, asked)
}

// The library's numbers are floats; ours are exact.
func TestConversionsGiveWhatTheReferenceLibraryGives(t *testing.T) {
	a, known, asked := readAnswers(t), readDifferences(t, "conversion"), map[string]bool{}
	word := map[bool]string{true: "converted", false: "refused"}
	for _, c := range a.Conversions {
		what := c.From + " to " + c.To
		asked[what] = true
		got, ok := converted(c.Value, c.From, c.To)
		known.judge(t, what, word[ok], word[c.Result != refused], ok == (c.Result != refused))
		if ok && c.Result != refused {
			assert.True(t, near(t, got.Rat(), c.Result), "%s %s is %s, the library says %s", c.Value, what, got, c.Result)
		}
	}
	known.spent(t, asked)
}

func converted(value, from, to string) (Number, bool) {
	u, err := ParseUnit(from)
	v, e := ParseUnit(to)
	if err != nil || e != nil {
		return Number{}, false
	}
	q, err := Point(MustNumber(value), u).In(v)
	return q.Low, err == nil
}

// near reports whether a float's text is within 10^-9 of ours.
func near(t *testing.T, ours *big.Rat, theirs string) bool {
	want, ok := new(big.Rat).SetString(theirs)
	require.True(t, ok, theirs)
	off := new(big.Rat).Sub(ours, want)
	most := new(big.Rat).Mul(want, big.NewRat(1, 1_000_000_000))
	return off.Abs(off).Cmp(most.Abs(most)) <= 0
}

// The international yard and pound agreement of 1959 fixes what the library
// gives as floats: a pound is 0.45359237 kg and an inch 2.54 cm, exactly.
func TestPoundsAndInchesAreExactInEveryConversionOfTheList(t *testing.T) {
	sizes := map[string]string{"[lb_av]": "453.59237", "[oz_av]": "28.349523125", "kg": "1000", "g": "1", "mg": "0.001", "ug": "0.000001", "ng": "0.000000001"}
	lengths := map[string]string{"[in_i]": "0.0254", "[ft_i]": "0.3048", "m": "1", "cm": "0.01", "mm": "0.001"}
	exact := 0
	for _, c := range readAnswers(t).Conversions {
		for _, kind := range []map[string]string{sizes, lengths} {
			if kind[c.From] == "" || kind[c.To] == "" {
				continue
			}
			want, _ := new(big.Rat).SetString(kind[c.From])
			to, _ := new(big.Rat).SetString(kind[c.To])
			value, _ := new(big.Rat).SetString(c.Value)
			got, ok := converted(c.Value, c.From, c.To)
			assert.True(t, ok)
			assert.Zero(t, want.Mul(want, value).Quo(want, to).Cmp(got.Rat()), "%s %s in %s", c.Value, c.From, c.To)
			exact++
		}
	}
	assert.Greater(t, exact, 50)
}

var update = flag.Bool("update", false, "write the generated part of the UCUM lists; .ci/ucum update must follow")

// generatedBelow parts a list: above it is chosen by hand, below it written
// by the test.
const generatedBelow = "# Generated from the unit table: go test ./mapping/quantity -run Lists -update, then .ci/ucum update\n"

// The lists grow with the table: no atom and no prefix of ours is left
// without the reference library's word on it.
func TestListsOfUnitsCoverTheTable(t *testing.T) {
	for file, generated := range map[string][]string{"codes.txt": generatedCodes(), "conversions.txt": generatedConversions()} {
		path := ucum + file
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		hand, _, _ := strings.Cut(string(data), generatedBelow)
		chosen := strings.Split(hand, "\n")
		var below strings.Builder
		for _, line := range slices.Compact(slices.Sorted(slices.Values(generated))) {
			if !slices.Contains(chosen, line) {
				below.WriteString(line + "\n")
			}
		}
		want := hand + generatedBelow + below.String()
		if *update {
			require.NoError(t, os.WriteFile(path, []byte(want), 0o644))
			continue
		}
		assert.Equal(t, want, string(data), "%s is not what the table asks for: run with -update, then .ci/ucum update", file)
	}
}

// generatedCodes are all atoms, all prefixes before those that take one, a
// prefix before those that take none, other letter cases, and quotients.
func generatedCodes() (out []string) {
	for _, name := range slices.Sorted(maps.Keys(atoms)) {
		out = append(out, name)
		switch a := atoms[name]; {
		case a.factor.Sign() == 0:
		case a.metric:
			for p := range prefixes {
				out = append(out, string(p)+name)
			}
		default:
			out = append(out, "k"+name, "m"+name)
		}
	}
	for _, code := range []string{"mg", "ug", "kg", "g", "mL", "dL", "L", "mL/h", "ug/kg/min", "min", "h", "d", "wk", "mo", "a", "mmol", "meq", "mosm", "kcal", "[iU]", "U", "m2", "cm", "[lb_av]", "[in_i]"} {
		out = append(out, strings.ToUpper(code), strings.ToLower(code), strings.ToUpper(code[:1])+code[1:])
	}
	for _, over := range []string{"g", "mg", "ug", "mL", "[iU]", "[USP'U]", "U", "meq", "mmol", "mosm", "kcal", "{dose}"} {
		for _, under := range []string{"mL", "dL", "L", "kg", "m2", "h", "min", "d", "kg/h", "kg/min", "m2/d", "(kg.d)", "{dose}"} {
			out = append(out, over+"/"+under)
		}
	}
	return out
}

// generatedConversions are all atoms against each other: those of one
// dimension convert, all others must not.
func generatedConversions() (out []string) {
	values := []string{"1", "0.375", "2.2", "35.7", "1000", "1234567.89", "0.001", "7"}
	names := slices.Sorted(maps.Keys(atoms))
	for i, from := range names {
		for j, to := range names {
			if from != to && atoms[from].factor.Sign() != 0 && atoms[to].factor.Sign() != 0 {
				out = append(out, values[(i+3*j)%len(values)]+"\t"+from+"\t"+to)
			}
		}
	}
	return out
}
