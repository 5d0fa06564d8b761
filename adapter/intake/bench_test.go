package intake_test

import (
	"bytes"
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/testdata/orders"
)

// numbered is a fixture with an order and a patient of its own.
func numbered(f orders.Fixture, n int) orders.Fixture {
	f.Document = bytes.ReplaceAll(f.Document, []byte("88213007"), []byte(fmt.Sprintf("8%07d", n)))
	f.Document = bytes.ReplaceAll(f.Document, []byte("MG-004417"), []byte(fmt.Sprintf("MG-%06d", n)))
	f.Document = bytes.ReplaceAll(f.Document, []byte("pat-004417"), []byte(fmt.Sprintf("pat-%06d", n)))
	f.Document = bytes.ReplaceAll(f.Document, []byte("https://marrowgate.example/fhir/Observation/"), []byte(fmt.Sprintf("https://marrowgate.example/fhir/Observation/n%d-", n)))
	return f
}

// What taking in an order costs beside judging it alone.
func BenchmarkReceive(b *testing.B) {
	f := load(b, "s1-cefazolin-elastomeric")
	b.Run("judge alone", func(b *testing.B) {
		d := open(b)
		for b.Loop() {
			adapter.Verify(f.Document, adapter.Request{Now: f.Now, Stage: "intake", Reference: d.Reference, Judges: d.Judges})
		}
	})
	b.Run("take in", func(b *testing.B) {
		d := open(b)
		n := 0
		for b.Loop() {
			n++
			one := numbered(f, n)
			_, err := d.Receive(context.Background(), call(one), items(b, one.Document, intake.Create))
			require.NoError(b, err)
		}
	})
}
