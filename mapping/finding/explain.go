package finding

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

const pageWidth = 78

var passes = map[Gate]string{
	Refused: "The document is refused; nothing was judged.",
	Block:   "Nobody can pass it: it is mended at its source.",
	Hold:    "A licensed pharmacist may pass it with a coded reason; for a high-alert drug a second person too.",
	Warn:    "One licensed person acknowledges it.",
	Note:    "Recorded and printed; nobody has to act.",
	NoGate:  "It refuses the act of release for the whole site; it is never a finding of one order.",
}

// Passes says in a sentence who may pass a finding of this gate.
func (g Gate) Passes() string { return passes[g] }

// Section is one more paragraph of a page.
type Section struct{ Name, Text string }

// Explain writes the page of one code as plain text, wrapped at 78 columns,
// with more sections at its end, and false when the table has no such code.
func Explain(c Code, more ...Section) (string, bool) {
	r, ok := Lookup(c)
	if !ok {
		return "", false
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%s\n", r.Code, wrap(r.Title, ""))
	section := func(name, text string) {
		if text != "" {
			fmt.Fprintf(&b, "\n%s\n%s\n", name, wrap(text, "  "))
		}
	}
	gate := string(r.Gate)
	if r.Gate == NoGate {
		gate = "none"
	}
	section("Gate", gate+". "+r.Gate.Passes())
	switch r.Stage {
	case "":
	case Every:
		section("Stage", "At every stage.")
	case Intake:
		section("Stage", "From intake on, the first stage.")
	default:
		section("Stage", "Gates from "+string(r.Stage)+" on; before that it is an open task.")
	}
	section("What it says", r.Meaning)
	section("What to do", r.Remedy)
	section("Example that fires", r.Fires)
	section("Example that does not", r.Quiet)
	section("Source", r.Citation+" ("+r.Standing+")")
	section("Practice row", r.Practice)
	for _, x := range more {
		section(x.Name, x.Text)
	}
	return b.String(), true
}

// wrap breaks text at blanks so that no line is longer than the page; only a
// single word that is longer by itself stands out. A number stays with the
// word after it: "2,400" alone at the end of a line has lost its unit.
func wrap(text, indent string) string {
	var lines []string
	line := ""
	words := strings.Fields(text)
	for i := 0; i < len(words); i++ {
		w := words[i]
		for i+1 < len(words) && endsInDigit(words[i]) {
			i++
			w += " " + words[i]
		}
		if line != "" && utf8.RuneCountInString(indent+line+" "+w) > pageWidth {
			lines, line = append(lines, indent+line), ""
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	return strings.Join(append(lines, indent+line), "\n")
}

func endsInDigit(w string) bool { return w[len(w)-1] >= '0' && w[len(w)-1] <= '9' }
