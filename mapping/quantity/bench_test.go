package quantity_test

import (
	"testing"

	"weir.example/weir/mapping/quantity"
)

// BenchmarkIntervalStep is one step of the arithmetic: volume ÷ duration as
// intervals in base units, compared with a stated rate.
func BenchmarkIntervalStep(b *testing.B) {
	volume := quantity.Range(quantity.MustNumber("99.5"), quantity.MustNumber("100.5"), quantity.MustUnit("mL"))
	duration := quantity.Range(quantity.MustNumber("29.5"), quantity.MustNumber("30.5"), quantity.MustUnit("min"))
	rate := quantity.Point(quantity.Int(50), quantity.MustUnit("mL/h"))
	b.ReportAllocs()
	for b.Loop() {
		v1, v2 := volume.Base()
		d1, d2 := duration.Base()
		r, _ := rate.Base()
		low, high := v1.Quo(d2), v2.Quo(d1)
		if low.Less(r) && r.Less(high) {
			b.Fatal("50 mL per hour is not 100 mL in 30 min")
		}
	}
}

func BenchmarkParseUnit(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		quantity.MustUnit("ug/kg/min")
	}
}

func BenchmarkDecimal(b *testing.B) {
	third := quantity.Ratio(500, 3)
	b.ReportAllocs()
	for b.Loop() {
		_ = third.Decimal()
	}
}
