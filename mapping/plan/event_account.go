package plan

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// Dosed is what is on record for one planned dose.
type Dosed struct {
	At               time.Time // the planned start
	Given            int       // units; 2 is a dose given twice, or two units at once
	Missed, Withheld bool
}

// GivenUnits is one record of units given.
type GivenUnits struct {
	At    time.Time
	Dose  time.Time // the planned start it was taken for; zero: none
	Units int
	Lot   string
	Apart int // of them set apart before
}

// Discrepancy is a record that cannot be right, or not as it stands. Nothing
// is corrected: a person finds out which record is wrong.
type Discrepancy struct {
	Code   string    // unknown-kind no-instant after-clock units place same-identifier no-clock no-lot which-lot which-dose which-delivery below-zero lot-differs given-and-not dose-ahead set-apart-used
	Kind   EventKind // of the record; "" for no-clock
	Record string    // the record's identifier
	Lot    string
	At     time.Time // of the record, or the planned dose
	Units  int
	Says   string
}

// Account is what the events add up to.
type Account struct {
	Lots          []Stock // by lot
	Doses         []Dosed // by planned start; only those on record
	Discrepancies []Discrepancy
	LastGiven     time.Time    // newest dose at home on record
	Given         []GivenUnits // by instant

	firstHome time.Time           // first units at home
	sent      map[int64]EventKind // arrival → the last of dispatched, delivered, lost
}

// Balanced reports whether conservation holds for every lot.
func (a Account) Balanced() bool {
	return !slices.ContainsFunc(a.Lots, func(s Stock) bool { return !s.Balanced() })
}

// Count is the sum over the lots in a place.
func (a Account) Count(p EventPlace) int {
	n := 0
	for i := range a.Lots {
		n += *a.Lots[i].at(p)
	}
	return n
}

// sentFor is how many units are on the way to one planned arrival.
func (a Account) sentFor(arrival time.Time) (n int) {
	for _, s := range a.Lots {
		for _, c := range s.Sent {
			if c.Arrival.Equal(arrival) {
				n += c.Units
			}
		}
	}
	return n
}

// dosed is the record of a planned dose, nil when there is none.
func (a Account) dosed(at time.Time) *Dosed {
	i, ok := slices.BinarySearchFunc(a.Doses, at, func(d Dosed, t time.Time) int { return d.At.Compare(t) })
	if !ok {
		return nil
	}
	return &a.Doses[i]
}

// Tally counts the events up to the clock against the planned doses, which
// must be sorted. A zero clock is named, since then no event can be refused
// for lying after it.
func Tally(happened []Event, doses []time.Time, now time.Time) Account {
	b := book{doses: doses, lots: map[string]*Stock{}, dosed: map[int64]*Dosed{}}
	b.sent = map[int64]EventKind{}
	once, differ := ordered(happened)
	if now.IsZero() && len(once) > 0 {
		b.wrong(Discrepancy{Code: "no-clock", Says: "the time now is not known: a record that lies after it cannot be told"})
	}
	b.Discrepancies = append(b.Discrepancies, differ...)
	for _, e := range once {
		if code, why := e.refusal(now); code != "" {
			b.wrong(Discrepancy{Code: code, Kind: e.Kind, Record: e.ID, Lot: e.Lot, At: e.At, Units: e.Units, Says: why + ": it is not counted"})
			continue
		}
		b.enter(e)
	}
	return b.close()
}

// book is an account being written.
type book struct {
	Account
	doses []time.Time
	lots  map[string]*Stock
	dosed map[int64]*Dosed
}

func (b *book) wrong(d Discrepancy) { b.Discrepancies = append(b.Discrepancies, d) }

