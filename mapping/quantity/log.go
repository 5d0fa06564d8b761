package quantity

import (
	"math/big"
	"math/bits"
)

// MilliLog returns 1000 times the natural logarithm of a, to the nearest
// whole number or one beside it. It ranks explanations; no dose is computed
// from it. a must be greater than 0.
func MilliLog(a Number) int {
	if a.Sign() <= 0 {
		panic("quantity.MilliLog: number not above zero")
	}
	x, shift := mantissa(a)
	if x < 1<<31 {
		x, shift = x<<1, shift-1
	}
	// The bits of the binary logarithm come from squaring: whenever the
	// square reaches 2, a bit is 1.
	log := int64(shift)
	const places = 16
	for range places {
		hi, lo := bits.Mul64(x, x)
		x = hi<<33 | lo>>31
		log <<= 1
		if x >= 1<<32 {
			x, log = x>>1, log|1
		}
	}
	const milliLn2 = 693147 // 10⁶ × ln 2
	return int((log*milliLn2/1000 + (1 << (places - 1))) >> places)
}

// mantissa is a number scaled to [2³⁰, 2³²), and the power of two that it was
// scaled by: a is about x × 2^(shift−31).
func mantissa(a Number) (x uint64, shift int) {
	if a.r == nil {
		n, d := uint64(a.n), uint64(a.den())
		shift = bits.Len64(n) - bits.Len64(d)
		n <<= bits.LeadingZeros64(n)
		d <<= bits.LeadingZeros64(d)
		// n and d both fill 64 bits: their quotient lies between ½ and 2.
		hi, lo := n>>33, n<<31
		x, _ = bits.Div64(hi, lo, d)
		return x, shift
	}
	r := a.r
	shift = r.Num().BitLen() - r.Denom().BitLen()
	n, d := new(big.Int).Set(r.Num()), new(big.Int).Set(r.Denom())
	if shift >= 0 {
		d.Lsh(d, uint(shift))
	} else {
		n.Lsh(n, uint(-shift))
	}
	n.Lsh(n, 31)
	return new(big.Int).Quo(n, d).Uint64(), shift
}
