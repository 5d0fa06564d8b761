package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/lumen"
	"weir.example/weir/mapping/order"
)

// Line is one order among the infusions that run through the patient's line
// in the same days: what is known of each two, and the day as it was laid
// out. An order that shares its days with no other has neither.
type Line struct {
	Name    string    // of this order's infusion, as in Problem
	Others  []string  // the infusions beside it
	Missing []Fact    // without which the day could not be laid out, or not decided
	Pairs   []Pairing // of this infusion with each of the others
	Problem lumen.Problem
	Result  lumen.Result
	Says    []string
}

// Pairing is what is known of two infusions, and how they are ordered.
type Pairing struct {
	A, B      string
	Meeting   lumen.Meeting
	Row       compendium.Pair // the gravest row that names what is in them; empty: none
	SameLumen bool            // the line has one lumen, or both are ordered for the same
	Together  string          // from when both run, as ordered; "" never, or not known
	Age       string          // why they are contraindicated
}

// lumenRules are the rules that look at all infusions of the line.
func lumenRules() []Rule {
	needs := facts(Order, Timetable)
	return []Rule{
		rule("lumen-incompatible", needs, pairedWith(isIncompatible), incompatible).scoped(Timetable).lackingUnlessFound(lineUnknown),
		rule("lumen-unknown-pair", needs, pairedWith(isUnknown), unknownPair).scoped(Timetable).lackingUnlessFound(lineUnknown),
		rule("lumen-timetable", needs, shared, noTimetable).scoped(Timetable).lackingUnlessFound(lineUnknown),
	}
}

func (f Facts) line() Line { return get[Line](f, Timetable) }

func shared(f Facts) bool { return len(f.line().Others) > 0 }

func lineUnknown(f Facts) []Fact { return f.line().Missing }

func isIncompatible(p Pairing) bool { return p.Row.Verdict == "incompatible" }
func isUnknown(p Pairing) bool      { return p.Meeting == lumen.Unknown }

func pairedWith(of func(Pairing) bool) func(Facts) bool {
	return func(f Facts) bool {
		l := f.line()
		return slices.ContainsFunc(l.Pairs, of) || shared(f) && len(l.Pairs) == 0 // not compared
	}
}

// mustMeet: no day keeps the two apart. The conflict names their pair only
// when the day would be possible without that rule.
func (l Line) mustMeet(p Pairing) bool {
	return l.Result.Outcome == lumen.Impossible && slices.ContainsFunc(l.Result.Conflict.Rules, func(r lumen.Rule) bool {
		return r.Kind == lumen.Together && slices.Contains(r.Of, p.A) && slices.Contains(r.Of, p.B)
	})
}

// incompatible: q1. A pair that may never meet is found when it is never given
// to this patient, when it is ordered to run through one lumen at one time, and when
// no day keeps the two apart. One after the other with a flush is no meeting.
func incompatible(f Facts) []finding.Finding {
	var out []finding.Finding
	l := f.line()
	for _, p := range l.Pairs {
		observed := ""
		switch {
		case !isIncompatible(p):
			continue
		case p.Meeting == lumen.Contraindicated:
			observed = p.A + " and " + p.B + ": " + p.Row.Newborn + "; " + p.Age
		case p.SameLumen && p.Together != "":
			observed = p.A + " and " + p.B + " are ordered through one lumen and run together from " + p.Together + ": " + p.Row.Concerns
		case l.mustMeet(p):
			observed = p.A + " and " + p.B + " have to share a lumen, and no day keeps them apart: " + p.Row.Concerns
		default:
			continue
		}
		expected := "never both in this patient"
		if p.Meeting != lumen.Contraindicated {
			expected = "another lumen"
			if p.Row.Between != "" {
				expected += ", or " + p.Row.Between
			}
		}
		for _, x := range here(f.order().Place, observed+"; source: "+p.Row.Source, expected) {
			x.Standing = p.Row.Standing
			out = append(out, x)
		}
	}
	return out
}

// unknownPair: held only when the two would have to run at the same time.
func unknownPair(f Facts) []finding.Finding {
	var out []finding.Finding
	l := f.line()
	for _, p := range l.Pairs {
		if isUnknown(p) && l.mustMeet(p) {
			out = append(out, here(f.order().Place, "no row of the table names "+p.A+" and "+p.B+", and no day keeps them apart on "+lumens(l),
				"data for the two at the Y-site, or a day on which they do not meet")...)
		}
	}
	return out
}

// noTimetable: q2. The proof is the smallest set of rules that no day meets.
func noTimetable(f Facts) []finding.Finding {
	l := f.line()
	if l.Result.Outcome != lumen.Impossible {
		return nil
	}
	c := l.Result.Conflict
	var rules []string
	for _, r := range c.Rules {
		rules = append(rules, r.Says())
	}
	observed := "no day holds " + words(c.Items) + " on " + lumens(l)
	if len(rules) > 0 {
		observed += ": " + strings.Join(rules, "; ")
	}
	expected := "other times, another lumen or another drug; no single change was found"
	if change := l.Result.Change; change != nil {
		expected = change.Says
		if !change.Smallest {
			expected += " (a smaller change may do)"
		}
	}
	return here(f.order().Place, observed, expected)
}

func lumens(l Line) string {
	var names []string
	for _, x := range l.Problem.Lumens {
		names = append(names, x.Name)
	}
	return words(names)
}

// words joins names: a, b and c.
func words(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// Carries reports whether the drug of an order has a flag of its row, or may
// have it: what nobody can tell counts as yes.
func Carries(f Facts, flag string) bool { return carries(flag)(f) }

// RunsUntilStopped: a rate without an infusion time.
func RunsUntilStopped(o order.Order) bool { return drip(o) }

// NotPlaced is the fact that is missing where no day could be laid out, or
// where it was not decided, in words.
func NotPlaced(words string) Fact { return Fact(string(Timetable) + " (" + words + ")") }

// ThroughLine: the order is one that runs through the vascular line, or may:
// only a route that says otherwise, and an order that is over, are left out.
func ThroughLine(o order.Order) bool {
	word := routeWord(o.Route.Name())
	over := o.DoNotPerform || slices.Contains([]string{"completed", "stopped", "cancelled", "entered-in-error"}, o.Status)
	return !over && word != "subcutaneous" && word != "intramuscular"
}
