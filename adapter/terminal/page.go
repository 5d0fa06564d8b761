// Package terminal writes worksheets as a table for a person at a terminal:
// identity, the verdict, findings worst first, the numbers side by side,
// schedule, kit, tasks, and what was not checked.
package terminal

import (
	"cmp"
	"fmt"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// width is the number of columns a page is wrapped at; a page of the tables
// keeps to a terminal of 80 columns.
const (
	width  = 96
	narrow = 79
)

// page collects lines. Colour is only ever beside a word, never instead of
// one.
type page struct {
	b      strings.Builder
	color  bool
	narrow bool
	labels int // least width of the labels of fields; 0: 11
}

func (p *page) width() int {
	if p.narrow {
		return narrow
	}
	return width
}

const (
	red    = "31;1"
	yellow = "33;1"
	green  = "32;1"
	bold   = "1"
)

func (p *page) paint(code, text string) string {
	if !p.color {
		return text
	}
	return "\x1b[" + code + "m" + text + "\x1b[0m"
}

func (p *page) line(text string) { p.b.WriteString(strings.TrimRight(text, " ") + "\n") }

func (p *page) head(title string) {
	p.line("")
	p.line(p.paint(bold, title))
}

// field writes a label and wrapped text behind it; a long label makes room.
func (p *page) field(indent int, label, text string) {
	if text == "" {
		return
	}
	room := max(cmp.Or(p.labels, 11), utf8.RuneCountInString(label)+1)
	start := strings.Repeat(" ", indent) + pad(label, room)
	for i, part := range p.wrap(clean(text), max(20, p.width()-indent-room)) {
		if i > 0 {
			start = strings.Repeat(" ", indent+room)
		}
		p.line(start + part)
	}
}

// row writes cells padded to the given widths; a cell that is too long wraps
// in its own column.
func (p *page) row(widths []int, cells ...string) {
	columns := make([][]string, len(cells))
	most := 0
	for i, c := range cells {
		columns[i] = wrap(clean(c), widths[i])
		most = max(most, len(columns[i]))
	}
	for n := range most {
		var line strings.Builder
		line.WriteString("  ")
		for i, c := range columns {
			text := ""
			if n < len(c) {
				text = c[n]
			}
			line.WriteString(pad(text, widths[i]) + "  ")
		}
		p.line(line.String())
	}
}

// text writes wrapped text.
func (p *page) text(indent int, text string) {
	for _, part := range p.wrap(clean(text), p.width()-indent) {
		p.line(strings.Repeat(" ", indent) + part)
	}
}

// item writes wrapped text behind a dash.
func (p *page) item(indent int, text string) {
	start := strings.Repeat(" ", indent) + "- "
	for _, part := range p.wrap(clean(text), p.width()-indent-2) {
		p.line(start + part)
		start = strings.Repeat(" ", indent+2)
	}
}

func pad(text string, n int) string {
	return text + strings.Repeat(" ", max(0, n-utf8.RuneCountInString(text)))
}

var wholeNumber = regexp.MustCompile(`^(?:\d|\d[\d.,]*\d)$`)

// wrap keeps a number on the line of the word behind it, which may be its
// unit, on the pages of the tables.
func (p *page) wrap(text string, n int) []string {
	if !p.narrow {
		return wrap(text, n)
	}
	var words []string
	for _, word := range strings.Fields(text) {
		last := len(words) - 1
		if last >= 0 && wholeNumber.MatchString(words[last]) && utf8.RuneCountInString(words[last]+word) < 20 {
			words[last] += " " + word
			continue
		}
		words = append(words, word)
	}
	return fill(words, n)
}

// wrap breaks at blanks, and inside a word only when it alone is too long.
func wrap(text string, n int) []string { return fill(strings.Fields(text), n) }

func fill(words []string, n int) []string {
	var out []string
	line := ""
	for _, word := range words {
		for utf8.RuneCountInString(word) > n {
			if line != "" {
				out, line = append(out, line), ""
			}
			r := []rune(word)
			out, word = append(out, string(r[:n])), string(r[n:])
		}
		switch {
		case line == "":
			line = word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > n:
			out, line = append(out, line), word
		default:
			line += " " + word
		}
	}
	if line != "" || len(out) == 0 {
		out = append(out, line)
	}
	return out
}

// clean replaces control characters and direction marks, so that words of
// the sender cannot steer the terminal or turn a number round.
func clean(text string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '\n' || r == '\t' || r == '\u00a0' {
			return ' '
		}
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Zl, r) || unicode.Is(unicode.Zp, r) {
			return '\uFFFD'
		}
		return r
	}, text)
}

func count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