func (b *book) enter(e Event) {
	var planned time.Time
	if e.Kind == Given || !e.Kind.moves() {
		planned = b.dose(e)
	}
	if !e.Kind.moves() {
		return
	}
	flow := flows[e.Kind]
	from := cmp.Or(flow.from, e.From, flow.usual)
	lot, sure := b.lot(e, from)
	s := b.stock(lot)
	if !sure {
		s.Doubtful = true
	}
	switch e.Kind {
	case Made:
		b.made(s, e)
		return
	case Quarantined:
		b.setApart(s, e, from)
		return
	case Dispatched, Delivered, Lost:
		if !e.Delivery.IsZero() {
			b.sent[nanos(e.Delivery)] = e.Kind
		}
	}
	marks := b.take(s, e, from)
	s.put(e, flow.to, marks)
	switch {
	case e.Kind == Lost:
		s.Lost += e.Units
	case e.Kind == Delivered && b.firstHome.IsZero():
		b.firstHome = e.At
	case e.Kind == Given:
		b.Given = append(b.Given, GivenUnits{At: e.At, Dose: planned, Units: e.Units, Lot: lot, Apart: marks})
	}
	if n := *s.at(from); n < 0 {
		b.below(s, e, from, min(-n, e.Units))
	}
}

func (b *book) below(s *Stock, e Event, from EventPlace, short int) {
	s.Doubtful = true
	b.wrong(Discrepancy{Code: "below-zero", Kind: e.Kind, Record: e.ID, Lot: s.Lot, At: e.At, Units: short,
		Says: fmt.Sprintf("%s on record as %s, and %s more than the records put %s before it", howMany(e.Units, "unit"), e.Kind, howMany(short, "unit"), placeWords[from])})
}

var placeWords = map[EventPlace]string{InPharmacy: "in the pharmacy", OnTheWay: "on the way", AtHome: "at the home", InReturned: "among the returned units"}

// lot is the lot of an event. One that names none is of the only lot with
// units in that place; when several could be meant it is counted under no
// lot, and said.
func (b *book) lot(e Event, from EventPlace) (lot string, sure bool) {
	if e.Lot != "" {
		return e.Lot, true
	}
	if e.Kind == Made {
		b.wrong(Discrepancy{Code: "no-lot", Kind: e.Kind, Record: e.ID, At: e.At, Units: e.Units, Says: fmt.Sprintf("%s made without a lot: they cannot be traced", howMany(e.Units, "unit"))})
		return "", false
	}
	var fit []string
	for name, s := range b.lots {
		if *s.at(from) > 0 {
			fit = append(fit, name)
		}
	}
	if len(fit) == 1 {
		return fit[0], true
	}
	b.wrong(Discrepancy{Code: "which-lot", Kind: e.Kind, Record: e.ID, At: e.At, Units: e.Units,
		Says: fmt.Sprintf("%s on record as %s without a lot, and %s in question", howMany(e.Units, "unit"), e.Kind, howMany(len(fit), "lot"))})
	// Any of them may be the one: none can be relied on any more.
	for _, name := range fit {
		b.lots[name].Doubtful = true
	}
	return "", false
}

func (b *book) stock(lot string) *Stock {
	s, ok := b.lots[lot]
	if !ok {
		s = &Stock{Lot: lot}
		b.lots[lot] = s
	}
	return s
}

// made adds units to a lot. Of two beyond-use instants the earlier counts;
// units that differ are no lot.
func (b *book) made(s *Stock, e Event) {
	if s.Made > 0 && (s.Unit.text() != e.Unit.text() || !s.BeyondUse.Equal(e.BeyondUse)) {
		s.Doubtful = s.Doubtful || s.Unit.text() != e.Unit.text() || s.BeyondUse.IsZero() != e.BeyondUse.IsZero()
		b.wrong(Discrepancy{Code: "lot-differs", Kind: e.Kind, Record: e.ID, Lot: e.Lot, At: e.At, Units: e.Units, Says: "units of one lot are on record with different contents or beyond-use times: the earlier time counts"})
	}
	if s.Made == 0 {
		s.Unit, s.Completed, s.BeyondUse = e.Unit, e.At, e.BeyondUse
	} else if !e.BeyondUse.IsZero() && e.BeyondUse.Before(s.BeyondUse) {
		s.BeyondUse = e.BeyondUse
	}
	s.Made += e.Units
	s.Pharmacy += e.Units
}

