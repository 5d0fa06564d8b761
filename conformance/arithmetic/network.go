package arithmetic

import (
	"cmp"
	"slices"
	"sync"

	"weir.example/weir/mapping/quantity"
)

// The quantities of the network, in a fixed order. The names are those of
// the outside contract.
const (
	dose = iota
	dosePerKg
	dosePerArea
	dosingWeight
	bodySurfaceArea
	concentration
	volume
	rate
	drugRate
	drugRatePerKg
	duration
	interval
	dosesPerDay
	dailyDose
	dailyDosePerKg
	doseCount
	courseLength
	nameCount
)

// Names lists the network's quantities by the contract's NAME.
var Names = [nameCount]string{"dose", "dosePerKg", "dosePerArea", "dosingWeight", "bodySurfaceArea",
	"concentration", "volume", "rate", "drugRate", "drugRatePerKg", "duration", "interval", "dosesPerDay",
	"dailyDose", "dailyDosePerKg", "doseCount", "courseLength"}

func indexOf(name string) int { return slices.Index(Names[:], name) }

// Dimension returns the dimension the NAME asks for when the drug is
// measured in drug (mass, international units, equivalents, amount of
// substance …), and false for a NAME outside the network.
func Dimension(name string, drug quantity.Dimension) (quantity.Dimension, bool) {
	perTime := quantity.None.Per(quantity.Time)
	switch indexOf(name) {
	case dose:
		return drug, true
	case dosePerKg:
		return drug.Per(quantity.BodyMass), true
	case dosePerArea:
		return drug.Per(quantity.Area), true
	case dosingWeight:
		return quantity.BodyMass, true
	case bodySurfaceArea:
		return quantity.Area, true
	case concentration:
		return drug.Per(quantity.Volume), true
	case volume:
		return quantity.Volume, true
	case rate:
		return quantity.Volume.Times(perTime), true
	case drugRate, dailyDose:
		return drug.Times(perTime), true
	case drugRatePerKg, dailyDosePerKg:
		return drug.Per(quantity.BodyMass).Times(perTime), true
	case duration, interval, courseLength:
		return quantity.Time, true
	case dosesPerDay:
		return perTime, true
	case doseCount:
		return quantity.None, true
	}
	return quantity.None, false
}

// powers is a product of quantities: the exponent of each.
type powers [nameCount]int8

// relation is a minimal product of quantities that must equal 1.
type relation struct {
	powers  powers
	mask    uint32
	sized   bool // holds a dose per kg or per m²: the drug's rounding step applies
	weighed bool // holds a drug rate per kg: weight and rate were rounded apart
	paced   bool // sets a drug rate against a time without the pump rate between them: its rounding applies
}

// equations are the independent products the network is spanned by:
//
//	D = d·w   D = a·s   D = C·V   V = Q·T   R = C·Q   R = r·w
//	DD = D·n   DD = dd·w   n·I = 1   N = n·L
//
// and, when the infusion never pauses, DD = R (both are drug per time).
func equations(continuous bool) []powers {
	product := func(one int, others ...int) powers {
		var p powers
		p[one] = 1
		for _, o := range others {
			p[o]--
		}
		return p
	}
	list := []powers{
		product(dose, dosePerKg, dosingWeight),
		product(dose, dosePerArea, bodySurfaceArea),
		product(dose, concentration, volume),
		product(volume, rate, duration),
		product(drugRate, concentration, rate),
		product(drugRate, drugRatePerKg, dosingWeight),
		product(dailyDose, dose, dosesPerDay),
		product(dailyDose, dailyDosePerKg, dosingWeight),
		{dosesPerDay: 1, interval: 1},
		product(doseCount, dosesPerDay, courseLength),
	}
	if continuous {
		list = append(list, product(dailyDose, drugRate))
	}
	return list
}

var (
	pausing    = sync.OnceValue(func() []relation { return generate(equations(false)) })
	continuous = sync.OnceValue(func() []relation { return generate(equations(true)) })
)

// generate lists every relation: the elementary vectors of the space the
// equations span. A vector with the fewest quantities is found by asking for
// zeros at rank−1 chosen places, so all choices are tried.
func generate(rows []powers) []relation {
	seen := map[powers]bool{}
	var list []relation
	var choose func(from, left int, rows []powers)
	choose = func(from, left int, rows []powers) {
		if left == 0 || len(rows) == 1 {
			for _, v := range rows {
				if v = normal(v); len(rows) == 1 && !seen[v] {
					seen[v] = true
					list = append(list, newRelation(v))
				}
			}
			return
		}
		for at := from; at < nameCount; at++ {
			if reduced := eliminate(rows, at); len(reduced) < len(rows) {
				choose(at+1, left-1, reduced)
			}
		}
	}
	choose(0, len(rows)-1, rows)
	list = minimal(list)
	slices.SortFunc(list, func(a, b relation) int {
		return cmp.Or(cmp.Compare(a.size(), b.size()), slices.Compare(b.powers[:], a.powers[:]))
	})
	return list
}

func newRelation(p powers) relation {
	r := relation{powers: p}
	for i, e := range p {
		if e != 0 {
			r.mask |= 1 << i
		}
	}
	r.sized = r.mask&(1<<dosePerKg|1<<dosePerArea|1<<dailyDosePerKg) != 0
	r.weighed = r.mask&(1<<drugRatePerKg) != 0 && !r.sized
	ordered := uint32(1<<drugRate | 1<<drugRatePerKg | 1<<dailyDose | 1<<dailyDosePerKg)
	r.paced = r.mask&(1<<duration) != 0 && r.mask&ordered != 0 && r.mask&(1<<rate|1<<dosesPerDay|1<<interval) == 0
	return r
}

func (r relation) size() int {
	n := 0
	for _, e := range r.powers {
		if e != 0 {
			n++
		}
	}
	return n
}

// eliminate returns combinations of the rows with no power at the place.
func eliminate(rows []powers, at int) []powers {
	pivot := slices.IndexFunc(rows, func(r powers) bool { return r[at] != 0 })
	if pivot < 0 {
		return rows
	}
	var out []powers
	for i, r := range rows {
		if i == pivot {
			continue
		}
		if r[at] != 0 {
			a, b := rows[pivot][at], r[at]
			for j := range r {
				r[j] = r[j]*a - rows[pivot][j]*b
			}
			r = normal(r)
		}
		out = append(out, r)
	}
	return out
}

// normal divides by the common factor and makes the first power positive.
func normal(p powers) powers {
	var g int8
	for _, e := range p {
		for a, b := g, max(e, -e); ; a, b = b, a%b {
			if b == 0 {
				g = a
				break
			}
		}
	}
	first := slices.IndexFunc(p[:], func(e int8) bool { return e != 0 })
	if first < 0 {
		return p
	}
	if p[first] < 0 {
		g = -g
	}
	for i := range p {
		p[i] /= g
	}
	return p
}

// minimal keeps the relations whose quantities contain no other relation's.
func minimal(list []relation) []relation {
	return slices.DeleteFunc(slices.Clone(list), func(r relation) bool {
		return slices.ContainsFunc(list, func(o relation) bool {
			return o.mask != r.mask && o.mask&r.mask == o.mask
		})
	})
}
