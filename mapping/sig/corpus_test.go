package sig_test

import (
	_ "embed"
	"fmt"
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

// The corpus is two halves written by hand before the reader ran: one was
// looked at while writing it, the other not. official.txt holds sentences of
// the official R4 examples.
var (
	//go:embed testdata/seen.txt
	seenFile string
	//go:embed testdata/heldout.txt
	heldOutFile string
	//go:embed testdata/fresh.txt
	freshFile string
	//go:embed testdata/prose.txt
	proseFile string
	//go:embed testdata/official.txt
	officialFile string
)

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

// score counts readings by field.
type score struct{ right, wrong, missed int }

func (s score) precision() float64 { return 100 * float64(s.right) / float64(max(1, s.right+s.wrong)) }
func (s score) recall() float64    { return 100 * float64(s.right) / float64(max(1, s.right+s.missed)) }

func measure(t *testing.T, all []direction) (map[string]score, score) {
	fields, whole := map[string]score{}, score{}
	for _, d := range all {
		have := said(line(d.words))
		left := slices.Clone(d.want)
		for _, h := range have {
			field, _, _ := strings.Cut(h, "=")
			s := fields[field]
			if k := slices.Index(left, h); k >= 0 {
				left = slices.Delete(left, k, k+1)
				s.right++
				whole.right++
			} else {
				s.wrong++
				whole.wrong++
				t.Logf("%s\n   not expected: %s", d.words, h)
			}
			fields[field] = s
		}
		for _, w := range left {
			field, _, _ := strings.Cut(w, "=")
			s := fields[field]
			s.missed++
			whole.missed++
			fields[field] = s
			t.Logf("%s\n   missed: %s", d.words, w)
		}
		if got := sig.Unread(line(d.words)); !slices.Equal(got, d.unread) {
			t.Logf("%s\n   unread %q, expected %q", d.words, got, d.unread)
		}
	}
	return fields, whole
}

func report(fields map[string]score, whole score) string {
	var b strings.Builder
	names := []string{}
	for n := range fields {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		s := fields[n]
		fmt.Fprintf(&b, "%-18s right %3d wrong %2d missed %2d precision %5.1f recall %5.1f\n", n, s.right, s.wrong, s.missed, s.precision(), s.recall())
	}
	fmt.Fprintf(&b, "%-18s right %3d wrong %2d missed %2d precision %5.1f recall %5.1f\n", "all", whole.right, whole.wrong, whole.missed, whole.precision(), whole.recall())
	return b.String()
}
