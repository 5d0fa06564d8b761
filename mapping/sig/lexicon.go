package sig

import (
	_ "embed"
	"encoding/json"
	"slices"
	"strings"
	"sync"
)

//go:embed words.json
var wordsFile []byte

type lexicon struct {
	Units, Routes, Devices, Diluents, Frequencies map[string][]string
	Access, Months, Maximum, Silent               []string
	Numbers                                       map[string]string

	unit, route, device, diluent, frequency map[string]string
	silent                                  map[string]bool
}

var words = sync.OnceValue(func() *lexicon {
	l := &lexicon{}
	if err := json.Unmarshal(wordsFile, l); err != nil || len(l.Units) == 0 {
		panic("the words of directions cannot be read") // a fault of this build, caught by the first test
	}
	invert := func(m map[string][]string) map[string]string {
		out := map[string]string{}
		for meaning, spellings := range m {
			for _, s := range spellings {
				out[s] = meaning
			}
		}
		return out
	}
	l.unit, l.route, l.device, l.diluent, l.frequency = invert(l.Units), invert(l.Routes), invert(l.Devices), invert(l.Diluents), invert(l.Frequencies)
	l.silent = map[string]bool{}
	for _, s := range l.Silent {
		l.silent[s] = true
	}
	return l
})

func (l *lexicon) known(word string) bool {
	for _, m := range []map[string]string{l.unit, l.route, l.device, l.diluent, l.frequency, l.Numbers} {
		if _, ok := m[word]; ok {
			return true
		}
	}
	return l.silent[word] || slices.Contains(l.Access, word) || l.month(word) > 0
}

// month is 1 to 12, 0 for another word. Three letters are enough.
func (l *lexicon) month(word string) int {
	word = strings.TrimSuffix(word, ".")
	for i, m := range l.Months {
		if word == m || len(word) == 3 && strings.HasPrefix(m, word) || word == "sept" && i == 8 {
			return i + 1
		}
	}
	return 0
}
