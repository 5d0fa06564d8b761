package arithmetic

import (
	"strings"

	"weir.example/weir/mapping/quantity"
)

// The signatures of a slip: how a number came to be typed.
const (
	Tenfold        = "tenfold"
	Thousandfold   = "thousandfold"
	DayAsHour      = "per-day-as-per-hour"
	MinutesAsHours = "minutes-as-hours"
	Pounds         = "pounds-as-kilograms"
	DailyTotal     = "daily-total-each-dose"
	CourseTotal    = "course-total-as-one-day"
	OtherStrength  = "other-concentration"
	Neighbour      = "neighbouring-field"
	Transposed     = "transposed-digits"
	NoSignature    = "none"
)

// slip is a signature that fits, how well (thousandths of a natural
// logarithm) and, for a neighbouring field, whose number was typed.
type slip struct {
	name  string
	score int
	of    int // place in Names, −1 unless name is Neighbour
}

// number is a value of another field in base units, as people print it.
type number struct {
	at    int
	value quantity.Number
}

// poundsPerKilogram is exact: 1 pound is 0.45359237 kg.
var poundsPerKilogram = quantity.Int(1).Quo(quantity.MustNumber("0.45359237"))

// slipOf finds the best signature that turns what was needed (base units,
// between low and high) into what was stated.
func slipOf(c claim, low, high, nominal quantity.Number, others []number, perDay, course quantity.Number, u Usual) slip {
	best := slip{NoSignature, unexplained, -1}
	try := func(name string, score int, of int) {
		if score > best.score {
			best = slip{name, score, of}
		}
	}
	tolerance := quantity.Ratio(2, 100)
	exactLow, exactHigh := low, high
	low, high = low.Mul(quantity.Int(1).Sub(tolerance)), high.Mul(quantity.Int(1).Add(tolerance))
	fits := func(stated, factor quantity.Number) bool {
		was := stated.Quo(factor)
		return !was.Less(low) && !high.Less(was)
	}
	either := func(name string, factor quantity.Number, score int) {
		if fits(c.value(), factor) || fits(c.value(), quantity.Int(1).Quo(factor)) {
			try(name, score, -1)
		}
	}
	either(Tenfold, quantity.Int(10), 0)
	switch c.at {
	case rate, drugRate, drugRatePerKg:
		either(Thousandfold, quantity.Int(1000), 0)
		either(DayAsHour, quantity.Int(24), 0)
		either(MinutesAsHours, quantity.Int(60), 0)
	case duration:
		either(MinutesAsHours, quantity.Int(60), 0)
	case dosingWeight:
		either(Thousandfold, quantity.Int(1000), 0)
		if fits(c.value(), poundsPerKilogram) { // pounds typed as kilograms; nobody types the reverse
			try(Pounds, 0, -1)
		}
	case dose, dosePerKg, dosePerArea, dailyDose, dailyDosePerKg, concentration, volume:
		either(Thousandfold, quantity.Int(1000), 0)
	}
	one := quantity.Int(1)
	switch c.at {
	case dose, dosePerKg, dosePerArea:
		if one.Less(perDay) && fits(c.value(), perDay) {
			try(DailyTotal, 0, -1)
		}
	case dailyDose, dailyDosePerKg:
		if one.Less(perDay) && fits(c.value(), one.Quo(perDay)) {
			try(DailyTotal, 0, -1)
		}
	}
	switch c.at {
	case dose, drugRate, dailyDose:
		if one.Less(course) && fits(c.value(), course) {
			try(CourseTotal, courseMultiple, -1)
		}
	}
	if score, ok := otherStrength(c, low, high, others, u); ok {
		try(OtherStrength, score, -1)
	}
	for _, o := range others {
		if best.name == DailyTotal && dayOrDose[o.at] && dayOrDose[c.at] {
			continue // the neighbour is the day's total itself
		}
		if score, ok := sameDigits(c, o); ok {
			try(Neighbour, score, o.at)
		}
	}
	if best.name != Tenfold && swapped(c, quantity.Greatest(exactLow, nominal.Mul(quantity.Ratio(97, 100))), quantity.Least(exactHigh, nominal.Mul(quantity.Ratio(103, 100)))) { // 0.1 and 1.0 are both
		try(Transposed, swappedDigits, -1)
	}
	return best
}

