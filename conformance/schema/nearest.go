package schema

import (
	"iter"
	"strings"
)

// nearest is the known name at a small distance from what was typed, ""
// when none is near: a letter wrong, missing, added or exchanged with its
// neighbour, or only upper and lower case. Of several the least is given, and
// of equals the first in the alphabet.
func nearest(typed string, names iter.Seq[string]) string {
	best, least := "", 3
	for n := range names {
		d := 0
		if !strings.EqualFold(n, typed) {
			d = distance(typed, n)
		}
		if d*3 <= len(n) && (d < least || d == least && best != "" && n < best) {
			best, least = n, d
		}
	}
	return best
}

// distance is the number of edits of one letter between two names, a swap of
// neighbours counting once; names longer than any of FHIR are cut.
func distance(a, b string) int {
	a, b = a[:min(len(a), 64)], b[:min(len(b), 64)]
	if len(a)-len(b) > 3 || len(b)-len(a) > 3 {
		return 64
	}
	var rows [3][65]int // two before, before, now
	for j := range len(b) + 1 {
		rows[1][j] = j
	}
	for i := 1; i <= len(a); i++ {
		now := &rows[(i+1)%3]
		before, earlier := &rows[i%3], &rows[(i+2)%3]
		now[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			now[j] = min(before[j]+1, now[j-1]+1, before[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				now[j] = min(now[j], earlier[j-2]+1)
			}
		}
	}
	return rows[(len(a)+1)%3][len(b)]
}
