package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/quantity"
)

// Figures printed by others, each worked through the command line as a
// person would type it: testdata/worked/examples.json has what is given and
// what is printed, names.json which NAME each input is, wrong.json the
// figures that are printed wrongly.

type input struct{ Name, Value, Unit string }

// expected is a printed figure with the step of its last printed digit.
type expected struct {
	Name, Value, Unit, Precision string
	Printed                      string // in wrong.json: the wrong figure
	Disagrees                    bool   // a finding is due when it is stated
	Agrees                       bool   // compared is the value a finding says would agree
}

type override struct {
	Names map[string]string // input to NAME; "" leaves it out
	More  []string          // arguments that no input gives
	Unit  string            // unit compared in, when the printed one lacks a part
	Why   string
}

type example struct {
	ID, Topic, Equation, Question string
	Inputs                        []input
	Flags                         []string
	Override                      *override
	Expected                      []expected
	Source                        struct{ Title, URL, Grade, Origin string }
}

// rule is one line of names.json; the first that fits an input holds.
type rule struct {
	Input, Name, Why string
	Units, Equations []string
}

type wrong struct {
	Source, Printed, Recomputed, Unit, Listed string
	Cases                                     []struct {
		Arguments, Flags []string
		Sum              [][]string // command lines whose answers are added
		Why              string
		Expected         []expected
	}
}

func load[T any](t *testing.T, name string) []T {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", "worked", name))
	require.NoError(t, err)
	d := json.NewDecoder(strings.NewReader(string(data)))
	d.DisallowUnknownFields()
	var out []T
	require.NoError(t, d.Decode(&out))
	return out
}

// mapped is the place of the rule that holds for an input.
func (e example) mapped(rules []rule, in input) (int, bool) {
	i := slices.IndexFunc(rules, func(r rule) bool {
		return r.Input == in.Name && (r.Units == nil || slices.Contains(r.Units, in.Unit)) && (r.Equations == nil || slices.Contains(r.Equations, e.Equation))
	})
	return i, i >= 0
}

// arguments are the command line that the inputs make.
func (e example) arguments(t *testing.T, rules []rule) []string {
	t.Helper()
	o := override{}
	if e.Override != nil {
		o = *e.Override
	}
	args := slices.Clone(o.More)
	for _, in := range e.Inputs {
		name, special := o.Names[in.Name]
		if !special {
			i, ok := e.mapped(rules, in)
			require.True(t, ok, "%s: names.json has no NAME for %v", e.ID, in)
			name = rules[i].Name
		}
		if name != "" {
			args = append(args, name+"="+in.Value+strings.TrimPrefix(in.Unit, "1"))
		}
	}
	return append(args, e.Flags...)
}

// unit is the one the figure is compared in.
func (e example) unit(x expected) string {
	if e.Override != nil && e.Override.Unit != "" {
		return e.Override.Unit
	}
	return x.Unit
}

type answer struct {
	Quantities map[string]struct{ Value, Unit string }
	Findings   []struct {
		Code     string
		Culprits []struct{ Name, Consistent, Unit string }
	}
}

// computed runs the command line and reads its JSON.
func computed(t *testing.T, args ...string) answer {
	t.Helper()
	r := weir(t, "", slices.Concat([]string{"compute", "--output", "json", "--fail-on", "never"}, args)...)
	require.Equal(t, 0, r.code, r.err)
	var a answer
	require.NoError(t, json.Unmarshal([]byte(r.out), &a))
	return a
}

// in is a value of the answer in a unit, without rounding.
func in(t *testing.T, value, code, unit string) (quantity.Number, bool) {
	t.Helper()
	n, err := quantity.ParseNumber(value)
	u, errU := quantity.ParseUnit(code)
	if err != nil || errU != nil {
		return quantity.Number{}, false
	}
	q, err := quantity.Point(n, u).In(quantity.MustUnit(unit))
	return q.Low, err == nil
}

// printed reports whether somebody who works exactly and rounds half up at
// the end prints the figure.
func printed(got quantity.Number, x expected) bool {
	return got.RoundTo(quantity.MustNumber(x.Precision)).Equal(quantity.MustNumber(x.Value))
}

