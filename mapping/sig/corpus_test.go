package sig_test

import (
	_ "embed"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/sig"
)

// The corpus: seen.txt was looked at while writing the reader, official.txt
// holds sentences of the official R4 examples, the others were written before
// the reader ran on them (testdata/README.md).
var (
	//go:embed testdata/seen.txt
	seenFile string
	//go:embed testdata/official.txt
	officialFile string
	//go:embed testdata/heldout.txt
	heldOutFile string
	//go:embed testdata/fresh.txt
	freshFile string
	//go:embed testdata/prose.txt
	proseFile string
	//go:embed testdata/fourth.txt
	fourthFile string
	//go:embed testdata/fifth.txt
	fifthFile string
	//go:embed testdata/sixth.txt
	sixthFile string
	//go:embed testdata/seventh.txt
	seventhFile string
	//go:embed testdata/eighth.txt
	eighthFile string
	//go:embed testdata/ninth.txt
	ninthFile string
	//go:embed testdata/tenth.txt
	tenthFile string
	//go:embed testdata/eleventh.txt
	eleventhFile string
)

var unseen = map[string]string{"held out": heldOutFile, "fresh": freshFile, "prose": proseFile, "fourth": fourthFile, "fifth": fifthFile,
	"sixth": sixthFile, "seventh": seventhFile, "eighth": eighthFile, "ninth": ninthFile, "tenth": tenthFile, "eleventh": eleventhFile}

// direction is one entry of a corpus file.
type direction struct {
	name   string // the official example it is taken from
	words  string
	want   []string
	unread []string
}

func corpus(t testing.TB, file string) []direction {
	var out []direction
	name := ""
	for _, l := range strings.Split(file, "\n") {
		switch {
		case strings.HasPrefix(l, "#"), l == "":
		case strings.HasPrefix(l, "= "):
			name = l[2:]
		case strings.HasPrefix(l, "> "):
			out = append(out, direction{name: name, words: l[2:]})
		case strings.HasPrefix(l, "unread: "):
			out[len(out)-1].unread = strings.Split(l[8:], " | ")
		default:
			out[len(out)-1].want = strings.Split(l, "; ")
		}
	}
	require.NotEmpty(t, out)
	return out
}

func line(words string) order.Line {
	return order.Line{Words: words, Kind: "dosage-text", Place: finding.Place{Expression: "MedicationRequest.dosageInstruction[0].text"}}
}

// said writes each reading compactly: "dose=2 g", "volume=100 mL (device)",
// "duration=30..60 min".
func said(l order.Line) []string {
	var out []string
	for _, r := range sig.Read(l) {
		v := r.Value
		if r.Low != "" {
			v = r.Low + ".." + r.High
		}
		s := r.Field + "=" + v
		switch {
		case strings.HasPrefix(r.Unit, "/"):
			s += " " + r.Unit
		case r.Unit != "":
			s += " " + r.Unit
		}
		if r.Role != "" {
			s += " (" + r.Role + ")"
		}
		out = append(out, s)
	}
	return out
}

func sorted(list []string) []string {
	out := slices.Clone(list)
	sort.Strings(out)
	return out
}

func TestDirectionsSeenWhileWriting(t *testing.T) {
	all := corpus(t, seenFile)
	require.GreaterOrEqual(t, len(all), 60)
	for _, d := range all {
		t.Run(d.words, func(t *testing.T) {
			assert.Equal(t, sorted(d.want), sorted(said(line(d.words))))
			assert.Equal(t, d.unread, sig.Unread(line(d.words)))
		})
	}
}
