package conformance_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/orders"
)

// BenchmarkJob is the whole job and each of its stages on one document, with
// google/fhir reading the same bytes beside it in the same run: the baseline
// of every ratio (.ci/bench prints the table).
func BenchmarkJob(b *testing.B) {
	for _, name := range []string{"s1-cefazolin-elastomeric", "s3-fluorouracil-46h", "s5-nutrition-cycle"} {
		f, err := orders.Load(name)
		require.NoError(b, err)
		ref := reference(b, f.StandingLock)
		doc, faults := element.Read(f.Document, element.Limit{})
		require.Empty(b, faults)
		cases, _ := r4.ReadCases(doc, f.Now)
		require.Len(b, cases, 1)
		at := finding.Stage(f.Stage)
		sheets := conformance.JudgeCase(cases[0], ref, f.Now, at)
		require.NotEmpty(b, sheets)
		for _, stage := range []struct {
			name string
			do   func()
		}{
			{"google", func() { googlefhir.Judge(doc) }},
			{"read", func() { element.Read(f.Document, element.Limit{}) }},
			{"structure", func() { schema.Check(doc) }},
			{"translate", func() { r4.ReadCases(doc, f.Now) }},
			{"judge", func() { conformance.JudgeCase(cases[0], ref, f.Now, at) }},
			{"write", func() { r4.WriteBundles(sheets) }},
			{"whole", func() {
				j := conformance.Judge(conformance.Input{Document: f.Document, Now: f.Now, Stage: at, Reference: ref})
				r4.WriteBundles(j.Worksheets)
			}},
			{"whole-with-google", func() {
				j := conformance.Judge(conformance.Input{Document: f.Document, Now: f.Now, Stage: at, Reference: ref, Judges: []schema.Judge{googlefhir.Judge}})
				r4.WriteBundles(j.Worksheets)
			}},
		} {
			stage.do()
			b.Run(stage.name+"/"+name, func(b *testing.B) {
				b.SetBytes(int64(len(f.Document)))
				b.ReportAllocs()
				for b.Loop() {
					stage.do()
				}
			})
		}
	}
}
