package slips_test

import (
	"math/big"
	"slices"
	"strings"
	"sync"
)

// What can be found at all, by plain linear algebra: the logarithm of every
// field is a sum of the logarithms of seven free numbers, so a field can be
// checked exactly when its row is a sum of multiples of the other stated
// rows.
//
// Free numbers: dose, weight, surface, volume, time, doses per day, length.
var rows = map[string][7]int64{
	"dose": {1}, "dosingWeight": {0, 1}, "bodySurfaceArea": {0, 0, 1}, "volume": {0, 0, 0, 1}, "duration": {0, 0, 0, 0, 1},
	"dosesPerDay": {0, 0, 0, 0, 0, 1}, "courseLength": {0, 0, 0, 0, 0, 0, 1},
	"dosePerKg": {1, -1}, "dosePerArea": {1, 0, -1}, "concentration": {1, 0, 0, -1}, "rate": {0, 0, 0, 1, -1},
	"drugRate": {1, 0, 0, 0, -1}, "drugRatePerKg": {1, -1, 0, 0, -1}, "interval": {0, 0, 0, 0, 0, -1},
	"dailyDose": {1, 0, 0, 0, 0, 1}, "doseCount": {0, 0, 0, 0, 0, 1, 1},
}

// row is a field's row; in an infusion that never pauses one container
// follows the other, so the doses per day are 24 h ÷ time.
func row(name string, continuous bool) [7]int64 {
	r := rows[name]
	if continuous {
		r[4] -= r[5]
		r[5] = 0
	}
	return r
}

// rankOf is the number of independent rows.
func rankOf(names []string, continuous bool) int {
	var m [][]*big.Rat
	for _, name := range names {
		var line []*big.Rat
		for _, n := range row(name, continuous) {
			line = append(line, whole(n))
		}
		m = append(m, line)
	}
	rank := 0
	for column := range 7 {
		pivot := -1
		for i := rank; i < len(m); i++ {
			if m[i][column].Sign() != 0 {
				pivot = i
				break
			}
		}
		if pivot < 0 {
			continue
		}
		m[rank], m[pivot] = m[pivot], m[rank]
		for i := rank + 1; i < len(m); i++ {
			f := over(m[i][column], m[rank][column])
			for j := range m[i] {
				m[i][j] = new(big.Rat).Sub(m[i][j], times(f, m[rank][j]))
			}
		}
		rank++
	}
	return rank
}

// reach says what a list of statements can show.
type reach struct {
	checks    int             // independent ones: stated quantities minus rank
	checkable map[string]bool // by name
}

var reached sync.Map // of reach, by the names

func reachOf(list []written, continuous bool) reach {
	var names []string
	count := map[string]int{}
	key := ""
	for _, w := range list {
		if count[w.name]++; count[w.name] == 1 {
			names = append(names, w.name)
		}
		key += w.name + " "
	}
	if continuous {
		key += "continuous"
	}
	if known, ok := reached.Load(key); ok {
		return known.(reach)
	}
	rank := rankOf(names, continuous)
	out := reach{checks: len(names) - rank, checkable: map[string]bool{}}
	for i, name := range names {
		others := append(append([]string(nil), names[:i]...), names[i+1:]...)
		out.checkable[name] = count[name] > 1 || rankOf(others, continuous) == rank
	}
	reached.Store(key, out)
	return out
}

var followed sync.Map // whether a name follows, by the names

// follows: the name is stated beside the one typed wrongly, or follows from
// what is.
func follows(name string, stated []written, wrong string, continuous bool) bool {
	var names []string
	times := 0
	for _, w := range stated {
		if w.name == wrong {
			times++
		}
		if !slices.Contains(names, w.name) {
			names = append(names, w.name)
		}
	}
	if times == 1 {
		names = slices.DeleteFunc(names, func(n string) bool { return n == wrong })
	}
	key := name + " from " + strings.Join(names, " ")
	if continuous {
		key += " continuous"
	}
	if known, ok := followed.Load(key); ok {
		return known.(bool)
	}
	is := rankOf(append(slices.Clone(names), name), continuous) == rankOf(names, continuous)
	followed.Store(key, is)
	return is
}
