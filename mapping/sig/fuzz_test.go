package sig_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/sig"
)

// sound: every span lies in the text and holds the words, every number can be
// read as one, and no unclear reading is stated.
func sound(t interface{ Fatalf(string, ...any) }, words string) {
	runes := []rune(words)
	readings := sig.Read(line(words))
	for _, r := range readings {
		from, to := r.Place.Span[0], r.Place.Span[1]
		if from < 0 || to > len(runes) || from >= to {
			t.Fatalf("span %v outside %q", r.Place.Span, words)
		}
		if string(runes[from:to]) != r.Words {
			t.Fatalf("words %q are not at %v of %q", r.Words, r.Place.Span, words)
		}
		if r.Field == "" && r.Role != "unclear" || r.Role == "unclear" && r.Field != "" {
			t.Fatalf("reading %+v of %q is neither assigned nor unclear", r, words)
		}
	}
	for _, s := range sig.Stated(readings) {
		if s.Quantity.Absent() || s.Witness != order.Text || s.Quantity.High.Less(s.Quantity.Low) {
			t.Fatalf("stated %+v of %q", s, words)
		}
	}
	unread := sig.Unread(line(words))
	if len(runes) > 4000 { // read not at all, and said so
		if len(readings) > 0 || len(unread) != 1 || !strings.HasPrefix(unread[0], "all of them") {
			t.Fatalf("%d characters: %d readings, unread %q", len(runes), len(readings), unread)
		}
		return
	}
	for _, w := range unread {
		if !strings.Contains(string(runes), w) {
			t.Fatalf("unread %q is not in %q", w, words)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, d := range corpus(f, seenFile) {
		f.Add(d.words)
	}
	for _, file := range unseen {
		for _, d := range corpus(f, file) {
			f.Add(d.words)
		}
	}
	f.Add(strings.Repeat("2 mg ", 900))
	for _, s := range []string{"1,25 mg", "½ g", "q q q h", "10 mL/h/h/h", "through 31 February 2026", "µg²", "\u202e2 g", "1 1/2 1/2 mg", "5-FU-5-", "1:1,000", "İ 2 g", "i.v.b.i.d. 3", "\xff\xfe 2 mg", "2\u2009400 mg"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, words string) { sound(t, words) })
}

// Any words of the lexicon in any order.
func TestAnyOrderOfWordsIsSound(t *testing.T) {
	var pool []string
	for _, file := range []string{seenFile, officialFile} {
		for _, d := range corpus(t, file) {
			pool = append(pool, strings.Fields(d.words)...)
		}
	}
	pool = append(pool, "\n", ";", "(", ")", "µg/kg", "1,25", ".5", "½", "/", "-", "q", "hr", "x1", "²")
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.SampledFrom(pool), 0, 25).Draw(t, "words")
		glue := rapid.SampledFrom([]string{" ", "  ", "", "\u00a0"}).Draw(t, "between")
		sound(t, strings.Join(list, glue))
	})
}

func TestSameWordsSameReadings(t *testing.T) {
	for _, d := range corpus(t, seenFile) {
		assert.Equal(t, sig.Read(line(d.words)), sig.Read(line(d.words)))
	}
}
