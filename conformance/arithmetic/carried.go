package arithmetic

import "slices"

// workedOut are the quantities a hospital works out from a dosing weight,
// from the nearest on: the dose first, then what follows from it.
var workedOut = [][]int{
	{dose, dailyDose, drugRate},
	{dose, dailyDose, drugRate, concentration},
	{dose, dailyDose, drugRate, rate, volume},
}

// carriedSlips are explanations by a wrong weight that the dose was worked
// out from. Dose and weight then agree with each other, and a plain ranking
// blames the one honest number, the weight of another day. The weight is
// withdrawn with all that was worked out from it, as one fault.
func carriedSlips(list []claim, all, failed []check, rounding slack) []explanation {
	var out []explanation
	for i := range list {
		if list[i].at != dosingWeight || !rivalled(list, i) {
			continue
		}
		for _, from := range workedOut {
			without, claims := uint64(0), []int{i}
			for j := range list {
				if slices.Contains(from, list[j].at) {
					without |= 1 << j
					claims = append(claims, j)
				}
			}
			if len(claims) == 1 || slices.ContainsFunc(failed, func(c check) bool { return c.set&(without|1<<i) == 0 }) {
				continue
			}
			if e, ok := single(list, all, failed, i, without, rounding); ok && e.by.set != 0 {
				e.claims, e.carried = claims, true
				out = append(out, e)
				break
			}
		}
	}
	return out
}

// rivalled: another weight is stated beside this one.
func rivalled(list []claim, i int) bool {
	for j := range list {
		if j != i && list[j].at == dosingWeight {
			return true
		}
	}
	return false
}
