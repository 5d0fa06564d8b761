package schema

import (
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"github.com/santhosh-tekuri/jsonschema/v5"
)

// Fault is one place at which a file of ours breaks its schema. Pointer is a
// JSON Pointer (RFC 6901), "" for the whole file; Line and Column count from
// 1 and are 0 when unknown.
type Fault struct {
	File, Pointer     string
	Line, Column      int
	Problem, Expected string
}

// OwnError is every fault of one file, in the order of the file.
type OwnError struct{ Faults []Fault }

// mostSaid is how many faults of a file are put into words.
const mostSaid = 100

// Error says for each of the first 100 faults where it is, what is wrong and
// what was expected, and counts the others.
func (e *OwnError) Error() string {
	var lines []string
	for i, f := range e.Faults {
		if i == mostSaid {
			lines = append(lines, fmt.Sprintf("and %d more", len(e.Faults)-i))
			break
		}
		at := f.Pointer
		if at == "" {
			at = "the whole file"
		}
		lines = append(lines, fmt.Sprintf("%s: line %d, column %d, at %s: %s; expected %s", f.File, f.Line, f.Column, at, f.Problem, f.Expected))
	}
	return strings.Join(lines, "\n")
}

// deepest drops "another type was expected" where the value has a fault
// further down: of several forms the schema allows, the one that was meant
// says more.
func deepest(list []Fault) []Fault {
	return slices.DeleteFunc(slices.Clone(list), func(f Fault) bool {
		return strings.HasPrefix(f.Expected, "type ") && slices.ContainsFunc(list, func(g Fault) bool { return strings.HasPrefix(g.Pointer, f.Pointer+"/") })
	})
}

func compareFaults(a, b Fault) int {
	switch {
	case a.Line != b.Line:
		return a.Line - b.Line
	case a.Column != b.Column:
		return a.Column - b.Column
	case a.Pointer != b.Pointer:
		return strings.Compare(a.Pointer, b.Pointer)
	}
	return strings.Compare(a.Problem, b.Problem)
}

// ownFaults words one fault of the validator. An unknown key is placed at the
// key itself.
func ownFaults(leaf *jsonschema.ValidationError, rules, value any) []Fault {
	at := unescaped(leaf.InstanceLocation)
	_, fragment, _ := strings.Cut(unescaped(leaf.AbsoluteKeywordLocation), "#")
	up, keyword := fragment[:max(0, strings.LastIndexByte(fragment, '/'))], fragment[strings.LastIndexByte(fragment, '/')+1:]
	rule, _ := follow(rules, up).(map[string]any)
	if keyword != "additionalProperties" {
		return []Fault{{Pointer: at, Problem: leaf.Message, Expected: wanted(keyword, rule)}}
	}
	known, _ := rule["properties"].(map[string]any)
	object, _ := follow(value, at).(map[string]any)
	var out []Fault
	for _, key := range sortedKeys(object) {
		if _, ok := known[key]; !ok {
			problem := fmt.Sprintf("the key %.40q is not known here", key)
			if near := nearest(key, slices.Values(sortedKeys(known))); near != "" {
				problem += fmt.Sprintf("; probably %q was meant", near)
			}
			out = append(out, Fault{Pointer: at + "/" + escaped(key), Problem: problem, Expected: "one of " + strings.Join(sortedKeys(known), ", ")})
		}
	}
	return out
}

// wanted says what a keyword of the schema asks for, with the description of
// the value.
func wanted(keyword string, rule map[string]any) string {
	asked, _ := json.Marshal(rule[keyword]) // it came from JSON
	words := map[string]string{"enum": "one of", "type": "type", "pattern": "text that matches", "required": "the keys", "const": "exactly", "minimum": "at least", "maximum": "at most",
		"exclusiveMinimum": "more than", "exclusiveMaximum": "less than", "minLength": "a length of at least", "minItems": "a list of at least", "maxItems": "a list of at most", "uniqueItems": "no entry twice"}
	s := words[keyword] + " " + string(asked)
	switch {
	case keyword == "uniqueItems":
		s = words[keyword]
	case words[keyword] == "":
		s = keyword + " " + string(asked)
	}
	if d, ok := rule["description"].(string); ok {
		s += " (" + strings.TrimSuffix(d, ".") + ")"
	}
	return s
}

// follow goes down a decoded JSON value by a JSON Pointer; nil when it leads
// nowhere.
func follow(v any, pointer string) any {
	for part := range strings.SplitSeq(strings.TrimPrefix(pointer, "/"), "/") {
		if part == "" {
			continue
		}
		part = strings.NewReplacer("~1", "/", "~0", "~").Replace(part)
		switch at := v.(type) {
		case map[string]any:
			v = at[part]
		case []any:
			var i int
			if _, err := fmt.Sscanf(part, "%d", &i); err != nil || i < 0 || i >= len(at) {
				return nil
			}
			v = at[i]
		default:
			return nil
		}
	}
	return v
}

// unescaped undoes the percent-encoding that the validator puts over a JSON
// Pointer.
func unescaped(pointer string) string {
	if plain, err := url.PathUnescape(pointer); err == nil {
		return plain
	}
	return pointer
}

func escaped(key string) string { return strings.NewReplacer("~", "~0", "/", "~1").Replace(key) }

func sortedKeys(m map[string]any) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