// dose enters what happened to a planned dose, and returns it; zero when it
// is taken for none.
func (b *book) dose(e Event) time.Time {
	at := cmp.Or(nanos(e.Dose), nanos(e.At))
	planned, ok := b.nearest(at)
	if !ok {
		b.wrong(Discrepancy{Code: "which-dose", Kind: e.Kind, Record: e.ID, Lot: e.Lot, At: e.At, Units: e.Units, Says: fmt.Sprintf("a dose on record as %s belongs to no planned dose", e.Kind)})
	}
	if e.Kind == Given && e.At.After(b.LastGiven) {
		b.LastGiven = e.At
	}
	if !ok {
		return time.Time{}
	}
	if b.ahead(planned, e) {
		b.wrong(Discrepancy{Code: "dose-ahead", Kind: e.Kind, Record: e.ID, Lot: e.Lot, At: e.At, Units: e.Units, Says: fmt.Sprintf("a dose on record as %s before the one due earlier: it is not taken for that dose", e.Kind)})
		return time.Time{}
	}
	d, seen := b.dosed[nanos(planned)]
	if !seen {
		d = &Dosed{At: planned}
		b.dosed[nanos(planned)] = d
	}
	switch e.Kind {
	case Given:
		d.Given += e.Units
	case Missed:
		d.Missed = true
	default:
		d.Withheld = true
	}
	if d.Given > 0 && (d.Missed || d.Withheld) {
		b.wrong(Discrepancy{Code: "given-and-not", Kind: e.Kind, Record: e.ID, Lot: e.Lot, At: planned, Says: "a dose is on record both as given and as not given"})
	}
	return planned
}

// ahead: a dose given or missed cannot be one for which an earlier dose was
// still to come. It can be withheld.
func (b *book) ahead(planned time.Time, e Event) bool {
	i, _ := slices.BinarySearchFunc(b.doses, planned, time.Time.Compare)
	return e.Kind != Withheld && i > 0 && b.doses[i-1].After(e.At)
}

// nearest is the planned dose nearer to the instant than half the distance to
// its neighbour on that side. Half-way between two doses is neither.
func (b *book) nearest(at int64) (time.Time, bool) {
	i, exact := slices.BinarySearchFunc(b.doses, at, func(t time.Time, n int64) int { return cmp.Compare(nanos(t), n) })
	if exact {
		return b.doses[i], true
	}
	const alone = int64(12 * time.Hour) // reach of a dose without a neighbour
	switch {
	case len(b.doses) == 0:
		return time.Time{}, false
	case i == 0:
		return b.doses[0], nanos(b.doses[0])-at < b.reach(0, alone)
	case i == len(b.doses):
		return b.doses[i-1], at-nanos(b.doses[i-1]) < b.reach(i-1, alone)
	}
	before, after := at-nanos(b.doses[i-1]), nanos(b.doses[i])-at
	if before < after {
		return b.doses[i-1], true
	}
	return b.doses[i], after < before
}

// reach is half the distance to the neighbour the dose has.
func (b *book) reach(i int, alone int64) int64 {
	switch {
	case i > 0:
		return (nanos(b.doses[i]) - nanos(b.doses[i-1])) / 2
	case i+1 < len(b.doses):
		return (nanos(b.doses[i+1]) - nanos(b.doses[i])) / 2
	}
	return alone
}

func (b *book) close() Account {
	for _, s := range b.lots {
		b.Lots = append(b.Lots, *s)
	}
	slices.SortFunc(b.Lots, func(x, y Stock) int { return cmp.Compare(x.Lot, y.Lot) })
	for _, d := range b.dosed {
		b.Doses = append(b.Doses, *d)
	}
	slices.SortFunc(b.Doses, func(x, y Dosed) int { return x.At.Compare(y.At) })
	slices.SortStableFunc(b.Discrepancies, func(x, y Discrepancy) int {
		return cmp.Or(x.At.Compare(y.At), cmp.Compare(x.Code, y.Code), cmp.Compare(x.Lot, y.Lot), cmp.Compare(x.Units, y.Units), cmp.Compare(x.Kind, y.Kind), cmp.Compare(x.Record, y.Record), cmp.Compare(x.Says, y.Says))
	})
	return b.Account
}

// howMany writes "1 unit", "4 units".
func howMany(n int, one string) string {
	if n == 1 || n == -1 {
		return fmt.Sprintf("%d %s", n, one)
	}
	return fmt.Sprintf("%d %ss", n, one)
}
