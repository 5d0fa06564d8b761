package index

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

var dateForm = regexp.MustCompile(`^(\d{4})(?:-(\d\d)(?:-(\d\d)(?:T(\d\d):(\d\d)(?::(\d\d)(?:\.(\d{1,9}))?)?(Z|[+-]\d\d:\d\d)?)?)?)?$`)

// The form of a date, read by hand and by a pattern.
func TestPartsAreThoseOfThePattern(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.StringMatching(`[0-9]{4}(-[0-9]{2}(-[0-9]{2}(T[0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,10})?)?(Z|[+-][0-9]{2}:[0-9]{2})?)?)?)?`),
			rapid.StringMatching(`[0-9T:.+Z-]{0,30}`)).Draw(t, "text")
		if n := len(text); n > 0 && rapid.Bool().Draw(t, "cut") {
			at := rapid.IntRange(0, n-1).Draw(t, "at")
			text = text[:at] + rapid.SampledFrom([]string{"", "0", "-", "x", "é"}).Draw(t, "instead") + text[at+1:]
		}
		got, ok := parts(text)
		want := dateForm.FindStringSubmatch(text)
		assert.Equal(t, want != nil, ok, text)
		if ok {
			assert.Equal(t, want[1:], got[:], text)
		}
	})
}
