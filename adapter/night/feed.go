// Package night is the nightly job. Its reader takes one whole state of the
// hospital, a folder of NDJSON by resource type, joins it by patient in
// bounded memory, and hands out one patient after the other; see Open.
package night

import (
	"cmp"
	"context"
	"errors"
	"io/fs"
	"iter"
	"os"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/go-json-experiment/json"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/finding"
)

// Group is what must be read together: the lines of one patient and those of
// nobody that they lead to. Patients are in one group when anything could make
// one of them count for the other, as in r4.Group: an identifier, a link, a
// reference from one's line to the other's.
type Group struct {
	Key   string   // the patient as the lines name him, Patient/id; by identifier "i:system|value", by display "d:…"; of several the least
	Keys  []string // of all patients of the group, when there are several
	Lines []Line   // sorted by type, id and content; the same line twice stands once
	Lost  []Lost   // lines about the patient that could not be read
	// Sum is the SHA-256 over the sums of all lines, sorted, and of those that
	// are lost: equal for equal content, in whatever order, part or file.
	Sum [32]byte

	owner key
	ahead *adapter.FeedLine // what the record has, of one who is passed over; he has no lines then
	held  int               // bytes of those
}

// size is that of its lines.
func (g *Group) size() int {
	n := g.held
	for _, l := range g.Lines {
		n += len(l.Data)
	}
	return n
}

// Line is one resource as it was received. Its R4 elements are not judged yet.
type Line struct {
	Type, ID string
	Data     []byte // shares memory with the lines of other patients: copy what is to be kept
	File     string
	Line     int // from 1
	Sum      [32]byte
	Shared   bool // nobody's: a Practitioner, a Medication
}

// Lost is where a line stood that could not be read.
type Lost struct {
	File string
	Line int
}

// Failed is a line that could not be read, and why. A compressed file that
// cannot be unpacked to its end is one, too, in the line where it broke; and
// so is a broken manifest, in line 1.
type Failed struct {
	File     string
	Line     int
	Findings []finding.Finding // at least one
}

// FileFacts is one file of the folder.
type FileFacts struct {
	Name, Type string
	Lines      int  // that are not empty, the failed ones among them
	Failed     int  // lines that could not be read
	Stated     int  // lines by the manifest, -1 when it does not say
	Listed     bool // the manifest names it
	Truncated  bool // it ends inside a line, or unpacks to no end
}

// Facts is what the feed as a whole is judged by. Nothing is judged here.
type Facts struct {
	Time         time.Time // transactionTime, else the newest meta.lastUpdated; zero when neither is there
	Stated       bool      // Time is transactionTime
	Manifest     bool      // there is one
	BadManifest  bool      // it could not be read, or not in full
	Errors       int       // files of errors that it lists: what the sender could not export
	Missing      []string  // names in its output that the folder does not have
	MissingLines int       // lines that it counts in those
	Files        []FileFacts
	Other        []string // names in the folder that are no part of its layout and were not read
	Lines        int      // of all files
	Failed       int      // of them could not be read
	Nobodys      int      // of those do not say whose they are: a fact of any patient may be in them
	Owned        int      // lines that belong to a patient, the lost ones among them
	Handed       int      // of them, so far, with their groups: for progress
	Groups       int      // handed out so far
	Repeated     int      // lines that stood twice in what was handed out so far
	Sum          [32]byte // of all lines, in whatever order, part or file
	Crowded      int      // texts not followed, because more than a thousand patients would become one; Provenances that name more than a hundred patients
}

// Feed is a folder that was read and joined. It rests on temporary files
// until Close.
type Feed struct {
	facts Facts
	names []string

	lines, keys, index  *buckets // of patients; facts; places of what is nobody's
	witness             *buckets // who is named by a Provenance that is nobody's
	moved, movedWitness *buckets // of patients that are read together
	shared              *journal // what is nobody's
	said                *journal // for the run over it
	failures            failures
	again               *compared // nil: all lines are scanned
	learned             *learned  // nil: nothing is remembered
	root                *os.Root
	size                int64 // of the text, as a guess
	workers             int
	large               map[uint64]map[key]bool // Provenances that may name too many
	union               union
	table               table
	hand                [atHand]atomic.Pointer[handy]
	mu                  sync.Mutex
	newest              time.Time
	handed, closed      bool
}

// Open reads and joins a folder, on so many workers. Its temporary files take
// about one and a half times the text, unpacked, and lie in the folder given,
// which must be private and must not hold those of another night. Memory does
// not grow with the folder, but for 16 bytes a resource that is nobody's and
// 50 a patient that is read with another. A line that cannot be read sinks
// nothing; an error is an adapter.FolderFault, the context's, or of a file
// system, and leaves no file behind.
func Open(ctx context.Context, files fs.FS, temporary *os.Root, workers int) (*Feed, error) {
	return newFeed(ctx, files, temporary, workers, nil)
}

// OpenAgain is Open for a run that remembers in the record what it read: a
// line that the last feed had, too, is not read again as long as nothing that
// is new or gone touches its patient. Which lines that are is known when the
// run has asked the record; the facts are complete when the groups have been
// handed out.
func OpenAgain(ctx context.Context, files fs.FS, temporary *os.Root, workers int, record adapter.Feeds) (*Feed, error) {
	return newFeed(ctx, files, temporary, workers, record)
}

