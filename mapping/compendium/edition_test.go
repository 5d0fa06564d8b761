package compendium

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// edited gives the shipped tables with one text of one file changed, as a
// new edition in a folder.
func edited(t *testing.T, file, in, out string) *Tables {
	files := Shipped()
	require.Contains(t, string(files[file]), in)
	files[file] = []byte(strings.Replace(string(files[file]), in, out, 1))
	tables, err := Load(files)
	require.NoError(t, err)
	return tables
}

// What differs is read by a pharmacist: the member, what stood there and what
// stands there, and nothing that did not change.
func TestADifferenceIsReadMemberByMember(t *testing.T) {
	for says, c := range map[string]struct{ file, in, out, row, fact, want string }{
		"a dose":            {"drugs/vancomycin.json", `"dose": {"value": 500, "unit": "mg"}`, `"dose": {"value": 1500, "unit": "mg"}`, "vancomycin", "vancomycin-001", "dose: 500 mg → 1,500 mg"},
		"a unit":            {"drugs/vancomycin.json", `"dose": {"value": 500, "unit": "mg"}`, `"dose": {"value": 500, "unit": "ug"}`, "vancomycin", "vancomycin-001", "dose: 500 mg → 500 micrograms"},
		"an end of a range": {"drugs/vancomycin.json", `"low": 400, "high": 600`, `"low": 400, "high": 500`, "vancomycin", "vancomycin-030", "other value, target auc 24: 400 to 600 mg-hours per L → 400 to 500 mg-hours per L"},
		"a source":          {"drugs/vancomycin.json", `"source": "recalled 2020 vancomycin consensus guideline (not re-read)"`, `"source": "the label"`, "vancomycin", "vancomycin-007", "source: recalled 2020 vancomycin consensus guideline (not re-read) → the label"},
		"a fluid":           {"drugs/vancomycin.json", `"list": ["NS", "D5W"]`, `"list": ["NS"]`, "vancomycin", "vancomycin-016", "list, dropped: dextrose 5 % in water"},
		"a digit that says": {"drugs/vancomycin.json", `"dose": {"value": 500, "unit": "mg"}`, `"dose": {"value": 500.0, "unit": "mg"}`, "vancomycin", "vancomycin-001", "dose: `{\"unit\":\"mg\",\"value\":500}` → `{\"unit\":\"mg\",\"value\":500.0}`"},
		"a drug's list":     {"drugs/vancomycin.json", `"also": ["vancomycin hydrochloride"]`, `"also": ["vancomycin hydrochloride", "vancomycin base"]`, "vancomycin", "", "also called, added: vancomycin base"},
		"an alert":          {"drugs/vancomycin.json", `"highAlert": false`, `"highAlert": true`, "vancomycin", "", "high alert: no → yes"},
		"the edition":       {"edition.json", `"edition": "2026-11"`, `"edition": "2027-02"`, "", "", "edition: 2026-11 → 2027-02"},
		"the review":        {"hazards.json", `"reviewedUntil":"2015"`, `"reviewedUntil":"2020"`, "", "", "reviewed until: 2015 → 2020"},
		"a hazard":          {"hazards.json", `"name": "arsenic trioxide", "table": "1"`, `"name": "arsenic trioxide", "table": "2"`, "arsenic trioxide", "", "table: 1 → 2"},
		"a solute":          {"solutes.json", `"58.44"`, `"58.45"`, "sodium chloride", "", "molar mass: 58.44 → 58.45"},
		"what people read":  {"solutes.json", `"formula": "NaCl"`, `"formula": "Na Cl"`, "sodium chloride", "", "formula: NaCl → Na Cl"},
	} {
		got := Compare(Embedded(), edited(t, c.file, c.in, c.out))
		if assert.Len(t, got, 1, says) && assert.Len(t, got[0].Changes, 1, says) {
			assert.Equal(t, c.want, got[0].Changes[0].String(), says)
			assert.Equal(t, [3]string{c.row, c.fact, "changed"}, [3]string{got[0].Row, got[0].Fact, got[0].What}, says)
		}
	}
	assert.Empty(t, Compare(Embedded(), Embedded()))
}

