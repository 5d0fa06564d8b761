package morning

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"strings"
	"unicode"
)

//go:embed templates/*.html
var templateFiles embed.FS

//go:embed print.css
var printStyle string

var templates = template.Must(template.New("").Funcs(template.FuncMap{
	"plain": shown, "sent": sent, "plural": plural, "add": func(a, b int) int { return a + b },
	"style": func() template.CSS { return template.CSS(printStyle) }, // our own, not a word of a sender
}).ParseFS(templateFiles, "templates/*.html"))

// onPaper is a report as a template takes it.
type onPaper struct {
	report
	Paper bool // room to write
}

// printed writes a report as one page of HTML that needs nothing else.
func printed(r report) ([]byte, error) {
	var b bytes.Buffer
	err := templates.ExecuteTemplate(&b, "print.html", onPaper{r, true})
	return b.Bytes(), err
}

// shown writes characters that a screen would obey instead of showing them by
// their number, so that no text turns a line round or hides in another.
func shown(text string) string {
	if strings.IndexFunc(text, obeyed) < 0 {
		return text
	}
	var b strings.Builder
	for _, r := range text {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			b.WriteByte(' ')
		case obeyed(r):
			fmt.Fprintf(&b, "[U+%04X]", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

func obeyed(r rune) bool {
	return unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Variation_Selector) || r == '\u115f' || r == '\u1160' || r == '\u3164' || r == '\uffa0'
}

// sent marks the sender's own words, told apart and isolated in direction.
func sent(text string) template.HTML {
	return template.HTML(`<bdi class="sent" data-received>` + template.HTMLEscapeString(shown(text)) + `</bdi>`)
}
