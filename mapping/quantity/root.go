package quantity

import "math/big"

// Sqrt returns two numbers, at most 10⁻¹² (relative to a value near 1)
// apart, between which the square root of a lies; equal when it is exact to
// that many places. a must not be negative. Rounding is outward, so an
// interval built from it never loses the true value.
func Sqrt(a Number) (low, high Number) {
	if a.Sign() < 0 {
		panic("quantity.Sqrt: negative number")
	}
	r := a.Rat()
	scale := new(big.Int).Exp(big.NewInt(10), big.NewInt(12), nil)
	n := new(big.Int).Mul(r.Num(), r.Denom())
	n.Mul(n, scale).Mul(n, scale)
	root := new(big.Int).Sqrt(n)
	d := new(big.Int).Mul(r.Denom(), scale)
	low = fromRat(new(big.Rat).SetFrac(root, d))
	if new(big.Int).Mul(root, root).Cmp(n) == 0 {
		return low, low
	}
	return low, fromRat(new(big.Rat).SetFrac(new(big.Int).Add(root, big.NewInt(1)), d))
}