// Bytes that change no value void a signature, and that is said.
func TestBytesThatChangeNoValueAreSaid(t *testing.T) {
	for table, file := range map[string]string{"drugs": "drugs/vancomycin.json", "hazards": "hazards.json", "devices": "devices.json", "solutes": "solutes.json"} {
		files := Shipped()
		files[file] = append(slices.Clone(files[file]), '\n')
		after, err := Load(files)
		require.NoError(t, err)
		got := Compare(Embedded(), after)
		require.Len(t, got, 1, file)
		assert.Equal(t, table, got[0].Table)
		assert.Contains(t, got[0].Changes[0].Name, "no value")
		assert.Contains(t, got[0].Changes[0].Is, after.Hashes[table])
	}
}

// A fact that is added or dropped is listed with all it sets, one that moves
// to another drug too, and a fact that never gates says so.
func TestWhatIsAddedOrDroppedIsListedWhole(t *testing.T) {
	one := func(facts ...Fact) *Tables { return &Tables{Drugs: []Drug{{Name: "alpha", Facts: facts}}} }
	f := Fact{ID: "alpha-001", Topic: "usual_dose", Population: "adult", Value: Value{Dose: &Band{Value: "2", Unit: "g"}}, Standing: Memory, Source: "a label", Review: "no limit"}
	want := []Member{{"id", "", "alpha-001"}, {"topic", "", "usual dose"}, {"population", "", "adult"}, {"dose", "", "2 g"}, {"standing", "", "memory"}, {"source", "", "a label"}, {"review", "", "no limit"}, {"gates", "", "no"}}
	assert.Equal(t, []Difference{{Table: "drugs", Row: "alpha", Fact: "alpha-001", What: "added", Changes: want}}, Compare(one(), one(f)))
	got := Compare(one(f), one())
	require.Len(t, got, 1)
	assert.Equal(t, "dropped", got[0].What)
	assert.Equal(t, Member{"dose", "2 g", ""}, got[0].Changes[3])
	both := &Tables{Drugs: []Drug{{Name: "alpha"}, {Name: "beta", Facts: []Fact{f}}}}
	moved := Compare(&Tables{Drugs: []Drug{{Name: "alpha", Facts: []Fact{f}}, {Name: "beta"}}}, both)
	require.Len(t, moved, 2)
	assert.Equal(t, [2]string{"dropped", "added"}, [2]string{moved[0].What, moved[1].What})
}

// filled sets every member of every row of one part: two elements in each
// list, a text or number of its own in each place.
func filled(t *testing.T, part string) *Tables {
	n := 0
	var fill func(v reflect.Value, name string)
	fill = func(v reflect.Value, name string) {
		n++
		switch v.Kind() {
		case reflect.String:
			v.SetString(fmt.Sprintf("w%dx", n))
			if v.Type() == reflect.TypeFor[json.Number]() || slices.Contains([]string{"Value", "Low", "High", "Above", "From"}, name) {
				v.SetString(fmt.Sprint(n))
			}
		case reflect.Bool:
			v.SetBool(true)
		case reflect.Pointer:
			v.Set(reflect.New(v.Type().Elem()))
			fill(v.Elem(), name)
		case reflect.Slice:
			v.Set(reflect.MakeSlice(v.Type(), 2, 2))
			fill(v.Index(0), name)
			fill(v.Index(1), name)
		case reflect.Map:
			one := reflect.New(v.Type().Elem()).Elem()
			fill(one, name)
			v.Set(reflect.MakeMap(v.Type()))
			v.SetMapIndex(reflect.ValueOf(fmt.Sprintf("key%d", n)), one)
		case reflect.Struct:
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.IsExported() || f.Anonymous {
					fill(v.Field(i), v.Type().Field(i).Name)
				}
			}
		default:
			require.Fail(t, "a member of a kind nobody compares", "%s: %s", name, v.Kind())
		}
	}
	out := &Tables{}
	fill(parts(out)[part], "")
	return out
}

// parts are all values of the tables that a file can set, to be changed.
func parts(t *Tables) map[string]reflect.Value {
	at := func(p any) reflect.Value { return reflect.ValueOf(p).Elem() }
	return map[string]reflect.Value{"drugs": at(&t.Drugs), "drugs edition": at(&t.Edition), "drugs notice": at(&t.notice),
		"hazards": at(&t.Hazards), "hazards edition": at(&t.HazardEdition), "hazards reviewed until": at(&t.ReviewedUntil),
		"hazards reviewed approvals": at(&t.reviewedApprovals), "hazards antineoplastic word": at(&t.antineoplasticWord),
		"devices": at(&t.devices), "access": at(&t.access), "sterility": at(&t.sterility), "pairs": at(&t.pairs), "interactions": at(&t.interactions), "solutes": at(&t.solutes), "allergies": at(&t.allergies)}
}