func TestEveryWorkedExampleIsReachedThroughTheCommandLine(t *testing.T) {
	rules := load[rule](t, "names.json")
	for _, e := range load[example](t, "examples.json") {
		t.Run(e.ID, func(t *testing.T) {
			args := e.arguments(t, rules)
			for _, x := range e.Expected {
				args = append(args, "--in", x.Name+"="+e.unit(x))
			}
			a := computed(t, args...)
			line := "weir compute " + strings.Join(args, " ")
			for _, x := range e.Expected {
				q, ok := a.Quantities[x.Name]
				require.True(t, ok, "no %s of %s", x.Name, line)
				got, ok := in(t, q.Value, q.Unit, e.unit(x))
				require.True(t, ok, "%s is %s %s of %s", x.Name, q.Value, q.Unit, line)
				assert.True(t, printed(got, x), "%s is %s, printed %s %s by %s: %s", x.Name, q.Value, x.Value, x.Unit, e.Source.Title, line)
				for _, step := range []string{"1", "-1"} { // the next figure up or down would be refused
					next := x
					next.Value = quantity.MustNumber(x.Value).Add(quantity.MustNumber(x.Precision).Mul(quantity.MustNumber(step))).Decimal()
					assert.False(t, printed(got, next), "%s passes for %s too", q.Value, next.Value)
				}
			}
			assert.Empty(t, a.Findings, "nothing disagrees: %s", line)
		})
	}
}

func TestAFigureIsComparedByItsLastDigit(t *testing.T) {
	for _, x := range []struct {
		got, value, precision string
		want                  bool
	}{
		{"2.5", "2.5", "0.1", true}, {"2.5", "3", "1", true}, {"2.5", "2", "1", false}, {"2.4999", "2", "1", true}, {"2.4999", "3", "1", false},
		{"78.75", "79", "1", true}, {"83.3333", "83.3", "0.1", true}, {"83.3333", "83.4", "0.1", false}, {"83.35", "83.3", "0.1", false}, {"83.35", "83.4", "0.1", true},
		{"-4.502", "-4.5", "0.1", true}, {"-4.502", "4.5", "0.1", false}, {"-2.5", "-3", "1", true}, {"260.274", "260", "1", true}, {"261", "260", "1", false},
	} {
		assert.Equal(t, x.want, printed(quantity.MustNumber(x.got), expected{Value: x.value, Precision: x.precision}), "%s as %s", x.got, x.value)
	}
}

// exampleIDs are the 86 printed examples, ruleIDs the cases worked from a
// published rule. Cases of beyond-use dates, deliveries, clocks and counts
// of doses are not among them: they are worked from orders.
const (
	exampleIDs = "RVT-01 RVT-03 RVT-04 RVT-06 RVT-08 RVT-10 DRP-01 DRP-03 DRP-04 DRP-06 DRP-08 DRP-10 DRP-11 WKG-01 WKG-03 WKG-05 WKG-07 WKG-09 WKG-10 WKG-12 " +
		"WKG-14 WKG-15 UNT-01 UNT-03 UNT-06 UNT-08 UNT-09 UNT-10 DKG-01 DKG-03 DKG-05 DKG-07 DKG-08 BWT-01 BWT-02 BWT-04 BWT-05 BWT-06 BSA-01 BSA-05 BSA-07 BSA-08 " +
		"REN-01 REN-03 REN-05 REN-07 REN-09 REN-10 CAL-01 CAL-03 CAL-05 ELY-01 ELY-02 ELY-05 OSM-01 OSM-03 OSM-04 OSM-07 OSM-09 OSM-11 GIR-01 GIR-04 " +
		"PNE-01 PNE-02 PNE-03 PNE-05 PNE-11 PNE-12 CYC-01 ALG-01 ALG-03 ALG-05 PCA-01 PCA-03 PCA-05 IGR-01 IGR-03 IGR-05 IGR-07 VIA-01 VIA-03 VIA-05 " +
		"CNT-01 CNT-03 CNT-05 CNT-07"
	ruleIDs = "DEL-01 DEL-03 DEL-06 DCY-01 DIG-01 DRD-01 DRD-04 DLN-01 DLN-03 DPC-01 DBS-01 DBS-03 DRN-01 DRN-03 DBW-02"
)

func TestNoWorkedExampleIsLeftOut(t *testing.T) {
	var shown, ruled []string
	for _, e := range load[example](t, "examples.json") {
		for what, text := range map[string]string{"topic": e.Topic, "equation": e.Equation, "question": e.Question, "source": e.Source.Title} {
			assert.NotEmpty(t, text, "%s has no %s", e.ID, what)
		}
		assert.NotEmpty(t, e.Expected, e.ID)
		if e.Source.Origin == "rule" {
			ruled = append(ruled, e.ID)
			continue
		}
		assert.Regexp(t, "^[ABC]$", e.Source.Grade, e.ID)
		shown = append(shown, e.ID)
	}
	assert.Equal(t, strings.Fields(exampleIDs), shown)
	assert.Len(t, shown, 86)
	assert.Equal(t, strings.Fields(ruleIDs), ruled)
}

