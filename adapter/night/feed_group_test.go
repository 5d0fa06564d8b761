package night

import (
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/testdata/orders"
)

// What a group holds, and the order of the groups, depends on the lines
// alone: not on their order, files, parts, compression, repetition, or the
// number of workers.
func TestOrderPartsAndWorkersHaveNoMeaning(t *testing.T) {
	list := linked(population(t, 3))
	plain := func(list []Group) []Group {
		list = slices.Clone(list)
		for i := range list {
			list[i].Lines = slices.Clone(list[i].Lines)
			for k := range list[i].Lines {
				list[i].Lines[k].File, list[i].Lines[k].Line = "", 0
			}
		}
		return list
	}
	want := plain(groups(t, opened(t, folder(list), 1)))
	require.GreaterOrEqual(t, len(want), 12)
	random := rand.New(rand.NewPCG(5, 26))
	for _, workers := range []int{1, 2, 3, 4, 8, 8} {
		f := opened(t, shuffled(list, random), workers)
		assert.Equal(t, want, plain(groups(t, f)), "%d workers", workers)
		assert.Empty(t, failed(t, f))
		facts := f.Facts()
		assert.Equal(t, len(list)+len(list)/10, facts.Lines)
		assert.Equal(t, []string{"README"}, facts.Other)
		assert.Equal(t, len(want), facts.Groups)
		assert.Equal(t, facts.Owned, facts.Handed)
		assert.Positive(t, facts.Repeated)
	}
}

// linked adds what ties patients together, each way once, and a Provenance.
func linked(list []orders.Resource) []orders.Resource {
	line := func(kind, id, rest string, args ...any) {
		list = append(list, orders.Resource{Type: kind, Line: []byte(fmt.Sprintf(`{"resourceType":%q,"id":%q,`+rest+`}`, append([]any{kind, id}, args...)...))})
	}
	line("Patient", "a1", `"identifier":[{"system":"urn:x","value":"1"}],"name":[{"family":"Lark","given":["Ada"]}]`)
	line("Patient", "a2", `"identifier":[{"system":"urn:x","value":"1"}]`)
	line("MedicationRequest", "a3", `"status":"active","subject":{"reference":"Patient/a2"},"requester":{"reference":"PractitionerRole/r1"}`)
	line("Patient", "b1", `"link":[{"other":{"reference":"Patient/b2"},"type":"refer"}]`)
	line("Patient", "b2", `"active":true`)
	line("MedicationRequest", "b3", `"status":"active","subject":{"reference":"Patient/b1"}`)
	line("Patient", "c1", `"active":true`)
	line("Patient", "c2", `"active":true`)
	line("MedicationRequest", "c3", `"status":"active","subject":{"reference":"Patient/c1"},"encounter":{"reference":"Encounter/c4"}`)
	line("Encounter", "c4", `"status":"finished","subject":{"reference":"Patient/c2"}`)
	line("MedicationRequest", "d1", `"status":"active","contained":[{"resourceType":"Patient","id":"p","name":[{"family":"Lark","given":["A."]}]}],"subject":{"reference":"#p"}`)
	line("MedicationRequest", "e1", `"status":"active","subject":{"identifier":{"system":"urn:x","value":"2"}}`)
	line("Observation", "e2", `"status":"final","subject":{"identifier":{"system":"urn:x","value":"2"}},"performer":[{"identifier":{"value":"D-1"}}]`)
	line("MedicationRequest", "f1", `"status":"active","subject":{"display":"Someone"}`)
	line("MedicationRequest", "g1", `"status":"active"`)
	line("Practitioner", "p1", `"identifier":[{"value":"D-1"}]`)
	line("PractitionerRole", "r1", `"practitioner":{"reference":"Practitioner/p2"},"organization":{"reference":"Organization/o1"}`)
	line("Practitioner", "p2", `"active":true`)
	line("Organization", "o1", `"partOf":{"reference":"Organization/o1"}`)
	line("Provenance", "w1", `"target":[{"reference":"MedicationRequest/a3"},{"reference":"MedicationRequest/e1"}],"agent":[{"who":{"reference":"Practitioner/p2"}}]`)
	line("Device", "x1", `"status":"active"`)
	return list
}

