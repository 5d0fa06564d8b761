package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

func locks(f Facts) []order.Order {
	var out []order.Order
	for _, r := range f.kase().Related {
		if r.Role == "lock" {
			out = append(out, r)
		}
	}
	return out
}

func anyLock(f Facts) bool { return len(locks(f)) > 0 }

// isHeparin and isCitrate go by the words of the lock order.
func isHeparin(o order.Order) bool { return drugSays(o, "heparin") }
func isCitrate(o order.Order) bool { return drugSays(o, "citrate") }

func drugSays(o order.Order, word string) bool {
	text := o.Drug.Name + " " + o.Drug.Concept.Name()
	for _, i := range o.Drug.Ingredients {
		text += " " + i.Concept.Name()
	}
	return strings.Contains(strings.ToLower(text), word)
}

// heparin is the strength of a heparin lock in units per mL, whichever unit
// system wrote it.
func heparin(o order.Order) (quantity.Number, bool) {
	if !isHeparin(o) {
		return quantity.Number{}, false
	}
	return strength(o, "[USP'U]/mL", "[iU]/mL", "U/mL")
}

// citrate is the strength of a citrate lock in g per mL: 4 % is 0.04.
func citrate(o order.Order) (quantity.Number, bool) {
	if !isCitrate(o) {
		return quantity.Number{}, false
	}
	return strength(o, "g/mL")
}

func strength(o order.Order, codes ...string) (quantity.Number, bool) {
	for _, s := range o.Stated {
		if s.Name != "concentration" {
			continue
		}
		for _, code := range codes {
			if q, err := s.Quantity.In(quantity.MustUnit(code)); err == nil {
				return q.High, true
			}
		}
	}
	return quantity.Number{}, false
}

// lockUnread: a heparin or citrate lock whose strength nobody can read is not
// a weak one. A lock that can be read and is found speaks first.
func lockUnread(f Facts) []Fact {
	if len(lockForbidden(f)) > 0 {
		return nil
	}
	for _, l := range locks(f) {
		_, heparinRead := heparin(l)
		_, citrateRead := citrate(l)
		if isHeparin(l) && !heparinRead || isCitrate(l) && !citrateRead {
			return []Fact{Strength}
		}
	}
	return nil
}

// Strengths of the lock rules: 100 units per mL is the most for an adult at
// home, 10 the usual for a child (the label advises against 100 in infants);
// citrate of 46.7 % has killed, 30 % and more is never a lock.
var (
	adultLock, childLock = quantity.Int(100), quantity.Int(10)
	deadlyCitrate        = quantity.MustNumber("0.3")
)

// newbornDays is how long a patient is a newborn: the first 28 days (World
// Health Organization, from memory).
const newbornDays = 28

// newborn: under the least age of the site's evidence, and never less than 28
// days: a site that has evidence for newborns does not make children of them.
func newborn(f Facts) bool {
	born := f.kase().Patient.BirthDate
	return !born.Absent() && int(f.now().Sub(born.Time).Hours())/24 < max(newbornDays, f.policy().Records.LeastAgeDays)
}

func lockForbidden(f Facts) []finding.Finding {
	units := func(n quantity.Number) string { return notation.Code(n.Decimal(), "[USP'U]/mL") }
	for _, l := range locks(f) {
		if n, ok := heparin(l); ok {
			switch {
			case adultLock.Less(n):
				return here(l.Place, units(n), "at most "+units(adultLock)+" in a home lock")
			case newborn(f) && !n.Less(adultLock):
				return here(l.Place, units(n)+" for a newborn", units(childLock)+" at most, or saline")
			}
		}
		if n, ok := citrate(l); ok && !n.Less(deadlyCitrate) {
			return here(l.Place, "citrate "+notation.Code(n.Mul(quantity.Int(100)).Decimal(), "%"), "citrate of at most "+notation.Code("4", "%"))
		}
	}
	return nil
}

// lockStrength: a child's line is locked with 10 units per mL unless the
// site signed otherwise. What lockForbidden blocks is not held as well.
func lockStrength(f Facts) []finding.Finding {
	if population(f) == "adult" || len(lockForbidden(f)) > 0 {
		return nil
	}
	for _, l := range locks(f) {
		if n, ok := heparin(l); ok && childLock.Less(n) {
			return here(l.Place, notation.Code(n.Decimal(), "[USP'U]/mL")+" for a child", notation.Code(childLock.Decimal(), "[USP'U]/mL")+", or the prescriber's reason")
		}
	}
	return nil
}

func heparinLocked(f Facts) bool { return slices.ContainsFunc(locks(f), isHeparin) }

// HeparinLock: a lock order with heparin is in the document.
func HeparinLock(f Facts) bool { return heparinLocked(f) }
