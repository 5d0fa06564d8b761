package verification

import (
	"testing"
	"time"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
)

func midline(end string) func(*world) {
	return func(w *world) {
		w.kase.Access[0].Kind = "midline" // placed 6 Nov 12:00
		w.plan.LastDose = time.Time{}
		if end != "" {
			w.plan.LastDose = day(end)
		}
	}
}

func locked(drug, strength, unit string) func(*world) {
	return func(w *world) { w.kase.Related = []order.Order{lock(drug, strength, unit)} }
}

func both(list ...func(*world)) func(*world) {
	return func(w *world) {
		for _, f := range list {
			f(w)
		}
	}
}

func noAccess(w *world) { w.kase.Access = nil }
func subcut(w *world)   { w.kase.Access[0].Kind = "subcutaneous" }

// daysOld makes a newborn of so many days.
func daysOld(n int) func(*world) {
	return func(w *world) { w.kase.Patient.BirthDate = ago(time.Duration(n) * oneDay) }
}

// closing judges the removal plan so long before the end of the course.
func closing(before time.Duration) func(*world) {
	return func(w *world) {
		w.kase.Services = w.kase.Services[:1]
		w.now = w.plan.CourseEnd.Add(-before)
	}
}

// standing takes the lock order away and puts one protocol into force.
func standing(access, population string) func(*world) {
	return func(w *world) {
		w.kase.Related = nil
		w.policy.Lock.StandingProtocol = true
		w.policy.Lock.Protocols = []policy.Protocol{{Access: access, Population: population, Solution: "sodium chloride 0.9 %", Volume: "10 mL", Source: "site protocol 3"}}
	}
}

func heparinProtocol(w *world) {
	w.policy.Lock.Protocols[0].Solution, w.policy.Lock.Protocols[0].Strength = "heparin lock flush", "10 [USP'U]/mL"
}

func allergicTo(substance string) func(*world) {
	return func(w *world) {
		w.kase.Allergies = []order.Allergy{{Active: true, Substance: concept(substance), Place: place("allergy")}}
	}
}

// bornBefore makes somebody of so many years, and days more or less.
func bornBefore(years, days int) func(*world) {
	return func(w *world) {
		birth := w.now.AddDate(-years, 0, -days)
		w.kase.Patient.BirthDate = order.Instant{Time: birth, Literal: birth.Format(time.DateOnly), Place: place("birthDate")}
	}
}

