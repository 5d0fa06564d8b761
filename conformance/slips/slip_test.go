package slips_test

import (
	"math/big"
	"math/rand/v2"
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
)

// The signatures by the contract's names.
const (
	tenfold      = "tenfold"
	thousandfold = "thousandfold"
	dayAsHour    = "per-day-as-per-hour"
	minutesHours = "minutes-as-hours"
	pounds       = "pounds-as-kilograms"
	dayEachDose  = "daily-total-each-dose"
	courseAsDay  = "course-total-as-one-day"
	otherKnown   = "other-concentration"
	neighbour    = "neighbouring-field"
	transposed   = "transposed-digits"
	anyDigit     = "none"
	unsent       = "number-of-an-unsent-field" // of a field that neither is stated nor follows: by what reaches the checker, none
)

// multiples are the slips that change a number by a factor.
var multiples = list(tenfold, thousandfold, dayAsHour, minutesHours, pounds, dayEachDose, courseAsDay, otherKnown)

// signatures that are measured together; those without a mark are told apart.
var (
	signatures = append(slices.Clone(multiples), neighbour, transposed)
	unmarked   = list(anyDigit, unsent)
)

// slip is one statement typed wrongly.
type slip struct {
	signature    string
	at           int // in the list of statements
	digits, unit string
}

// slipper types the numbers of one order wrongly.
type slipper struct {
	plan plan
	ward ward
	all  []written // everything known of the order, stated or not
	r    *rand.Rand
}

// some returns up to n slips: one of each signature in each statement where
// it can occur, its variant drawn, and n of those drawn.
func (s slipper) some(stated []written, n int) []slip {
	type pair struct {
		signature string
		at        int
	}
	var pairs []pair
	for at, w := range stated {
		if w.witness == order.Record { // of another day: nobody types it now
			continue
		}
		for _, signature := range append(slices.Clone(signatures), unmarked...) {
			pairs = append(pairs, pair{signature, at})
		}
	}
	s.r.Shuffle(len(pairs), func(i, j int) { pairs[i], pairs[j] = pairs[j], pairs[i] })
	var out []slip
	for _, p := range pairs {
		var possible []slip
		for _, v := range s.variants(p.signature, stated[p.at], stated) {
			v.signature, v.at = p.signature, p.at
			if changes(stated[p.at], v) {
				possible = append(possible, v)
			}
		}
		if len(possible) > 0 {
			out = append(out, pick(s.r, possible))
		}
		if len(out) == n {
			break
		}
	}
	return out
}

// changes: the number typed is another one, beyond the writer's rounding,
// and could stand in the field.
func changes(w written, v slip) bool {
	if isWhole(w.name) && !integer(v.digits) || v.digits == "0" || len(v.digits) > 11 {
		return false
	}
	typed := times(rat(v.digits), worth(v.unit))
	if typed.Sign() <= 0 {
		return false
	}
	gap := distance(typed, w.value())
	return gap.Sign() > 0 && less(w.half, gap)
}

func (s slipper) variants(signature string, w written, stated []written) []slip {
	number := func(factor *big.Rat) slip { return slip{digits: digitsOf(times(rat(w.digits), factor)), unit: w.unit} }
	short := func(x *big.Rat, n int) slip { return slip{digits: digitsOf(nearest(x, lastOf(x, n))), unit: w.unit} }
	inUnit := func(u string) slip { return slip{digits: w.digits, unit: u} }
	var out []slip
	switch signature {
	case tenfold:
		out = append(out, number(whole(10)), number(rat("0.1")))
	case thousandfold:
		out = append(out, s.thousand(w)...)
	case dayAsHour:
		if strings.HasSuffix(w.unit, "/h") {
			out = append(out, short(times(rat(w.digits), whole(24)), 4), inUnit(strings.TrimSuffix(w.unit, "/h")+"/d"))
		}
	case minutesHours:
		switch {
		case strings.HasSuffix(w.unit, "/h"):
			out = append(out, inUnit(strings.TrimSuffix(w.unit, "/h")+"/min"), short(over(rat(w.digits), whole(60)), 3))
		case strings.HasSuffix(w.unit, "/min"):
			out = append(out, inUnit(strings.TrimSuffix(w.unit, "/min")+"/h"), short(times(rat(w.digits), whole(60)), 4))
		case w.name == "duration":
			out = append(out, inUnit(map[string]string{"h": "min", "min": "h"}[w.unit]))
			if w.unit == "h" {
				out = append(out, number(whole(60)))
			} else {
				out = append(out, short(over(rat(w.digits), whole(60)), 3))
			}
		}
	case pounds:
		if w.name == "dosingWeight" {
			inPounds := over(rat(w.digits), worth("[lb_av]"))
			step := whole(1)
			if less(inPounds, whole(40)) {
				step = rat("0.1")
			}
			out = append(out, slip{digits: digitsOf(nearest(inPounds, step)), unit: "kg"}, inUnit("[lb_av]"))
		}
	case dayEachDose:
		out = append(out, s.dayTotal(w)...)
	case courseAsDay:
		out = append(out, s.courseTotal(w)...)
	case otherKnown:
		out = append(out, s.otherStrength(w)...)
	case neighbour, unsent:
		for _, o := range s.all {
			if o.name != w.name && follows(o.name, stated, w.name, s.plan.drug.kind.continuous()) == (signature == neighbour) {
				out = append(out, slip{digits: o.digits, unit: w.unit})
			}
		}
	case transposed:
		out = append(out, swaps(w)...)
	case anyDigit:
		out = append(out, s.wrongDigit(w)...)
	}
	return out
}

