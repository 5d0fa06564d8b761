package reconciliation

import (
	"strings"
	"time"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/worksheet"
)

// Side is one state of a patient: the case and what was judged of it.
// The zero Side is a patient of whom nothing is held, or nothing was sent.
// Both sides are judged at the clock of the night, so that only facts differ;
// a sheet as it was stored (its JSON alone, without Refs) serves as well.
type Side struct {
	Case   order.Case
	Sheets []worksheet.Worksheet
	Stamps map[string]Stamp // by order key; absent: the sender gave none
}

// Stamp says which of two messages about an order is the newer one: by
// meta.lastUpdated, then meta.versionId, then the order's authoredOn.
type Stamp struct {
	Updated time.Time
	Version string
}

// Key names an order: its order key, or its address where it has none, or its
// place in the document, so that it is never mistaken for another.
func Key(o order.Order) string {
	switch {
	case o.Key != "":
		return o.Key
	case o.Ref.URL != "":
		return o.Ref.URL
	}
	return o.Place.Expression
}

// version is one order on one side.
type version struct {
	order    order.Order
	sheet    *worksheet.Worksheet // nil: it was not judged
	settled  order.Quantities     // see numbers
	stamp    Stamp
	replaced bool    // another order of its side names it as replaced
	line     string  // the line it is to run through, in words
	related  bool    // a fact beside the infusions: it is not an infusion of its own
	course   *course // read from the sheet once
}

// versions are the infusions of a side, and those that were replaced, by key.
// Of two with one key the newer by stamp and time of writing stands.
func (s Side) versions() map[string]*version {
	out := map[string]*version{}
	for _, list := range []struct {
		orders  []order.Order
		related bool
	}{{s.Case.Orders, false}, {s.Case.Related, true}} {
		for _, o := range list.orders {
			key := Key(o)
			if key == "" || list.related && o.Role != "replaced" {
				continue
			}
			v := &version{order: o, stamp: s.Stamps[Key(o)], related: list.related, replaced: o.Role == "replaced"}
			v.sheet, v.line = s.sheetOf(o), s.lineOf(o)
			if have, twice := out[key]; twice && (list.related || !have.order.AuthoredOn.Time.Before(o.AuthoredOn.Time)) {
				continue
			}
			out[key] = v
		}
	}
	for _, v := range out {
		for _, prior := range v.order.Prior {
			if s := v.order.Status; s == "cancelled" || s == "entered-in-error" || s == "draft" { // what never was in force replaces nothing
				continue
			}
			for _, old := range out {
				if old != v && refers(prior, old.order) {
					old.replaced = true
				}
			}
		}
	}
	return out
}

// sheetOf is the judgement of an order, nil when there is none.
func (s Side) sheetOf(o order.Order) *worksheet.Worksheet {
	for i := range s.Sheets {
		w := &s.Sheets[i]
		if w.Order.Key == o.Key && o.Key != "" || o.Key == "" && w.Order.Expression == o.Place.Expression {
			return w
		}
	}
	return nil
}

// lineOf is the line an order names, in words that do not hang on where it
// stands in a document.
func (s Side) lineOf(o order.Order) string {
	for _, a := range s.Case.Access {
		if o.AccessDevice != "" && a.Ref == o.AccessDevice {
			return strings.TrimSpace(lineWords(a) + " " + a.Placed.Literal + " " + o.Lumen)
		}
	}
	return strings.TrimSpace(o.AccessDevice + " " + o.Lumen)
}

// numbers are the settled ones: typed where the sheet was just judged, else
// read back from its JSON, when they are first asked for.
func (v *version) numbers() order.Quantities {
	switch {
	case v.settled != nil || v.sheet == nil:
	case v.sheet.Refs.Numbers != nil:
		v.settled = v.sheet.Refs.Numbers
	default:
		v.settled = numbersOf(*v.sheet)
	}
	return v.settled
}

// refers reports whether a reference names the order.
func refers(ref string, o order.Order) bool {
	return ref != "" && (ref == o.Ref.URL || ref == o.Key || ref == o.Place.Expression)
}

// over: nothing more is to be given by the hospital's word. An order that is
// on hold, or was never meant, is over until somebody says otherwise.
func over(status string) bool {
	switch status {
	case "stopped", "cancelled", "entered-in-error", "on-hold", "completed":
		return true
	}
	return false
}

// empty: nothing is known of the patient on this side.
func (s Side) empty() bool {
	return len(s.Case.Orders) == 0 && len(s.Case.Related) == 0 && s.Case.Patient.Ref == (order.Reference{}) && len(s.Case.Patient.Identifiers) == 0
}
