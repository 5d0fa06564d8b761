package index_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
	"weir.example/weir/testdata/examples"
)

func BenchmarkOf(b *testing.B) {
	for _, name := range []string{"MedicationRequest-medrx0302.json", "Patient-f201.json", "Task-example3.json", "Observation-f001.json"} {
		data, err := examples.Files.ReadFile(name)
		require.NoError(b, err)
		doc, _ := element.Read(data, element.Limit{})
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				index.Of(doc.Root())
			}
		})
	}
}
