package compendium

import (
	"regexp"
	"slices"
	"strings"

	"weir.example/weir/mapping/quantity"
)

// carrier is one carrier fluid: its short code in the tables, its full name,
// what it is made of, and every strength in percent that its name states.
type carrier struct {
	code, name string
	made       []string // in the order of tellers
	percent    []string // sorted
}

var carriers = []carrier{
	{"D5NS", "dextrose 5 % in sodium chloride 0.9 %", []string{"dextrose", "sodium chloride"}, []string{"0.9", "5"}},
	{"D5LR", "dextrose 5 % in lactated Ringer's", []string{"dextrose", "lactated ringer"}, []string{"5"}},
	{"D5HNS", "dextrose 5 % in sodium chloride 0.45 %", []string{"dextrose", "sodium chloride"}, []string{"0.45", "5"}},
	{"HNS", "sodium chloride 0.45 %", []string{"sodium chloride"}, []string{"0.45"}},
	{"RINGER", "Ringer's injection", []string{"ringer"}, nil},
	{"D10W", "dextrose 10 % in water", []string{"dextrose"}, []string{"10"}},
	{"D5W", "dextrose 5 % in water", []string{"dextrose"}, []string{"5"}},
	{"NS", "sodium chloride 0.9 %", []string{"sodium chloride"}, []string{"0.9"}},
	{"LR", "lactated Ringer's", []string{"lactated ringer"}, nil},
	{"SWFI", "sterile water for injection", []string{"sterile water"}, nil},
}

// tellers are what tells carriers apart. Sterile water tells only when
// nothing else is named: other fluids are made with it.
var tellers = []string{"dextrose", "sodium chloride", "ringer"}

var percents = regexp.MustCompile(`([0-9.,]*[0-9])\s*(?:%|percent)`)

// Diluent finds the code of a carrier fluid in its name: its solutes and the
// strengths in percent must be exactly those of the carrier, so dextrose 15 %
// is not dextrose 5 %, and dextrose 5 % in sodium chloride 0.45 % is neither
// of its parts. A name that lacks the strength is not guessed, nor is the
// acetated Ringer's solution.
func Diluent(name string) (code string, ok bool) {
	text := Fold(name)
	var made, strengths []string
	for _, s := range tellers {
		if strings.Contains(text, s) {
			made = append(made, s)
		}
	}
	if len(made) == 0 && strings.Contains(text, "sterile water") {
		made = []string{"sterile water"}
	}
	for _, found := range percents.FindAllStringSubmatch(text, -1) {
		n, err := quantity.ParseNumber(found[1])
		if err != nil {
			return "", false
		}
		strengths = append(strengths, n.Decimal())
	}
	if at := slices.Index(made, "ringer"); at >= 0 {
		switch {
		case strings.Contains(text, "lactate"):
			made[at] = "lactated ringer"
		case strings.Contains(text, "acetate"):
			return "", false
		}
	}
	slices.Sort(strengths)
	strengths = slices.Compact(strengths) // a name may state its strength twice
	for _, c := range carriers {
		if slices.Equal(made, c.made) && slices.Equal(strengths, c.percent) {
			return c.code, true
		}
	}
	return "", false
}

// DiluentName is the full name of a carrier fluid's code.
func DiluentName(code string) string {
	for _, c := range carriers {
		if c.code == code {
			return c.name
		}
	}
	return code
}

// contained are words of names that tell a solute where the carrier is none
// of the table: dextrose 20 %, Hartmann's solution, parenteral nutrition.
var contained = map[string][]string{
	"dextrose":        {"dextrose", "glucose", "parenteral nutrition"},
	"sodium chloride": {"sodium chloride", "saline"},
	"calcium":         {"calcium", "ringer", "hartmann"},
}

// FluidContains reports whether a fluid, by its full name, has the solute
// ("dextrose", "sodium chloride" or "calcium") in any strength. The lactated
// and the plain Ringer's solution hold calcium.
func FluidContains(name, solute string) bool {
	text := Fold(name)
	return slices.ContainsFunc(contained[solute], func(word string) bool { return strings.Contains(text, word) })
}
