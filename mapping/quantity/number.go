package quantity

import (
	"cmp"
	"fmt"
	"math/big"
	"math/bits"
	"strings"
)

// Number is an exact rational. The zero value is 0. Small values stay in two
// int64s; whatever overflows moves to big.Rat, so no operation loses a digit.
type Number struct {
	n, d int64 // value n/d in lowest terms when r is nil; d == 0 stands for 1
	r    *big.Rat
}

// MaxDigits and MaxExponent bound what ParseNumber accepts, checked on the
// text before any arithmetic.
const (
	MaxDigits   = 18
	MaxExponent = 20
)

// least has no positive twin in an int64, so it never stands in the fast
// fields: its negative would be itself.
const least = -1 << 63

// Int returns the whole number n.
func Int(n int64) Number {
	if n == least {
		return fromRat(new(big.Rat).SetInt64(n))
	}
	return Number{n: n, d: 1}
}

// Ratio returns n/d. It panics when d is 0: that is a programming fault.
func Ratio(n, d int64) Number {
	if d == 0 {
		panic("quantity.Ratio: zero denominator")
	}
	if n == least || d == least {
		return fromRat(new(big.Rat).SetFrac(big.NewInt(n), big.NewInt(d)))
	}
	if d < 0 {
		n, d = -n, -d
	}
	g := gcd(n, d)
	return Number{n: n / g, d: d / g}
}

// FromRat returns r as a Number. r is copied.
func FromRat(r *big.Rat) Number { return fromRat(new(big.Rat).Set(r)) }

func fromRat(r *big.Rat) Number {
	if r.Num().IsInt64() && r.Denom().IsInt64() {
		n, d := r.Num().Int64(), r.Denom().Int64()
		if n != least {
			return Number{n: n, d: d}
		}
	}
	return Number{r: r}
}

// ParseNumber reads a JSON number literal ("1.50", "2.4e3"). It accepts at
// most MaxDigits digits and exponents within ±MaxExponent.
func ParseNumber(literal string) (Number, error) {
	s := literal
	mantissa, exponent := s, 0
	if i := strings.IndexAny(s, "eE"); i >= 0 {
		mantissa = s[:i]
		e, err := smallInt(s[i+1:])
		if err != nil || e > MaxExponent || e < -MaxExponent {
			return Number{}, fmt.Errorf("number %.40q: exponent outside ±%d", literal, MaxExponent)
		}
		exponent = e
	}
	sign := mantissa
	mantissa = strings.TrimPrefix(mantissa, "-")
	whole, fraction, _ := strings.Cut(mantissa, ".")
	digits := whole + fraction
	if whole == "" || digits == "" || strings.Trim(digits, "0123456789") != "" || (strings.Contains(mantissa, ".") && fraction == "") {
		return Number{}, fmt.Errorf("%.40q is not a decimal number; write digits, and a point before decimals", literal)
	}
	if len(strings.TrimLeft(digits, "0")) > MaxDigits || len(digits) > MaxDigits+MaxExponent {
		return Number{}, fmt.Errorf("number %.40q has more than %d digits", literal, MaxDigits)
	}
	shift := exponent - len(fraction)
	if n, ok := small(digits, shift, strings.HasPrefix(sign, "-")); ok {
		return n, nil
	}
	r := new(big.Rat)
	n, _ := new(big.Int).SetString(digits, 10)
	r.SetInt(n)
	ten := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(shift, -shift))), nil)
	if shift >= 0 {
		r.Mul(r, new(big.Rat).SetInt(ten))
	} else {
		r.Quo(r, new(big.Rat).SetInt(ten))
	}
	if strings.HasPrefix(sign, "-") {
		r.Neg(r)
	}
	return fromRat(r), nil
}

// small is a number of digits with so many more zeros, or of which so many
// are decimals, when the two int64s hold it.
func small(digits string, shift int, negative bool) (Number, bool) {
	if shift < -MaxDigits || shift > MaxDigits {
		return Number{}, false
	}
	n, power := int64(0), int64(1) // ParseNumber has counted the digits: at most MaxDigits that are not leading zeros
	for _, c := range []byte(digits) {
		n = n*10 + int64(c-'0')
	}
	for range max(shift, -shift) {
		power *= 10
	}
	if negative {
		n = -n
	}
	if shift <= 0 {
		return Ratio(n, power), true
	}
	n, ok := mul64(n, power)
	return Number{n: n, d: 1}, ok
}

// MustNumber is ParseNumber for constants in code and tests.
func MustNumber(literal string) Number {
	n, err := ParseNumber(literal)
	if err != nil {
		panic(err)
	}
	return n
}

func smallInt(s string) (int, error) {
	t := strings.TrimPrefix(strings.TrimPrefix(s, "+"), "-")
	if t == "" || len(t) > 4 || strings.Trim(t, "0123456789") != "" {
		return 0, fmt.Errorf("exponent %.10q", s)
	}
	v := 0
	for _, c := range t {
		v = v*10 + int(c-'0')
	}
	if strings.HasPrefix(s, "-") {
		v = -v
	}
	return v, nil
}

func (a Number) den() int64 {
	if a.d == 0 {
		return 1
	}
	return a.d
}

