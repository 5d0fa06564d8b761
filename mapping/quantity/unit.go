package quantity

import (
	"fmt"
	"strings"
)

// Unit is a UCUM unit of the trade's subset: the code as written, its exact
// factor to the base units (gram, metre, second …) and its dimension.
type Unit struct {
	code   string
	factor Number
	dim    Dimension
}

// Code returns the UCUM code as it was parsed.
func (u Unit) Code() string { return u.code }

// Dimension returns the unit's dimension.
func (u Unit) Dimension() Dimension { return u.dim }

// IsZero reports whether u is the zero Unit, which no value may have.
func (u Unit) IsZero() bool { return u.factor.Sign() == 0 }

// As returns the unit with mass read as body mass where want asks for it,
// and false when the dimensions do not agree.
func (u Unit) As(want Dimension) (Unit, bool) {
	d, ok := u.dim.as(want)
	u.dim = d
	return u, ok
}

// UnitError says what is wrong with a unit and what would be accepted.
type UnitError struct {
	Code    string
	Meant   string // probable UCUM code, when the spelling is a known one
	Problem string
}

// Error implements error.
func (e *UnitError) Error() string {
	s := fmt.Sprintf("unit %.40q %s", e.Code, e.Problem)
	if e.Meant != "" {
		s += fmt.Sprintf("; probably %q was meant", e.Meant)
	}
	return s
}

// ParseUnit reads a UCUM code. Codes outside the subset, and spellings that
// are not UCUM (mcg, ml/hr, mEq, units), give a *UnitError which names what
// was probably meant and never converts it.
func ParseUnit(code string) (Unit, error) {
	if code == "" || len(code) > 64 {
		return Unit{}, &UnitError{Code: code, Problem: "is empty or too long"}
	}
	p := unitParser{rest: code}
	f, d, err := p.term(0)
	if err == nil && p.rest != "" {
		err = fmt.Errorf("is not UCUM at %.20q", p.rest)
	}
	if err != nil {
		return Unit{}, &UnitError{Code: code, Meant: meant[code], Problem: err.Error()}
	}
	return Unit{code: code, factor: f, dim: d}, nil
}

// MustUnit is ParseUnit for constants in code and tests.
func MustUnit(code string) Unit {
	u, err := ParseUnit(code)
	if err != nil {
		panic(err)
	}
	return u
}

// Meant returns the UCUM code that a spelling such as "mcg" or "mL/hr" is
// commonly used for, and "" when the spelling is not known.
func Meant(spelling string) string { return meant[spelling] }

type unitParser struct{ rest string }

func (p *unitParser) term(depth int) (Number, Dimension, error) {
	if depth > 8 {
		return Number{}, None, fmt.Errorf("is nested too deep")
	}
	factor, dim := Int(1), None
	divide := p.take('/')
	for {
		f, d, err := p.component(depth)
		if err != nil {
			return Number{}, None, err
		}
		if divide {
			factor, dim = factor.Quo(f), dim.Per(d)
		} else {
			factor, dim = factor.Mul(f), dim.Times(d)
		}
		switch {
		case p.take('.'):
			divide = false
		case p.take('/'):
			divide = true
		default:
			return factor, dim, nil
		}
	}
}

func (p *unitParser) take(c byte) bool {
	if p.rest != "" && p.rest[0] == c {
		p.rest = p.rest[1:]
		return true
	}
	return false
}

func (p *unitParser) component(depth int) (Number, Dimension, error) {
	if p.take('(') {
		f, d, err := p.term(depth + 1)
		if err == nil && !p.take(')') {
			err = fmt.Errorf("lacks a closing bracket")
		}
		return f, d, err
	}
	if strings.HasPrefix(p.rest, "{") {
		return Int(1), None, p.annotation()
	}
	f, d, err := p.symbol()
	if err == nil && strings.HasPrefix(p.rest, "{") {
		err = p.annotation()
	}
	return f, d, err
}

func (p *unitParser) annotation() error {
	end := strings.IndexByte(p.rest, '}')
	if end < 0 {
		return fmt.Errorf("lacks a closing brace")
	}
	for _, c := range p.rest[1:end] {
		if c < 33 || c > 126 || c == '{' {
			return fmt.Errorf("has an annotation with a character outside ASCII or a blank")
		}
	}
	p.rest = p.rest[end+1:]
	return nil
}

// symbol reads a number, or an atom with prefix and exponent. Square
// brackets belong to atom names, so "[iU]" is one symbol.
func (p *unitParser) symbol() (Number, Dimension, error) {
	if strings.HasPrefix(p.rest, "10*") || strings.HasPrefix(p.rest, "10^") {
		p.rest = p.rest[3:]
		e, ok := p.exponent()
		if !ok || e > MaxExponent || e < -MaxExponent {
			return Number{}, None, fmt.Errorf("needs a whole exponent within ±%d after 10*", MaxExponent)
		}
		return fromRat(pow10(e)), None, nil
	}
	if digits := leading(p.rest, "0123456789"); digits != "" {
		p.rest = p.rest[len(digits):]
		n, err := ParseNumber(digits)
		if err == nil && n.Sign() == 0 {
			err = fmt.Errorf("has a factor of zero")
		}
		return n, None, err
	}
	name := p.name()
	if name == "" {
		return Number{}, None, fmt.Errorf("is not UCUM at %.20q", p.rest)
	}
	f, d, ok := lookup(name)
	if !ok {
		return Number{}, None, fmt.Errorf("has no unit %q in the subset read here", name)
	}
	e, ok := p.exponent()
	if !ok {
		return f, d, nil
	}
	if e == 0 || e > 6 || e < -6 {
		return Number{}, None, fmt.Errorf("has an exponent outside 1 to 6")
	}
	factor, dim := Int(1), None
	for range max(e, -e) {
		factor, dim = factor.Mul(f), dim.Times(d)
	}
	if e < 0 {
		return Int(1).Quo(factor), None.Per(dim), nil
	}
	return factor, dim, nil
}

// name cuts an atom symbol: letters, %, ', _ and whatever stands in square
// brackets.
func (p *unitParser) name() string {
	i := 0
	for i < len(p.rest) {
		c := p.rest[i]
		switch {
		case c == '[':
			end := strings.IndexByte(p.rest[i:], ']')
			if end < 0 {
				return ""
			}
			i += end + 1
			continue
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c == '%', c == '\'', c == '_':
			i++
			continue
		}
		break
	}
	name := p.rest[:i]
	p.rest = p.rest[i:]
	return name
}

func (p *unitParser) exponent() (int, bool) {
	s := p.rest
	sign := ""
	if s != "" && (s[0] == '-' || s[0] == '+') {
		sign, s = s[:1], s[1:]
	}
	digits := leading(s, "0123456789")
	if digits == "" {
		return 0, false
	}
	v, err := smallInt(sign + digits)
	if err != nil {
		return 0, false
	}
	p.rest = s[len(digits):]
	return v, true
}

func leading(s, set string) string {
	return s[:len(s)-len(strings.TrimLeft(s, set))]
}
