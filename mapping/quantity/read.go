package quantity

import "strings"

// Read reads a number with its UCUM code directly behind it, as people type
// it on a command line: "0.375ug/kg/min", "250mL", "10%". No code stands for
// the unit 1. It returns the digits as typed beside the value.
//
// The number takes an exponent only when digits follow the e ("1e3mL"):
// "5eq" is five equivalents. "10*3/L" is refused, for nobody can tell the
// number 10 from the power of ten. A code that begins with a digit stands in
// brackets, which are not kept: "5(10*6.[iU])" is 5 of "10*6.[iU]".
func Read(text string) (q Quantity, literal string, err error) {
	end := len(text) - len(strings.TrimLeft(text, "+-0123456789."))
	if rest := text[end:]; end > 0 && rest != "" && (rest[0] == 'e' || rest[0] == 'E') {
		digits := strings.TrimLeft(rest[1:], "+-")
		if n := leading(digits, "0123456789"); n != "" && len(rest)-1-len(digits) <= 1 {
			end = len(text) - len(digits) + len(n)
		}
	}
	literal = text[:end]
	n, err := ParseNumber(literal)
	if err != nil {
		return Quantity{}, "", err
	}
	code := text[end:]
	if code == "" {
		code = "1"
	}
	if code[0] == '*' || code[0] == '^' {
		return Quantity{}, "", &UnitError{Code: code, Problem: "follows a number as a power of ten; write the number out, or the whole unit in brackets"}
	}
	u, err := ParseUnit(code)
	if inner, ok := bracketed(code); ok {
		if v, e := ParseUnit(inner); e == nil {
			u, err = v, nil
		}
	}
	if err != nil {
		return Quantity{}, "", err
	}
	return Point(n, u), literal, nil
}

// String writes a point as Read reads it: the decimal with the code directly
// behind it, "0.375ug/kg/min". A number whose decimals end is read back as
// the same number; any other, or one with more digits than Read takes, is
// rounded half up to six significant digits. Mass that a name made body mass
// comes back as mass, for UCUM writes both alike. An interval is written with
// two dots between its ends, which Read refuses; an absent quantity as "".
// It is meant for command lines and developers; package notation writes for
// people.
func (q Quantity) String() string {
	switch {
	case q.Absent():
		return ""
	case !q.IsPoint():
		return Point(q.Low, q.Unit).String() + ".." + Point(q.High, q.Unit).String()
	}
	code := q.Unit.code
	switch {
	case code == "1":
		code = ""
	case leading(code[:1], "0123456789") != "":
		code = "(" + code + ")"
	}
	return q.Low.literal() + code
}

// bracketed returns what stands in a pair of brackets around a code that
// begins with a digit.
func bracketed(code string) (string, bool) {
	inner, open := strings.CutPrefix(code, "(")
	inner, closed := strings.CutSuffix(inner, ")")
	return inner, open && closed && inner != "" && leading(inner[:1], "0123456789") != ""
}

// literal writes a as ParseNumber reads it. An exponent is written only when
// the number has more places than ParseNumber takes without one.
func (a Number) literal() string {
	for _, n := range []Number{a, a.RoundDigits(6)} {
		for _, e := range []struct {
			power  int
			suffix string
		}{{0, ""}, {MaxExponent, "e20"}, {-MaxExponent, "e-20"}} {
			s, ok := n.Quo(fromRat(pow10(e.power))).exact(MaxDigits + MaxExponent - 1)
			if !ok {
				continue
			}
			if back, err := ParseNumber(s + e.suffix); err == nil && back.Equal(n) {
				return s + e.suffix
			}
		}
	}
	return a.Significant(6)
}
