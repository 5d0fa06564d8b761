package night

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/testdata/orders"
)

// memories is what a store has for a feed that is compared with the last one.
type memories struct {
	adapter.Feeds
	parts map[string][]byte
	lines []adapter.FeedLine
	wrote int
}

func partName(kind string, n int) string { return fmt.Sprintf("%s/%04d", kind, n) }

func (m *memories) Remembered(_ context.Context, kind string, n int) ([]byte, error) {
	return slices.Clone(m.parts[partName(kind, n)]), nil
}

func (m *memories) Remember(_ context.Context, parts []adapter.MemoryPart, count int) error {
	for _, p := range parts {
		if m.wrote++; p.Body == nil {
			delete(m.parts, partName(p.Kind, p.Number))
		} else {
			m.parts[partName(p.Kind, p.Number)] = slices.Clone(p.Body)
		}
	}
	maps.DeleteFunc(m.parts, func(name string, _ []byte) bool {
		n := 0
		_, _ = fmt.Sscanf(name[strings.IndexByte(name, '/')+1:], "%d", &n)
		return count > 0 && n >= count
	})
	return nil
}

func (m *memories) FeedRange(_ context.Context, from, to int64, take func(adapter.FeedLine) error) error {
	slices.SortFunc(m.lines, func(a, b adapter.FeedLine) int { return int(min(1, max(-1, a.Place-b.Place))) })
	for _, l := range m.lines {
		if l.Place >= from && l.Place < to {
			if err := take(l); err != nil {
				return err
			}
		}
	}
	return nil
}

// told is what a feed hands out, of those who are passed over without lines.
type told struct {
	groups []Group
	facts  Facts
	failed []Failed
	passed int
}

// read reads a folder in full, or compared with what is remembered.
func (m *memories) read(t testing.TB, files fstest.MapFS, workers int) told {
	f, err := OpenAgain(context.Background(), files, private(t), workers, m)
	require.NoError(t, err)
	require.NoError(t, f.recognise(context.Background(), m, func(l adapter.FeedLine, sum [32]byte) bool { return l.Sum == sum }))
	out := told{groups: groups(t, f), failed: failed(t, f)}
	for _, g := range out.groups {
		if g.ahead != nil {
			out.passed++
		}
	}
	out.facts = f.Facts()
	require.NoError(t, f.remember(context.Background(), m))
	require.NoError(t, f.Close())
	return out
}

// same asserts that a comparison gave what reading in full gives.
func same(t testing.TB, full, again told, lines []adapter.FeedLine) bool {
	sums := map[string][32]byte{}
	for _, l := range lines {
		sums[l.Key] = l.Sum
	}
	ok := assert.Equal(t, len(full.groups), len(again.groups))
	for i := range min(len(full.groups), len(again.groups)) {
		want, got := full.groups[i], again.groups[i]
		if got.ahead == nil {
			ok = ok && assert.Equal(t, want, got)
			continue
		}
		ok = ok && assert.Equal(t, want.Key, got.Key) && assert.Empty(t, want.Keys) && assert.Empty(t, want.Lost) &&
			assert.Equal(t, want.Sum, sums[got.Key], "passed over, but something is not as it was: %s", got.Key) &&
			assert.Equal(t, want.size(), got.size()) && assert.Equal(t, want.Key, got.ahead.Key)
	}
	a, b := full.facts, again.facts
	a.Handed, b.Handed, a.Owned, b.Owned, a.Repeated, b.Repeated = 0, 0, 0, 0, 0, 0
	return ok && assert.Equal(t, a, b) && assert.Equal(t, full.failed, again.failed)
}

// judged are the lines that a record has after a night.
func judged(full told, random *rand.Rand) (out []adapter.FeedLine) {
	for _, g := range full.groups {
		l := adapter.FeedLine{Key: g.Key, Sum: g.Sum, Place: standing(g.Key), Report: []byte("x\n")}
		if len(g.Keys) > 1 || len(g.Lost) > 0 || random.IntN(20) == 0 {
			l.Sum = [32]byte{}
		}
		out = append(out, l)
	}
	return out
}