// leaf is one place of the tables and how to change it.
type leaf struct {
	path   []string // names of the members from the table down
	change func()
	one    bool // one member changes, and nothing else is listed
}

func leaves(v reflect.Value, path []string, see func(leaf)) {
	at := func(name string) []string { return append(slices.Clone(path), name) }
	tell := func(change func()) {
		see(leaf{path, change, v.Kind() == reflect.String || v.Kind() == reflect.Bool})
	}
	switch v.Kind() {
	case reflect.String:
		tell(func() {
			v.SetString(map[bool]string{true: "77777", false: "changed"}[strings.Trim(v.String(), "0123456789") == ""])
		})
		tell(func() { v.SetString(v.String() + v.String()) })
		tell(func() { v.SetString("") })
	case reflect.Bool:
		tell(func() { v.SetBool(!v.Bool()) })
	case reflect.Pointer:
		leaves(v.Elem(), path, see)
		tell(func() { v.SetZero() })
	case reflect.Slice:
		leaves(v.Index(1), path, see)
		tell(func() { v.SetLen(1) })
		tell(func() { v.SetZero() })
		tell(func() { v.Set(reflect.Append(v, reflect.Zero(v.Type().Elem()))) })
		tell(func() { reflect.Swapper(v.Interface())(0, 1) })
	case reflect.Map:
		key := v.MapKeys()[0]
		for i := range v.Type().Elem().NumField() {
			tell(func() {
				x := reflect.New(v.Type().Elem()).Elem()
				x.Set(v.MapIndex(key))
				x.Field(i).SetString("77777")
				v.SetMapIndex(key, x)
			})
		}
		tell(func() { v.SetMapIndex(key, reflect.Value{}) })
		tell(func() { v.SetMapIndex(reflect.ValueOf("another"), v.MapIndex(key)) })
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			switch {
			case f.Anonymous:
				leaves(v.Field(i), path, see)
			case f.IsExported():
				leaves(v.Field(i), at(f.Name), see)
			}
		}
	}
}

// Every member of every row of every table is changed in turn, emptied,
// doubled, dropped and moved: a difference of that table names it.
func TestNoMemberOfAnyTableCanChangeUnlisted(t *testing.T) {
	count := 0
	for part := range parts(&Tables{}) {
		table := strings.Fields(part)[0]
		n := 0
		before := filled(t, part)
		require.Zero(t, len(Compare(before, filled(t, part))))
		leaves(parts(before)[part], nil, func(leaf) { n++ })
		for i := range n {
			after := filled(t, part)
			var changed leaf
			at := 0
			leaves(parts(after)[part], nil, func(l leaf) {
				if at == i {
					changed = l
				}
				at++
			})
			changed.change()
			got := Compare(before, after)
			where := part + " " + strings.Join(changed.path, ".")
			if !assert.NotEmpty(t, got, where) {
				return
			}
			var said []string
			for _, d := range got {
				assert.Equal(t, table, d.Table, where)
				require.NotEmpty(t, d.Changes, where)
				said = append(said, d.Row)
				for _, m := range d.Changes {
					assert.NotEqual(t, m.Was, m.Is, "%s: %s", where, m)
					said = append(said, m.Name)
				}
				assert.True(t, d.What != "changed" || !changed.one || len(d.Changes) == 1, "%s: only what changed is listed: %v", where, d.Changes)
			}
			want := "value"
			if names := changed.path; len(names) > 0 {
				if want = MemberName(names[len(names)-1]); slices.Contains(numbers, names[len(names)-1]) || want == "value" {
					want = ""
				}
			}
			if rows := strings.Fields(part); len(rows) > 1 {
				want = strings.Join(rows[1:], " ")
			}
			told := strings.Join(said, "|")
			row := slices.Contains([]string{"rows", "facts", "value", "solutes"}, want) // what was dropped, added or moved is told by itself
			assert.True(t, row || strings.Contains(told, want), "%s is not named by %s", where, told)
			count++
		}
	}
	assert.Greater(t, count, 500, "the test saw the members")
}
