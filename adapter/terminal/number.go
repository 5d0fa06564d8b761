package terminal

import (
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// value writes a decimal with its unit, long fractions cut to 4 digits.
func value(decimal, unit string) string {
	if n, err := quantity.ParseNumber(decimal); err == nil {
		if short := n.Significant(5); short != decimal {
			decimal = n.Significant(4)
		}
	}
	return notation.Code(decimal, unit)
}

// compare says how far the ordered number is from the recomputed one.
func compare(q worksheet.Quantity, d worksheet.Derivation) string {
	stated, err1 := quantity.ParseNumber(q.Value)
	again, err2 := quantity.ParseNumber(d.Value)
	if err1 != nil || err2 != nil || again.Sign() == 0 || q.Unit != d.Unit {
		return ""
	}
	off := stated.Quo(again)
	switch {
	case off.Equal(quantity.Int(1)):
		return "agrees"
	case !off.Less(quantity.Int(2)) || !quantity.Ratio(1, 2).Less(off):
		return "× " + off.Significant(3)
	}
	percent := off.Sub(quantity.Int(1)).Mul(quantity.Int(100))
	sign := "+"
	if percent.Sign() < 0 {
		sign = ""
	}
	if percent.Abs().Less(quantity.Ratio(1, 20)) {
		return "agrees"
	}
	return sign + percent.Significant(2) + " %"
}