// drawn is a line of one of few people, numbers and places, so that chance
// often makes one count for another.
func drawn(r *rand.Rand, people int) orders.Resource {
	n := func(most int) int { return r.IntN(most) }
	one := func(list ...string) string { return list[n(len(list))] }
	rare := func(text string) string {
		if n(6) == 0 {
			return text
		}
		return ""
	}
	p := n(people)
	kind, id, rest := "", "", ""
	who := `"subject":{"reference":"Patient/p` + fmt.Sprint(p) + `"}`
	switch n(40) {
	case 0:
		who = `"subject":{"identifier":{"system":"urn:x","value":"` + fmt.Sprint(n(6)) + `"}}`
	case 1:
		who = `"subject":{"display":"Somebody ` + fmt.Sprint(n(3)) + `"}`
	case 2:
		who = `"contained":[{"resourceType":"Patient","id":"c","name":[{"family":"` + one("Lark", "Finch", "Wren") + `","given":["A."]}]}],"subject":{"reference":"#c"}`
	}
	encounter := rare(fmt.Sprintf(`,"encounter":{"reference":"Encounter/e%d"}`, p))
	if n(40) == 0 {
		encounter = fmt.Sprintf(`,"encounter":{"reference":"Encounter/e%d"}`, n(people))
	}
	date := rare(fmt.Sprintf(`,"meta":{"lastUpdated":"2027-01-1%dT10:00:00%s"}`, n(9), one("Z", "-05:00")))
	switch n(12) {
	case 0, 1:
		kind, id = "Patient", fmt.Sprint("p", p)
		rest = fmt.Sprintf(`"active":%s`, one("true", "false")) + rare(fmt.Sprintf(`,"identifier":[{"system":"urn:x","value":"%d"}]`, 6+p)) +
			rare(`,"name":[{"family":"`+one("Lark", "Finch", "Wren")+`","given":["Ada"]}]`)
		if n(25) == 0 {
			rest += fmt.Sprintf(`,"identifier":[{"system":"urn:x","value":"%d"}]`, n(6))
		} else if n(40) == 0 {
			rest += fmt.Sprintf(`,"link":[{"other":{"reference":"Patient/p%d"},"type":"refer"}]`, n(people))
		}
		if strings.Count(rest, `"identifier"`) > 1 {
			rest = `"active":true`
		}
	case 2, 3, 4:
		kind, id = "MedicationRequest", fmt.Sprintf("m%d-%d", p, n(3))
		rest = `"status":"active",` + who + encounter + rare(`,"requester":{"reference":"`+one("Practitioner/r", "PractitionerRole/q")+fmt.Sprint(n(4))+`"}`) +
			rare(fmt.Sprintf(`,"medicationReference":{"reference":"Medication/d%d"}`, n(4))) + rare(fmt.Sprintf(`,"identifier":[{"system":"urn:o","value":"%d"}]`, p))
		if n(30) == 0 {
			id = fmt.Sprint("m", n(4))
		}
	case 5, 6, 7:
		kind, id = "Observation", fmt.Sprintf("o%d-%d", p, n(4))
		rest = `"status":"final",` + who + encounter + rare(fmt.Sprintf(`,"performer":[{"identifier":{"value":"D-%d"}}]`, n(4)))
		if n(30) == 0 {
			rest += fmt.Sprintf(`,"basedOn":[{"identifier":{"system":"urn:o","value":"%d"}}]`, n(people))
		}
	case 8:
		kind, id, rest = "Encounter", fmt.Sprint("e", p), `"status":"finished",`+who
	case 9:
		switch n(4) {
		case 0:
			kind, id, rest = "Practitioner", fmt.Sprint("r", n(4)), `"active":`+one("true", "false")+rare(fmt.Sprintf(`,"identifier":[{"value":"D-%d"}]`, n(4)))
		case 1:
			kind, id, rest = "PractitionerRole", fmt.Sprint("q", n(4)), fmt.Sprintf(`"practitioner":{"reference":"Practitioner/r%d"},"organization":{"reference":"Organization/g%d"}`, n(4), n(3))
		case 2:
			kind, id, rest = "Organization", fmt.Sprint("g", n(3)), fmt.Sprintf(`"partOf":{"reference":"Organization/g%d"}`, n(3))
		default:
			kind, id, rest = "Medication", fmt.Sprint("d", n(4)), fmt.Sprintf(`"status":"active","manufacturer":{"reference":"Organization/g%d"}`, n(3))
		}
	case 10:
		kind, id = "Provenance", fmt.Sprint("v", n(4))
		rest = fmt.Sprintf(`"target":[{"reference":"MedicationRequest/m%d-%d"},{"reference":"Observation/o%d-0"}],"agent":[{"who":{"reference":"Practitioner/r%d"}}]`, n(people), n(3), n(people), n(4))
		if n(4) == 0 {
			rest = fmt.Sprintf(`"target":[{"identifier":{"system":"urn:o","value":"%d"}}],"agent":[{"who":{"reference":"PractitionerRole/q%d"}}]`, n(people), n(4))
		}
	default:
		return orders.Resource{Type: "Observation", Line: []byte(fmt.Sprintf(`{"resourceType":"Observation","id":"o%d-9",%s,"status":`, p, who))[:40+n(30)]}
	}
	return orders.Resource{Type: kind, Line: []byte(fmt.Sprintf(`{"resourceType":%q,"id":%q,%s%s}`, kind, id, rest, date))}
}

