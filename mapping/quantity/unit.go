package quantity

import (
	"fmt"
	"strings"
)

// Unit is a UCUM unit of the trade's subset: the code as written, its exact
// factor to the base units (gram, metre, second …) and its dimension.
type Unit struct {
	code string
	part
}

// Code returns the UCUM code as it was parsed.
func (u Unit) Code() string { return u.code }

// Dimension returns the unit's dimension.
func (u Unit) Dimension() Dimension { return u.dim }

// IsZero reports whether u is the zero Unit, which no value may have.
func (u Unit) IsZero() bool { return u.factor.Sign() == 0 }

// As returns the unit with mass read as body mass where want asks for it,
// and false when the dimensions do not agree. Only a mass that is written can
// be the body's: "mg/kg" is a dose per body mass, "{dose}" and "%" are not.
func (u Unit) As(want Dimension) (Unit, bool) {
	if want[bodyMass] > u.over || -want[bodyMass] > u.under {
		return u, false
	}
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
	f, err := p.term(0)
	if err == nil && p.rest != "" {
		err = fmt.Errorf("is not UCUM at %.20q", p.rest)
	}
	if err != nil {
		return Unit{}, &UnitError{Code: code, Meant: Meant(code), Problem: err.Error()}
	}
	return Unit{code: code, part: f}, nil
}

// MustUnit is ParseUnit for constants in code and tests.
func MustUnit(code string) Unit {
	u, err := ParseUnit(code)
	if err != nil {
		panic(err)
	}
	return u
}

// Meant returns the UCUM code that a spelling such as "mcg" or "mg/kg/hr" is
// commonly used for, and "" when the spelling, or a part of a quotient, is
// not known.
func Meant(spelling string) string {
	if m := meant[spelling]; m != "" || len(spelling) > 64 {
		return m
	}
	parts, known := strings.Split(spelling, "/"), false
	if len(parts) == 1 {
		return ""
	}
	for i, part := range parts {
		m := meant[part]
		if i > 0 && strings.Contains(m, ".") { // behind "/" a product would divide by its first factor only
			return ""
		}
		if m != "" {
			parts[i], known = m, true
		}
	}
	code := strings.Join(parts, "/")
	p := unitParser{rest: code}
	if _, err := p.term(0); err != nil || p.rest != "" || !known {
		return ""
	}
	return code
}
