package r4

import (
	"encoding/json"
	"math/rand"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// scenarios are the Bundles of testdata/orders, each with the clock of its
// case file.
func scenarios(t testing.TB) map[string]string {
	clocks := map[string]string{}
	files, err := filepath.Glob(orders + "*/*.json")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, f := range files {
		clocks[f] = s1Now
		cases, _ := filepath.Glob(filepath.Dir(f) + "/case*.txt")
		for _, c := range cases {
			text, _ := os.ReadFile(c)
			if m := nowLine.FindSubmatch(text); m != nil {
				clocks[f] = string(m[1])
			}
		}
	}
	return clocks
}

var nowLine = regexp.MustCompile(`(?m)^now: (\S+)$`)

var placeType = reflect.TypeFor[finding.Place]()

// withoutPlaces empties every Place, and every text that is an expression of
// this document, and puts lists that follow the document into an order of
// their own.
func withoutPlaces(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			withoutPlaces(v.Elem())
		}
	case reflect.Struct:
		if v.Type() == placeType {
			v.SetZero()
			return
		}
		for i := range v.NumField() {
			if v.Field(i).CanSet() {
				withoutPlaces(v.Field(i))
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			withoutPlaces(v.Index(i))
		}
	case reflect.String:
		if strings.HasPrefix(v.String(), "Bundle.entry[") && v.CanSet() {
			v.SetString("")
		}
	}
}

func comparable(t *testing.T, c order.Case) order.Case {
	t.Helper()
	withoutPlaces(reflect.ValueOf(&c).Elem())
	for _, list := range [][]order.Order{c.Orders, c.Related} {
		slices.SortFunc(list, func(a, b order.Order) int { return strings.Compare(a.Key+a.Version, b.Key+b.Version) })
	}
	slices.SortFunc(c.Unused, func(a, b order.Unused) int { return strings.Compare(a.Reason, b.Reason) })
	return c
}

func TestTheOrderOfEntriesNeverChangesTheCase(t *testing.T) {
	random := rand.New(rand.NewSource(1))
	for file, now := range scenarios(t) {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data, err := os.ReadFile(file)
			require.NoError(t, err)
			var document map[string]json.RawMessage
			require.NoError(t, json.Unmarshal(data, &document))
			var list []json.RawMessage
			require.NoError(t, json.Unmarshal(document["entry"], &list))
			want := comparable(t, readOne(t, string(data), now))
			for range 5 {
				random.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
				document["entry"], err = json.Marshal(list)
				require.NoError(t, err)
				shuffled, err := json.Marshal(document)
				require.NoError(t, err)
				require.Equal(t, want, comparable(t, readOne(t, string(shuffled), now)))
			}
		})
	}
}

func TestEveryPlaceIsInTheDocument(t *testing.T) {
	for file, now := range scenarios(t) {
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		k := readOne(t, string(data), now)
		for _, o := range append(slices.Clone(k.Orders), k.Related...) {
			for _, s := range o.Stated {
				assert.True(t, strings.HasPrefix(s.Place.Expression, "Bundle.entry["), s.Place.Expression)
				assert.Positive(t, s.Place.Line)
				assert.False(t, s.Quantity.Absent(), s.Name)
			}
			for _, l := range o.Lines {
				assert.Positive(t, l.Place.Line)
				assert.NotEmpty(t, l.Words)
			}
		}
		for _, u := range k.Unused {
			assert.Positive(t, u.Place.Line, u.Reason)
		}
	}
}

// unreadable are the official examples that hold no order for an infusion;
// every other one gives a case.
func TestOfficialExamplesAreReadOrSaidToHoldNoInfusion(t *testing.T) {
	files, err := filepath.Glob("../../testdata/examples/*.json")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	read := 0
	for _, f := range files {
		data, err := os.ReadFile(f)
		require.NoError(t, err)
		d, _ := element.Read(data, element.Limit{})
		cases, found := ReadCases(d, clock(t, noon))
		infusions := 0
		for _, c := range cases {
			infusions += len(c.Orders)
		}
		if infusions > 0 {
			read++
			assert.Empty(t, found, f)
			continue
		}
		assert.Equal(t, []string{"document-unsupported"}, codes(found), f)
		assert.NotEmpty(t, found[0].Place.Expression)
	}
	assert.Positive(t, read, "medrx0322, medrx0336 and others are infusions")
}

// Whatever stands in place of one value of the first scenario, reading ends
// without a panic and gives the same twice.
func FuzzReadCases(f *testing.F) {
	data, err := os.ReadFile(orders + s1)
	if err != nil {
		f.Fatal(err)
	}
	for i, other := range []string{"null", `""`, "[]", "{}", "0", `{"reference":"#"}`, `[{"value":0,"system":"http://unitsofmeasure.org","code":"mL"}]`,
		`"https://marrowgate.example/fhir/Patient/pat-004417"`, "-1e20", `"2026-11"`} {
		f.Add(uint16(i*97), other)
	}
	now, _, _ := parseInstant(s1Now)
	f.Fuzz(func(t *testing.T, where uint16, other string) {
		d, _ := element.Read(mutated(data, int(where), other), element.Limit{})
		first, _ := ReadCases(d, now)
		second, _ := ReadCases(d, now)
		if !reflect.DeepEqual(first, second) {
			t.Fatal("reading twice gives two answers")
		}
	})
}

// Each value of the first scenario gives way to each of these once.
func TestNoValueInPlaceOfAnotherPanics(t *testing.T) {
	whole, err := os.ReadFile(orders + s1)
	require.NoError(t, err)
	now := clock(t, s1Now)
	d, _ := element.Read(whole, element.Limit{})
	for where := range d.Size() {
		for _, other := range []string{`""`, "[]", "{}", `{"reference":"Patient/pat-004417"}`} {
			d, _ := element.Read(mutated(whole, where, other), element.Limit{})
			ReadCases(d, now)
		}
	}
}

// mutated puts other in place of one value of the document.
func mutated(data []byte, where int, other string) []byte {
	d, _ := element.Read(data, element.Limit{})
	var all []element.Node
	var walk func(element.Node)
	walk = func(n element.Node) {
		all = append(all, n)
		for _, m := range n.Members() {
			walk(m)
		}
		if n.Kind() == element.Array {
			for _, e := range n.Each() {
				walk(e)
			}
		}
	}
	walk(d.Root())
	if len(all) == 0 {
		return data
	}
	raw := all[where%len(all)].Raw()
	return []byte(strings.Replace(string(data), string(raw), other, 1))
}
