package compendium

import "strings"

// carrier is one carrier fluid: its short code in the tables, its full name,
// and the words that all must stand in a text for it.
type carrier struct {
	code, name string
	words      []string
}

// carriers, the more specific first: "dextrose 5 % in sodium chloride 0.9 %"
// is neither of its parts.
var carriers = []carrier{
	{"D5NS", "dextrose 5 % in sodium chloride 0.9 %", []string{"dextrose", "5", "sodium chloride", "0.9"}},
	{"D5LR", "dextrose 5 % in lactated Ringer's", []string{"dextrose", "5", "ringer"}},
	{"D10W", "dextrose 10 % in water", []string{"dextrose", "10"}},
	{"D5W", "dextrose 5 % in water", []string{"dextrose", "5"}},
	{"NS", "sodium chloride 0.9 %", []string{"sodium chloride", "0.9"}},
	{"LR", "lactated Ringer's", []string{"ringer"}},
	{"SWFI", "sterile water for injection", []string{"sterile water"}},
}

// Diluent finds the code of a carrier fluid in its name. A name that lacks
// the strength is not guessed.
func Diluent(name string) (code string, ok bool) {
	text := Fold(strings.ReplaceAll(name, "%", " %"))
	for _, c := range carriers {
		all := true
		for _, w := range c.words {
			all = all && strings.Contains(text, w)
		}
		if all && (c.code != "D5W" || !strings.Contains(text, "0.")) {
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
