package night

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"io"
	"iter"
	"slices"
	"strings"

	"weir.example/weir/adapter"
)

// Groups hands out one patient after the other: in the order of the keys of
// those who are read alone, as numbers, which is the same however the folder
// is cut and on however many workers; then those who are read with others. It
// can be called once. An error is the last thing given.
func (f *Feed) Groups(ctx context.Context) iter.Seq2[Group, error] {
	return func(yield func(Group, error) bool) {
		if f.handed {
			yield(Group{}, errors.New("night: the groups of a feed were handed out before"))
			return
		}
		f.handed = true
		before := f.passing(yield)
		emit := func(list handful) error {
			if list.err != nil {
				return list.err
			}
			f.mu.Lock()
			f.facts.Groups += len(list.groups)
			f.facts.Repeated += list.repeated
			f.facts.Handed += list.lines
			f.mu.Unlock()
			for _, g := range list.groups {
				if err := before(g.owner); err != nil {
					return err
				}
				if !yield(g, nil) {
					return errEnough
				}
			}
			return nil
		}
		err := f.pass(ctx, f.lines, f.witness, emit)
		if err == nil {
			err = before(^key(0))
			before = func(key) error { return nil }
		}
		if err == nil {
			err = errors.Join(f.moved.settle(), f.movedWitness.settle())
		}
		if err == nil {
			err = f.pass(ctx, f.moved, f.movedWitness, emit)
		}
		if err != nil && !errors.Is(err, errEnough) {
			yield(Group{}, err)
		}
	}
}

// errEnough ends a pass of which no more is wanted.
var errEnough = errors.New("night: enough")

// handful is the groups of one bucket.
type handful struct {
	groups   []Group
	lines    int // that belong to patients
	repeated int
	err      error
}

// pass gives the groups of all buckets in order. A bucket that is read counts for
// six times its lines, so that few are held while the work waits.
func (f *Feed) pass(ctx context.Context, lines, witness *buckets, emit func(handful) error) error {
	next := 0
	return adapter.Ordered(ctx, f.workers, func() (int, error) {
		if next == len(lines.list) {
			return 0, io.EOF
		}
		next++
		return next - 1, nil
	}, func(i int) int { return 6 * lines.length(i) }, func(i int) handful {
		h, err := f.bucket(lines, witness, i)
		h.err = err
		return h
	}, emit)
}

// bucket makes the groups of one bucket. On the first pass it puts aside the
// patients who are read with others.
func (f *Feed) bucket(lines, witness *buckets, i int) (handful, error) {
	var h handful
	data, err := lines.whole(i)
	if err != nil {
		return h, err
	}
	witnesses, err := pairsOf(witness, i, nil)
	if err != nil {
		return h, err
	}
	list := make([]record, 0, len(data)/lineGuess)
	var order []placed
	for len(data) > 0 {
		r, whole, rest := readRecord(data)
		data = rest
		if root, others := f.union[r.owner]; others && lines != f.moved {
			binary.LittleEndian.PutUint64(whole[4:], uint64(root))
			if err := f.moved.add(f.moved.of(root), whole); err != nil {
				return h, err
			}
			continue
		}
		order = append(order, placed{r.owner, len(list)})
		list = append(list, r)
	}
	if lines != f.moved {
		witnesses = slices.DeleteFunc(witnesses, func(p pair) bool {
			root, others := f.union[key(p.a)]
			if others {
				err = errors.Join(err, f.movedWitness.add(f.movedWitness.of(root), appendPair(nil, pair{uint64(root), p.b})))
			}
			return others
		})
	}
	slices.SortFunc(witnesses, comparePairs)
	witnesses = slices.Compact(witnesses)
	slices.SortFunc(order, func(a, b placed) int { return cmp.Compare(a.owner, b.owner) })
	var one []*record
	for len(order) > 0 && err == nil {
		owner := order[0].owner
		one = one[:0]
		for len(order) > 0 && order[0].owner == owner {
			one = append(one, &list[order[0].at])
			order = order[1:]
		}
		var places []uint64
		for len(witnesses) > 0 && witnesses[0].a <= uint64(owner) {
			if witnesses[0].a == uint64(owner) && len(f.large[witnesses[0].b]) <= mostWitnessed {
				places = append(places, witnesses[0].b)
			}
			witnesses = witnesses[1:]
		}
		h.lines += len(one)
		if err = f.group(&h, one, places); err == nil && lines != f.moved {
			err = f.learned.group(&h.groups[len(h.groups)-1], one)
		}
	}
	return h, err
}

// placed is a line of a bucket by its owner, which is what is sorted first.
type placed struct {
	owner key
	at    int
}

// lineGuess is how long a line is at least, as a guess.
const lineGuess = 300

func compareLines(a, b *record) int {
	if c := bytes.Compare(a.kind, b.kind); c != 0 {
		return c
	}
	if c := bytes.Compare(a.id, b.id); c != 0 {
		return c
	}
	if c := bytes.Compare(a.sum[:], b.sum[:]); c != 0 {
		return c
	}
	return cmp.Or(cmp.Compare(a.file, b.file), cmp.Compare(a.line, b.line))
}

