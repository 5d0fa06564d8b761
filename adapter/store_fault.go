package adapter

import "fmt"

// Conflict says that a write was against a version that is not the current
// one. Kind is a resource type, or order, case, message, work.
type Conflict struct {
	Kind     string
	ID       string // not in the text: an order key is the sender's
	Expected int64  // version the write was against, 0 for none
}

func (e *Conflict) Error() string {
	return fmt.Sprintf("%s: version %d is not the current one", e.Kind, e.Expected)
}

// Duplicate says that something that exists once would have come to exist
// twice. Kind is identifier, order, document, worksheet, message, work, reply or audit.
type Duplicate struct {
	Kind string
	Type string // resource type of an identifier
}

func (e *Duplicate) Error() string {
	if e.Type != "" {
		return fmt.Sprintf("%s %s: already stored", e.Type, e.Kind)
	}
	return e.Kind + ": already stored"
}

// Fenced says that an effect came from an attempt at work that no longer runs:
// the work was given to another worker. Nothing was stored.
type Fenced struct{}

func (e *Fenced) Error() string { return "the work was given to another worker" }

// NotFound says that nothing of that name is stored.
type NotFound struct{ Kind, ID string }

// Error leaves the kind out: it may be what a caller was asked for.
func (e *NotFound) Error() string { return "nothing of that name is stored" }

// BadCursor says that a page's cursor was not made by this store for this question.
type BadCursor struct{}

func (e *BadCursor) Error() string { return "the cursor was not made by this store for this question" }

// Invalid says that the caller broke a rule of the port. What names it.
type Invalid struct{ What string }

func (e *Invalid) Error() string { return "store: " + e.What }

// Damaged says that stored bytes no longer have the hash they came with.
type Damaged struct{ Kind, ID string }

func (e *Damaged) Error() string {
	return e.Kind + ": the stored bytes do not have the hash they were received with"
}

// Unavailable says that the store could not do it now. Code is the database's
// own code, never its text. Unknown: the commit was on its way, its outcome
// is not known. Cause is kept for contexts only.
type Unavailable struct {
	Code    string
	Unknown bool
	Cause   error
}

func (e *Unavailable) Error() string {
	if e.Unknown {
		return "store: " + e.Code + "; whether the effect is stored is not known"
	}
	return "store: " + e.Code + "; nothing was stored"
}

// Unwrap gives context.Canceled or context.DeadlineExceeded, else nil.
func (e *Unavailable) Unwrap() error { return e.Cause }

// SchemaNewer says that a newer program has written the store.
type SchemaNewer struct {
	What       string // store or case
	Have, Know int64
}

func (e *SchemaNewer) Error() string {
	return fmt.Sprintf("the %s has schema %d and this program knows up to %d: use the newer program", e.What, e.Have, e.Know)
}

// SchemaOlder says that the store must be migrated first; with Copy set, the
// one that a copy was made of.
type SchemaOlder struct {
	Have, Need int64
	Copy       bool
}

func (e *SchemaOlder) Error() string {
	if e.Copy {
		return fmt.Sprintf("the copy has schema %d and this program needs %d: read it with the program that made it, then run weir migrate", e.Have, e.Need)
	}
	return fmt.Sprintf("the store has schema %d and this program needs %d: run weir migrate", e.Have, e.Need)
}

// Unsafe says that the database is set so that an acknowledged effect could be lost.
type Unsafe struct{ Setting, Value, Need string }

func (e *Unsafe) Error() string {
	return fmt.Sprintf("the database has %s %s and must have %s: an acknowledged order could be lost", e.Setting, e.Value, e.Need)
}

// Foreign says that a database or a file is not a store of ours.
type Foreign struct{ What string }

func (e *Foreign) Error() string { return "not a store of weir: " + e.What }

// Retained says that a patient's record is younger than the retention time.
type Retained struct{}

func (e *Retained) Error() string {
	return "the record has an entry that is not old enough to be erased"
}

// Lingering says that a record is erased, but a reader keeps its bytes in the
// database's log. They are gone after the next write that finds no reader,
// or after a restart.
type Lingering struct{}

func (e *Lingering) Error() string {
	return "the record is erased, but a reader keeps its bytes in the log of the database"
}
