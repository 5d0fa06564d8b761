package verification

import (
	"slices"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
)

// dated is one prepared lot whose own record says until when it may be
// started.
type dated struct {
	lot   plan.Prepared
	use   plan.Use
	until time.Time
	place finding.Place
}

// datedLots are those among the prepared lots. What is mixed at home just
// before it runs is not kept once it is mixed: its date is that of the vial.
func datedLots(f Facts) []dated {
	var out []dated
	for _, m := range f.plan().Prepared {
		if m.Use.Kind == compendium.MixedAtUse {
			continue
		}
		record, ok := limitOf(m.Use, plan.OfRecord)
		if !ok {
			continue
		}
		x := dated{m, m.Use, record.Until, f.order().Place}
		for i, b := range recordsOf(f, m) {
			if i == 0 && b.Place.Expression != "" {
				x.place = b.Place
			}
		}
		out = append(out, x)
	}
	return out
}

// recordsOf are the records that may be that of a lot: two without a number
// of their own cannot always be told apart.
func recordsOf(f Facts, m plan.Prepared) []order.Batch {
	return slices.DeleteFunc(slices.Clone(f.kase().Held.Prepared), func(b order.Batch) bool {
		other := !b.Completed.Absent() && !b.Completed.DateOnly && !b.Completed.Time.Equal(m.Use.Made)
		return b.Lot != m.Lot || b.Units != m.Units || b.Storage != m.Use.Storage || other
	})
}

func limitOf(u plan.Use, of string) (plan.Limit, bool) {
	i := slices.IndexFunc(u.Starts, func(l plan.Limit) bool { return l.Of == of })
	if i < 0 {
		return plan.Limit{}, false
	}
	return u.Starts[i], true
}

// lasts is how long the lot is dated, from its making on.
func (d dated) lasts() time.Duration { return d.until.Sub(d.use.Made) }

// told: when it was made and how it is kept is on record.
func (d dated) told() bool { return !d.use.Made.IsZero() && stored(d.use.Storage) }

// stored: a storage that the tables know. Another word is none.
func stored(storage string) bool {
	_, ok := compendium.StorageTemperature(storage)
	return ok
}

func (d dated) shown() string {
	name := "a prepared lot without a number"
	if d.lot.Lot != "" {
		name = "prepared lot " + d.lot.Lot
	}
	return name + ", " + keptAs(d.use.Storage) + ", is dated " + notation.Duration(d.lasts()) + " from its making"
}

func keptAs(storage string) string {
	if storage == "room" {
		return "kept at room temperature"
	}
	return storage
}

// unmadeUnits are the deliveries whose units are still to be made.
func unmadeUnits(f Facts) []plan.Delivery {
	return slices.DeleteFunc(slices.Clone(f.plan().Deliveries), func(d plan.Delivery) bool {
		return !d.Use.Assumed || d.Use.Kind == compendium.MixedAtUse
	})
}

// asksFor is how long the units of a delivery must be good for if they were made
// the minute it arrives: nobody can make them later than that.
func asksFor(d plan.Delivery) time.Duration { return d.LastDose.Sub(d.Arrival) }

// hasUnits: there are units to date, or nobody can tell.
func hasUnits(f Facts) bool {
	return len(datedLots(f)) > 0 || len(unmadeUnits(f)) > 0 || len(f.plan().HomeDoses) == 0
}

// datingLacks are what must be known before any unit can be held to a limit:
// the doses at home, and of a dated lot when it was made and how it is kept.
func datingLacks(f Facts) (out []Fact) {
	if len(datedLots(f)) == 0 && len(unmadeUnits(f)) == 0 {
		out = append(out, HomeDoses)
	}
	for _, d := range datedLots(f) {
		if d.use.Made.IsZero() {
			out = append(out, Made)
		}
		if !stored(d.use.Storage) {
			out = append(out, Storage)
		}
	}
	return unique(out)
}

// tooFar is the finding on a delivery that asks for more than a limit gives.
func tooFar(f Facts, d plan.Delivery, l plan.Limit, expected string) []finding.Finding {
	return here(f.order().TimingPlace, "the delivery of "+notation.Instant(d.Arrival, "")+" serves doses until "+notation.Instant(d.LastDose, "")+": its units, "+keptAs(d.Use.Storage)+
		", would have to last "+notation.Duration(asksFor(d))+" even if made as it arrives", "at most "+notation.Duration(l.Lasts)+expected+" ("+l.Source+")")
}
