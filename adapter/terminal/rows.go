package terminal

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// Rows writes a table row by row as its file has it: every member, in words,
// so that nothing is signed unread. Data is one of the program's own tables.
func Rows(name string, data []byte) string {
	p := &page{}
	var file map[string]any
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	if err := d.Decode(&file); err != nil {
		return name + ": " + err.Error() + "\n"
	}
	for _, key := range keysFirst(file, "edition", "notice") {
		list, isList := file[key].([]any)
		if !isList {
			p.field(0, key, fmt.Sprint(file[key]))
			continue
		}
		p.head(fmt.Sprintf("%s: %d", key, len(list)))
		for _, row := range list {
			member(p, 2, "", row)
		}
	}
	return p.b.String()
}

// keysFirst are the keys of an object, those named first, the rest sorted.
func keysFirst(m map[string]any, first ...string) []string {
	var out, rest []string
	for _, k := range first {
		if _, ok := m[k]; ok {
			out = append(out, k)
		}
	}
	for k := range m {
		if !slices.Contains(first, k) {
			rest = append(rest, k)
		}
	}
	slices.Sort(rest)
	return append(out, rest...)
}

// figures are the members that make one value.
var figures = []string{"value", "low", "high", "above", "from", "unit"}

func member(p *page, indent int, key string, v any) {
	switch v := v.(type) {
	case map[string]any:
		title := []string{}
		for _, k := range []string{"name", "kind", "item", "category", "method", "a", "b", "population", "by"} {
			if text, ok := v[k].(string); ok && text != "" {
				title = append(title, text)
			}
		}
		if f := figure(v); f != "" {
			title = append(title, f)
		}
		p.line(strings.Repeat(" ", indent) + "- " + clean(strings.Join(title, ", ")))
		for _, k := range keysFirst(v, "says", "gate") {
			if !slices.Contains(append([]string{"name", "kind", "item", "category", "method", "a", "b", "population", "by"}, figures...), k) {
				member(p, indent+2, k, v[k])
			}
		}
	case []any:
		if len(v) == 0 {
			return
		}
		if _, objects := v[0].(map[string]any); !objects {
			var words []string
			for _, x := range v {
				words = append(words, fmt.Sprint(x))
			}
			p.field(indent, spaced(key), strings.Join(words, "; "))
			return
		}
		for _, x := range v {
			member(p, indent, key, x)
		}
	default:
		if text := fmt.Sprint(v); text != "" {
			p.field(indent, spaced(key), text)
		}
	}
}

// figure is a number or range in the words of the trade.
func figure(m map[string]any) string {
	unit, _ := m["unit"].(string)
	number := func(key string) string {
		n, ok := m[key]
		if !ok || fmt.Sprint(n) == "" {
			return ""
		}
		if v, err := quantity.ParseNumber(fmt.Sprint(n)); err == nil && unit != "" {
			return notation.Code(v.Decimal(), unit)
		}
		return fmt.Sprint(n)
	}
	var out []string
	for _, x := range []struct{ key, word string }{{"value", ""}, {"low", "from "}, {"high", "up to "}, {"above", "above "}, {"from", "from "}} {
		if n := number(x.key); n != "" {
			out = append(out, x.word+n)
		}
	}
	return strings.Join(out, " ")
}

// spaced writes a key of a file as words.
func spaced(key string) string {
	var b strings.Builder
	for _, r := range key {
		if r >= 'A' && r <= 'Z' {
			b.WriteByte(' ')
			r += 'a' - 'A'
		}
		b.WriteRune(r)
	}
	return b.String()
}