// A line of names.json that no input uses, or that leaves an input out
// without a reason, is a mistake.
func TestEveryRuleOfTheMappingIsUsed(t *testing.T) {
	rules := load[rule](t, "names.json")
	used := make([]bool, len(rules))
	for _, e := range load[example](t, "examples.json") {
		for _, x := range e.Inputs {
			if i, ok := e.mapped(rules, x); ok {
				used[i] = true
			}
		}
	}
	for i, r := range rules {
		assert.True(t, used[i], "%v", r)
		assert.True(t, r.Name != "" || r.Why != "", "%v leaves an input out without a reason", r)
	}
}

// What the mapping does alone must not be done by hand.
func TestAnOverrideHasAReasonAndIsNeeded(t *testing.T) {
	rules := load[rule](t, "names.json")
	for _, e := range load[example](t, "examples.json") {
		if e.Override == nil {
			continue
		}
		assert.NotEmpty(t, e.Override.Why, e.ID)
		e.Override = nil
		if slices.ContainsFunc(e.Inputs, func(x input) bool { _, ok := e.mapped(rules, x); return !ok }) {
			continue // an input is without a NAME
		}
		a := computed(t, e.arguments(t, rules)...)
		reached := !slices.ContainsFunc(e.Expected, func(x expected) bool {
			q := a.Quantities[x.Name]
			got, ok := in(t, q.Value, q.Unit, x.Unit)
			return !ok || !printed(got, x)
		})
		assert.False(t, reached, "%s is reached without its override", e.ID)
	}
}

func TestTheWronglyPrintedFiguresAreNotReached(t *testing.T) {
	listed := 0
	all := load[wrong](t, "wrong.json")
	for _, w := range all {
		t.Run(w.Source, func(t *testing.T) {
			assert.Equal(t, w.Listed == "", len(w.Cases) > 0, "either worked or listed with a reason")
			if w.Listed != "" {
				listed++
			}
			for _, c := range w.Cases {
				for _, x := range c.Expected {
					assert.Contains(t, strings.ReplaceAll(w.Recomputed, ",", ""), x.Value)
					args := slices.Concat(c.Arguments, c.Flags)
					got := reached(t, args, c.Sum, x)
					assert.True(t, printed(got, x), "%s is %s, not %s %s", x.Name, got.Decimal(), x.Value, x.Unit)
					if x.Printed != "" {
						disagrees(t, args, got, x)
					}
				}
			}
		})
	}
	assert.Len(t, all, 25)
	assert.Equal(t, 3, listed, "two are the text of a formula, one has no inputs")
}

// reached is our figure: of one command line, the sum of several, or what a
// finding says would agree with the others.
func reached(t *testing.T, args []string, sum [][]string, x expected) quantity.Number {
	t.Helper()
	asked := []string{"--in", x.Name + "=" + x.Unit}
	if sum == nil {
		sum = [][]string{args}
	}
	total := quantity.Number{}
	for _, line := range sum {
		a := computed(t, slices.Concat(line, asked)...)
		value, unit := a.Quantities[x.Name].Value, a.Quantities[x.Name].Unit
		if x.Agrees {
			value = ""
			for _, f := range a.Findings {
				for _, c := range f.Culprits {
					if c.Name == x.Name {
						value, unit = c.Consistent, c.Unit
					}
				}
			}
		}
		got, ok := in(t, value, unit, x.Unit)
		require.True(t, ok, "%s of %v: %q %s", x.Name, line, value, unit)
		total = total.Add(got)
	}
	return total
}

// disagrees states the wrong figure with its inputs: a finding names it when
// it is more than 5 % off. Below that, the digits given decide.
func disagrees(t *testing.T, args []string, ours quantity.Number, x expected) {
	t.Helper()
	theirs := quantity.MustNumber(x.Printed)
	assert.False(t, printed(theirs, x), "%s is not wrong", x.Printed)
	if quantity.MustNumber("0.05").Less(theirs.Quo(ours).Sub(quantity.Int(1)).Abs()) {
		assert.True(t, x.Disagrees, "%s %s is more than 5 %% off", x.Name, x.Printed)
	}
	if !x.Agrees { // else it is among the arguments already
		args = slices.Concat(args, []string{x.Name + "=" + x.Printed + x.Unit})
	}
	found := false
	for _, f := range computed(t, args...).Findings {
		found = found || slices.ContainsFunc(f.Culprits, func(c struct{ Name, Consistent, Unit string }) bool { return c.Name == x.Name })
	}
	assert.Equal(t, x.Disagrees, found, "%s stated as %s %s, ours %s", x.Name, x.Printed, x.Unit, ours.Significant(6))
}
