package element

import (
	"encoding/json"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestWhatIsEmptyIsLeftOut(t *testing.T) {
	v := Obj(
		F("resourceType", Str("Task")),
		F("description", Str("")),
		F("note", List()),
		F("code", Obj(F("coding", List(Obj(F("display", Str(""))), Value{})))),
		F("quantity", Num("")),
		F("input", RawNode(Node{})),
		F("owner", When(false, Str("x"))),
		F("priority", When(true, Str("urgent"))),
		F("active", Boolean(false)),
		F("count", Int(0)),
		F("zero", Num("0")),
		F("findings", Always(List())),
		F("nothing", Strs("", "")),
	)
	assert.Equal(t, `{"resourceType":"Task","priority":"urgent","active":false,"count":0,"zero":0,"findings":[]}`, string(Compact(v)))
	assert.False(t, v.Empty())
	assert.True(t, Obj(F("a", List(Str("")))).Empty())
}

func TestEncodeIndentsWithTwoSpacesAndEndsWithALineFeed(t *testing.T) {
	v := Obj(F("a", List(Num("1.50"), Str("x"))), F("b", Obj(F("c", Boolean(true)))), F("d", Always(List())))
	assert.Equal(t, "{\n  \"a\": [\n    1.50,\n    \"x\"\n  ],\n  \"b\": {\n    \"c\": true\n  },\n  \"d\": []\n}\n", string(Encode(v)))
	assert.Equal(t, "{\"a\":[1.50,\"x\"],\"b\":{\"c\":true},\"d\":[]}\n", string(EncodeLine(v)))
}

func TestNumbersAreWrittenAsTheyStand(t *testing.T) {
	for _, literal := range []string{"0.50", "-1", "1E5", "250", "1.0e-3", "0"} {
		assert.Equal(t, literal, string(Compact(Num(literal))))
	}
	for _, no := range []string{"1,5", "01", ".5", "+1", "NaN", "1 mg", " 1", "1 ", "1\n", "-", "true", `"1"`, "[1]"} {
		out := Compact(Num(no))
		var s string
		require.NoError(t, json.Unmarshal(out, &s), "no number, so written as a string: %s", out)
		assert.Equal(t, no, s)
	}
}

func TestStringsAreEscapedAsJSONDemandsAndNoFurther(t *testing.T) {
	cases := map[string]string{
		"a < b & c > d":    `"a < b & c > d"`,
		"say \"x\" \\ /":   `"say \"x\" \\ /"`,
		"a\tb\nc\rd":       `"a\tb\nc\rd"`,
		"\x01\u007f\u2028": "\"\\u0001\u007f\u2028\"",
		"Öé😀":              `"Öé😀"`,
		"bad \xFF byte":    "\"bad \uFFFD byte\"",
	}
	for in, want := range cases {
		assert.Equal(t, want, string(Compact(Str(in))))
	}
}

func TestWithAndAppendDoNotChangeTheirSource(t *testing.T) {
	base := Obj(F("a", Str("1")))
	x, y := base.With(F("b", Str("2"))), base.With(F("c", Str("3")))
	assert.Equal(t, `{"a":"1"}`, string(Compact(base)))
	assert.Equal(t, `{"a":"1","b":"2"}`, string(Compact(x)))
	assert.Equal(t, `{"a":"1","c":"3"}`, string(Compact(y)))
	list := List(Str("1"))
	p, q := list.Append(Str("2")), list.Append(Str("3"))
	assert.Equal(t, `["1","2"]`, string(Compact(p)))
	assert.Equal(t, `["1","3"]`, string(Compact(q)))
}

func TestARawNodeKeepsOrderLiteralsAndPadding(t *testing.T) {
	d, findings := Read([]byte(resource(`"z": 1.50 , "given" : [ "a\/b" , null ], "_given":[null,{"id":"g"}]`)), Limit{})
	require.Empty(t, findings)
	assert.Equal(t, `{"in":{"resourceType":"Observation","z":1.50,"given":["a/b",null],"_given":[null,{"id":"g"}]}}`,
		string(Compact(Obj(F("in", RawNode(d.Root()))))))
}

func TestCanonical(t *testing.T) {
	read := func(s string) Node {
		d, findings := Read([]byte(s), Limit{})
		require.Empty(t, findings)
		return d.Root()
	}
	a := read(`{"resourceType":"MedicationRequest","meta":{"versionId":"1"},"note":[{"text":"b","meta":"kept"}],"dose":1.50,"id":"\u0061"}`)
	b := read("{\n \"id\" : \"a\", \"note\":[{\"meta\":\"kept\",\"text\":\"b\"}],\n \"dose\":1.50,\"resourceType\":\"MedicationRequest\"}")
	assert.Equal(t, `{"dose":1.50,"id":"a","note":[{"meta":"kept","text":"b"}],"resourceType":"MedicationRequest"}`, string(Canonical(a, "meta")))
	assert.Equal(t, string(Canonical(a, "meta")), string(Canonical(b, "meta")), "order, space, escapes and meta have no part in it")
	assert.Contains(t, string(Canonical(a)), "versionId")
	assert.NotEqual(t, Canonical(read(resource(`"dose":1.5`))), Canonical(read(resource(`"dose":1.50`))), "a literal is content")
	assert.NotEqual(t, Canonical(read(resource(`"a":[1,2]`))), Canonical(read(resource(`"a":[2,1]`))), "the order of an array is content")
	assert.Nil(t, Canonical(Node{}))
}

// anyValue draws values that FHIR's JSON form allows: nothing empty, no nulls.
func anyValue(t *rapid.T, depth int) Value {
	top := 4
	if depth > 4 {
		top = 2
	}
	switch rapid.IntRange(0, top).Draw(t, "kind") {
	case 0:
		return Str(rapid.StringMatching("[a-zA-Zé😀<&\"\\\\/\t\n\u2028]{0,12}[a-z]").Draw(t, "string"))
	case 1:
		return Num(rapid.StringMatching(`(0|-?[1-9][0-9]{0,8})(\.[0-9]{1,5})?([eE][+-]?1?[0-9])?`).Draw(t, "number"))
	case 2:
		return Boolean(rapid.Bool().Draw(t, "bool"))
	case 3:
		list := List(anyMember(t, depth+1))
		for range rapid.IntRange(0, 3).Draw(t, "items") {
			list = list.Append(anyMember(t, depth+1))
		}
		return list
	}
	return anyObject(t, depth+1)
}

// anyMember is a value that may stand in an array: no array.
func anyMember(t *rapid.T, depth int) Value {
	if v := anyValue(t, depth); v.kind != Array {
		return v
	}
	return Str("instead")
}

func anyObject(t *rapid.T, depth int) Value {
	v := Obj(F("id", Str("x")))
	for _, name := range rapid.SliceOfNDistinct(rapid.StringMatching(`[a-h][a-zé."]{0,6}`), 0, 5, rapid.ID[string]).Draw(t, "names") {
		v = v.With(F(name, anyValue(t, depth)))
	}
	return v
}

func TestWhatIsWrittenIsReadAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := Obj(F("resourceType", Str("Basic"))).With(F("body", anyObject(t, 0)))
		compact := Compact(v)
		d, findings := Read(compact, Limit{})
		require.Empty(t, findings, "%s", compact)
		assert.Equal(t, string(compact), string(Compact(RawNode(d.Root()))))
		indented, findings := Read(Encode(v), Limit{})
		require.Empty(t, findings)
		assert.Equal(t, string(compact), string(Compact(RawNode(indented.Root()))), "indenting changes no value")
		assert.True(t, json.Valid(compact))
	})
}

