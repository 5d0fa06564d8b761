package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// locks are the lock orders that stand.
func locks(f Facts) []order.Order {
	var out []order.Order
	for _, r := range f.kase().Related {
		if r.Role == "lock" && !over[r.Status] && !r.DoNotPerform {
			out = append(out, r)
		}
	}
	return append(out, lockedInWords(f)...)
}

// byHand are the locks, and the flushes, which go into the line by hand as well.
func byHand(f Facts) []order.Order { return append(locks(f), flushes(f)...) }

func anyPushed(f Facts) bool { return len(byHand(f)) > 0 }

// isHeparin and isCitrate go by the words of the lock order.
func isHeparin(o order.Order) bool { return drugSays(o, "heparin") }
func isCitrate(o order.Order) bool { return drugSays(o, "citrate") }

func drugSays(o order.Order, word string) bool {
	return strings.Contains(drugText(o), word)
}

func strength(o order.Order, codes ...string) (quantity.Quantity, bool) {
	for _, s := range o.Stated {
		if s.Name != "concentration" {
			continue
		}
		for _, code := range codes {
			if q, err := s.Quantity.In(quantity.MustUnit(code)); err == nil {
				return q, true
			}
		}
	}
	return quantity.Quantity{}, false
}

// newbornDays is how long a patient is a newborn: the first 28 days (World
// Health Organization, from memory).
const newbornDays = 28

// newborn: under the least age of the site's evidence, and never less than 28
// days: a site that has evidence for newborns does not make children of them.
func newborn(f Facts) bool {
	born := f.kase().Patient.BirthDate
	return !born.Absent() && int(f.now().Sub(born.Time).Hours())/24 < max(newbornDays, f.policy().Records.LeastAgeDays)
}

// dialysis: by the kind of the line, or by its words: a tunnelled catheter for
// dialysis is coded as tunnelled.
func dialysis(a order.Access) bool {
	text := strings.ToLower(a.Type.Name() + " " + a.Site)
	for _, k := range a.Type.Codings {
		text += " " + strings.ToLower(k.Display)
	}
	return a.Kind == "dialysis" || strings.Contains(text, "dialysis") || strings.Contains(text, "apheresis") || strings.Contains(text, "pheresis")
}

// dialysisLock: the lock is for a catheter for dialysis or apheresis: the line
// that it names, else the only one in use. Where two lines are in use and none is
// named, the strong lock may reach the other, and counts as if it did.
func dialysisLock(f Facts, l order.Order) bool {
	var use []order.Access
	for _, a := range f.kase().Access {
		if a.Kind == "" || !a.Removed.Absent() {
			continue
		}
		if l.AccessDevice != "" && a.Ref == l.AccessDevice {
			return dialysis(a)
		}
		use = append(use, a)
	}
	return l.AccessDevice == "" && len(use) > 0 && !slices.ContainsFunc(use, func(a order.Access) bool { return !dialysis(a) })
}

// lockLimits are the limits of the table that a lock reaches, for its line and
// this patient; says is its strength in words.
func lockLimits(f Facts, l order.Order) (reached []compendium.LockLimit, says string) {
	line, whom := "other", population(f)
	if dialysisLock(f, l) {
		line = "dialysis"
	}
	if newborn(f) {
		whom = "neonate"
	}
	if q, ok := heparin(l); ok {
		reached, _ = compendium.LocksReached("heparin", line, whom, q)
		says = notation.Code(q.High.Decimal(), "[USP'U]/mL")
	}
	if q, ok := citrate(l); ok {
		more, _ := compendium.LocksReached("citrate", line, whom, q)
		reached = append(reached, more...)
		says = strings.TrimSpace(says + " citrate " + notation.Code(q.High.Decimal(), "%"))
	}
	return reached, says
}

// lockFound is a finding on the first lock that reaches a limit which is of
// the rule.
func lockFound(f Facts, of func(compendium.LockLimit) bool) []finding.Finding {
	for _, l := range byHand(f) {
		reached, says := lockLimits(f, l)
		i := slices.IndexFunc(reached, of)
		if i < 0 {
			continue
		}
		r := reached[i]
		switch r.Population {
		case "neonate":
			says += " for a newborn"
		case "pediatric":
			says += " for a child"
		}
		x := here(l.Place, says, lockExpected(r)+" ("+r.Source+")")
		x[0].Standing = r.Standing
		return x
	}
	return nil
}

func lockExpected(r compendium.LockLimit) string {
	if r.From != "" {
		return "less than " + notation.Code(r.From, r.Unit)
	}
	return "at most " + notation.Code(r.Above, r.Unit)
}

func blocks(r compendium.LockLimit) bool { return r.Gate == "block" }

// lockForbidden: strengths that are no lock at home.
func lockForbidden(f Facts) []finding.Finding {
	for _, l := range byHand(f) {
		if what := deadly(l); what != "" {
			x := here(l.Place, what+" as a "+l.Role+": pushed into a line it can kill", "sodium chloride 0.9 %, or the fluid that the drug's own table names (alerts on concentrated electrolytes and on water, recalled)")
			x[0].Standing = compendium.Memory
			return x
		}
	}
	return lockFound(f, blocks)
}

// strongInDialysis: heparin that is right in a catheter for dialysis alone, where
// it is withdrawn before use.
func strongInDialysis(f Facts) []finding.Finding {
	if len(lockForbidden(f)) > 0 {
		return nil
	}
	out := lockFound(f, func(r compendium.LockLimit) bool { return r.Gate == "hold" && r.Line == "dialysis" })
	for i := range out {
		out[i].Expected = "two people who confirm catheter, strength and volume, and that it is withdrawn before use and never flushed; else " + out[i].Expected
		out[i].Observed += " in a catheter for dialysis or apheresis"
	}
	return out
}

// lockStrength: a child's line is locked with 10 units per mL unless the
// site signed otherwise. What lockForbidden blocks is not held as well.
func lockStrength(f Facts) []finding.Finding {
	if len(lockForbidden(f)) > 0 {
		return nil
	}
	return lockFound(f, func(r compendium.LockLimit) bool {
		return r.Gate == "hold" && r.Line != "dialysis" && r.Solution == "heparin"
	})
}

func heparinLocked(f Facts) bool { return slices.ContainsFunc(byHand(f), isHeparin) }

// HeparinLock: a lock order with heparin is in the document.
func HeparinLock(f Facts) bool { return slices.ContainsFunc(locks(f), isHeparin) }
