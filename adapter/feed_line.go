package adapter

import (
	"context"
	"time"
)

// FeedLine is what is kept of one patient of the placer's nightly state, so
// that what did not change is not read again.
type FeedLine struct {
	Key     string    // the patient as the feed names him
	Patient string    // our id
	Sum     [32]byte  // of everything the feed said of him
	Basis   [32]byte  // of tables, policy, program and zone data he was judged by
	Watch   time.Time // when the clock alone may change what was found; zero: never
	At      int64     // version of the case that was compared
	Now     int64     // version of the case as it is; set by the store on reading
	Place   int64     // where he stands in the order of a feed; 0: he is never passed over
	Night   string    // the run that judged or saw him last
	Orders  int64     // of his orders in the feed
	Report  []byte    // what the report says of his orders, a line each
}

// MemoryPart is a part of what the night remembers of its last feed. Whoever
// reads it says whether it is whole: the store does not know what it means.
type MemoryPart struct {
	Kind   string
	Number int
	Body   []byte
}

// Feeds is the part of a store that the night uses.
type Feeds interface {
	// FeedLines reads the lines of at most 1000 keys; one that is not there
	// is left out.
	FeedLines(ctx context.Context, keys []string) (map[string]FeedLine, error)
	// FeedRange reads the lines whose place is at least from and below to, in
	// the order of place; from is above 0.
	FeedRange(ctx context.Context, from, to int64, take func(FeedLine) error) error
	// Remembered reads one part of what the night remembers of its last feed;
	// nil when it is not there.
	Remembered(ctx context.Context, kind string, number int) ([]byte, error)
	// Remember writes parts of it, in one transaction, each over the one that
	// was there, and takes away those without a body. With count above 0 it
	// takes away all whose number is count or more, too.
	Remember(ctx context.Context, parts []MemoryPart, count int) error
	// NotSeen names at most limit patients with an active order whom the run
	// did not see, from the one after on, in order.
	NotSeen(ctx context.Context, night, after string, limit int) ([]string, error)
	// Active counts the active orders.
	Active(ctx context.Context) (int64, error)
}
