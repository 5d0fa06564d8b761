package terminal

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
)

// shown is the page of a drug, without blanks: where a line breaks is no
// matter here.
func shown(d compendium.Drug) string {
	return strings.Join(strings.Fields(Drug(d, compendium.Listing{}, false)), "")
}

// marked changes each leaf of a value in turn, calls check with the mark its
// page must then hold ("" where the page must only differ), and puts the leaf
// back. Leaves that are not set are left out unless all is true.
func marked(v reflect.Value, path string, check func(path, mark string)) {
	put := func(next reflect.Value, mark string) {
		was := reflect.New(v.Type()).Elem()
		was.Set(v)
		v.Set(next.Convert(v.Type()))
		check(path, mark)
		v.Set(was)
	}
	switch v.Kind() {
	case reflect.String:
		switch {
		case v.Len() == 0:
		case v.Type() == reflect.TypeFor[json.Number]():
			put(reflect.ValueOf("7351"), "7,351")
		default:
			put(reflect.ValueOf(v.String()+"zq"), "zq")
		}
	case reflect.Bool:
		put(reflect.ValueOf(!v.Bool()), "")
	case reflect.Pointer:
		if !v.IsNil() {
			marked(v.Elem(), path, check)
		}
	case reflect.Slice:
		for i := range v.Len() {
			marked(v.Index(i), fmt.Sprintf("%s[%d]", path, i), check)
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			was := v.MapIndex(k)
			one := reflect.New(was.Type()).Elem()
			one.Set(was)
			marked(one, path+"."+k.String(), func(path, mark string) {
				v.SetMapIndex(k, one)
				check(path, mark)
				v.SetMapIndex(k, was)
			})
			v.SetMapIndex(k, reflect.Value{})
			v.SetMapIndex(reflect.ValueOf(k.String()+"zq"), was)
			check(path+"."+k.String(), "zq")
			v.SetMapIndex(reflect.ValueOf(k.String()+"zq"), reflect.Value{})
			v.SetMapIndex(k, was)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				marked(v.Field(i), path+"."+f.Name, check)
			}
		}
	}
}

// everyLeaf requires that no leaf of a drug can change unseen.
func everyLeaf(t *testing.T, d *compendium.Drug) int {
	page, n := shown(*d), 0
	marked(reflect.ValueOf(d).Elem(), d.Name, func(path, mark string) {
		n++
		after := shown(*d)
		if after == page || mark != "" && strings.Count(after, mark) <= strings.Count(page, mark) {
			assert.Failf(t, "signed unread", "%s is not on the page", path)
		}
	})
	assert.Equal(t, page, shown(*d), "every leaf was put back")
	return n
}

// body is one fact as it stands on a page, without blanks.
func body(f compendium.Fact) string {
	p := &page{narrow: true, labels: 12}
	oneFact(p, f)
	return strings.Join(strings.Fields(p.b.String()), "")
}

// Every leaf of every drug is on its page: a changed word, number, unit or
// yes is seen there.
func TestEveryLeafOfEveryDrugIsOnItsPage(t *testing.T) {
	mine, err := compendium.Load(compendium.Shipped()) // to be changed
	require.NoError(t, err)
	require.Len(t, mine.Drugs, 60)
	for _, d := range mine.Drugs {
		t.Run(d.Name, func(t *testing.T) {
			t.Parallel()
			head, facts := d, d.Facts // one by one, so that each leaf costs a short page
			head.Facts = nil
			n := everyLeaf(t, &head)
			for _, f := range facts {
				n += everyLeaf(t, &compendium.Drug{Name: d.Name, Facts: []compendium.Fact{f}})
			}
			assert.Greater(t, n, 80)
			page := shown(d)
			for _, f := range facts {
				assert.True(t, strings.Contains(page, body(f)), f.ID+": and every fact is whole on the page of its drug")
			}
		})
	}
}

// What no drug sets today is shown as well: the type is filled, not read.
func TestEveryMemberOfADrugIsOnItsPage(t *testing.T) {
	n := 0
	var fill func(v reflect.Value)
	fill = func(v reflect.Value) {
		n++
		switch v.Kind() {
		case reflect.String:
			v.SetString(fmt.Sprintf("w%dx", n))
			if v.Type() == reflect.TypeFor[json.Number]() {
				v.SetString(fmt.Sprint(100000 + n))
			}
		case reflect.Bool:
			v.SetBool(true)
		case reflect.Pointer:
			v.Set(reflect.New(v.Type().Elem()))
			fill(v.Elem())
		case reflect.Slice:
			v.Set(reflect.MakeSlice(v.Type(), 1, 1))
			fill(v.Index(0))
		case reflect.Map:
			one := reflect.New(v.Type().Elem()).Elem()
			fill(one)
			v.Set(reflect.MakeMap(v.Type()))
			v.SetMapIndex(reflect.ValueOf("something"), one)
		case reflect.Struct:
			for i := range v.NumField() {
				fill(v.Field(i))
			}
		default:
			require.Fail(t, "a member of a kind nobody shows", v.Kind().String())
		}
	}
	var d compendium.Drug
	fill(reflect.ValueOf(&d).Elem())
	assert.Greater(t, everyLeaf(t, &d), 190)
}

