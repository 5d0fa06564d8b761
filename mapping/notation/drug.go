package notation

import (
	_ "embed"
	"encoding/json"
	"strings"
	"sync"
	"unicode"
)

//go:embed tallman.json
var tallmanFile []byte

// TallMan is one name with the letters to be shown tall.
type TallMan struct {
	Show     string `json:"show"`
	Standing string `json:"standing"` // sourced memory
	Source   string `json:"source"`
}

// TallMen returns the display table in its order.
var TallMen = sync.OnceValue(func() []TallMan {
	var file struct{ Rows []TallMan }
	if err := json.Unmarshal(tallmanFile, &file); err != nil || len(file.Rows) == 0 {
		panic("tall-man table cannot be read") // a fault of this build, caught by the first test
	}
	return file.Rows
})

var tallman = sync.OnceValue(func() map[string]string {
	m := map[string]string{}
	for _, r := range TallMen() {
		m[strings.ToLower(r.Show)] = r.Show
	}
	return m
})

// DrugName writes a generic name with tall-man letters, word by word, where
// the display table has them: "cefazolin" is "ceFAZolin". It is for display
// only, never for matching, and never the only cue between two names.
func DrugName(name string) string {
	var b strings.Builder
	start := 0
	flush := func(end int) {
		w := name[start:end]
		if shown, ok := tallman()[strings.ToLower(w)]; ok {
			w = shown
		}
		b.WriteString(w)
		start = end
	}
	inWord := false
	for i, c := range name {
		letter := unicode.IsLetter(c)
		if letter != inWord {
			flush(i)
			inWord = letter
		}
	}
	flush(len(name))
	return strings.TrimSpace(b.String())
}