func newFeed(ctx context.Context, files fs.FS, temporary *os.Root, workers int, record adapter.Feeds) (*Feed, error) {
	f := &Feed{workers: max(1, workers), root: temporary}
	if err := f.open(ctx, files, record); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

func (f *Feed) open(ctx context.Context, files fs.FS, record adapter.Feeds) error {
	list, other, err := adapter.Layout(files)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		return adapter.FolderFault{Finding: finding.Finding{Code: "document-unsupported", Place: finding.Place{Expression: "MedicationRequest"},
			Observed: "no file of resources", Expected: "a folder of NDJSON by resource type, Type[.PART].ndjson or Type[.PART].ndjson.gz",
			Detail: "the folder holds nothing of a state of the hospital", Remedy: "Give the folder of a Bulk Data export."}}
	}
	f.facts.Other = other
	for _, one := range list {
		f.names = append(f.names, one.Name)
		f.facts.Files = append(f.facts.Files, FileFacts{Name: one.Name, Type: one.Type, Stated: -1})
		if info, err := fs.Stat(files, one.Name); err == nil {
			f.size += info.Size() * map[bool]int64{false: 1, true: packing}[one.Packed]
		}
	}
	if err := f.temporary(); err != nil {
		return err
	}
	if err := f.remembering(ctx, record, list); err != nil {
		return err
	}
	if err := f.manifest(files); err != nil {
		return err
	}
	if err := f.read(ctx, files, list); err != nil || f.again != nil {
		return err
	}
	return f.joined(ctx)
}

// joined joins what was scanned, and completes the facts.
func (f *Feed) joined(ctx context.Context) error {
	if err := errors.Join(f.lines.settle(), f.keys.settle(), f.index.settle(), f.shared.settle(), f.failures.settle()); err != nil {
		return err
	}
	if err := f.join(ctx); err != nil {
		return err
	}
	f.facts.Lines, f.facts.Failed = 0, 0
	for _, one := range f.facts.Files {
		f.facts.Lines += one.Lines
		f.facts.Failed += one.Failed
	}
	f.dated(f.newest)
	return nil
}

// dated takes a time for the feed's, when it does not state its own and none
// is later. The zone is always the same: equal instants have many.
func (f *Feed) dated(t time.Time) {
	if !f.facts.Stated && t.After(f.facts.Time) {
		f.facts.Time = t.UTC()
	}
}

// packing is how many times its size a compressed file may unpack to, as a
// guess for the number of buckets.
const packing = 12

// Sizes of buckets, in bytes: what one should hold, and all buffers together.
const (
	lineBucket, factBucket = 2 << 20, 32 << 20 // of the text
	lineBuffers            = 24 << 20
)

func (f *Feed) temporary() (err error) {
	keep := func(name string) *journal {
		j, bad := newJournal(f.root, name)
		if err = errors.Join(err, bad); bad != nil {
			return nil
		}
		return j
	}
	f.said, f.failures.journal = keep("said"), keep("failed")
	return errors.Join(err, f.tables())
}

// tables are for what is scanned.
func (f *Feed) tables() (err error) {
	f.large, f.union, f.newest = map[uint64]map[key]bool{}, union{}, time.Time{}
	count := func(each int64) int { return int(min(max(f.size/each, 1), 4096)) }
	sorted := func(name string, count, buffer int) *buckets {
		b, bad := newBuckets(f.root, name, count, buffer)
		if err = errors.Join(err, bad); bad != nil {
			return nil
		}
		return b
	}
	n := count(lineBucket)
	f.lines = sorted("lines", n, min(max(lineBuffers/n, 4<<10), 64<<10))
	f.keys = sorted("keys", count(factBucket), 16<<10)
	f.index = sorted("index", count(factBucket), 4<<10)
	f.witness, f.movedWitness = sorted("witnesses", n, 1<<10), sorted("witnesses-moved", n, 1<<10)
	f.moved = sorted("moved", n, min(max(lineBuffers/n, 4<<10), 64<<10))
	shared, bad := newJournal(f.root, "shared")
	if bad == nil {
		f.shared = shared
	}
	return errors.Join(err, bad)
}

// Facts of the feed; those of the groups count as they are handed out.
func (f *Feed) Facts() Facts {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.facts.clone()
}

func (f Facts) clone() Facts {
	f.Files, f.Missing, f.Other = slices.Clone(f.Files), slices.Clone(f.Missing), slices.Clone(f.Other)
	return f
}

// Close removes what lies in the temporary folder.
func (f *Feed) Close() error {
	if f.closed {
		return nil
	}
	f.closed = true
	return errors.Join(f.shut(), closed(f.said), closed(f.failures.journal), f.again.close(), f.learned.close())
}

// shut removes the tables.
func (f *Feed) shut() error {
	var err error
	for _, b := range []*buckets{f.lines, f.keys, f.index, f.witness, f.moved, f.movedWitness} {
		if b != nil {
			err = errors.Join(err, b.close())
		}
	}
	return errors.Join(err, closed(f.shared))
}

func closed(j *journal) error {
	if j == nil {
		return nil
	}
	return j.close()
}

// failures lie in a temporary file, so that a folder of nothing but broken
// lines needs no memory.
type failures struct {
	*journal
	mu   sync.Mutex
	list []failure
}

type failure struct {
	file string
	line int
	at   int64
}

func (f *failures) note(one Failed) error {
	data, err := json.Marshal(one)
	if err != nil {
		return err
	}
	at, err := f.add(data)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.list = append(f.list, failure{one.File, one.Line, at})
	return err
}

// Failures gives the lines that could not be read, by file and line.
func (f *Feed) Failures() iter.Seq2[Failed, error] {
	return func(yield func(Failed, error) bool) {
		list := f.failures.list
		slices.SortStableFunc(list, func(a, b failure) int { return cmp.Or(cmp.Compare(a.file, b.file), cmp.Compare(a.line, b.line)) })
		for _, one := range list {
			var out Failed
			data, err := f.failures.read(one.at)
			if err == nil {
				err = json.Unmarshal(data, &out)
			}
			if !yield(out, err) || err != nil {
				return
			}
		}
	}
}
