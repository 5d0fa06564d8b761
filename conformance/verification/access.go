package verification

import (
	"fmt"
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// line is the access device in use: the newest not removed.
func line(f Facts) (order.Access, bool) {
	for _, a := range f.kase().Access {
		if a.Kind != "" && a.Removed.Absent() {
			return a, true
		}
	}
	return order.Access{}, false
}

var centralKinds = map[string]bool{"picc": true, "tunnelled": true, "non-tunnelled": true, "port": true}

func central(f Facts) bool {
	a, ok := line(f)
	return ok && centralKinds[a.Kind]
}

func hasLine(f Facts) bool {
	a, ok := line(f)
	return ok && a.Kind != "subcutaneous"
}

func locks(f Facts) []order.Order {
	var out []order.Order
	for _, r := range f.kase().Related {
		if r.Role == "lock" {
			out = append(out, r)
		}
	}
	return out
}

func lockMissing(f Facts) []finding.Finding {
	if len(locks(f)) > 0 || f.policy().Lock.StandingProtocol {
		return nil
	}
	a, _ := line(f)
	return here(a.Place, "no lock order in the document and no signed standing protocol in the site policy",
		"a lock order (solution, strength, volume), or a signed standing protocol")
}

// tooStrong: heparin above 100 units per mL in a lock.
func lockForbidden(f Facts) []finding.Finding {
	for _, l := range locks(f) {
		strength, ok := heparin(l)
		if ok && quantity.Int(100).Less(strength) {
			return here(l.Place, notation.Code(strength.Decimal(), "[USP'U]/mL"), "at most "+notation.Code("100", "[USP'U]/mL")+" in a home lock")
		}
	}
	return nil
}

// lockStrength: a child's line is locked with 10 units per mL unless the
// site signed otherwise.
func lockStrength(f Facts) []finding.Finding {
	if f.years() < 0 || f.years() >= f.policy().Records.AdultYears {
		return nil
	}
	for _, l := range locks(f) {
		strength, ok := heparin(l)
		if ok && quantity.Int(10).Less(strength) && !quantity.Int(100).Less(strength) {
			return here(l.Place, notation.Code(strength.Decimal(), "[USP'U]/mL")+" for a child", notation.Code("10", "[USP'U]/mL")+", or the prescriber's reason")
		}
	}
	return nil
}

// heparin is the strength of a heparin lock in units per mL, whichever unit
// system wrote it.
func heparin(o order.Order) (quantity.Number, bool) {
	if !strings.Contains(strings.ToLower(o.Drug.Name+" "+o.Drug.Concept.Name()), "heparin") {
		return quantity.Number{}, false
	}
	for _, s := range o.Stated {
		if s.Name != "concentration" {
			continue
		}
		for _, code := range []string{"[USP'U]/mL", "[iU]/mL", "U/mL"} {
			if q, err := s.Quantity.In(quantity.MustUnit(code)); err == nil {
				return q.High, true
			}
		}
	}
	return quantity.Number{}, false
}

func tipUnconfirmed(f Facts) []finding.Finding {
	a, _ := line(f)
	if a.TipConfirmed {
		return nil
	}
	observed := "no record that the tip position is confirmed"
	if a.TipText != "" {
		observed = a.TipText
	}
	return here(a.Place, observed, "a confirmed tip position dated on or after the last move of the line")
}

// longestMidline is 14 days: the published guidance for choosing a midline.
const longestMidline = 14

func dwell(f Facts) []finding.Finding {
	a, _ := line(f)
	if a.Placed.Absent() {
		return nil
	}
	limit := a.Placed.Time.AddDate(0, 0, longestMidline)
	end := f.plan().LastDose
	switch {
	case !end.IsZero() && !end.After(limit):
		return nil
	case end.IsZero():
		return here(a.Place, "a midline placed "+notation.Date(a.Placed.Time)+", and no end of the course is known", "an end before "+notation.Date(limit)+" (14 days), or a reason to keep it")
	}
	days := int(end.Sub(a.Placed.Time).Hours()) / 24
	return here(a.Place, fmt.Sprintf("the midline would be in place %d days at the last dose", days), "at most 14 days, or a reason to keep it")
}

func isMidline(f Facts) bool {
	a, ok := line(f)
	return ok && a.Kind == "midline"
}

func placedUnknown(f Facts) []Fact {
	if a, _ := line(f); a.Placed.Absent() {
		return []Fact{Access}
	}
	return nil
}

// removalPlan gates at close from three days before the end; before that it
// is a task.
func removalPlan(f Facts) []finding.Finding {
	for _, s := range f.kase().Services {
		if s.Kind == "access-plan" {
			return nil
		}
	}
	a, _ := line(f)
	return here(a.Place, "no order to remove or to keep the line after the last dose", "an order to remove it, or to maintain it")
}

// farFromEnd: the plan gates only once the end of the course is near.
func farFromEnd(f Facts) bool {
	end := f.plan().CourseEnd
	return end.IsZero() || f.now().Before(end.AddDate(0, 0, -f.policy().Access.PlanGateDays))
}

// HeparinLock: a lock order with heparin is in the document.
func HeparinLock(f Facts) bool {
	for _, l := range locks(f) {
		if _, ok := heparin(l); ok {
			return true
		}
	}
	return false
}
