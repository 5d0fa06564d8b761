package quantity

import "fmt"

// Quantity is a closed interval of exact numbers in one unit. A point has
// Low equal to High.
type Quantity struct {
	Low, High Number
	Unit      Unit
}

// Parse reads a JSON number literal with a UCUM code, as a point. as is the
// dimension the NAME of the value asks for; `mg/kg` asked for as mass per
// body mass is read so, and a unit of another dimension is refused with what
// would have been accepted.
func Parse(literal, ucum string, as Dimension) (Quantity, error) {
	n, err := ParseNumber(literal)
	if err != nil {
		return Quantity{}, err
	}
	u, err := ParseUnit(ucum)
	if err != nil {
		return Quantity{}, err
	}
	v, ok := u.As(as)
	if !ok {
		return Quantity{}, &UnitError{Code: ucum, Problem: fmt.Sprintf("is a unit of %s; need one of %s", u.dim, as)}
	}
	return Point(n, v), nil
}

// Point returns n in unit u.
func Point(n Number, u Unit) Quantity { return Quantity{Low: n, High: n, Unit: u} }

// Range returns the interval from low to high in unit u; the ends are put in
// order.
func Range(low, high Number, u Unit) Quantity {
	return Quantity{Low: Least(low, high), High: Greatest(low, high), Unit: u}
}

// IsPoint reports whether the interval is one number.
func (q Quantity) IsPoint() bool { return q.Low.Equal(q.High) }

// Absent reports whether q is the zero Quantity.
func (q Quantity) Absent() bool { return q.Unit.IsZero() }

// Middle is the midpoint of the interval.
func (q Quantity) Middle() Number {
	if q.IsPoint() {
		return q.Low
	}
	return q.Low.Add(q.High).Quo(Int(2))
}

// Base returns the interval in base units (gram, metre, second …).
func (q Quantity) Base() (low, high Number) {
	return q.Low.Mul(q.Unit.factor), q.High.Mul(q.Unit.factor)
}

// In returns q in unit u, exactly. Mass is read as body mass where q's own
// dimension says so.
func (q Quantity) In(u Unit) (Quantity, error) {
	v, ok := u.As(q.Unit.dim)
	if !ok {
		return Quantity{}, &UnitError{Code: u.code, Problem: fmt.Sprintf("is a unit of %s; the value is one of %s", u.dim, q.Unit.dim)}
	}
	low, high := q.Base()
	return Quantity{Low: low.Quo(v.factor), High: high.Quo(v.factor), Unit: v}, nil
}

// FromBase returns the number n of base units as a number of u.
func (u Unit) FromBase(n Number) Number { return n.Quo(u.factor) }

// ToBase returns n of u as a number of base units.
func (u Unit) ToBase(n Number) Number { return n.Mul(u.factor) }