// later is the hospital a night later: some lines are new, gone, other, or
// there twice.
func later(list []orders.Resource, changes int, r *rand.Rand) []orders.Resource {
	list = slices.Clone(list)
	for range changes {
		at := r.IntN(len(list))
		switch r.IntN(5) {
		case 0:
			list = append(list, drawn(r, 14))
		case 1:
			list = slices.Delete(list, at, at+1)
		case 2:
			list = append(list, list[at])
		case 3: // in a file of another type
			other := []string{"Observation", "Procedure", "Patient"}[r.IntN(3)]
			list[at] = orders.Resource{Type: other, Line: list[at].Line}
		default:
			list[at] = drawn(r, 14)
		}
	}
	return list
}

// Nights of a small hospital in which everybody may have to do with everybody:
// compared with the last night, a feed gives the groups that it gives when it
// is read in full, and leaves the same memory.
func TestWhatIsRememberedChangesNothing(t *testing.T) {
	seeds, nights, passed, all := 15, 12, 0, 0
	if os.Getenv("WEIR_NIGHT_LONG") != "" {
		seeds = 300
	}
	for seed := range seeds {
		r := rand.New(rand.NewPCG(uint64(seed), 10))
		var list []orders.Resource
		for range 40 + r.IntN(60) {
			list = append(list, drawn(r, 14))
		}
		m := &memories{parts: map[string][]byte{}}
		for night := range nights {
			files := shuffled(list, r)
			if r.IntN(2) == 0 {
				delete(files, "manifest.json")
			}
			blank := &memories{parts: map[string][]byte{}}
			full := blank.read(t, files, 1+r.IntN(3))
			again := m.read(t, files, 1+r.IntN(3))
			if !same(t, full, again, m.lines) || !assert.Equal(t, blank.parts, m.parts) {
				t.Fatalf("seed %d night %d", seed, night)
			}
			passed, all = passed+again.passed, all+len(again.groups)
			m.lines = judged(full, r)
			list = later(list, r.IntN(4), r)
		}
	}
	t.Logf("%d of %d passed over", passed, all)
	assert.Greater(t, passed, all/4)
}

