package policy

import (
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing a settings file may not say. Line and Column count from
// 1, in characters; Key is the path of the setting, such as
// delivery.holidays[0], and empty for the file as a whole.
type Fault struct {
	File                   string
	Line, Column           int
	Key, Problem, Expected string
}

// Error is FILE:LINE:COLUMN: KEY: PROBLEM; need EXPECTED.
func (f Fault) Error() string {
	key := ""
	if f.Key != "" {
		key = f.Key + ": "
	}
	return fmt.Sprintf("%s:%d:%d: %s%s; need %s", f.File, f.Line, f.Column, key, f.Problem, f.Expected)
}

// Faults are all of a file, in its order.
type Faults []Fault

// mostSaid is how many faults of a file are put into words: the rest of a
// file with more follows from these, or it is no policy.
const mostSaid = 100

// Error gives each of the first 100 faults a line, and counts the others.
func (f Faults) Error() string {
	var lines []string
	for i, x := range f {
		if i == mostSaid {
			lines = append(lines, fmt.Sprintf("and %d more", len(f)-i))
			break
		}
		lines = append(lines, x.Error())
	}
	return strings.Join(lines, "\n")
}

// sorted puts faults in the order of the file and drops what is said twice.
func (f Faults) sorted() Faults {
	slices.SortStableFunc(f, func(a, b Fault) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return slices.Compact(f)
}

// places are line and column of every key of a file, by its path.
type places map[string][2]int

// of is the place of a key, or of the nearest key above it in the file; the
// beginning when the file says nothing near it.
func (at places) of(key string) (line, column int) {
	for key != "" {
		if p, ok := at[key]; ok {
			return p[0], p[1]
		}
		key = above(key)
	}
	return 1, 1
}

// above is the path of the section or list a key stands in.
func above(key string) string { return key[:max(0, strings.LastIndexAny(key, ".["))] }

// nearest is the name within so many letters of what was typed: one wrong,
// missing, added, or exchanged with its neighbour. Of several the nearest is
// given, of equals the first in the alphabet; "" when none is near, and for
// short names that would all be near.
func nearest(typed string, names []string, within int) string {
	best, least := "", within+1
	for _, name := range slices.Sorted(slices.Values(names)) {
		if d := distance(strings.ToLower(typed), strings.ToLower(name)); d < least && d*3 <= len(name) {
			best, least = name, d
		}
	}
	return best
}

// distance counts edits of one letter, a swap of neighbours as one; names
// are cut at 64 letters.
func distance(a, b string) int {
	a, b = a[:min(len(a), 64)], b[:min(len(b), 64)]
	rows := make([][]int, len(a)+1)
	for i := range rows {
		rows[i] = make([]int, len(b)+1)
		rows[i][0] = i
		for j := 1; j <= len(b); j++ {
			if i == 0 {
				rows[0][j] = j
				continue
			}
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(a)][len(b)]
}
