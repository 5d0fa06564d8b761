package compendium

import (
	"reflect"
	"slices"
	"strings"
)

// pair is one element of two lists; the side that lacks it holds nothing.
type pair struct {
	a, b     reflect.Value
	had, has bool
}

func (p pair) what() string {
	switch {
	case !p.had:
		return "added"
	case !p.has:
		return "dropped"
	}
	return "changed"
}

func (p pair) any() reflect.Value {
	if p.has {
		return p.b
	}
	return p.a
}

// match pairs the elements of two lists of structs: equal ones with each
// other, then those that are named alike, in their order. It gives the pairs
// that differ, those of the first list before what was added, and whether
// what stands in both lists stands in another order.
func match(a, b reflect.Value) (out []pair, moved bool) {
	to, used := make([]int, a.Len()), make([]bool, b.Len())
	find := func(i int, same func(x, y reflect.Value) bool) {
		for j := range b.Len() {
			if to[i] < 0 && !used[j] && same(a.Index(i), b.Index(j)) {
				to[i], used[j] = j, true
			}
		}
	}
	equal := func(x, y reflect.Value) bool { return reflect.DeepEqual(x.Interface(), y.Interface()) }
	alike := func(x, y reflect.Value) bool { l := label(x); return l != "" && l == label(y) }
	for i := range to {
		to[i] = -1
	}
	for _, same := range []func(x, y reflect.Value) bool{equal, alike} {
		for i := range to {
			find(i, same)
		}
	}
	nothing := reflect.Zero(a.Type().Elem())
	last := -1
	for i, j := range to {
		if j < 0 {
			out = append(out, pair{a.Index(i), nothing, true, false})
			continue
		}
		moved = moved || j < last
		last = max(last, j)
		if !equal(a.Index(i), b.Index(j)) {
			out = append(out, pair{a.Index(i), b.Index(j), true, true})
		}
	}
	for j := range used {
		if !used[j] {
			out = append(out, pair{nothing, b.Index(j), false, true})
		}
	}
	return out, moved
}

// label is what names an element of a list; "" where nothing does.
func label(v reflect.Value) string {
	join := func(words ...string) string {
		return strings.Join(slices.DeleteFunc(words, func(s string) bool { return s == "" }), ", ")
	}
	switch x := v.Interface().(type) {
	case Fact:
		return x.ID
	case Device:
		return join(x.Class, x.Name)
	case Access:
		return join(x.Kind, x.Name)
	case Change:
		return x.Item
	case LockLimit:
		return join(x.Solution, x.Line, x.Population, x.Gate)
	case Container:
		return x.Kind
	case Storage:
		return x.Kind
	case Figure:
		return join(MemberName(x.Name), x.Population, x.By)
	case Pair:
		return unordered(x.A, x.B)
	case Interaction:
		return unordered(x.A, x.B)
	case AllergyRelation:
		return unordered(x.A, x.B)
	case ReactionWords:
		return x.Kind
	case Flag:
		return x.Flag
	case Companion:
		return x.Need
	case LabLimit:
		return x.Test
	case Ambiguous:
		return x.Code
	case RenalBand:
		return x.Crcl.Words()
	case Band, Applies:
		return ""
	}
	if f := v.FieldByName("Name"); f.IsValid() { // drugs, hazards, sterility, groups, parts, solutes
		return f.String()
	}
	return ""
}

// element is the name of one element of a list.
func element(name string, v reflect.Value) string {
	l := label(v)
	if l == "" {
		return name
	}
	return strings.TrimSpace(name + " " + l)
}

// names are the labels of a list in its order.
func names(v reflect.Value) string {
	var out []string
	for i := range v.Len() {
		l := label(v.Index(i))
		if l == "" {
			l = whole(v.Index(i))
		}
		out = append(out, l)
	}
	return strings.Join(out, "; ")
}
