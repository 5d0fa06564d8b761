package notation

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"
)

//go:embed designations.json
var designationsFile []byte

// Problem is one forbidden designation in a text. Start and End count
// Unicode characters, End exclusive. Write says what to write instead, Why
// what it is misread as, Source whose list forbids it.
type Problem struct {
	Start, End int
	Found      string
	Write      string
	Why        string
	Source     string
}

// String is the problem in one line, for test output and CI.
func (p Problem) String() string {
	return fmt.Sprintf("characters %d to %d: %q; write %s (%s; %s)", p.Start, p.End, p.Found, p.Write, p.Why, p.Source)
}

// designation is one row of the data file. pattern matches the text; its
// first group, when there is one, is what is forbidden.
type designation struct {
	Name     string `json:"name"`
	Pattern  string `json:"pattern"`
	Write    string `json:"write"`
	Why      string `json:"why"`
	Source   string `json:"source"`
	Standing string `json:"standing"`
	Formula  bool   `json:"formula"` // allowed in a line with =, × or ÷
	expr     *regexp.Regexp
}

var designations = sync.OnceValue(func() []designation {
	var file struct {
		Units string
		Rows  []designation
	}
	if err := json.Unmarshal(designationsFile, &file); err != nil || len(file.Rows) == 0 {
		panic(fmt.Sprint("table of designations: ", err)) // a fault of this build, caught by the first test
	}
	for i, r := range file.Rows {
		file.Rows[i].expr = regexp.MustCompile(strings.ReplaceAll(r.Pattern, "{UNIT}", "(?:"+file.Units+")"))
	}
	return file.Rows
})

// Scan finds error-prone designations in a text that this program wrote. It
// passes over what is not prose: codes in backticks, addresses, FHIRPath,
// dates and times in ISO form, chapter numbers such as USP <797>. It is not
// meant for a sender's own text, which is shown as received.
func Scan(text string) []Problem {
	prose := mask(text)
	var out []Problem
	add := func(from, to int, d *designation) {
		out = append(out, Problem{
			Start: utf8.RuneCountInString(prose[:from]), End: utf8.RuneCountInString(prose[:to]),
			Found: prose[from:to], Write: d.Write, Why: d.Why, Source: d.Source,
		})
	}
	for i := range designations() {
		d := &designations()[i]
		for at := 0; at <= len(prose); {
			m := d.expr.FindStringSubmatchIndex(prose[at:])
			if m == nil {
				break
			}
			from, to := at+m[0], at+m[1]
			if len(m) > 3 && m[2] >= 0 {
				from, to = at+m[2], at+m[3]
			}
			if to == from {
				break // no row matches nothing; the guard keeps a faulty one from looping
			}
			if !d.Formula || !strings.ContainsAny(line(prose, from), "=×÷") {
				add(from, to, d)
			}
			// A pattern looks at what stands before the designation, so the
			// search goes on inside it, not behind the characters after it.
			at = to
		}
	}
	slices.SortStableFunc(out, func(a, b Problem) int { return a.Start - b.Start })
	return out
}

func line(s string, at int) string {
	from := strings.LastIndexByte(s[:at], '\n') + 1
	if to := strings.IndexByte(s[from:], '\n'); to >= 0 {
		return s[from : from+to]
	}
	return s[from:]
}

// hidden matches what Scan passes over.
var hidden = regexp.MustCompile(strings.Join([]string{
	"`[^`\n]*`|`[^`]{1,80}`",            // a machine code
	`\b[a-z][a-z0-9+.-]*://\S+`,         // an address
	`\burn:\S+`,                         //
	`\b[\w.+-]+@[\w-]+(?:\.[\w-]+)+`,    // a mail address
	`\b[a-z0-9-]+(?:\.[a-z0-9-]+)+/\S*`, // an address without scheme
	`\b10\.\d{4,}/\S+`,                  // a digital object identifier
	`\b[A-Z][A-Za-z]+(?:\[\w+\])?(?:\.[a-z]\w*(?:\([^)\n]*\))?(?:\[\w+\])?)+`, // FHIRPath
	`\b\d{4}-\d{2}(?:-\d{2}(?:T[\d:.]+(?:Z|[+-]\d{2}:\d{2})?)?)?\b`,           // ISO dates and times
	`USP\s+<\d+>`,         // a chapter
	`<[a-z][a-z0-9 _-]*>`, // a place to fill in
	`-+>`,                 // an arrow
	`\b(?:[Vv]ersion|[Ee]dition|[Ss]ection|[Cc]lause|R4|v)\s*\d+(?:\.\d+)+`, // a number of a document, not of a dose
	`\d+(?:\.\d+){2,}`,
	`CFR\s+\d+(?:\.\d+)?`, // a paragraph of the Code of Federal Regulations
}, "|"))

// mask replaces what is not prose by NUL characters and no-break spaces by
// spaces, keeping every character's place.
func mask(text string) string {
	text = string([]rune(text)) // one replacement character for every byte that is no UTF-8
	text = strings.ReplaceAll(text, "\u00a0", " ")
	return hidden.ReplaceAllStringFunc(text, func(s string) string {
		return strings.Repeat("\x00", utf8.RuneCountInString(s))
	})
}
