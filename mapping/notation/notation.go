// Package notation writes doses, rates, times and names for people, after
// the ISMP List of Error-Prone Abbreviations, Symbols, and Dose Designations
// (2021), https://www.ismp.org/recommendations/error-prone-abbreviations-list,
// and the Joint Commission's "Do Not Use" list: no trailing zero, a leading
// zero, commas from 1,000, units and signs in words. Machine codes (UCUM,
// https://ucum.org/ucum) stay in data; one that has no words here is shown
// in backticks, as a code, and never half translated. Nothing here is read
// back: matching and arithmetic use the codes.
package notation

import (
	"strings"

	"weir.example/weir/mapping/quantity"
)

// Code writes a decimal with a UCUM code: "200 mL per hour". A decimal that
// is no number is returned as it is, with the unit.
func Code(decimal, ucum string) string {
	n, err := quantity.ParseNumber(decimal)
	if err != nil {
		return strings.TrimSpace(decimal + " " + UnitWords(ucum))
	}
	return Value(n, ucum)
}

// Value is Code for a number that was read already.
func Value(n quantity.Number, ucum string) string { return join(n, Number(n), ucum, staff) }

// Patient writes as Code does, in the words of a patient sheet: micrograms
// in full where staff read mcg.
func Patient(decimal, ucum string) string {
	n, err := quantity.ParseNumber(decimal)
	if err != nil {
		return strings.TrimSpace(decimal + " " + unitWords(ucum, false, household))
	}
	return join(n, Number(n), ucum, household)
}

// Quantity writes a value with its unit. A value whose decimals do not end
// is rounded to six significant digits; Rounded and About cut further.
func Quantity(value quantity.Number, unit quantity.Unit) string {
	return join(value, Number(value), unit.Code(), staff)
}

// About writes a derived value cut to so many significant digits and says
// so: "about 47.7 mg per mL", or "50 mg per mL" when nothing was cut.
func About(value quantity.Number, unit quantity.Unit, digits int) string {
	text := Rounded(value, digits)
	s := join(value, text, unit.Code(), staff)
	back, err := quantity.ParseNumber(strings.ReplaceAll(strings.Replace(text, "minus ", "-", 1), ",", ""))
	if err != nil || !back.Equal(value) {
		return "about " + s
	}
	return s
}

// Number writes a number with commas from 1,000, a leading zero and no
// trailing zeros. A minus is the word, since a dash before a number is read
// as a separator.
func Number(n quantity.Number) string { return grouped(n.Decimal()) }

// Rounded writes a derived number half up to so many significant digits,
// but never with fewer digits than its whole part has: 47.7174 to three
// digits is "47.7", and 12,345.6 to three digits is "12,346".
func Rounded(n quantity.Number, digits int) string {
	whole, _, _ := strings.Cut(strings.TrimPrefix(n.Places(0), "-"), ".")
	if len(whole) >= digits && whole != "0" {
		return grouped(n.Places(0))
	}
	return grouped(n.Significant(max(digits, 1)))
}

// NonBreaking joins the words of a value with no-break spaces (U+00A0), so
// that number and unit never part at the end of a line.
func NonBreaking(s string) string { return strings.ReplaceAll(s, " ", "\u00a0") }

func join(n quantity.Number, text, ucum string, r reader) string {
	one := n.Equal(quantity.Int(1)) || n.Equal(quantity.Int(-1))
	return strings.TrimSpace(text + " " + unitWords(ucum, one, r))
}

func grouped(s string) string {
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "minus ", s[1:]
	}
	whole, fraction, point := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if point {
		whole += "." + fraction
	}
	return sign + whole
}