// otherStrength: the number belongs to another concentration the drug is
// known in: it is that concentration, or a rate or volume worked out from it.
func otherStrength(c claim, low, high quantity.Number, others []number, u Usual) (score int, ok bool) {
	if c.at != concentration && c.at != rate && c.at != volume {
		return 0, false
	}
	var known []quantity.Number
	for _, k := range u.Concentrations {
		if k.IsPoint() {
			n, _ := k.Base()
			known = append(known, n)
		}
	}
	if c.at == concentration {
		is, needed := false, false
		for _, k := range known {
			is = is || !k.Less(c.low) && !c.high.Less(k)
			needed = needed || !k.Less(low) && !high.Less(k)
		}
		if is && needed {
			return otherKnown, true
		}
		return otherStated, is
	}
	for _, typed := range known {
		for _, meant := range append(known, strengths(others)...) {
			was := c.value().Mul(typed).Quo(meant)
			if !meant.Equal(typed) && !was.Less(low) && !high.Less(was) {
				return otherKnown, true
			}
		}
	}
	return 0, false
}

// strengths are the concentrations among other numbers.
func strengths(others []number) []quantity.Number {
	var out []quantity.Number
	for _, o := range others {
		if o.at == concentration {
			out = append(out, o.value)
		}
	}
	return out
}

// dayOrDose are the amounts of a dose and of a day, which are taken for each
// other as a whole.
var dayOrDose = map[int]bool{dose: true, dosePerKg: true, dosePerArea: true, dailyDose: true, dailyDosePerKg: true}

// printed are the units people write each quantity in.
var printed = map[int][]string{
	dose: {"mg", "g", "ug"}, dosePerKg: {"mg/kg"}, dosePerArea: {"mg/m2"}, dosingWeight: {"kg", "[lb_av]"},
	concentration: {"mg/mL"}, volume: {"mL"}, rate: {"mL/h"}, drugRate: {"mg/h", "mg/min", "ug/min"},
	drugRatePerKg: {"ug/kg/min", "mg/kg/h"}, duration: {"min", "h"}, interval: {"h"}, dailyDose: {"mg/d"}, dailyDosePerKg: {"mg/kg/d"},
}

var printedUnits = func() map[int][]quantity.Unit {
	m := map[int][]quantity.Unit{}
	for at, codes := range printed {
		for _, code := range codes {
			m[at] = append(m[at], quantity.MustUnit(code))
		}
	}
	return m
}()

// sameDigits: the number typed is the number of another field, rounded to
// the decimals typed.
func sameDigits(c claim, o number) (score int, ok bool) {
	s := c.first()
	if s.Literal == "" || o.at == c.at {
		return 0, false
	}
	_, fraction, _ := strings.Cut(s.Literal, ".")
	significant := len(strings.Trim(strings.ReplaceAll(s.Literal, ".", ""), "0"))
	for _, u := range printedUnits[o.at] {
		if o.value.Sign() > 0 && u.FromBase(o.value).Places(len(fraction)) == s.Quantity.Low.Places(len(fraction)) {
			if significant >= 3 {
				return neighbourLong, true
			}
			return neighbourShort, true
		}
	}
	return 0, false
}

// swapped: exchanging two neighbouring digits of what was typed gives a
// number that would agree.
func swapped(c claim, low, high quantity.Number) bool {
	s := c.first()
	literal := []byte(s.Literal)
	for i := 0; i+1 < len(literal); i++ {
		j := i + 1
		if literal[j] == '.' {
			j++
		}
		if j >= len(literal) || literal[i] == '.' || literal[i] == literal[j] {
			continue
		}
		literal[i], literal[j] = literal[j], literal[i]
		n, err := quantity.ParseNumber(string(literal))
		padded := literal[0] == '0' && len(literal) > 1 && literal[1] != '.' // nobody types 0100
		literal[i], literal[j] = literal[j], literal[i]
		if err != nil || padded {
			continue
		}
		if v := s.Quantity.Unit.ToBase(n); !v.Less(low) && !high.Less(v) {
			return true
		}
	}
	return false
}
