package schema_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/testdata/orders"
)

type fault struct{ source, name, edit, code, place string }

func faults(t testing.TB) []fault {
	data, err := os.ReadFile("../../testdata/faults/faults.tsv")
	require.NoError(t, err)
	var out []fault
	for line := range strings.Lines(string(data)) {
		f := strings.Split(strings.TrimRight(line, "\n"), "\t")
		if strings.HasPrefix(line, "#") {
			continue
		}
		require.Len(t, f, 5, line)
		out = append(out, fault{f[0], f[1], f[2], f[3], f[4]})
	}
	return out
}

// document applies the one edit to the valid order.
func (f fault) document(t testing.TB) []byte {
	const base = "s1-cefazolin-elastomeric"
	if change, ok := strings.CutPrefix(f.edit, "text "); ok {
		valid, err := orders.Load(base)
		require.NoError(t, err)
		old, now, found := strings.Cut(change, " => ")
		require.True(t, found, f.edit)
		unescape := strings.NewReplacer(`\n`, "\n").Replace
		old, now = unescape(old), unescape(now)
		now = strings.ReplaceAll(now, "DEEP", strings.Repeat(`{"url":"x","extension":[`, 65)+strings.Repeat("]}", 65))
		require.Contains(t, string(valid.Document), old, f.name)
		return []byte(strings.Replace(string(valid.Document), old, now, 1))
	}
	text := "why: one fault\nbase: " + base + "\n" + strings.Replace(f.edit, " MR ", " MedicationRequest/mr-cefazolin ", 1) + "\nexpect refused " + f.code + "\n"
	x, err := orders.Variant(strings.ReplaceAll(f.name, " ", "-"), text)
	require.NoError(t, err, f.name)
	return x.Document
}

// all is what Judge does with a document before any order is read.
func all(document []byte) []finding.Finding {
	d, found := element.Read(document, element.Limit{})
	if len(found) > 0 {
		return found
	}
	return schema.Check(d, schema.Tables, googlefhir.Judge)
}

func library(document []byte) []finding.Finding {
	d, found := element.Read(document, element.Limit{})
	if !d.Root().Exists() {
		return found // what is no JSON never reaches the library
	}
	return googlefhir.Judge(d)
}

func TestTheValidOrderHasNoFault(t *testing.T) {
	for _, f := range orders.All() {
		if len(f.At("release")) > 0 && f.At("release")[0].Kind == "refused" {
			continue
		}
		assert.Empty(t, all(f.Document), f.Name)
	}
}

// Every document with one fault is refused, at the fault, with what to do.
// The table printed says who would have seen it.
func TestOneFaultEach(t *testing.T) {
	list := faults(t)
	require.GreaterOrEqual(t, len(list), 86)
	alone, every := 0, 0
	for _, f := range list {
		t.Run(f.source+" "+f.name, func(t *testing.T) {
			document := f.document(t)
			found := all(document)
			if !assert.NotEmpty(t, found, "not seen: %s", f.edit) {
				return
			}
			hit := false
			for _, x := range found {
				assert.NotEmpty(t, x.Detail)
				hit = hit || string(x.Code) == f.code && strings.HasSuffix(x.Place.Expression, f.place)
				if x.Place.Line == 0 {
					t.Errorf("%s at %s has no line", x.Code, x.Place.Expression)
				}
			}
			assert.True(t, hit, "want %s at …%s, have %s", f.code, f.place, shown(found))
			every++
			if len(library(document)) > 0 {
				alone++
			}
		})
	}
	t.Logf("%d one-fault documents: %d caught by google/fhir alone, %d by all together", len(list), alone, every)
}

func shown(list []finding.Finding) string {
	var out []string
	for _, f := range list {
		out = append(out, fmt.Sprintf("%s at %s (%s)", f.Code, f.Place.Expression, f.Detail))
	}
	return strings.Join(out, "; ")
}
