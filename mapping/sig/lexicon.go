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

//go:embed units.json
var unitsFile []byte

// phrase is one spelling of a meaning, cut into tokens.
type phrase struct {
	parts   []token
	exact   bool // capitals count
	class   string
	meaning string
}

func (p *phrase) size() int { return len(p.parts) }

// lexicon is the words that are known. Classes are those of words.json, and
// "cue", "silent" and "unit".
type lexicon struct {
	phrases   map[string][]*phrase // by first token, longest first
	months    []string
	strong    map[string]bool // cues that say something by themselves
	container map[string]bool
}

var words = sync.OnceValue(func() *lexicon {
	var file struct {
		Terms                             map[string]map[string][]string
		Cues                              map[string][]string
		Silent, Months, Strong, Container []string
	}
	var units struct{ Units, Exact, Refused map[string][]string }
	if json.Unmarshal(wordsFile, &file) != nil || json.Unmarshal(unitsFile, &units) != nil || len(file.Terms) == 0 || len(units.Units) == 0 {
		panic("sig: the words of directions cannot be read") // a fault of this build, caught by the first test
	}
	l := &lexicon{phrases: map[string][]*phrase{}, months: file.Months, strong: set(file.Strong), container: set(file.Container)}
	for class, meanings := range file.Terms {
		for meaning, spellings := range meanings {
			l.add(class, meaning, false, spellings)
		}
	}
	for meaning, spellings := range file.Cues {
		l.add("cue", meaning, false, spellings)
	}
	l.add("silent", "", false, file.Silent)
	for code, spellings := range units.Units {
		l.add("unit", code, false, spellings)
	}
	for code, spellings := range units.Exact {
		l.add("unit", code, true, spellings)
	}
	l.add("unread", "", false, units.Refused[""])
	for first, list := range l.phrases {
		slices.SortFunc(list, func(a, b *phrase) int {
			if n := len(b.parts) - len(a.parts); n != 0 {
				return n
			}
			if a.exact != b.exact {
				if a.exact {
					return -1
				}
				return 1
			}
			return strings.Compare(a.class+a.meaning, b.class+b.meaning)
		})
		l.phrases[first] = list
	}
	return l
})

func set(list []string) map[string]bool {
	out := map[string]bool{}
	for _, s := range list {
		out[s] = true
	}
	return out
}

func (l *lexicon) add(class, meaning string, exact bool, spellings []string) {
	for _, s := range spellings {
		parts := tokenize([]rune(s))
		l.phrases[parts[0].lower] = append(l.phrases[parts[0].lower], &phrase{parts, exact, class, meaning})
	}
}

// match is the longest phrase at token i.
func (l *lexicon) match(t []token, i int) (*phrase, bool) { return l.matchClass(t, i, "") }

// matchClass is the longest phrase of one class at token i.
func (l *lexicon) matchClass(t []token, i int, class string) (*phrase, bool) {
	if i >= len(t) {
		return nil, false
	}
	for _, p := range l.phrases[t[i].lower] {
		if (class == "" || p.class == class) && p.at(t, i) {
			return p, true
		}
	}
	return nil, false
}

func (p *phrase) at(t []token, i int) bool {
	if i+len(p.parts) > len(t) {
		return false
	}
	for k, part := range p.parts {
		have := t[i+k]
		if have.lower != part.lower || p.exact && have.text != part.text || k > 0 && part.glued && !have.glued {
			return false
		}
	}
	return true
}

// knows: token i begins a phrase.
func (l *lexicon) knows(t []token, i int) bool {
	_, ok := l.match(t, i)
	return ok
}

// month is 1 to 12, 0 for another word. Three letters are enough.
func (l *lexicon) month(word string) int {
	for i, m := range l.months {
		if word == m || len(word) == 3 && strings.HasPrefix(m, word) || word == "sept" && i == 8 {
			return i + 1
		}
	}
	return 0
}