// Rat returns the value as a new big.Rat.
func (a Number) Rat() *big.Rat {
	if a.r != nil {
		return new(big.Rat).Set(a.r)
	}
	return big.NewRat(a.n, a.den())
}

// Mul returns a × b.
func (a Number) Mul(b Number) Number {
	if a.r == nil && b.r == nil {
		g1, g2 := gcd(a.n, b.den()), gcd(b.n, a.den())
		n, ok1 := mul64(a.n/g1, b.n/g2)
		d, ok2 := mul64(a.den()/g2, b.den()/g1)
		if ok1 && ok2 {
			return Number{n: n, d: d}
		}
	}
	return fromRat(a.Rat().Mul(a.Rat(), b.Rat()))
}

// Quo returns a ÷ b. It panics when b is 0; callers ask Sign first.
func (a Number) Quo(b Number) Number {
	if b.Sign() == 0 {
		panic("quantity: division by zero")
	}
	return a.Mul(b.inverse())
}

func (a Number) inverse() Number {
	if a.r != nil {
		return fromRat(new(big.Rat).Inv(a.r))
	}
	if a.n < 0 {
		return Number{n: -a.den(), d: -a.n}
	}
	return Number{n: a.den(), d: a.n}
}

// Add returns a + b.
func (a Number) Add(b Number) Number {
	if a.r == nil && b.r == nil {
		x, ok1 := mul64(a.n, b.den())
		y, ok2 := mul64(b.n, a.den())
		d, ok3 := mul64(a.den(), b.den())
		if s := x + y; ok1 && ok2 && ok3 && (s > x) == (y > 0) && s != least {
			g := gcd(s, d)
			return Number{n: s / g, d: d / g}
		}
	}
	return fromRat(new(big.Rat).Add(a.Rat(), b.Rat()))
}

// Sub returns a − b.
func (a Number) Sub(b Number) Number { return a.Add(b.Neg()) }

// Neg returns −a.
func (a Number) Neg() Number {
	if a.r != nil {
		return fromRat(new(big.Rat).Neg(a.r))
	}
	return Number{n: -a.n, d: a.den()}
}

// Abs returns |a|.
func (a Number) Abs() Number {
	if a.Sign() < 0 {
		return a.Neg()
	}
	return a
}

// Cmp returns −1, 0 or +1 as a is less than, equal to or greater than b.
func (a Number) Cmp(b Number) int {
	if a.r == nil && b.r == nil {
		if s, t := a.Sign(), b.Sign(); s != t || s == 0 {
			return cmp.Compare(s, t)
		}
		// Of one sign: the products of 128 bits decide, the larger being the
		// smaller number when both are below 0.
		hi1, lo1 := bits.Mul64(uint64(max(a.n, -a.n)), uint64(b.den()))
		hi2, lo2 := bits.Mul64(uint64(max(b.n, -b.n)), uint64(a.den()))
		return a.Sign() * cmp.Or(cmp.Compare(hi1, hi2), cmp.Compare(lo1, lo2))
	}
	return a.Rat().Cmp(b.Rat())
}

// Equal reports a = b.
func (a Number) Equal(b Number) bool { return a.Cmp(b) == 0 }

// Less reports a < b.
func (a Number) Less(b Number) bool { return a.Cmp(b) < 0 }

// Sign returns −1, 0 or +1.
func (a Number) Sign() int {
	if a.r != nil {
		return a.r.Sign()
	}
	switch {
	case a.n < 0:
		return -1
	case a.n > 0:
		return 1
	}
	return 0
}

// IsInt reports whether a is a whole number.
func (a Number) IsInt() bool { return a.r == nil && a.den() == 1 || a.r != nil && a.r.IsInt() }

// Floor returns the greatest whole number not above a, and false when it
// does not fit an int64.
func (a Number) Floor() (int64, bool) {
	if a.r == nil {
		n, d := a.n, a.den()
		whole := n / d
		if n%d != 0 && n < 0 {
			whole--
		}
		return whole, true
	}
	q := new(big.Int)
	r := a.Rat()
	q.Div(r.Num(), r.Denom()) // Euclidean: rounds down for a positive divisor
	return q.Int64(), q.IsInt64()
}

// Ceil returns the least whole number not below a, and false when it does
// not fit an int64.
func (a Number) Ceil() (int64, bool) {
	n, ok := a.Neg().Floor()
	return -n, ok && n != least
}

// Least returns the smaller of a and b; Greatest the larger.
func Least(a, b Number) Number {
	if b.Less(a) {
		return b
	}
	return a
}

// Greatest returns the larger of a and b.
func Greatest(a, b Number) Number {
	if a.Less(b) {
		return b
	}
	return a
}

func gcd(a, b int64) int64 {
	if a < 0 {
		a = -a
	}
	if b < 0 {
		b = -b
	}
	for b != 0 {
		a, b = b, a%b
	}
	if a <= 0 { // both zero, or the one value without a positive twin
		return 1
	}
	return a
}

func mul64(a, b int64) (int64, bool) {
	neg := (a < 0) != (b < 0)
	ua, ub := uint64(max(a, -a)), uint64(max(b, -b))
	hi, lo := bits.Mul64(ua, ub)
	if hi != 0 || lo > 1<<63-1 {
		return 0, false
	}
	if neg {
		return -int64(lo), true
	}
	return int64(lo), true
}
