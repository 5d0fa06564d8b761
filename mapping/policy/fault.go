package policy

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Fault is one thing a settings file may not say. Line and Column count from
// 1; Key is the path of the setting, such as delivery.holidays[0].
type Fault struct {
	File                   string
	Line, Column           int
	Key, Problem, Expected string
}

// Faults are all of a file, in its order.
type Faults []Fault

// Error says where each fault is, what is wrong and what is needed.
func (f Faults) Error() string {
	var lines []string
	for _, x := range f {
		key := ""
		if x.Key != "" {
			key = x.Key + " "
		}
		lines = append(lines, fmt.Sprintf("%s:%d:%d: %s%s; need %s", x.File, x.Line, x.Column, key, x.Problem, x.Expected))
	}
	return strings.Join(lines, "\n")
}

// sorted puts faults in the order of the file and drops what is said twice.
func (f Faults) sorted() Faults {
	slices.SortStableFunc(f, func(a, b Fault) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return slices.Compact(f)
}

// places are line and column of every key of a file, by its path.
type places map[string][2]int

func placesOf(data []byte) places {
	at := places{}
	var root yaml.Node
	if yaml.Unmarshal(data, &root) != nil || len(root.Content) == 0 {
		return at
	}
	at.enter(root.Content[0], "")
	return at
}

func (at places) enter(n *yaml.Node, path string) {
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			below := strings.TrimPrefix(path+"."+n.Content[i].Value, ".")
			at[below] = [2]int{n.Content[i].Line, n.Content[i].Column}
			at.enter(n.Content[i+1], below)
		}
	case yaml.SequenceNode:
		for i, c := range n.Content {
			below := path + "[" + strconv.Itoa(i) + "]"
			at[below] = [2]int{c.Line, c.Column}
			at.enter(c, below)
		}
	}
}

// of is the place of a key, or of the nearest key above it in the file; the
// beginning when the file says nothing near it.
func (at places) of(key string) (line, column int) {
	for key != "" {
		if p, ok := at[key]; ok {
			return p[0], p[1]
		}
		key = key[:max(0, strings.LastIndexAny(key, ".["))]
	}
	return 1, 1
}

var decoded = regexp.MustCompile(`line (\d+): (.*)`)

// faultsOf gives the errors of the YAML reader their columns: it tells lines
// only.
func faultsOf(err error, at places) Faults {
	texts := []string{err.Error()}
	var typed *yaml.TypeError
	if errors.As(err, &typed) {
		texts = typed.Errors
	}
	var out Faults
	for _, text := range texts {
		f := Fault{Line: 1, Column: 1, Problem: text, Expected: "settings as in the default file"}
		if m := decoded.FindStringSubmatch(text); m != nil {
			f.Line, _ = strconv.Atoi(m[1])
			f.Line, f.Problem = max(1, f.Line), m[2]
			for key, p := range at { // the first key of that line
				if p[0] == f.Line && (f.Key == "" || p[1] < f.Column || p[1] == f.Column && key < f.Key) {
					f.Key, f.Column = key, p[1]
				}
			}
			if strings.Contains(f.Problem, "not found in type") {
				f.Problem = "is not known"
			}
		}
		out = append(out, f)
	}
	return out
}
