package element

import (
	"fmt"
	"strings"
	"testing"
)

// order35KB is a Bundle of orders of about 35 KB, indented as hospitals send it.
func order35KB(b *testing.B) []byte {
	b.Helper()
	var entries []Value
	for i := range 39 {
		entries = append(entries, Obj(
			F("fullUrl", Str(fmt.Sprintf("https://hospital.example/fhir/MedicationRequest/order-%d", i))),
			F("resource", Obj(
				F("resourceType", Str("MedicationRequest")),
				F("status", Str("active")),
				F("subject", Obj(F("reference", Str("Patient/infant-7")))),
				F("dosageInstruction", List(Obj(
					F("text", Str("cefazolin 2 g in 100 mL over 30 minutes every 8 hours")),
					F("doseAndRate", List(Obj(
						F("doseQuantity", Obj(F("value", Num("2")), F("unit", Str("g")), F("system", Str("http://unitsofmeasure.org")), F("code", Str("g")))),
						F("rateQuantity", Obj(F("value", Num("200.0")), F("unit", Str("mL per hour")), F("system", Str("http://unitsofmeasure.org")), F("code", Str("mL/h")))),
					))),
				))),
			)),
		))
	}
	return Encode(Obj(F("resourceType", Str("Bundle")), F("type", Str("collection")), F("entry", List(entries...))))
}

func BenchmarkRead(b *testing.B) {
	data := order35KB(b)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, findings := Read(data, Limit{}); len(findings) > 0 {
			b.Fatal(findings)
		}
	}
}

func BenchmarkCanonical(b *testing.B) {
	d, _ := Read(order35KB(b), Limit{})
	b.ReportAllocs()
	for b.Loop() {
		Canonical(d.Root(), "meta")
	}
}

// A document in one line must not make places dear.
func BenchmarkPlaceInOneLongLine(b *testing.B) {
	d, _ := Read([]byte(resource(`"a":[`+strings.Repeat(`"x",`, 1<<18)+`"x"]`)), Limit{})
	last := d.Root().Get("a").At(1 << 18)
	b.ReportAllocs()
	for b.Loop() {
		last.Place()
	}
}