// A group with an order is exactly a part of r4.Group, which has all members
// in memory, and the older versions of what is in it.
func TestGroupsAreThePartsOfTheWholeSet(t *testing.T) {
	list := linked(population(t, 2))
	for i := range list { // one Encounter for two patients, as a slip would have it
		if list[i].Type == "Encounter" && i%3 == 0 {
			list = append(list, orders.Resource{Type: "Observation", Line: []byte(fmt.Sprintf(`{"resourceType":"Observation","id":"slip-%d","status":"final","subject":{"reference":"Patient/a1"},"encounter":{"reference":"Encounter/%s"}}`, i, idOf(list[i].Line)))})
			break
		}
	}
	var members []r4.Member
	for _, r := range list {
		doc, faults := element.ReadLine(r.Line, element.Limit{}, 1)
		require.Empty(t, faults)
		m := r4.Remember(doc)
		m.Sum = sha256.Sum256(r.Line)
		members = append(members, m)
	}
	parts, _ := r4.Group(members)
	var want [][]string
	for _, p := range parts {
		var ids []string
		for _, i := range p.Members {
			ids = append(ids, members[i].Type+"/"+members[i].ID)
		}
		want = append(want, slices.Compact(ids))
	}
	var have [][]string
	for _, g := range groups(t, opened(t, shuffled(list, rand.New(rand.NewPCG(1, 2))), 2)) {
		var ids []string
		order := false
		for _, l := range g.Lines {
			ids = append(ids, l.Type+"/"+l.ID)
			order = order || l.Type == "MedicationRequest"
		}
		assert.IsNonDecreasing(t, ids)
		if order {
			have = append(have, slices.Compact(ids)) // an older version is handed out, too
		}
	}
	assert.ElementsMatch(t, want, have)
	for _, together := range [][]string{{"Patient/a1", "Patient/a2", "Practitioner/p2", "Organization/o1", "MedicationRequest/d1", "Provenance/w1"}, {"Patient/b1", "Patient/b2"},
		{"Patient/c1", "Patient/c2", "Encounter/c4"}, {"MedicationRequest/e1", "Observation/e2", "Practitioner/p1", "Provenance/w1"}} {
		assert.True(t, slices.ContainsFunc(have, func(ids []string) bool {
			return !slices.ContainsFunc(together, func(s string) bool { return !slices.Contains(ids, s) })
		}), "%v", together)
	}
}

func idOf(line []byte) string {
	doc, _ := element.ReadLine(line, element.Limit{}, 1)
	return doc.Root().Get("id").Text()
}

// The sum is that of the content: another line, another sum; the same line
// twice or elsewhere, the same.
func TestTheSumOfAGroup(t *testing.T) {
	list := linked(nil)
	sums := func(list []orders.Resource) map[string][32]byte {
		out := map[string][32]byte{}
		for _, g := range groups(t, opened(t, folder(list), 2)) {
			out[g.Key] = g.Sum
		}
		return out
	}
	before := sums(list)
	assert.Equal(t, before, sums(append(slices.Clone(list), list[3], list[0])))
	changed := slices.Clone(list)
	i := slices.IndexFunc(changed, func(r orders.Resource) bool { return idOf(r.Line) == "p1" })
	changed[i].Line = []byte(`{"resourceType":"Practitioner","id":"p1","identifier":[{"value":"D-1"}],"active":false}`)
	after := sums(changed)
	for name, sum := range before {
		if name == "i:urn:x|2" {
			assert.NotEqual(t, sum, after[name], "a line of nobody's that it leads to")
		} else {
			assert.Equal(t, sum, after[name], name)
		}
	}
	require.Contains(t, before, "i:urn:x|2")
}

// A Provenance that is nobody's is given to the patients whose lines it names,
// a hundred at most: one that names more is read with none, and counted.
func TestAProvenanceOfManyPatients(t *testing.T) {
	for _, count := range []int{mostWitnessed, mostWitnessed + 1} {
		var list []orders.Resource
		targets := ""
		for i := range count {
			list = append(list, orders.Resource{Type: "MedicationRequest", Line: []byte(fmt.Sprintf(`{"resourceType":"MedicationRequest","id":"m%d","status":"active","subject":{"reference":"Patient/p%d"}}`, i, i))})
			targets += fmt.Sprintf(`,{"reference":"MedicationRequest/m%d"}`, i)
		}
		list = append(list, orders.Resource{Type: "Provenance", Line: []byte(`{"resourceType":"Provenance","id":"w","target":[` + targets[1:] + `]}`)})
		f := opened(t, folder(list), 2)
		given := 0
		for _, g := range groups(t, f) {
			given += len(g.Lines) - 1
		}
		if count > mostWitnessed {
			assert.Zero(t, given)
			assert.Equal(t, 1, f.Facts().Crowded)
		} else {
			assert.Equal(t, count, given)
			assert.Zero(t, f.Facts().Crowded)
		}
	}
}
