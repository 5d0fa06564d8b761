package quantity_test

import (
	"math/big"
	"testing"

	"weir.example/weir/mapping/quantity"
)

func FuzzParseUnit(f *testing.F) {
	for _, s := range []string{"mL/h", "ug/kg/min", "mL/min/{1.73_m2}", "10*-20.g", "((g))", "[USP'U]", "m6.m6", "{", "[", "%", "/", "10^+3", "µg"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, code string) {
		u, err := quantity.ParseUnit(code)
		if err != nil {
			if !u.IsZero() {
				t.Fatalf("%q: refused and yet a unit", code)
			}
			if len(err.Error()) > 600 {
				t.Fatalf("%q: a message of %d bytes", code, len(err.Error()))
			}
			return
		}
		if u.Code() != code || u.ToBase(quantity.Int(1)).Sign() <= 0 {
			t.Fatalf("%q: a unit that is not above nothing", code)
		}
		for i, n := range u.Dimension() {
			if n > quantity.MaxPower || n < -quantity.MaxPower {
				t.Fatalf("%q: power %d of dimension %d", code, n, i)
			}
		}
		if meant := quantity.Meant(code); meant != "" {
			if _, err := quantity.ParseUnit(meant); err != nil {
				t.Fatalf("%q: meant %q, which is no unit: %v", code, meant, err)
			}
		}
	})
}

func FuzzParseNumber(f *testing.F) {
	for _, s := range []string{"0", "-0.50", "1e20", "1e-20", "999999999999999999", "1e", ".5", "5.", "１", "1_0", "0x1", "-"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, literal string) {
		n, err := quantity.ParseNumber(literal)
		if err != nil {
			return
		}
		want, ok := new(big.Rat).SetString(literal)
		if !ok || want.Cmp(n.Rat()) != 0 {
			t.Fatalf("%q was read as %s", literal, n.Rat())
		}
	})
}
