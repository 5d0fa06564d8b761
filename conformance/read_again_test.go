package conformance_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/testdata/orders"
)

// storedOf makes a scenario's resources as a store has them.
func storedOf(t testing.TB, document []byte) (list []string, known map[string]r4.Key) {
	var b struct {
		Entry []struct {
			FullURL  string
			Resource json.RawMessage
		}
	}
	require.NoError(t, json.Unmarshal(document, &b))
	places := []string{}
	known = map[string]r4.Key{}
	for i, e := range b.Entry {
		var r map[string]json.RawMessage
		require.NoError(t, json.Unmarshal(e.Resource, &r))
		kind, id, old := strings.Trim(string(r["resourceType"]), `"`), fmt.Sprint("n", i), strings.Trim(string(r["id"]), `"`)
		r["id"] = json.RawMessage(`"` + id + `"`)
		text, err := json.Marshal(r)
		require.NoError(t, err)
		list, places = append(list, string(text)), append(places, `"`+e.FullURL+`"`, `"`+kind+"/"+id+`"`, `"`+kind+"/"+old+`"`, `"`+kind+"/"+id+`"`)
		if kind == "MedicationRequest" {
			known[id] = r4.Key{Key: id, Version: "1"}
		}
	}
	for i := range list {
		list[i] = strings.NewReplacer(places...).Replace(list[i])
	}
	return list, known
}

// Judged at a later clock from what was read for an earlier one, a patient is
// what he is when everything is read anew: a result of tomorrow is not used
// today, and is tomorrow. And no judgement changes what was read.
func TestWhatWasReadIsReadAgainWhenTheClockSaysMore(t *testing.T) {
	judged := 0
	for i, f := range orders.All() {
		if f.Base != "" && i%9 != 0 {
			continue // of the variants some
		}
		var whole struct{ ResourceType string }
		if json.Unmarshal(f.Document, &whole) != nil || whole.ResourceType != "Bundle" {
			continue
		}
		texts, known := storedOf(t, f.Document)
		ref := reference(t, f.StandingLock)
		side := func(now time.Time, read *conformance.Read) conformance.Side {
			in := conformance.Stored{Known: known, Reference: ref, Now: now, Stage: finding.Intake, Read: read}
			for _, x := range texts {
				in.Resources = append(in.Resources, element.ReadAgain([]byte(x), 1))
			}
			return conformance.JudgeStored(in)
		}
		start := f.Now.Add(-48 * time.Hour) // much of a scenario lies ahead then
		first := side(start, nil)
		for _, d := range []time.Duration{0, time.Minute, 26 * time.Hour, 48 * time.Hour, 10 * 24 * time.Hour, 400 * 24 * time.Hour} {
			now := start.Add(d)
			want, have := side(now, nil), side(now, first.Read)
			judged += len(want.Sheets)
			require.Equal(t, want.Sheets, have.Sheets, "%s %s", f.Name, d)
			require.Equal(t, want.Replaced, have.Replaced, "%s %s", f.Name, d)
			require.Equal(t, want.Case, have.Case, "%s %s", f.Name, d)
		}
		assert.Equal(t, side(start, nil).Read, first.Read, "%s: a judgement changed what was read", f.Name)
	}
	assert.Greater(t, judged, 100)
}

// A weight of tomorrow.
func TestAResultOfTomorrowIsReadTomorrow(t *testing.T) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	texts, known := storedOf(t, f.Document)
	at := f.Now.Add(30 * time.Hour)
	subject := ""
	for i, x := range texts {
		if strings.Contains(x, `"resourceType":"Patient"`) {
			subject = fmt.Sprint("Patient/n", i)
		}
	}
	texts = append(texts, `{"resourceType":"Observation","id":"w","status":"final","code":{"coding":[{"system":"http://loinc.org","code":"29463-7"}]},"subject":{"reference":"`+subject+
		`"},"effectiveDateTime":"`+at.Format(time.RFC3339)+`","valueQuantity":{"value":61.5,"unit":"kg","system":"http://unitsofmeasure.org","code":"kg"}}`)
	weights := func(now time.Time, read *conformance.Read) (n int, r *conformance.Read) {
		in := conformance.Stored{Known: known, Reference: reference(t, f.StandingLock), Now: now, Stage: finding.Intake, Read: read}
		for _, x := range texts {
			in.Resources = append(in.Resources, element.ReadAgain([]byte(x), 1))
		}
		s := conformance.JudgeStored(in)
		for _, m := range s.Case.Measurements {
			if m.Name == "weight" && m.Literal == "61.5" {
				n++
			}
		}
		return n, s.Read
	}
	n, read := weights(f.Now, nil)
	assert.Zero(t, n)
	n, same := weights(at.Add(-time.Microsecond), read)
	assert.Zero(t, n)
	assert.True(t, read == same)
	n, other := weights(at, read)
	assert.Equal(t, 1, n)
	assert.True(t, read != other)
	n, _ = weights(f.Now, other)
	assert.Zero(t, n, "nor is it read for an earlier clock")
}
