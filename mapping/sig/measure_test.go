package sig_test

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"testing"

	"weir.example/weir/mapping/sig"
)

// How a reading is counted, fixed before the fourth file was run: a number
// given as "unclear" claims nothing, so it is neither right nor wrong; it
// leaves the field that it should have had missed. A condition quotes words
// for a person, so it is right when the quotation holds the one expected or
// lies in it. All else must be the same in field, value, unit and role. The
// strict figure counts unclear ones and the borders of quotations as well.
type measurer struct{ strict bool }

func (m measurer) claims(list []string) []string {
	if m.strict {
		return slices.Clone(list)
	}
	return slices.DeleteFunc(slices.Clone(list), func(s string) bool { return strings.HasPrefix(s, "=") })
}

func (m measurer) same(have, want string) bool {
	if have == want {
		return true
	}
	a, aWords := quoted(have)
	b, bWords := quoted(want)
	return !m.strict && a != "" && a == b && (strings.Contains(aWords, bWords) || strings.Contains(bWords, aWords))
}

// quoted takes a condition apart: where it belongs, and the words.
func quoted(s string) (kind, words string) {
	field, value, _ := strings.Cut(s, "=")
	if field == "condition" {
		if w, ok := strings.CutSuffix(value, " (laboratory)"); ok {
			return "laboratory", w
		}
		return field, value
	}
	if w, ok := strings.CutSuffix(value, " (condition)"); ok {
		return field + " condition", w
	}
	return "", ""
}

// score counts readings by field.
type score struct{ right, wrong, missed int }

func (s score) precision() float64 { return 100 * float64(s.right) / float64(max(1, s.right+s.wrong)) }
func (s score) recall() float64    { return 100 * float64(s.right) / float64(max(1, s.right+s.missed)) }

// tally is the scores by field; "all" is their sum.
type tally map[string]score

func (t tally) add(reading string, s score) {
	field, _, _ := strings.Cut(reading, "=")
	for _, k := range []string{field, "all"} {
		was := t[k]
		t[k] = score{was.right + s.right, was.wrong + s.wrong, was.missed + s.missed}
	}
}

func (m measurer) measure(t *testing.T, all []direction, into tally) {
	for _, d := range all {
		left := m.claims(d.want)
		for _, h := range m.claims(said(line(d.words))) {
			k := slices.IndexFunc(left, func(w string) bool { return m.same(h, w) })
			if k < 0 {
				into.add(h, score{wrong: 1})
				m.logf(t, "%s\n   not expected: %s", d.words, h)
				continue
			}
			left = slices.Delete(left, k, k+1)
			into.add(h, score{right: 1})
		}
		for _, w := range left {
			into.add(w, score{missed: 1})
			m.logf(t, "%s\n   missed: %s", d.words, w)
		}
		if got := sig.Unread(line(d.words)); d.unread != nil && !slices.Equal(got, d.unread) {
			m.logf(t, "%s\n   unread %q, expected %q", d.words, got, d.unread)
		}
	}
}

// logf writes what differs, of the measure that the targets are for.
func (m measurer) logf(t *testing.T, form string, args ...any) {
	if !m.strict {
		t.Logf(form, args...)
	}
}

func (t tally) String() string {
	names := []string{}
	for n := range t {
		names = append(names, n)
	}
	sort.Strings(names)
	var b strings.Builder
	for _, n := range names {
		s := t[n]
		if n == "" {
			n = "(unclear)"
		}
		fmt.Fprintf(&b, "%-18s right %4d wrong %2d missed %2d precision %5.1f %% recall %5.1f %%\n", n, s.right, s.wrong, s.missed, s.precision(), s.recall())
	}
	return b.String()
}
