package verification

import (
	"time"

	"weir.example/weir/mapping/compendium"
)

// Reach is how far an order goes against a number of the tables that a site
// may have put its own in place of.
type Reach int

// The reaches.
const (
	Within  Reach = iota
	Between       // beyond the table's number and within the site's looser one
	Beyond        // beyond the number that counts
)

// LoosenedDetail is the Detail of a finding that stands between the table's
// number and the site's: its gate is one step below that of its rule, and
// never below warn.
const LoosenedDetail = "between the number of the table and the site's own"

// Reached tells how far an order goes against a fact whose number is have,
// and which number says so. beyond compares the order with a number; it
// decides what is lax (a most, or a least), so that no list of topics does.
//
// A site's stricter number counts alone. Its looser one passes nothing in
// silence: what lies between stays a finding (see LoosenedDetail), and so does
// what a site has put out of force altogether. Its number dated later than the
// day of now does not count: the table's own does. Without an override, or
// with one that changes no number, have is the table's.
func Reached(f compendium.Fact, have compendium.Band, now time.Time, beyond func(compendium.Band) bool) (Reach, compendium.Band) {
	table, local := have, f.Override
	if local != nil && !local.Was.Empty() {
		table = local.Was
	}
	switch {
	case local != nil && now.Format(time.DateOnly) < local.On:
		if local.Gated && beyond(table) {
			return Beyond, table
		}
		return Within, table
	case f.Gates && beyond(have):
		return Beyond, have
	case local != nil && local.Gated && beyond(table): // looser, or out of force
		return Between, table
	}
	return Within, have
}
