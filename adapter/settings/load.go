package settings

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/policy"
)

// Input is where settings come from. Flags beat the environment, that beats
// the file, that the default.
type Input struct {
	Flags       map[string][]string // by name of the setting, only those that were given
	Environment []string            // NAME=VALUE
	File        string              // name of the file, for messages; "" for none
	Data        []byte              // what stands in it
	Folder      string              // the user's data folder
}

// Value is a setting with what it is and who said so.
type Value struct {
	Setting
	Given  []string // one, or any number of a list
	Source string   // "default", "file NAME:LINE:COLUMN", "environment NAME", "flag --NAME"
}

// Loaded are settings in force, each with its source, in the order of the table.
type Loaded struct {
	Settings
	Values []Value
	// Unknown are environment variables that begin like ours and are none.
	Unknown []string
}

// Load puts the sources together. All faults of the file are one
// policy.Faults; the first fault of a flag or a variable is told.
func Load(in Input) (Loaded, error) {
	var out Loaded
	file, err := ReadFile(in.File, in.Data)
	if err != nil {
		return out, err
	}
	set := map[string]string{}
	for _, e := range in.Environment {
		if name, value, ok := strings.Cut(e, "="); ok && strings.HasPrefix(name, "WEIR_") {
			set[name] = value
		}
	}
	for _, s := range table {
		v := Value{Setting: s, Given: []string{strings.ReplaceAll(s.Default, "{data}", in.Folder)}, Source: "default"}
		if s.Kind == Many {
			v.Given = nil
		}
		if f, ok := file[s.Name]; ok {
			v.Given, v.Source = f.text, fmt.Sprintf("file %s:%d:%d", in.File, f.line, f.column)
		}
		if e, ok := set[s.Environment()]; ok {
			v.Source = "environment " + s.Environment()
			if v.Given = []string{e}; s.Kind == Many {
				v.Given = strings.Fields(e)
			}
			delete(set, s.Environment())
		}
		if f, ok := in.Flags[s.Name]; ok {
			v.Given, v.Source = f, "flag --"+s.Flag()
		}
		if err := s.set(&out.Settings, v.Given); err != nil {
			return out, fmt.Errorf("%s: %s: %w; need %s", v.Source, s.Name, err, s.Need)
		}
		out.Values = append(out.Values, v)
	}
	delete(set, ConfigEnvironment)
	for name := range set {
		out.Unknown = append(out.Unknown, name)
	}
	slices.Sort(out.Unknown)
	return out, nil
}

// found is a value in a file.
type found struct {
	text         []string
	line, column int
}

// ReadFile reads a settings file. Every fault is told with line and column,
// as policy.Faults.
func ReadFile(name string, data []byte) (map[string]found, error) {
	r := fileReader{values: map[string]found{}}
	r.read(data)
	for _, s := range table {
		f, ok := r.values[s.Name]
		if !ok {
			continue
		}
		if err := s.set(&Settings{}, f.text); err != nil {
			r.refuse(f.line, f.column, s.Name, err.Error(), s.Need)
		}
	}
	if len(r.faults) == 0 {
		return r.values, nil
	}
	for i := range r.faults {
		r.faults[i].File = name
	}
	slices.SortStableFunc(r.faults, func(a, b policy.Fault) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return nil, r.faults
}
