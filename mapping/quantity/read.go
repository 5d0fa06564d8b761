package quantity

import (
	"strings"
)

// Read reads a number with its UCUM code directly behind it, as people type
// it on a command line: "0.375ug/kg/min", "250mL", "10%". No code stands for
// the unit 1. It returns the digits as typed beside the value.
//
// The number takes an exponent only when digits follow the e ("1e3mL"):
// "5eq" is five equivalents. "10*3/L" is refused, for nobody can tell the
// number 10 from the power of ten.
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
		return Quantity{}, "", &UnitError{Code: code, Problem: "follows a number as a power of ten; write the number out"}
	}
	u, err := ParseUnit(code)
	if err != nil {
		return Quantity{}, "", err
	}
	return Point(n, u), literal, nil
}
