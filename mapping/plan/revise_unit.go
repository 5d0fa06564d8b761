package plan

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/quantity"
)

// UnitKey is what makes one prepared unit interchangeable with another. An
// empty part is unknown, and an unknown part equals nothing. Restrictor is
// the nominal rate built into a fixed-flow device, absent for any other.
type UnitKey struct {
	Drug       string            // ingredient: one spelling or code per drug
	Strength   quantity.Quantity // drug in the whole unit
	Volume     quantity.Quantity // in the whole unit
	Diluent    string
	Device     string            // bag, reservoir type, syringe
	Restrictor quantity.Quantity // mL/h
	Label      string            // text of the label, or its hash: directions, rate, dates
}

// Change is what a difference between a unit and the order asks for.
type Change string

// The changes. Unread: a part is not known on one side, so a person reads the
// label.
const (
	Same    Change = "same"
	Relabel Change = "relabel"
	Remake  Change = "remake"
	Unread  Change = "unread"
)

// unitPart is one row of the identity of a unit.
type unitPart struct {
	name   string
	then   Change
	reason MoveReason
	text   func(UnitKey) string
	amount func(UnitKey) quantity.Quantity
	may    bool // may be absent: absent on both sides is equal
}

// unitParts is the identity of a unit as data. Source of the split between
// contents and label: common practice, no source; that a unit whose label is
// not the order may not go out is row m6 of the trade.
var unitParts = []unitPart{
	{name: "drug", then: Remake, reason: WrongDrug, text: func(k UnitKey) string { return k.Drug }},
	{name: "strength", then: Remake, reason: WrongStrength, amount: func(k UnitKey) quantity.Quantity { return k.Strength }},
	{name: "volume", then: Remake, reason: WrongVolume, amount: func(k UnitKey) quantity.Quantity { return k.Volume }},
	{name: "diluent", then: Remake, reason: WrongDiluent, text: func(k UnitKey) string { return k.Diluent }},
	{name: "device", then: Remake, reason: WrongDevice, text: func(k UnitKey) string { return k.Device }},
	{name: "flow restrictor", then: Remake, reason: WrongRestrictor, amount: func(k UnitKey) quantity.Quantity { return k.Restrictor }, may: true},
	{name: "label", then: Relabel, reason: OldLabel, text: func(k UnitKey) string { return k.Label }},
}

// Compare says what a unit needs to serve an order, with the reason: the
// first part of the table that differs. Contents known to differ outweigh a
// part that is not known.
func (k UnitKey) Compare(order UnitKey) (Change, MoveReason) {
	change, reason := Same, MoveReason("")
	for _, p := range unitParts {
		known, equal := p.compare(k, order)
		switch {
		case known && !equal && p.then == Remake:
			return Remake, p.reason
		case !known:
			change, reason = Unread, UnknownUnit
		case !equal && change == Same:
			change, reason = p.then, p.reason
		}
	}
	return change, reason
}

func (p unitPart) compare(a, b UnitKey) (known, equal bool) {
	if p.text != nil {
		x, y := p.text(a), p.text(b)
		return x != "" && y != "", strings.EqualFold(x, y)
	}
	x, y := p.amount(a), p.amount(b)
	if x.Absent() || y.Absent() {
		return p.may, x.Absent() && y.Absent()
	}
	xl, xh := x.Base()
	yl, yh := y.Base()
	return true, x.Unit.Dimension() == y.Unit.Dimension() && xl.Equal(yl) && xh.Equal(yh)
}

// Missing names the parts that are not known.
func (k UnitKey) Missing() []string {
	var out []string
	for _, p := range unitParts {
		if known, _ := p.compare(k, k); !known {
			out = append(out, p.name)
		}
	}
	return slices.Clip(out)
}

// text writes every part, to compare records with each other.
func (k UnitKey) text() string {
	parts := []string{k.Drug, "", "", k.Diluent, k.Device, "", k.Label}
	for i, q := range []quantity.Quantity{1: k.Strength, 2: k.Volume, 5: k.Restrictor} {
		if !q.Absent() {
			parts[i] = q.String()
		}
	}
	return strings.Join(parts, "\x1f")
}

// differs writes the first part of the contents that differs: "1,750 mg, not
// 1,250 mg". "" when none does.
func (k UnitKey) differs(order UnitKey) string {
	for _, p := range unitParts {
		known, equal := p.compare(k, order)
		switch {
		case !known || equal || p.then != Remake:
			continue
		case p.text != nil:
			return p.text(k) + ", not " + p.text(order)
		}
		is, want := p.amount(k), p.amount(order)
		if is.Absent() || want.Absent() {
			return ""
		}
		return shown(is.Low, is.Unit) + ", not " + shown(want.Low, want.Unit)
	}
	return ""
}
