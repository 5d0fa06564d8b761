package adapter

import (
	"context"
	"io"
	"time"
)

// Store is the record of one pharmacy. An effect is written whole or not at
// all; when Commit returns nil, it survives the loss of the process and of
// power. Errors are those of store_fault.go, and no text of them holds
// patient data.
type Store interface {
	// Commit writes one effect. A write against a version that is not there
	// is a *Conflict, a second write of what may exist once a *Duplicate;
	// after both nothing is changed and the caller reads again and decides.
	// *Unavailable with Unknown set means that the effect may be stored: the
	// same effect again is then a *Conflict or a *Duplicate.
	Commit(ctx context.Context, e Effect) error

	// Get reads the current version of a resource, *NotFound when there is none.
	Get(ctx context.Context, typ, id string) (Resource, error)
	// Version reads one version of a resource.
	Version(ctx context.Context, typ, id string, version int64) (Resource, error)
	// History reads the versions of a resource, newest first.
	History(ctx context.Context, typ, id string, p Page) (Slice, error)
	// Search reads the current resources of a type that meet every criterion.
	Search(ctx context.Context, q Query, p Page) (Slice, error)
	// Count says how many resources Search would find.
	Count(ctx context.Context, q Query) (int64, error)
	// ByIdentifier reads the current resources of a type with an identifier,
	// oldest first, at most 100.
	ByIdentifier(ctx context.Context, typ string, i Identity) ([]Resource, error)

	// ByValues reads, for each text value asked for, the current resources that
	// have it, at most two: whether there is one, and whether it is the only
	// one. Values that refer to stored resources are for Search alone.
	ByValues(ctx context.Context, asked []Asked) ([][]Resource, error)

	// Document reads a document as received, *Damaged when its bytes no
	// longer have their hash.
	Document(ctx context.Context, id string) (Received, error)
	// Case reads a patient's case.
	Case(ctx context.Context, patient string) (StoredCase, error)
	// Order reads the line of an order.
	Order(ctx context.Context, key string) (OrderLine, error)
	// OrderVersions reads the contents an order has had, oldest first.
	OrderVersions(ctx context.Context, key string) ([]OrderVersion, error)
	// Orders reads the worklist: the largest weight first, then by due time.
	Orders(ctx context.Context, f OrderFilter, p Page) (OrderSlice, error)
	// Worksheets reads the worksheets of an order, newest first, at most limit.
	Worksheets(ctx context.Context, key string, limit int) ([]StoredSheet, error)
	// Unsent reads messages not yet sent, oldest first, at most limit.
	Unsent(ctx context.Context, limit int) ([]Message, error)
	// Unfinished reads background work not yet done, oldest first, at most limit.
	Unfinished(ctx context.Context, limit int) ([]Queued, error)
	// Reply reads a stored answer.
	Reply(ctx context.Context, key string) (Reply, error)
	// Audit reads audit rows, newest first.
	Audit(ctx context.Context, f AuditFilter, p Page) (AuditSlice, error)

	// Seal encrypts a text that a client is to bring back, so that it can
	// stand in an address; Unseal gives it back, *BadCursor when it was not
	// made by this store for this purpose.
	Seal(purpose string, text []byte) string
	Unseal(purpose, sealed string) ([]byte, error)
}

// Keeper is what keeps a store: used by commands and the night, not by the door.
type Keeper interface {
	// Expired names at most limit patients whose newest entry is older than before.
	Expired(ctx context.Context, before time.Time, limit int) ([]string, error)
	// Erase removes everything that is stored of one patient but the audit
	// rows, in one transaction. It refuses with *Retained when anything of
	// the patient is not older than e.Before. With *Lingering it is done, but
	// for what a reader holds.
	Erase(ctx context.Context, e Erasure) (Erased, error)
	// Export writes the whole store as lines of JSON, as of one moment.
	Export(ctx context.Context, w io.Writer) error
	// Import reads what Export of any store wrote into an empty store, whole
	// or not at all. It is read twice, from its beginning.
	Import(ctx context.Context, r io.ReadSeeker) error
	// Check reads everything and names what does not fit together.
	Check(ctx context.Context) (Health, error)
	// Close waits for what is running and lets the store go.
	Close() error
}

// Page is one page of a list: at most Limit (1 to 1000) entries from After
// on, "" for the first. Cursors come out of the slice before; they are sealed
// with the store's key and hold for the same question only.
type Page struct {
	Limit int
	After string
}

// Slice is one page of resources. Next is "" on the last.
type Slice struct {
	Resources []Resource
	Next      string
}

// OrderVersion is one content that an order has had.
type OrderVersion struct {
	Number  int64
	Version string
	Again   bool
	Source  string
	Sent    time.Time
	At      time.Time
}

// OrderFilter limits the worklist; empty fields limit nothing.
type OrderFilter struct {
	Patient, State, Verdict string
	DueBefore               time.Time
}

// OrderSlice is one page of the worklist.
type OrderSlice struct {
	Orders []OrderLine
	Next   string
}

// AuditFilter limits the audit rows; empty fields limit nothing. Until is
// not included.
type AuditFilter struct {
	ID, Patient, Action, Agent, Entity, Outcome, Request string
	From, Until                                          time.Time
}

// AuditSlice is one page of audit rows.
type AuditSlice struct {
	Rows []AuditRow
	Next string
}

// Retention is how long a patient's record is kept after its newest entry.
// Zero keeps it for ever.
type Retention struct{ Days int }

// Before is the instant that the newest entry of a record must be older than
// for it to be erased at the clock now; false when records are kept for ever.
func (r Retention) Before(now time.Time) (time.Time, bool) {
	if r.Days <= 0 {
		return time.Time{}, false
	}
	return now.Add(-time.Duration(r.Days) * 24 * time.Hour), true
}

// Erasure asks for one patient's record to be erased. Audit is the row that
// says so; its Patient is the patient's id.
type Erasure struct {
	Patient string
	Before  time.Time
	Audit   AuditRow
}

// Erased counts what was removed. Tasks are among the Resources. Shared
// documents speak of other patients too; they stay until the last of these is
// erased.
type Erased struct {
	Documents, Shared, Resources, Orders, Worksheets, Tasks, Messages int64
}

// Health is what Check found.
type Health struct {
	Rows     map[string]int64 // rows of each table
	Problems []string         // without patient data; empty when everything fits
}
