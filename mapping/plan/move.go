package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// MoveKind is what a revised plan asks people to do.
type MoveKind string

// The kinds, in the order in which moves due at one instant are listed.
const (
	Call              MoveKind = "call"               // a person is told or asked something
	Quarantine        MoveKind = "quarantine"         // set units apart where they are
	FetchBack         MoveKind = "fetch-back"         // fetch units from the home
	DeliveryCancelled MoveKind = "delivery-cancelled" // a delivery that no longer goes
	DeliveryMoved     MoveKind = "delivery-moved"     // another arrival, or another number of units
	DeliveryAdded     MoveKind = "delivery-added"     // a delivery that was not planned
	DeliverExtra      MoveKind = "deliver-extra"      // doses before the next delivery without a unit
	BookingMoved      MoveKind = "booking-moved"      // a visit, a run of the driver or a draw
	DosesMoved        MoveKind = "doses-moved"        // the planned doses are others
	MakeAgain         MoveKind = "remake"             // units made again: part of the units of a delivery, not on top of them
	NewLabel          MoveKind = "relabel"            // right contents, old label
	Waste             MoveKind = "waste"              // units that can serve no dose any more
)

var moveOrder = []MoveKind{Call, Quarantine, FetchBack, DeliveryCancelled, DeliveryMoved, DeliveryAdded, DeliverExtra, BookingMoved, DosesMoved, MakeAgain, NewLabel, Waste}

// MoveReason is why, as a code.
type MoveReason string

// The reasons.
const (
	BeyondUse       MoveReason = "beyond-use"
	WrongDrug       MoveReason = "wrong-drug"
	WrongStrength   MoveReason = "wrong-strength"
	WrongVolume     MoveReason = "wrong-volume"
	WrongDiluent    MoveReason = "wrong-diluent"
	WrongDevice     MoveReason = "wrong-device"
	WrongRestrictor MoveReason = "wrong-restrictor"
	OldLabel        MoveReason = "old-label"
	UnknownUnit     MoveReason = "unknown-unit"
	UnknownUse      MoveReason = "unknown-beyond-use"
	LeftPharmacy    MoveReason = "left-pharmacy" // nothing that left comes back into stock
	NoDoseLeft      MoveReason = "no-dose-left"
	Stopped         MoveReason = "stopped"
	OrderChanged    MoveReason = "order-changed"
	StartMissing    MoveReason = "start-missing"
	PlanMoved       MoveReason = "plan-moved"
	DoseMissed      MoveReason = "dose-missed"
	DoseTwice       MoveReason = "dose-twice"
	ShortAtHome     MoveReason = "short-at-home"
	SurplusAtHome   MoveReason = "surplus-at-home"
	NotRecorded     MoveReason = "not-recorded"
	RecordWrong     MoveReason = "record-wrong"
	SetApart        MoveReason = "set-apart" // and given, or handed over all the same
)

// Who is called, or does it.
const (
	ToPatient    = "patient"
	ToPrescriber = "prescriber"
	ToNurse      = "nurse"
	ToDriver     = "driver"
	ToPharmacist = "pharmacist"
	ToTechnician = "technician"
	ToSupply     = "supply"
)

// Figure is one number of a move.
type Figure struct {
	Name string `json:"name"`
	N    int    `json:"n"`
}

// Move is one thing to be done because the plan is another than before. Why
// may name a lot and times, so it belongs to the response and not to a log.
type Move struct {
	Due     time.Time   `json:"due"` // it must have happened before this instant
	Kind    MoveKind    `json:"kind"`
	Whom    string      `json:"whom"` // patient prescriber nurse driver pharmacist technician supply
	Reason  MoveReason  `json:"reason"`
	Subject string      `json:"subject,omitempty"` // first-visit, delivery, doses, …
	From    time.Time   `json:"from,omitzero"`     // the instant it was planned for
	To      time.Time   `json:"to,omitzero"`       // the instant it is planned for now
	Units   int         `json:"units,omitempty"`
	Lot     string      `json:"lot,omitempty"`
	Place   EventPlace  `json:"place,omitempty"`
	Doses   []time.Time `json:"doses,omitempty"`
	Figures []Figure    `json:"figures,omitempty"`
	Late    bool        `json:"late,omitempty"` // its time has passed: due is the clock
	Why     string      `json:"why"`
}

// goes lists whom each kind of move goes to.
var goes = map[MoveKind][]string{
	Call: {ToPatient, ToPrescriber, ToNurse, ToDriver, ToPharmacist, ToSupply}, Quarantine: {ToPatient, ToDriver, ToPharmacist}, FetchBack: {ToSupply},
	DeliveryCancelled: {ToDriver}, DeliveryMoved: {ToDriver}, DeliveryAdded: {ToDriver}, DeliverExtra: {ToSupply}, BookingMoved: {ToSupply},
	DosesMoved: {ToPharmacist}, MakeAgain: {ToTechnician}, NewLabel: {ToPharmacist, ToNurse}, Waste: {ToPharmacist},
}

// Task is the code of the task that the move is for whoever works on it: the
// kind, and where several people can be meant whom it goes to.
func (m Move) Task() string {
	if len(goes[m.Kind]) > 1 {
		return string(m.Kind) + "-" + m.Whom
	}
	return string(m.Kind)
}

// TaskCodes lists every code that Task can give, sorted.
func TaskCodes() []string {
	var out []string
	for kind, list := range goes {
		for _, whom := range list {
			out = append(out, Move{Kind: kind, Whom: whom}.Task())
		}
	}
	slices.Sort(out)
	return out
}

// ID tells moves apart: what, who, about what, which numbers. When it is due
// and how it is worded are not part of it, so that a clock that runs on makes
// no second move of one already told.
func (m Move) ID() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s|%s|%s|%s|%d|%d|%d|%q|%s", m.Kind, m.Whom, m.Reason, m.Subject, nanos(m.From), nanos(m.To), m.Units, m.Lot, m.Place)
	for _, d := range m.Doses {
		fmt.Fprintf(&b, "|%d", nanos(d))
	}
	return b.String()
}

func (m Move) compare(o Move) int {
	return cmp.Or(m.Due.Compare(o.Due), cmp.Compare(slices.Index(moveOrder, m.Kind), slices.Index(moveOrder, o.Kind)),
		m.From.Compare(o.From), cmp.Compare(m.Whom, o.Whom), cmp.Compare(m.ID(), o.ID()), cmp.Compare(m.Why, o.Why))
}

// sortMoves orders moves by instant, then kind, and drops equal ones.
func sortMoves(list []Move) []Move {
	slices.SortFunc(list, Move.compare)
	seen := map[string]bool{}
	return slices.DeleteFunc(list, func(m Move) bool {
		id := m.ID()
		was := seen[id]
		seen[id] = true
		return was
	})
}

// Withdrawn lists the moves that old had told and that no longer stand in
// now: what they asked for was done, or is asked for otherwise.
func Withdrawn(old, now Plan) []Move {
	stands := map[string]bool{}
	for _, m := range now.Basis.Told {
		stands[m.ID()] = true
	}
	return slices.DeleteFunc(slices.Clone(old.Basis.Told), func(m Move) bool { return stands[m.ID()] })
}