// shuffled is the value with the members of every object in another order.
func shuffled(v Value, r *rand.Rand) Value {
	fields := append([]Field(nil), v.fields...)
	items := append([]Value(nil), v.items...)
	r.Shuffle(len(fields), func(i, j int) { fields[i], fields[j] = fields[j], fields[i] })
	for i := range fields {
		fields[i].Value = shuffled(fields[i].Value, r)
	}
	for i := range items {
		items[i] = shuffled(items[i], r)
	}
	v.fields, v.items = fields, items
	return v
}

func TestCanonicalDoesNotDependOnTheOrderOfMembers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := Obj(F("resourceType", Str("Basic")), F("body", anyObject(t, 0)))
		other := shuffled(v, rand.New(rand.NewSource(rapid.Int64().Draw(t, "seed"))))
		a, f1 := Read(Compact(v), Limit{})
		b, f2 := Read(Encode(other), Limit{})
		require.Empty(t, f1)
		require.Empty(t, f2)
		assert.Equal(t, string(Canonical(a.Root())), string(Canonical(b.Root())))
		again, f3 := Read(Canonical(a.Root()), Limit{})
		require.Empty(t, f3)
		assert.Equal(t, string(Canonical(a.Root())), string(Canonical(again.Root())), "canonical stays canonical")
	})
}