// thousand: the unit a thousand times larger or smaller, or three zeros.
func (s slipper) thousand(w written) []slip {
	var out []slip
	head, tail, divided := strings.Cut(w.unit, "/")
	if divided {
		tail = "/" + tail
	}
	ladder := [][2]string{{"g", "mg"}, {"mg", "ug"}, {"ug", "ng"}, {"L", "mL"}}
	for _, pair := range ladder {
		for i, unit := range pair {
			if unit == head && w.name != "rate" {
				out = append(out, slip{digits: w.digits, unit: pair[1-i] + tail})
			}
		}
	}
	if head == "[iU]" && w.name != "dosePerKg" {
		n := rat(w.digits)
		if t := over(n, whole(1000)); t.IsInt() {
			out = append(out, slip{digits: digitsOf(t), unit: w.unit})
		}
		out = append(out, slip{digits: digitsOf(times(n, whole(1000))), unit: w.unit})
	}
	return out
}

// dayTotal: the total of a day given as each dose, or the reverse.
func (s slipper) dayTotal(w written) []slip {
	if s.plan.every == 0 || s.plan.every >= 24 {
		return nil
	}
	perDay := big.NewRat(24, s.plan.every)
	switch w.name {
	case "dose", "dosePerKg":
		return []slip{{digits: digitsOf(times(rat(w.digits), perDay)), unit: w.unit}}
	case "dailyDose":
		return []slip{{digits: digitsOf(over(rat(w.digits), perDay)), unit: w.unit}}
	}
	return nil
}

// courseTotal: the amount of the whole course given as that of one day or
// one dose; courses of up to 12 doses, longer ones nobody adds up.
func (s slipper) courseTotal(w written) []slip {
	n := s.plan.count
	if n == 0 && s.plan.every > 0 {
		n = s.plan.days * 24 / s.plan.every
	}
	if n < 2 || n > 12 {
		return nil
	}
	switch w.name {
	case "dose", "dosePerKg", "dosePerArea":
		return []slip{{digits: digitsOf(times(rat(w.digits), whole(n))), unit: w.unit}}
	case "dailyDose":
		if s.plan.days > 1 {
			return []slip{{digits: digitsOf(times(rat(w.digits), whole(s.plan.days))), unit: w.unit}}
		}
	}
	return nil
}

// otherStrength: the number belongs to another known concentration.
func (s slipper) otherStrength(w written) []slip {
	d := s.plan.drug
	var out []slip
	for _, digits := range d.strengths {
		other := rat(digits)
		if other.Cmp(s.plan.strength) == 0 {
			continue
		}
		switch {
		case w.name == "concentration":
			out = append(out, slip{digits: digits, unit: d.strengthU})
		case w.name == "rate" && !d.drawn:
			amount, _ := find(s.all, "drugRate")
			set, _ := s.ward.rateRounded(over(amount.value(), times(other, worth(d.strengthU))), s.plan.pump)
			out = append(out, slip{digits: digitsOf(set), unit: w.unit})
		case w.name == "volume" && d.drawn:
			dose, _ := find(s.all, "dose")
			out = append(out, slip{digits: digitsOf(nearest(over(dose.value(), other), rat("0.1"))), unit: w.unit})
		}
	}
	return out
}

// swaps exchanges two neighbouring digits, also across the decimal point.
// Nobody leaves a zero standing in front.
func swaps(w written) []slip {
	var out []slip
	for i := 0; i+1 < len(w.digits); i++ {
		b := []byte(w.digits)
		j := i + 1
		if b[j] == '.' {
			j++
		}
		if b[i] == '.' || j >= len(b) || b[i] == b[j] || i == 0 && (b[j] == '0' || b[i] == '0') {
			continue
		}
		b[i], b[j] = b[j], b[i]
		out = append(out, slip{digits: string(b), unit: w.unit})
	}
	return out
}

// wrongDigit puts any other digit in the place of one.
func (s slipper) wrongDigit(w written) []slip {
	var out []slip
	for i := range len(w.digits) {
		b := []byte(w.digits)
		if b[i] == '.' {
			continue
		}
		d := byte('0' + s.r.IntN(10))
		if d == b[i] || i == 0 && len(b) > 1 && d == '0' {
			continue
		}
		b[i] = d
		out = append(out, slip{digits: string(b), unit: w.unit})
	}
	return out
}

// with returns the statements with the slip in place.
func with(stated []written, v slip) []written {
	out := slices.Clone(stated)
	out[v.at].digits, out[v.at].unit = v.digits, v.unit
	return out
}
