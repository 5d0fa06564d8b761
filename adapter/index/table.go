package index

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"iter"
	"slices"
	"strings"
	"sync"

	"weir.example/weir/mapping/element"
)

// Parameter is a search parameter of one resource type. Kind is token,
// reference, date or string.
type Parameter struct {
	Type, Name, Kind string
	Definition       string   // canonical address
	Targets          []string // types a reference may lead to, none: any
	Only             string   // references to other types than this one do not count
	System           string   // of an element of type code, by its binding
	Form             string   // phone: digits alone count
}

// row is a Parameter with the elements it is read from.
type row struct {
	Parameter
	Paths []string
	steps [][]step
	exact string // see Exact
}

// step is one name of a path. A choice is any type of a choice element; with
// key only those elements count whose member key has the value.
type step struct {
	name       string
	choice     bool
	key, value string
}

//go:embed searches.json
var file []byte

type data struct {
	rows    map[string][]row
	types   []string
	nobodys []string
}

var table = sync.OnceValue(func() data {
	var from struct {
		BelongsToNobody []string
		Parameters      []row
	}
	if err := json.Unmarshal(file, &from); err != nil || len(from.Parameters) == 0 {
		panic(fmt.Sprint("table of search parameters: ", err)) // a fault of this build, caught by the first test
	}
	out := data{rows: map[string][]row{}, nobodys: from.BelongsToNobody}
	for _, r := range from.Parameters {
		r.exact = Exact(r.Name)
		for _, p := range r.Paths {
			r.steps = append(r.steps, steps(p))
		}
		if _, ok := out.rows[r.Type]; !ok {
			out.types = append(out.types, r.Type)
		}
		out.rows[r.Type] = append(out.rows[r.Type], r)
	}
	slices.Sort(out.types)
	return out
})

// Types are the resource types of the table, sorted.
func Types() []string { return slices.Clone(table().types) }

// Parameters are the search parameters of a resource type, in the order of
// the table; none for a type that is not in it.
func Parameters(kind string) []Parameter {
	var out []Parameter
	for _, r := range table().rows[kind] {
		out = append(out, r.Parameter)
	}
	return out
}

// steps reads a path: names with dots between, outside of brackets.
func steps(path string) []step {
	var out []step
	for path != "" {
		end, depth := 0, 0
		for end < len(path) && (path[end] != '.' || depth > 0) {
			switch path[end] {
			case '[':
				depth++
			case ']':
				depth--
			}
			end++
		}
		name, condition, has := strings.Cut(path[:end], "[")
		s := step{name: name}
		if condition = strings.TrimSuffix(condition, "]"); has {
			if s.key, s.value, has = strings.Cut(condition, "="); !has {
				s = step{name: name, choice: true}
			}
		}
		out = append(out, s)
		path = strings.TrimPrefix(path[end:], ".")
	}
	return out
}

// find gives the elements that a parameter is read from.
func (r *row) find(n element.Node) iter.Seq[element.Node] {
	return func(yield func(element.Node) bool) {
		for _, path := range r.steps {
			if !follow(n, path, yield) {
				return
			}
		}
	}
}

// follow goes on along a path, and says whether more is wanted.
func follow(n element.Node, path []step, yield func(element.Node) bool) bool {
	if len(path) == 0 {
		return yield(n)
	}
	s := &path[0]
	var member element.Node
	if s.choice {
		member, _ = n.Choice(s.name)
	} else {
		member = n.Get(s.name)
	}
	for one := range member.All() {
		if (s.key == "" || one.Get(s.key).Text() == s.value) && !follow(one, path[1:], yield) {
			return false
		}
	}
	return true
}

// Paths are the elements the parameters of each type are read from, as
// FHIRPath without conditions, a choice (of times) as its dateTime: for tests
// against R4.
func Paths() map[string][]string {
	out := map[string][]string{}
	for kind, rows := range table().rows {
		for _, r := range rows {
			for _, path := range r.steps {
				var names []string
				for _, s := range path {
					if s.choice {
						s.name += "DateTime"
					}
					names = append(names, s.name)
				}
				out[kind] = append(out[kind], strings.Join(names, "."))
			}
		}
	}
	return out
}
