package terminal

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// Rows writes a table row by row as its file has it: every member, in words,
// so that nothing is signed unread. Data is one of the program's own tables;
// name is "" where the table is one file.
func Rows(name string, data []byte) string {
	p := &page{narrow: true}
	var file map[string]any
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	if err := d.Decode(&file); err != nil {
		return name + ": " + err.Error() + "\n"
	}
	if name != "" {
		p.line(strings.Repeat("=", narrow))
		p.text(0, strings.ToUpper(name[:1])+name[1:])
	}
	for _, key := range keysFirst(file, "edition", "notice", "source", "standing") {
		switch v := file[key].(type) {
		case []any:
			p.head(fmt.Sprintf("%s: %d", spaced(key), len(v)))
			if _, objects := first(v).(map[string]any); !objects {
				member(p, 2, "", v)
				continue
			}
			for _, row := range v {
				member(p, 2, "", row)
			}
		case map[string]any:
			p.head(fmt.Sprintf("%s: %d", spaced(key), len(v)))
			for _, k := range keysFirst(v) {
				named(p, 2, k, v[k])
			}
		default:
			p.field(0, spaced(key), fmt.Sprint(v))
		}
	}
	return p.b.String()
}

func first(list []any) any {
	if len(list) == 0 {
		return nil
	}
	return list[0]
}

// named writes a member whose key is data and not the name of a member.
func named(p *page, indent int, key string, v any) {
	if m, ok := v.(map[string]any); ok {
		p.item(indent, key)
		for _, k := range keysFirst(m) {
			named(p, indent+2, k, m[k])
		}
		return
	}
	if list, ok := v.([]any); ok {
		var words []string
		for _, x := range list {
			words = append(words, fmt.Sprint(x))
		}
		v = cmp.Or(strings.Join(words, "; "), "none")
	}
	p.field(indent, cmp.Or(key, "nothing")+":", fmt.Sprint(v))
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

// figures are the members that make one value, and titles those that name a
// row.
var (
	figures = []string{"value", "low", "high", "above", "from", "least", "most", "middle", "unit"}
	titles  = []string{"title", "name", "kind", "item", "category", "method", "a", "b", "population", "by", "code"}
)

func member(p *page, indent int, key string, v any) {
	switch v := v.(type) {
	case map[string]any:
		title := []string{}
		for _, k := range titles {
			if text, ok := v[k].(string); ok && text != "" {
				title = append(title, text)
			}
		}
		if f := figure(v); f != "" {
			title = append(title, f)
		}
		p.item(indent, strings.Join(title, ", "))
		last := []string{"standing", "source", "citation"}
		for _, k := range keysFirst(v, "says", "gate", "severity", "stage", "meaning", "remedy", "fires", "quiet") {
			_, text := v[k].(string)
			if !(text && slices.Contains(titles, k)) && !slices.Contains(figures, k) && !slices.Contains(last, k) {
				member(p, indent+2, k, v[k])
			}
		}
		for _, k := range last {
			if v[k] != nil {
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
			if key == "" {
				p.text(indent, strings.Join(words, "; "))
				return
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
			return notation.Patient(v.Decimal(), unit)
		}
		return fmt.Sprint(n)
	}
	var out []string
	for _, x := range []struct{ key, word string }{{"value", ""}, {"low", "from "}, {"high", "up to "}, {"above", "above "}, {"from", "from "},
		{"least", "at least "}, {"most", "at most "}, {"middle", "most often near "}} {
		if n := number(x.key); n != "" {
			out = append(out, x.word+n)
		}
	}
	if len(out) == 0 && unit != "" {
		return "in " + notation.UnitWords(unit) // a unit without a number is not passed over
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
