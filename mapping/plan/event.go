package plan

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// EventKind is what happened to units, or to a dose.
type EventKind string

// The kinds. Withheld is a dose not given because a prescriber or pharmacist
// said so; missed is any other dose not given. Quarantined units may not be used,
// wherever they go from there.
const (
	Made        EventKind = "made"
	Dispatched  EventKind = "dispatched"
	Delivered   EventKind = "delivered"
	Given       EventKind = "given"
	Missed      EventKind = "missed"
	Withheld    EventKind = "withheld"
	Returned    EventKind = "returned"
	Wasted      EventKind = "wasted"
	Lost        EventKind = "lost"
	Quarantined EventKind = "quarantined"
)

// EventPlace is where units are.
type EventPlace string

// The places. A unit that came back stays in returned: it is not in the
// pharmacy's stock again.
const (
	InPharmacy EventPlace = "pharmacy"
	OnTheWay   EventPlace = "way"
	AtHome     EventPlace = "home"
	InReturned EventPlace = "returned"
)

// Event is one thing on record. Units are counted in prepared units (bags,
// reservoirs, syringes), at least 1 and at most 100,000 for a kind that moves
// units; missed and withheld move none.
type Event struct {
	ID        string // the record's identifier; two events with one ID are one
	Kind      EventKind
	At        time.Time // when it happened; an event without a time is refused
	Units     int
	Lot       string
	Dose      time.Time  // given, missed, withheld: the planned start; zero: the planned dose nearest to At
	Delivery  time.Time  // dispatched, delivered, lost: the planned arrival of that delivery
	From      EventPlace // returned, wasted, lost, quarantined: where the units were
	Unit      UnitKey    // made: what each unit is
	BeyondUse time.Time  // made: latest start of administration
}

// mostUnits bounds one event, so that no sum overflows.
const mostUnits = 100_000

// flows says where the units of each kind come from and where they go. An
// empty from is named by the event.
var flows = map[EventKind]struct {
	order    int // of events at one instant
	from, to EventPlace
	within   []EventPlace // where an event may take them from
	usual    EventPlace   // when the event does not say
}{
	Made:        {0, "", InPharmacy, nil, ""},
	Dispatched:  {1, InPharmacy, OnTheWay, nil, ""},
	Delivered:   {2, OnTheWay, AtHome, nil, ""},
	Given:       {3, AtHome, "given", nil, ""},
	Missed:      {4, "", "", nil, ""},
	Withheld:    {5, "", "", nil, ""},
	Returned:    {6, "", InReturned, []EventPlace{OnTheWay, AtHome}, AtHome},
	Lost:        {7, "", "wasted", []EventPlace{OnTheWay, AtHome, InPharmacy}, OnTheWay},
	Wasted:      {8, "", "wasted", []EventPlace{InPharmacy, OnTheWay, AtHome, InReturned}, ""},
	Quarantined: {9, "", "", []EventPlace{InPharmacy, OnTheWay, AtHome}, ""},
}

// moves reports whether events of the kind carry units.
func (k EventKind) moves() bool { return k != Missed && k != Withheld }

// content is everything an event says except its identifier.
func (e Event) content() string {
	return fmt.Sprintf("%019d|%d|%s|%d|%q|%d|%d|%s|%s|%d", nanos(e.At), flows[e.Kind].order, e.Kind, e.Units, e.Lot, nanos(e.Dose), nanos(e.Delivery), e.From, e.Unit.text(), nanos(e.BeyondUse))
}

// nanos orders instants; the zero time is 0.
func nanos(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.Unix()*1_000_000_000 + int64(t.Nanosecond())
}

// ordered sorts events by instant, kind and content and takes each once:
// whatever order they were reported in, the answer is the same.
func ordered(happened []Event) (once []Event, differ []Discrepancy) {
	type keyed struct {
		Event
		content string
	}
	list := make([]keyed, len(happened))
	for i, e := range happened {
		list[i] = keyed{e, e.content()}
	}
	slices.SortFunc(list, func(a, b keyed) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(flows[a.Kind].order, flows[b.Kind].order), cmp.Compare(a.content, b.content), cmp.Compare(a.ID, b.ID))
	})
	byID, bare := map[string]string{}, map[string]bool{}
	for _, e := range list {
		if e.ID == "" { // sorts before the same content with an identifier
			if !bare[e.content] {
				bare[e.content] = true
				once = append(once, e.Event)
			}
			continue
		}
		switch first, seen := byID[e.ID]; {
		case !seen:
			byID[e.ID] = e.content
			if bare[e.content] { // the record without an identifier was this one
				delete(bare, e.content)
				continue
			}
			once = append(once, e.Event)
		case first != e.content:
			differ = append(differ, Discrepancy{Code: "same-identifier", Kind: e.Kind, Record: e.ID, Lot: e.Lot, At: e.At, Units: e.Units,
				Says: fmt.Sprintf("two records with the identifier %q differ: the earlier one is counted", e.ID)})
		}
	}
	return once, differ
}

// refusal says why an event cannot be counted at all, "" when it can.
func (e Event) refusal(now time.Time) (code, why string) {
	flow, known := flows[e.Kind]
	switch {
	case !known:
		return "unknown-kind", fmt.Sprintf("an event of kind %q is not known; need one of made, dispatched, delivered, given, missed, withheld, returned, wasted, lost, quarantined", e.Kind)
	case e.At.IsZero():
		return "no-instant", fmt.Sprintf("a record of units %s has no time", e.Kind)
	case !now.IsZero() && e.At.After(now):
		return "after-clock", fmt.Sprintf("a record of units %s lies after the clock", e.Kind)
	case e.Kind.moves() && (e.Units < 1 || e.Units > mostUnits):
		return "units", fmt.Sprintf("a record of %s units %s; need 1 to 100,000", notation.Number(quantity.Int(int64(e.Units))), e.Kind)
	case len(flow.within) > 0 && e.From == "" && flow.usual == "":
		return "place", fmt.Sprintf("a record of units %s does not say where they were", e.Kind)
	case len(flow.within) > 0 && e.From != "" && !slices.Contains(flow.within, e.From):
		return "place", fmt.Sprintf("units cannot be %s from %q", e.Kind, e.From)
	}
	return "", ""
}
