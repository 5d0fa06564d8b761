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

// What is read and printed is read again as the same number of the same unit.
func FuzzRead(f *testing.F) {
	for _, s := range []string{"0.375ug/kg/min", "250mL", "5", "10%", "2.2[lb_av]/kg", "21{drop}/mL", "1e3mL", "5eq", "1e", "5e-2eq", "10*3/L", "1(10*3/L)", "5(2.g{)})", "10^2.g", "-1mL", "1e20", "", "mL"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		q, literal, err := quantity.Read(text)
		if err != nil {
			if !q.Absent() || literal != "" {
				t.Fatalf("%q: refused and yet %s", text, q)
			}
			return
		}
		code := q.Unit.Code()
		if text != literal+code && text != literal+"("+code+")" && (text != literal || code != "1") {
			t.Fatalf("%q is read as %q and %q", text, literal, code)
		}
		printed := q.String()
		again, _, err := quantity.Read(printed)
		if err != nil {
			t.Fatalf("%q printed as %q is not read: %v", text, printed, err)
		}
		if !again.Low.Equal(q.Low) || again.Unit.Code() != code || again.Unit.Dimension() != q.Unit.Dimension() {
			t.Fatalf("%q printed as %q comes back as %q", text, printed, again)
		}
		unit, err := quantity.ParseUnit(code)
		if err != nil || unit.Dimension() != q.Unit.Dimension() || !unit.ToBase(q.Low).Equal(q.Unit.ToBase(q.Low)) {
			t.Fatalf("%q: the code %q is another unit: %v", text, code, err)
		}
	})
}