// Each topic and each seldom member has words of its own.
func TestTopicsAndSeldomMembersHaveWords(t *testing.T) {
	for _, d := range compendium.Embedded().Drugs {
		for _, f := range d.Facts {
			assert.Less(t, placeOf(f.Topic), len(topics), f.Topic)
			for name := range f.Value.Other {
				assert.NotEmpty(t, rare[name], "%s: %s", f.ID, name)
			}
		}
		for _, f := range d.Flags {
			assert.Contains(t, flagWords, f.Flag)
		}
	}
	seen := map[string]bool{}
	for _, x := range topics {
		assert.False(t, seen[x.topic] || seen[x.title], x.title)
		seen[x.topic], seen[x.title] = true, true
	}
}

// A page keeps to the rules for safe notation and to 80 columns. Sources,
// codes and the names of orders are left out: they are shown as they are.
func TestADrugsPageIsPlainAndFitsATerminal(t *testing.T) {
	left := []string{"source", "codes known", "found as", "known", "says", "found", "also called", "never this"}
	for _, d := range compendium.Embedded().Drugs {
		var prose []string
		skip := false
		for _, l := range strings.Split(Drug(d, compendium.Embedded().Hazard(compendium.Asked{Item: compendium.Item{Names: []string{d.Name}}}), false), "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(l), 79, l)
			text := strings.TrimSpace(l)
			if label := strings.HasPrefix(l, "  ") && len(l) > 6 && (l[2] != ' ' || l[4] != ' ' && l[3] == ' '); label || text == "" {
				skip = false
				for _, name := range left {
					skip = skip || strings.HasPrefix(text, name+" ")
				}
			}
			if !skip {
				prose = append(prose, text)
			}
		}
		text := strings.Join(prose, " ")
		assert.Empty(t, notation.Scan(text), d.Name)
		assert.NotContains(t, text, "`", d.Name)
		assert.NotContains(t, text, "_", d.Name)
		for _, word := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" ;,().:", r) }) {
			assert.NotContains(t, []string{"ug", "IV", "SC", "IM", "NS", "D5W", "SWFI", "LR", "mcg"}, word, d.Name)
		}
	}
}

func TestPlainWords(t *testing.T) {
	for in, want := range map[string]string{
		"IM or SC causes severe tissue irritation": "intramuscular or subcutaneous causes severe tissue irritation",
		"20%, up to 10 years (0.15 g/kg/h)":        "20%, up to 10 years (0.15 g per kg per hour)",
		"0.125 to 0.25 ug/kg/min is usual":         "0.125 to 0.25 micrograms per kg per minute is usual",
		"vials; premix 200 ug/mL in 100 mL":        "vials; premix 200 micrograms per mL in 100 mL",
		"premix 1 g/50 mL and 2 g/100 mL":          "premix 1 g per 50 mL and 2 g per 100 mL",
		"two makers 0.30 and 0.34":                 "two makers 0.3 and 0.34",
		"2.6-4.0 mg/dL":                            "2.6-4 mg per dL",
		"gives about 2 290 mg per 24 h":            "gives about 2,290 mg per 24 hours",
		"doses over 1000 mg":                       "doses over 1,000 mg",
		"within 1 h, then 7 d or 14-21 d":          "within 1 hour, then 7 days or 14-21 days",
		"50 mg vial, SWFI":                         "50 mg vial, sterile water for injection",
		"diluted with NS or D5W":                   "diluted with sodium chloride 0.9 % or dextrose 5 % in water",
		"relapsed/refractory and CD19/CD3":         "relapsed/refractory and CD19/CD3",
		"the limit is infusion_duration_min":       "the limit is shortest infusion time",
		"2010 and 2014 guidelines":                 "2010 and 2014 guidelines",
		"10.5 to 20, 0.05 and 100":                 "10.5 to 20, 0.05 and 100",
		"":                                         "",
	} {
		assert.Equal(t, want, plain(in), in)
	}
}

// A number and its unit never part at the end of a line.
func TestANumberStaysWithItsUnit(t *testing.T) {
	p := &page{narrow: true}
	p.text(0, strings.Repeat("word ", 15)+"750 mg, "+strings.Repeat("word ", 13)+"0.45 %")
	for _, l := range strings.Split(p.b.String(), "\n") {
		assert.LessOrEqual(t, len(l), 79)
		assert.NotRegexp(t, `\d$`, l)
	}
	assert.Contains(t, p.b.String(), "\n750 mg,")
	for _, d := range compendium.Embedded().Drugs {
		for _, l := range strings.Split(Drug(d, compendium.Listing{}, false), "\n") {
			if strings.HasPrefix(strings.TrimSpace(l), "%") || strings.HasPrefix(strings.TrimSpace(l), "mg") {
				assert.Fail(t, "a unit begins the line", "%s: %s", d.Name, l)
			}
		}
	}
}

// What stands in a file and fits no pattern of a row is shown all the same.
func TestNothingOfAFileIsPassedOver(t *testing.T) {
	out := Rows("what it decides", []byte(`{"edition": "e", "alone": {"cc": ["mL", "millilitre"], "": [], "deep": {"times": 2}}, "words": ["a", "b"], "none": [],
		"rows": [{"name": "x", "unit": "kg", "sure": false, "least": "2", "most": "3"}, {"unit": "kg"}, {"code": 5, "middle": "1200", "unit": "mL"}]}`))
	for _, want := range []string{"What it decides", "edition    e", "cc:        mL; millilitre", "times:     2", "a; b", "none: 0", "- x, at least 2 kg at most 3 kg", "sure       false", "- in kg", "code       5", "most often near 1,200 mL", "nothing:"} {
		assert.Contains(t, out, want)
	}
	assert.Contains(t, Rows("x", []byte("{")), "x: unexpected EOF")
}
