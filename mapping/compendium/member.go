package compendium

import (
	"cmp"
	"encoding/json"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// numbers are the members that make one value with the member Unit.
var numbers = []string{"Value", "Low", "High", "Above", "From", "List", "Unit"}

// members lists every member of two values of one type that differs, under
// its name in words. What differs is never passed over: where the words are
// the same, the letters are shown.
func members(name string, a, b reflect.Value) []Member {
	if reflect.DeepEqual(a.Interface(), b.Interface()) {
		return nil
	}
	out := walk(name, a, b)
	if len(out) == 0 {
		out = []Member{exactly(name, a, b)}
	}
	for i := range out {
		if out[i].Name == "" {
			out[i].Name = "value"
		}
	}
	return out
}

func walk(name string, a, b reflect.Value) (out []Member) {
	switch a.Kind() {
	case reflect.Pointer:
		return members(name, deref(a), deref(b))
	case reflect.Map:
		for _, k := range union(a, b) {
			out = append(out, members(under(name, MemberName(k)), entry(a, k), entry(b, k))...)
		}
		return out
	case reflect.Slice:
		if a.Type().Elem().Kind() == reflect.Struct {
			return list(name, a, b)
		}
		return lines(name, a, b)
	case reflect.Struct:
		return structs(name, a, b)
	}
	return []Member{differ(name, say(a), say(b), a, b)}
}

// structs compares two structs member by member; number and unit are one.
func structs(name string, a, b reflect.Value) (out []Member) {
	t := a.Type()
	unit, measured := t.FieldByName("Unit")
	measured = measured && len(unit.Index) == 1 // its own, not that of a band inside
	value := false
	for i := range t.NumField() {
		f := t.Field(i)
		switch {
		case !f.IsExported() && !f.Anonymous: // worked out from the others
		case measured && slices.Contains(numbers, f.Name):
			value = value || !reflect.DeepEqual(a.Field(i).Interface(), b.Field(i).Interface())
		case f.Anonymous, f.Type == reflect.TypeFor[Value]():
			out = append(out, members(name, a.Field(i), b.Field(i))...)
		default:
			out = append(out, members(under(name, MemberName(f.Name)), a.Field(i), b.Field(i))...)
		}
	}
	if value {
		at := name
		if t != reflect.TypeFor[Band]() && t != reflect.TypeFor[Figure]() {
			at = under(name, "value")
		}
		out = append([]Member{differ(at, figured(a), figured(b), numbersOf(a), numbersOf(b))}, out...)
	}
	return out
}

// figured are the numbers of a struct with their unit, in words.
func figured(v reflect.Value) string {
	get := func(name string) string {
		if f := v.FieldByName(name); f.IsValid() && f.Kind() == reflect.String {
			return f.String()
		}
		return ""
	}
	unit := get("Unit")
	var out []string
	band := Band{Value: json.Number(get("Value")), Low: json.Number(get("Low")), High: json.Number(get("High")), Unit: unit}
	if w := band.Words(); w != "" {
		out = append(out, w)
	}
	for _, x := range []struct{ member, word string }{{"Above", "above "}, {"From", "from "}} {
		if n := get(x.member); n != "" {
			out = append(out, x.word+measure(n, unit))
		}
	}
	if l := v.FieldByName("List"); l.IsValid() {
		for i := range l.Len() {
			out = append(out, measure(l.Index(i).String(), unit))
		}
	}
	return strings.Join(out, ", ")
}

// numbersOf are the numbers and the unit alone, for their letters.
func numbersOf(v reflect.Value) reflect.Value {
	out := map[string]any{}
	for _, n := range numbers {
		if f := v.FieldByName(n); f.IsValid() && !f.IsZero() {
			out[strings.ToLower(n)] = f.Interface()
		}
	}
	return reflect.ValueOf(out)
}

// list compares two lists of structs: what is only in one is added or
// dropped, what has the same label or the same place is compared.
func list(name string, a, b reflect.Value) (out []Member) {
	pairs, moved := match(a, b)
	var gone, come []pair
	for _, p := range pairs {
		switch p.what() {
		case "changed":
			out = append(out, members(element(name, p.any()), p.a, p.b)...)
		case "dropped":
			gone = append(gone, p)
		default:
			come = append(come, p)
		}
	}
	for len(gone) > 0 && len(come) > 0 { // what names it changed
		out = append(out, members(element(name, gone[0].a), gone[0].a, come[0].b)...)
		gone, come = gone[1:], come[1:]
	}
	left, right := sides(name, a, b)
	for _, p := range gone {
		out = append(out, Member{left, whole(p.a), ""})
	}
	for _, p := range come {
		out = append(out, Member{right, "", whole(p.b)})
	}
	if moved {
		out = append(out, differ(name+", order", names(a), names(b), a, b))
	}
	return out
}

// lines compares two lists of words or numbers.
func lines(name string, a, b reflect.Value) (out []Member) {
	words := func(v reflect.Value) (out []string) {
		for i := range v.Len() {
			out = append(out, cmp.Or(say(v.Index(i)), letters(v.Index(i))))
		}
		return out
	}
	was, is := words(a), words(b)
	gone, come := minus(was, is), minus(is, was)
	switch {
	case len(gone) == 1 && len(come) == 1:
		out = append(out, differ(name, gone[0], come[0], reflect.ValueOf(gone[0]), reflect.ValueOf(come[0])))
	case len(gone)+len(come) > 0:
		left, right := sides(name, a, b)
		if len(gone) > 0 {
			out = append(out, Member{left, strings.Join(gone, "; "), ""})
		}
		if len(come) > 0 {
			out = append(out, Member{right, "", strings.Join(come, "; ")})
		}
	case !slices.Equal(was, is):
		out = append(out, differ(name+", order", strings.Join(was, "; "), strings.Join(is, "; "), a, b))
	}
	return out
}

// sides are the names of what a list lost and gained; the bare name where one
// of the two holds nothing.
func sides(name string, a, b reflect.Value) (dropped, added string) {
	if a.Len() == 0 || b.Len() == 0 {
		return name, name
	}
	return name + ", dropped", name + ", added"
}

// minus takes each entry of other out of the list once.
func minus(list, other []string) []string {
	out := slices.Clone(list)
	for _, s := range other {
		if i := slices.Index(out, s); i >= 0 {
			out = slices.Delete(out, i, i+1)
		}
	}
	return out
}

// whole is a struct in one line: every member that is set.
func whole(v reflect.Value) string {
	var out []string
	for _, m := range members("", reflect.Zero(v.Type()), v) {
		if m.Name == "value" {
			out = append(out, m.Is)
			continue
		}
		out = append(out, m.Name+" "+m.Is)
	}
	if len(out) == 0 {
		return "empty"
	}
	return strings.Join(out, "; ")
}

// underscored is a word of a table, such as renal_dose_adjustment.
var underscored = regexp.MustCompile(`^[a-z]+(_[a-z]+)+$`)

func say(v reflect.Value) string {
	switch {
	case v.Kind() == reflect.Bool && v.Bool():
		return "yes"
	case v.Kind() == reflect.Bool:
		return "no"
	case v.Kind() == reflect.String && v.Type() == reflect.TypeFor[json.Number]():
		return digits(v.String())
	case v.Kind() == reflect.String && underscored.MatchString(v.String()):
		return strings.ReplaceAll(v.String(), "_", " ")
	case v.Kind() == reflect.String:
		return DiluentName(v.String()) // itself for what is no code of a fluid
	}
	return letters(v)
}

// differ is a member in words, or letter by letter when the words are equal.
func differ(name, was, is string, a, b reflect.Value) Member {
	if strings.Join(strings.Fields(was), " ") == strings.Join(strings.Fields(is), " ") {
		return exactly(name, a, b)
	}
	return Member{name, was, is}
}

func exactly(name string, a, b reflect.Value) Member { return Member{name, letters(a), letters(b)} }

// letters are a value as its file has it, as a code.
func letters(v reflect.Value) string {
	data, _ := json.Marshal(v.Interface()) // plain data
	quoted := strconv.QuoteToASCII(string(data))
	return "`" + strings.ReplaceAll(strings.ReplaceAll(quoted[1:len(quoted)-1], `\"`, `"`), "`", `\x60`) + "`"
}

func under(name, member string) string {
	if name == "" {
		return member
	}
	return name + ", " + member
}

// deref is what a pointer points at, and nothing set for none.
func deref(v reflect.Value) reflect.Value {
	if v.IsNil() {
		return reflect.Zero(v.Type().Elem())
	}
	return v.Elem()
}

func entry(m reflect.Value, key string) reflect.Value {
	if v := m.MapIndex(reflect.ValueOf(key)); v.IsValid() {
		return v
	}
	return reflect.Zero(m.Type().Elem())
}

func union(a, b reflect.Value) []string {
	var keys []string
	for _, m := range []reflect.Value{a, b} {
		for _, k := range m.MapKeys() {
			keys = append(keys, k.String())
		}
	}
	slices.Sort(keys)
	return slices.Compact(keys)
}
