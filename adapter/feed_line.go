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
	Night   string    // the run that saw him last
	Orders  int64     // of his orders in the feed
	Report  []byte    // what the report says of his orders, a line each
}

// Feeds is the part of a store that the night uses.
type Feeds interface {
	// FeedLines reads the lines of at most 1000 keys; one that is not there
	// is left out.
	FeedLines(ctx context.Context, keys []string) (map[string]FeedLine, error)
	// NotSeen names at most limit patients with an active order whom the run
	// did not see, from the one after on, in order.
	NotSeen(ctx context.Context, night, after string, limit int) ([]string, error)
	// Active counts the active orders.
	Active(ctx context.Context) (int64, error)
}