var accessFixtures = []fixture{
	// Row h1: 14 days from 6 Nov 12:00 is 20 Nov 12:00.
	{rule: "access-dwell", name: "no midline", want: NotApplicable},
	{rule: "access-dwell", name: "no line described", want: Indeterminate, missing: Access, change: noAccess},
	{rule: "access-dwell", name: "14 days", want: Pass, change: midline("2026-11-20T12:00Z")},
	{rule: "access-dwell", name: "a minute over 14 days", want: Found, says: "15 days", change: midline("2026-11-20T12:01Z")},
	{rule: "access-dwell", name: "no end is stated", want: Found, says: "no end", change: both(midline(""), func(w *world) { w.order.Course.End = order.Instant{} })},
	{rule: "access-dwell", name: "an end is stated and cannot be placed", want: Indeterminate, missing: CourseEnd, change: midline("")},
	{rule: "access-dwell", name: "nobody says when it was placed", want: Indeterminate, missing: Placed, change: both(midline("2026-11-12T12:00Z"), func(w *world) { w.kase.Access[0].Placed = order.Instant{} })},
	{rule: "access-dwell", name: "a removed midline is no line in use", want: NotApplicable, change: both(midline("2026-12-20T12:00Z"), func(w *world) { w.kase.Access[0].Removed = ago(oneDay) })},
	// Row h2.
	{rule: "access-tip-unconfirmed-other", name: "confirmed", want: Pass},
	{rule: "access-tip-unconfirmed-other", name: "no record", want: Found, change: func(w *world) { w.kase.Access[0].TipConfirmed = false }},
	{rule: "access-tip-unconfirmed-other", name: "the record says otherwise", want: Found, says: "coiled", change: func(w *world) {
		w.kase.Access[0].TipConfirmed, w.kase.Access[0].TipText = false, "tip coiled in the azygos vein"
	}},
	{rule: "access-tip-unconfirmed-other", name: "a midline has no central tip", want: NotApplicable, change: midline("")},
	{rule: "access-tip-unconfirmed-other", name: "no line described", want: NotEffective, missing: Access, at: "release", change: noAccess},
	// Row h4: a signed standing protocol satisfies it.
	{rule: "access-lock-missing", name: "a lock order", want: Pass},
	{rule: "access-lock-missing", name: "none, and no protocol", want: Found, change: func(w *world) { w.kase.Related = nil }},
	{rule: "access-lock-missing", name: "none, and a standing protocol for the line and the patient", want: Pass, change: standing("picc", "adult")},
	{rule: "access-lock-missing", name: "a protocol for everybody", want: Pass, change: standing("picc", "all")},
	{rule: "access-lock-missing", name: "protocols that stand and are not there", want: Found, change: both(standing("picc", "adult"), func(w *world) { w.policy.Lock.Protocols = nil })},
	{rule: "access-lock-missing", name: "a protocol that does not stand", want: Found, change: both(standing("picc", "adult"), func(w *world) { w.policy.Lock.StandingProtocol = false })},
	{rule: "access-lock-missing", name: "a protocol for another line", want: Found, says: "peripherally inserted", change: standing("port", "adult")},
	{rule: "access-lock-missing", name: "a protocol for children, and an adult", want: Found, says: "an adult", change: standing("picc", "child")},
	{rule: "access-lock-missing", name: "a protocol for adults, and a child", want: Found, says: "a child", change: both(standing("picc", "adult"), child)},
	{rule: "access-lock-missing", name: "a protocol for children, and a child", want: Pass, change: both(standing("picc", "child"), child)},
	{rule: "access-lock-missing", name: "the day before the birthday of an adult", want: Found, says: "a child", change: both(standing("picc", "adult"), bornBefore(18, -1))},
	{rule: "access-lock-missing", name: "the birthday of an adult", want: Pass, change: both(standing("picc", "adult"), bornBefore(18, 0))},
	{rule: "access-lock-missing", name: "a protocol for children, and a newborn of 27 days", want: Found, says: "a newborn", change: both(standing("picc", "child"), daysOld(27))},
	{rule: "access-lock-missing", name: "a protocol for children, and 28 days", want: Pass, change: both(standing("picc", "child"), daysOld(28))},
	{rule: "access-lock-missing", name: "a protocol for newborns, and 27 days", want: Pass, change: both(standing("picc", "neonate"), daysOld(27))},
	{rule: "access-lock-missing", name: "evidence from birth on makes no child of a newborn", want: Found, says: "a newborn", change: both(standing("picc", "child"), daysOld(27), func(w *world) { w.policy.Records.LeastAgeDays = 0 })},
	{rule: "access-lock-missing", name: "a protocol for adults, and nobody knows the age", want: Found, says: "unknown age", change: both(standing("picc", "adult"), func(w *world) { w.kase.Patient.BirthDate = order.Instant{} })},
	{rule: "access-lock-missing", name: "a protocol for everybody, and nobody knows the age", want: Pass, change: both(standing("picc", "all"), func(w *world) { w.kase.Patient.BirthDate = order.Instant{} })},
	{rule: "access-lock-missing", name: "a second line in use without a protocol", want: Found, says: "port", change: both(standing("picc", "adult"), func(w *world) {
		w.kase.Access = append(w.kase.Access, order.Access{Kind: "port", Place: place("access[1]")})
	})},
	{rule: "access-lock-missing", name: "a second line that was removed", want: Pass, change: both(standing("picc", "adult"), func(w *world) {
		w.kase.Access = append(w.kase.Access, order.Access{Kind: "port", Removed: ago(oneDay)})
	})},
	{rule: "access-lock-missing", name: "the protocol locks with what the patient is allergic to", want: Found, says: "allergy", change: both(standing("picc", "adult"), heparinProtocol, allergicTo("Heparin sodium"))},
	{rule: "access-lock-missing", name: "the protocol locks with heparin, and an allergy that names nothing", want: Found, says: "allergy", change: both(standing("picc", "adult"), heparinProtocol, allergicTo(""))},
	{rule: "access-lock-missing", name: "the protocol locks with heparin, and an allergy to something else", want: Pass, change: both(standing("picc", "adult"), heparinProtocol, allergicTo("latex"))},
	{rule: "access-lock-missing", name: "an allergy to heparin, and a lock of sodium chloride", want: Pass, change: both(standing("picc", "adult"), allergicTo("heparin"))},
	{rule: "access-lock-missing", name: "a flush is no lock", want: Found, change: func(w *world) { w.kase.Related[0].Role = "flush" }},
	{rule: "access-lock-missing", name: "a needle under the skin is not locked", want: NotApplicable, change: subcut},
	{rule: "access-lock-missing", name: "no line described", want: Indeterminate, missing: Access, change: noAccess},
	// Any child above 10 units per mL is held; an adult is not.
	{rule: "access-lock-strength", name: "adult with 100", want: Pass, change: locked("heparin", "100", "[USP'U]/mL")},
	{rule: "access-lock-strength", name: "child with 10", want: Pass, change: child},
	{rule: "access-lock-strength", name: "child with 11", want: Found, says: "11 units per mL", change: both(child, locked("heparin", "11", "[USP'U]/mL"))},
	{rule: "access-lock-strength", name: "scenario S4: child with 100", want: Found, says: "100 units per mL", change: both(child, locked("heparin", "100", "[iU]/mL"))},
	{rule: "access-lock-strength", name: "child above 100 is blocked by the other rule", want: Pass, change: both(child, locked("heparin", "101", "U/mL"))},
	{rule: "access-lock-forbidden", name: "100 at 27 days, where the site has evidence from birth on", want: Found, says: "newborn", change: both(daysOld(27), locked("heparin", "100", "[USP'U]/mL"), func(w *world) { w.policy.Records.LeastAgeDays = 0 })},
	{rule: "access-lock-strength", name: "99 in a newborn of 27 days", want: Found, change: both(daysOld(27), locked("heparin", "99", "[USP'U]/mL"))},
	{rule: "access-lock-strength", name: "saline has no strength to ask for", want: NotApplicable, change: locked("sodium chloride 0.9 %", "", "")},
	{rule: "access-lock-strength", name: "heparin of unknown strength", want: Indeterminate, missing: Strength, change: both(child, locked("heparin", "", ""))},
	{rule: "access-lock-strength", name: "no birth date", want: Indeterminate, missing: Age, change: func(w *world) { w.kase.Patient.BirthDate = order.Instant{} }},
	// Above 100 units per mL, citrate of 30 % and more, 100 in a newborn.
	{rule: "access-lock-forbidden", name: "100 in an adult", want: Pass, change: locked("heparin", "100", "[USP'U]/mL")},
	{rule: "access-lock-forbidden", name: "101 in an adult", want: Found, says: "101 units per mL", change: locked("heparin", "101", "[USP'U]/mL")},
	{rule: "access-lock-forbidden", name: "10,000 in an adult", want: Found, says: "10,000 units per mL", change: locked("heparin sodium", "10000", "[USP'U]/mL")},
	{rule: "access-lock-forbidden", name: "10,000 is blocked though no line is described", want: Found, change: both(noAccess, locked("heparin", "10000", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden", name: "heparin named only as an ingredient", want: Found, change: both(locked("lock solution", "1000", "[USP'U]/mL"), func(w *world) {
		w.kase.Related[0].Drug.Ingredients = []order.Ingredient{{Concept: concept("heparin sodium")}}
	})},
	{rule: "access-lock-forbidden", name: "a second lock that is forbidden outweighs one that cannot be read", want: Found, change: func(w *world) {
		w.kase.Related = []order.Order{lock("heparin", "", ""), lock("heparin", "1000", "[USP'U]/mL")}
	}},
	{rule: "access-lock-forbidden", name: "100 in a newborn of 27 days", want: Found, says: "newborn", change: both(daysOld(27), locked("heparin", "100", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden", name: "99 in a newborn is held by the other rule", want: Pass, change: both(daysOld(27), locked("heparin", "99", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden", name: "100 at 28 days is held by the other rule", want: Pass, change: both(daysOld(28), locked("heparin", "100", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden", name: "citrate 29.9 %", want: Pass, change: locked("sodium citrate", "0.299", "g/mL")},
	{rule: "access-lock-forbidden", name: "citrate 30 %", want: Found, says: "citrate 30", change: locked("sodium citrate", "300", "mg/mL")},
	{rule: "access-lock-forbidden", name: "citrate of unknown strength", want: Indeterminate, missing: Strength, change: locked("sodium citrate", "", "")},
	{rule: "access-lock-forbidden", name: "no lock", want: NotApplicable, change: func(w *world) { w.kase.Related = nil }},
	// Row h9: gates from the end of the course less three days.
	{rule: "access-removal-plan", name: "a plan", want: Pass, change: both(closing(oneDay), func(w *world) { w.kase.Services = base().kase.Services })},
	{rule: "access-removal-plan", name: "three days before the end", want: Found, change: closing(3 * oneDay)},
	{rule: "access-removal-plan", name: "a minute earlier it is a task", want: NotEffective, says: "no order to remove", change: closing(3*oneDay + time.Minute)},
	{rule: "access-removal-plan", name: "before the stage it is a task", want: NotEffective, at: "start", says: "no order to remove", change: closing(oneDay)},
	{rule: "access-removal-plan", name: "no end known: still a task", want: NotEffective, says: "no order to remove", change: both(closing(oneDay), func(w *world) { w.plan.CourseEnd = time.Time{} })},
	{rule: "access-removal-plan", name: "a needle under the skin", want: NotApplicable, change: subcut},
}

func TestAccessRules(t *testing.T) { judged(t, accessFixtures) }