// group makes one group of the lines of its patients.
func (f *Feed) group(h *handful, own []*record, witnesses []uint64) error {
	var g Group
	list, err := f.follow(own, witnesses)
	if err != nil {
		return err
	}
	g.name(own)
	g.owner = own[0].owner
	slices.SortFunc(list, compareLines)
	g.Lines = make([]Line, 0, len(list))
	sums, lost := make([][32]byte, 0, len(list)), [][32]byte(nil)
	var last *record
	for _, r := range list {
		switch {
		case r.failed:
			g.Lost = append(g.Lost, Lost{f.names[r.file], int(r.line)})
			lost = append(lost, r.sum)
			continue
		case last != nil && last.sum == r.sum && bytes.Equal(last.kind, r.kind):
			if r.owner != 0 {
				h.repeated++
			}
			continue
		}
		last = r
		g.Lines = append(g.Lines, Line{Type: typeName(r.kind), ID: string(r.id), Data: r.data, File: f.names[r.file], Line: int(r.line), Sum: r.sum, Shared: r.owner == 0})
		sums = append(sums, r.sum)
	}
	slices.SortFunc(g.Lost, func(a, b Lost) int { return cmp.Or(strings.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line)) })
	g.Sum = sumOf(sums, lost)
	h.groups = append(h.groups, g)
	return nil
}

// follow adds what is nobody's and what the lines lead to, and what leads on
// from there.
func (f *Feed) follow(own []*record, witnesses []uint64) ([]*record, error) {
	list := append(make([]*record, 0, len(own)+8), own...)
	taken := map[uint64]bool{}
	var keys []key
	take := func(place uint64) error {
		if taken[place] {
			return nil
		}
		taken[place] = true
		r, err := f.nobody(place)
		list = append(list, r)
		return err
	}
	for _, w := range witnesses {
		if err := take(w); err != nil {
			return nil, err
		}
	}
	for next := 0; next < len(list); {
		keys = keys[:0]
		for ; next < len(list); next++ {
			if r := list[next]; !r.failed {
				_ = r.eachPoint(func(p key) error { keys = append(keys, p); return nil })
			}
		}
		slices.Sort(keys)
		for _, k := range slices.Compact(keys) {
			for _, p := range f.table.at(k) {
				if err := take(p.b); err != nil {
					return nil, err
				}
			}
		}
	}
	return list, nil
}

// nobody reads what is nobody's. What many patients lead to is kept at hand.
func (f *Feed) nobody(place uint64) (*record, error) {
	slot := &f.hand[place/8%atHand]
	if kept := slot.Load(); kept != nil && kept.place == place {
		return &kept.record, nil
	}
	data, err := f.shared.read(int64(place))
	if err != nil {
		return nil, err
	}
	kept := &handy{place, recordOf(data[4:])}
	if len(data) <= mostHandy {
		slot.Store(kept)
	}
	return &kept.record, nil
}

// handy is something of nobody's that was read lately.
type handy struct {
	place  uint64
	record record
}

// So many are kept at hand, each of at most so many bytes.
const atHand, mostHandy = 1 << 11, 4 << 10

func sumOf(sums, lost [][32]byte) [32]byte {
	hash := sha256.New()
	for i, list := range [][][32]byte{sums, lost} {
		slices.SortFunc(list, func(a, b [32]byte) int { return bytes.Compare(a[:], b[:]) })
		if len(list) > 0 {
			hash.Write([]byte{byte(i)})
		}
		for _, s := range list {
			hash.Write(s[:])
		}
	}
	return [32]byte(hash.Sum(nil))
}

// name says whose group it is: places before identifiers and displays.
func (g *Group) name(own []*record) {
	var texts []string
	for _, r := range own {
		if n := len(texts); n == 0 || texts[n-1] != string(r.text) {
			texts = append(texts, string(r.text))
		}
	}
	rank := func(s string) int { return strings.IndexByte("rind", s[0]) }
	slices.SortFunc(texts, func(a, b string) int { return cmp.Or(cmp.Compare(rank(a), rank(b)), strings.Compare(a, b)) })
	texts = slices.Compact(texts)
	for i, t := range texts {
		texts[i] = strings.TrimPrefix(t, "r:")
	}
	if g.Key = texts[0]; len(texts) > 1 {
		g.Keys = texts
	}
}

// typeNames spare a copy of the name of each line's type.
var typeNames = func() map[string]string {
	out := map[string]string{}
	for _, t := range strings.Fields(`AllergyIntolerance Appointment CarePlan CareTeam Condition Coverage Device DeviceRequest DeviceUseStatement DiagnosticReport
		DocumentReference Encounter EpisodeOfCare Group Location Medication MedicationAdministration MedicationDispense MedicationRequest MedicationStatement
		Observation Organization Patient Practitioner PractitionerRole Procedure Provenance RelatedPerson ServiceRequest Specimen SupplyRequest Task`) {
		out[t] = t
	}
	return out
}()

func typeName(kind []byte) string {
	if t, known := typeNames[string(kind)]; known {
		return t
	}
	return string(kind)
}
