package finding

import (
	"cmp"
	"slices"
)

// Sort puts findings in a total order, so that the same findings always
// print the same way: worst gate first, then the order of the table, then
// the place, then what was said. The expression comes before the line,
// because a stored case judged at night has no lines.
func Sort(list []Finding) { slices.SortStableFunc(list, compare) }

// Less reports whether f comes before g in the order of Sort.
func (f Finding) Less(g Finding) bool { return compare(f, g) < 0 }

func compare(a, b Finding) int {
	if c := cmp.Or(
		cmp.Compare(b.Gate().Weight(), a.Gate().Weight()),
		cmp.Compare(position(a.Code), position(b.Code)),
		cmp.Compare(a.Code, b.Code),
		comparePlaces(a.Place, b.Place),
		cmp.Compare(a.Observed, b.Observed),
		cmp.Compare(a.Expected, b.Expected),
		cmp.Compare(a.Remedy, b.Remedy),
		cmp.Compare(a.Detail, b.Detail),
		cmp.Compare(a.Diagnostic, b.Diagnostic),
		cmp.Compare(a.Standing, b.Standing),
		cmp.Compare(b.AtMost.Weight(), a.AtMost.Weight()),
		slices.Compare(a.Evidence, b.Evidence),
	); c != 0 {
		return c
	}
	return slices.CompareFunc(a.Culprits, b.Culprits, compareCulprits)
}

// position of a code in the table; one outside it comes last.
func position(c Code) int {
	if i, ok := positions()[c]; ok {
		return i
	}
	return len(Codes())
}

func comparePlaces(a, b Place) int {
	return cmp.Or(
		compareExpressions(a.Expression, b.Expression),
		cmp.Compare(a.Line, b.Line),
		cmp.Compare(a.Column, b.Column),
		slices.Compare(a.Span[:], b.Span[:]),
	)
}

func compareCulprits(a, b Culprit) int {
	named := func(k Culprit) int {
		if k.Named {
			return 0
		}
		return 1
	}
	return cmp.Or(
		cmp.Compare(a.Name, b.Name),
		slices.Compare(a.With, b.With),
		cmp.Compare(a.Stated, b.Stated),
		cmp.Compare(a.Consistent, b.Consistent),
		cmp.Compare(a.Unit, b.Unit),
		cmp.Compare(a.Signature, b.Signature),
		cmp.Compare(named(a), named(b)),
		cmp.Compare(a.Reading, b.Reading),
		cmp.Compare(a.Expression, b.Expression),
		cmp.Compare(a.Sentence, b.Sentence),
	)
}

// compareExpressions puts entry[2] before entry[10]: runs of digits compare
// as numbers, everything else byte by byte.
func compareExpressions(a, b string) int {
	i, j := 0, 0
	for i < len(a) && j < len(b) {
		if !digit(a[i]) || !digit(b[j]) {
			if c := cmp.Compare(a[i], b[j]); c != 0 {
				return c
			}
			i, j = i+1, j+1
			continue
		}
		m, n := digits(a, i), digits(b, j)
		if c := cmp.Or(cmp.Compare(m-i, n-j), cmp.Compare(a[i:m], b[j:n])); c != 0 {
			return c
		}
		i, j = m, n
	}
	return cmp.Compare(len(a)-i, len(b)-j)
}

func digit(c byte) bool { return c >= '0' && c <= '9' }

func digits(s string, from int) int {
	for from < len(s) && digit(s[from]) {
		from++
	}
	return from
}
