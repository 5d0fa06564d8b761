package plan

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// Stock is one lot: how many units were made and where they are. Counts are
// never clamped: a place below zero shows that a record is missing or wrong.
type Stock struct {
	Lot       string
	Unit      UnitKey
	Completed time.Time // of the first of them
	BeyondUse time.Time // zero: not on record
	Made      int
	Pharmacy  int
	Way       int
	Home      int
	Given     int
	Returned  int
	Wasted    int           // thrown away or lost
	Lost      int           // of Wasted
	Sent      []Consignment // of Way, by arrival
	Apart     [4]int        // quarantined of Pharmacy, Way, Home and Returned
	Untold    int           // of those at home set apart before they came, without a record that the home has done it
	Doubtful  bool          // its record contradicts itself: no unit is planned from it

	owed int // taken from the way before any record put them there
}

// Consignment is units of one lot on the way with one delivery. Arrival is
// its planned arrival; zero: not on record.
type Consignment struct {
	Arrival time.Time
	Units   int
	Apart   int // quarantined of them
}

// Balanced is the law of conservation: units made = in the pharmacy + on the
// way + at home + given + returned + wasted.
func (s Stock) Balanced() bool {
	return s.Made == s.Pharmacy+s.Way+s.Home+s.Given+s.Returned+s.Wasted
}

// at is the count of a place.
func (s *Stock) at(p EventPlace) *int {
	switch p {
	case InPharmacy:
		return &s.Pharmacy
	case OnTheWay:
		return &s.Way
	case AtHome:
		return &s.Home
	case InReturned:
		return &s.Returned
	case "given":
		return &s.Given
	}
	return &s.Wasted
}

// apart is the number set apart in a place; nil where nothing is.
func (s *Stock) apart(p EventPlace) *int {
	i := slices.Index([]EventPlace{InPharmacy, OnTheWay, AtHome, InReturned}, p)
	if i < 0 {
		return nil
	}
	return &s.Apart[i]
}

// leaving is how many of n units that leave are set apart, of so many in that
// place and so many of these set apart. What comes back or is thrown away is
// what was set apart; of what is sent, handed over or given it is what is left
// when the others are gone.
func leaving(have, apart, n int, k EventKind) int {
	if k == Returned || k == Wasted {
		return min(apart, n)
	}
	return min(n, max(0, apart-max(0, have-n)))
}

// take takes the units of an event out of a place and returns how many of
// them were set apart.
func (b *book) take(s *Stock, e Event, from EventPlace) (marks int) {
	if from == OnTheWay {
		marks = b.fromWay(s, e)
	} else {
		marks = leaving(*s.at(from), *s.apart(from), e.Units, e.Kind)
	}
	*s.at(from) -= e.Units
	*s.apart(from) -= marks
	if from == AtHome {
		s.Untold = max(0, s.Untold-marks)
	}
	if marks > 0 && e.Kind != Returned && e.Kind != Wasted {
		b.wrong(Discrepancy{Code: "set-apart-used", Kind: e.Kind, Record: e.ID, Lot: s.Lot, At: e.At, Units: marks,
			Says: fmt.Sprintf("%s that had been set apart: on record as %s", howMany(marks, "unit"), e.Kind)})
	}
	return marks
}

// put puts the units of an event where they go. What is set apart stays so
// wherever it goes.
func (s *Stock) put(e Event, to EventPlace, marks int) {
	*s.at(to) += e.Units
	switch to {
	case OnTheWay:
		paid := min(s.owed, e.Units)
		s.owed -= paid
		marks = min(marks, e.Units-paid)
		s.Apart[1] += marks
		s.send(Consignment{e.Delivery, e.Units - paid, marks})
	case AtHome:
		s.Apart[2] += marks
		s.Untold += marks
	case InReturned:
		s.Apart[3] += marks
	}
}

// send adds to what is on the way.
func (s *Stock) send(c Consignment) {
	if c.Units == 0 {
		return
	}
	i, have := slices.BinarySearchFunc(s.Sent, c.Arrival, func(x Consignment, t time.Time) int { return x.Arrival.Compare(t) })
	if have {
		s.Sent[i].Units += c.Units
		s.Sent[i].Apart += c.Apart
		return
	}
	s.Sent = slices.Insert(s.Sent, i, c)
}

// meant are the consignments in the order in which an event takes from them:
// the one it names, then those due nearest to it. What comes back or is thrown
// away is first of all what was set apart.
func (s *Stock) meant(e Event) []*Consignment {
	var out []*Consignment
	for i := range s.Sent {
		out = append(out, &s.Sent[i])
	}
	apartFirst := e.Kind == Returned || e.Kind == Wasted
	rank := func(c *Consignment) int {
		switch {
		case c.Arrival.Equal(e.Delivery):
			return 0
		case apartFirst && c.Apart > 0:
			return 1
		case c.Arrival.IsZero():
			return 3
		}
		return 2
	}
	slices.SortStableFunc(out, func(a, b *Consignment) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(a.Arrival.Sub(e.At).Abs(), b.Arrival.Sub(e.At).Abs()))
	})
	return out
}

func (b *book) fromWay(s *Stock, e Event) (marks int) {
	if slices.ContainsFunc(s.Sent, func(c Consignment) bool { return c.Apart > 0 }) {
		b.whichDelivery(s, e)
	}
	left := e.Units
	for _, c := range s.meant(e) {
		n := min(left, c.Units)
		k := leaving(c.Units, c.Apart, n, e.Kind)
		c.Units, c.Apart, left, marks = c.Units-n, c.Apart-k, left-n, marks+k
	}
	s.owed += left
	s.Sent = slices.DeleteFunc(s.Sent, func(c Consignment) bool { return c.Units == 0 })
	return marks
}

// whichDelivery: units of several deliveries are on the way, some are or are
// being set apart, and the record does not say of which one.
func (b *book) whichDelivery(s *Stock, e Event) {
	all := 0
	for _, c := range s.Sent {
		all += c.Units
		if c.Arrival.Equal(e.Delivery) {
			return
		}
	}
	if len(s.Sent) < 2 || e.Units >= all {
		return
	}
	s.Doubtful = true
	b.wrong(Discrepancy{Code: "which-delivery", Kind: e.Kind, Record: e.ID, Lot: s.Lot, At: e.At, Units: e.Units,
		Says: fmt.Sprintf("%s on the way on record as %s, with %s in question", howMany(e.Units, "unit"), e.Kind, howMany(len(s.Sent), "consignment"))})
}

// setApart marks units where they are. At home a record first answers for the
// units that came there set apart already.
func (b *book) setApart(s *Stock, e Event, from EventPlace) {
	left := e.Units
	switch from {
	case OnTheWay:
		b.whichDelivery(s, e)
		for _, c := range s.meant(e) {
			n := min(left, c.Units-c.Apart)
			c.Apart, s.Apart[1], left = c.Apart+n, s.Apart[1]+n, left-n
		}
	default:
		if from == AtHome {
			told := min(left, s.Untold)
			s.Untold, left = s.Untold-told, left-told
		}
		n := max(0, min(left, *s.at(from)-*s.apart(from)))
		*s.apart(from) += n
		left -= n
	}
	if left > 0 {
		b.below(s, e, from, left)
	}
}
