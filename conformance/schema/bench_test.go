package schema_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/faults"
)

func benchmark(b *testing.B, judge schema.Judge) {
	valid, err := faults.Valid()
	require.NoError(b, err)
	d, strict := element.Read(valid, element.Limit{})
	require.Empty(b, strict)
	judge(d)
	b.SetBytes(int64(len(valid)))
	b.ReportAllocs()
	for b.Loop() {
		if found := judge(d); len(found) > 0 {
			b.Fatal(found)
		}
	}
}

func BenchmarkTables(b *testing.B)     { benchmark(b, schema.Tables) }
func BenchmarkInvariants(b *testing.B) { benchmark(b, schema.Invariants) }
func BenchmarkReferences(b *testing.B) { benchmark(b, schema.References) }

func BenchmarkCheckAlone(b *testing.B) {
	benchmark(b, func(d *element.Document) []finding.Finding { return schema.Check(d) })
}

func BenchmarkCheckWithTheLibrary(b *testing.B) {
	benchmark(b, func(d *element.Document) []finding.Finding { return schema.Check(d, googlefhir.Judge) })
}
