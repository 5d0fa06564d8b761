package policy

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// longestText bounds what is printed on a sheet or a label, in characters.
const longestText = 500

// from is what a source says.
const from = "where the numbers come from, in words"

// said asks for words: what nobody explains, nobody can review.
func (c *checker) said(key, value, what string) {
	if strings.TrimSpace(value) == "" {
		c.refuse(key, "is missing", what)
		return
	}
	c.oneLine(key, value)
}

// oneLine asks that a text, which may be absent, can be printed.
func (c *checker) oneLine(key, value string) {
	_, given := c.r.at[key]
	switch {
	case value == "" && !given:
	case strings.TrimSpace(value) == "":
		c.refuse(key, "is empty", "one line of text, or no such key")
	case len([]rune(value)) > longestText || !printable(value):
		c.refuse(key, fmt.Sprintf("is %.40q", value), "one line of at most "+strconv.Itoa(longestText)+" characters")
	}
}

var genericName = regexp.MustCompile(`^[a-z0-9][^A-Z]*[^A-Z ]$`)

// drug asks for an exact generic name. A name one letter away from one that
// the tables know is a slip, and would be passed over unseen.
func (c *checker) drug(key, name string) {
	switch {
	case name == "":
		c.refuse(key, "is missing", "the exact generic name, lower case")
	case !genericName.MatchString(name) || !printable(name):
		c.refuse(key, fmt.Sprintf("is %.40q", name), "the exact generic name, lower case")
	default:
		if known := drugNames(); !slices.Contains(known, name) {
			if near := c.r.near(name, known, 1); near != "" {
				c.refuse(key, fmt.Sprintf("is %q, which no table knows", name), "the exact generic name, probably "+near)
			}
		}
	}
}

// unseen are the characters that a reader does not see, or that change what
// is seen beside them: control and format characters (U+202E turns the text
// around), private and surrogate code points, separators of lines, and those
// that Unicode wants ignored when a font lacks them.
var unseen = []*unicode.RangeTable{unicode.Cc, unicode.Cf, unicode.Co, unicode.Cs, unicode.Zl, unicode.Zp,
	unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector}

// printable reports that every character of a text is seen as it is. U+FFFD
// stands where something could not be read.
func printable(text string) bool {
	return !strings.ContainsFunc(text, func(r rune) bool { return r == unicode.ReplacementChar || unicode.In(r, unseen...) })
}