// What is remembered and is cut, changed, gone, exchanged, of another program
// or of another format is as good as nothing: all is read, and a whole memory
// is there again afterwards. So it is when much has changed.
func TestADamagedMemory(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 10))
	var list []orders.Resource
	for range 90 {
		list = append(list, drawn(r, 14))
	}
	first := &memories{parts: map[string][]byte{}}
	before := first.read(t, folder(list), 2)
	first.lines = judged(before, r)
	files := folder(later(list, 3, r))
	blank := &memories{parts: map[string][]byte{}}
	full := blank.read(t, files, 1)
	try := func(name string, spoil func(parts map[string][]byte)) told {
		m := &memories{parts: maps.Clone(first.parts), lines: first.lines}
		spoil(m.parts)
		again := m.read(t, files, 2)
		assert.True(t, same(t, full, again, m.lines), name)
		assert.Equal(t, blank.parts, m.parts, name)
		return again
	}
	assert.NotZero(t, try("whole", func(map[string][]byte) {}).passed)
	for part, body := range first.parts {
		if !assert.NotEmpty(t, body, part) {
			continue
		}
		for name, other := range map[string][]byte{"gone": nil, "empty": {}, "cut": body[:len(body)/2], "longer": append(slices.Clone(body), body...), "another": []byte("another")} {
			assert.Zero(t, try(part+" "+name, func(parts map[string][]byte) {
				if parts[part] = other; other == nil {
					delete(parts, part)
				}
			}).passed, "%s %s", part, name)
		}
		for range 20 {
			at := r.IntN(len(body))
			assert.Zero(t, try(part+" flipped", func(parts map[string][]byte) {
				parts[part] = slices.Clone(body)
				parts[part][at] ^= byte(1 << r.IntN(8))
			}).passed, "%s at %d", part, at)
		}
	}
	for name, change := range map[string]func(*memory){
		"program": func(m *memory) { m.Program = "weir 0.0.1" }, "format": func(m *memory) { m.Format++ },
		"parts": func(m *memory) { m.Bits = 1 }, "many parts": func(m *memory) { m.Bits = 60 }, "no sums": func(m *memory) { m.Sums = nil },
	} {
		m, err := readMemory(t.Context(), first)
		require.NoError(t, err)
		require.NotNil(t, m)
		change(m)
		assert.Zero(t, try(name, func(parts map[string][]byte) { parts[partName(headPart, 0)] = m.head().Body }).passed, name)
	}
	defer func(n int, size int64) { manyLines, rollSize = n, size }(manyLines, rollSize)
	manyLines, rollSize = 0, 2000
	var others []orders.Resource
	for range 90 {
		others = append(others, drawn(r, 14))
	}
	files, blank.parts = folder(others), map[string][]byte{}
	full = blank.read(t, files, 1)
	assert.Zero(t, try("much is new", func(map[string][]byte) {}).passed)
}

// Where a memory is cut into many parts, nothing is other.
func TestManyParts(t *testing.T) {
	defer func(n uint64, size int64) { linesTogether, rollSize = n, size }(linesTogether, rollSize)
	rollSize = 5000
	r := rand.New(rand.NewPCG(8, 10))
	var list []orders.Resource
	for range 900 {
		list = append(list, drawn(r, 300))
	}
	m := &memories{parts: map[string][]byte{}}
	for night := range 6 {
		linesTogether = []uint64{10, 10, 3, 200, 200, 5}[night]
		files := shuffled(list, r)
		blank := &memories{parts: map[string][]byte{}}
		full := blank.read(t, files, 2)
		again := m.read(t, files, 3)
		assert.True(t, same(t, full, again, m.lines))
		assert.Equal(t, blank.parts, m.parts)
		assert.True(t, night == 0 || again.passed > len(again.groups)/2, "%d of %d", again.passed, len(again.groups))
		wrote := m.wrote
		m.lines = judged(full, rand.New(rand.NewPCG(1, 1)))
		m.read(t, files, 2)
		assert.Equal(t, wrote, m.wrote, "what is as it was is not written")
		for range 3 {
			at := r.IntN(len(list))
			list = slices.Delete(slices.Clone(list), at, at+1)
		}
	}
}

// A damaged part that nobody has to look at, for only the record says that
// somebody is to be judged again, fails no night: the next one reads all.
func TestAPartThatIsNotLookedAt(t *testing.T) {
	var list []orders.Resource
	for n := range 30 {
		list = append(list, orders.Resource{Type: "Patient", Line: []byte(fmt.Sprintf(`{"resourceType":"Patient","id":"p%d"}`, n))})
	}
	m := &memories{parts: map[string][]byte{}}
	full := m.read(t, folder(list), 1)
	want := maps.Clone(m.parts)
	m.lines = judged(full, rand.New(rand.NewPCG(1, 1)))
	m.lines[4].Sum = [32]byte{}
	m.parts[partName(factsPart, 0)] = []byte("another")
	again := m.read(t, folder(list), 2)
	assert.True(t, same(t, full, again, m.lines))
	assert.NotZero(t, again.passed)
	assert.NotContains(t, m.parts, partName(headPart, 0))
	again = m.read(t, folder(list), 2)
	assert.True(t, same(t, full, again, m.lines))
	assert.Zero(t, again.passed)
	assert.Equal(t, want, m.parts)
}
