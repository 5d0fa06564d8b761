package verification

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// count is one blood count that is asked for before an antineoplastic.
type count struct {
	name, says string
	words      []string // how an order names it
	micro      int64    // a limit from here on is written per microlitre, not in thousands
}

var countsAsked = []count{
	{"neutrophils", "neutrophils", []string{"neutrophil", "neutrophils", "anc"}, 100},
	{"platelets", "platelets", []string{"platelet", "platelets", "plt"}, 1000},
}

var (
	thousandPerMicrolitre = quantity.MustUnit("10*3/uL")
	thousand              = quantity.Int(1000)
)

func (c count) limitUnread() Fact {
	return Fact("the order's limit for " + c.says + ", as a number")
}
func (c count) unreadable() Fact { return Fact("unit of the " + c.says) }

// suppresses: an antineoplastic, by its row or by the hazardous list.
func suppresses(f Facts) bool {
	return f.drug().Is("antineoplastic") || f.hazard().Antineoplastic == "yes"
}

// inThousands is a count in thousand per microlitre.
func inThousands(q quantity.Quantity) (quantity.Number, bool) {
	in, err := q.In(thousandPerMicrolitre)
	return in.Middle(), err == nil
}

// newestCount is the newest result of a count.
func newestCount(f Facts, c count) (order.Measurement, bool) {
	for _, m := range f.kase().Measurements {
		if m.Name == c.name {
			return m, true
		}
	}
	return order.Measurement{}, false
}

// comparing are the words between a count and its limit.
var comparing = []string{"<", ">", "=", "at", "least", "above", "below", "under", "over", "than", "less", "more", "greater", "minimum", "is", "of", "to", "or", "equal", "not", "count", "be"}

// tokensOf are the words of a text, with each comparison apart.
func tokensOf(text string) []string {
	text = strings.NewReplacer("≥", " > ", "≤", " < ", "<", " < ", ">", " > ", "=", " = ", ";", " ", "(", " ", ")", " ").Replace(strings.ToLower(text))
	list := strings.Fields(text)
	for i := range list {
		list[i] = strings.Trim(list[i], ".,:")
	}
	return list
}

// leadingNumber reads "1.5", "1,500/uL" and "100k".
func leadingNumber(token string) (quantity.Number, bool) {
	digits := strings.ReplaceAll(token, ",", "")
	if end := strings.IndexFunc(digits, func(r rune) bool { return (r < '0' || '9' < r) && r != '.' }); end >= 0 {
		digits = digits[:end]
	}
	n, err := quantity.ParseNumber(digits)
	return n, err == nil
}

// deciding are words of a line that make a bare number beside a count its limit.
// Without one of them, and without a comparison, it is a result.
var deciding = []string{"if", "unless", "when", "hold", "limit", "limits", "threshold", "minimum", "min", "parameter", "parameters", "require", "requires", "required", "must", "need", "needs", "goal"}

// bounding are words that compare a count with its limit. "Is" and "=" do not.
var bounding = []string{"<", ">", "least", "above", "below", "under", "over", "less", "more", "greater", "higher", "minimum"}

// ownLimit is the limit for a count in the words of the order, in thousand
// per microlitre: the number beside the name with a comparison before or
// after it; without any, the one in a line that decides. Named and no such
// number: named is true and ok is not. A result in words is not named.
func (c count) ownLimit(o order.Order) (n quantity.Number, named, ok bool) {
	var bare quantity.Number
	for _, l := range o.Lines {
		tokens := tokensOf(l.Words)
		decides := slices.ContainsFunc(tokens, func(t string) bool { return slices.Contains(deciding, t) })
		for i, t := range tokens {
			if !slices.Contains(c.words, t) {
				continue
			}
			next := i + 1
			for next < len(tokens) && slices.Contains(comparing, tokens[next]) {
				next++
			}
			if next == len(tokens) {
				named = true
				continue
			}
			v, number := leadingNumber(tokens[next])
			if !number {
				named = true
				continue
			}
			if !v.Less(quantity.Int(c.micro)) {
				v = v.Quo(thousand)
			}
			after := tokens[next+1 : min(next+4, len(tokens))]
			if end := slices.IndexFunc(after, func(t string) bool {
				return slices.ContainsFunc(countsAsked, func(x count) bool { return slices.Contains(x.words, t) })
			}); end >= 0 {
				after = after[:end]
			}
			switch bounds := func(t string) bool { return slices.Contains(bounding, t) }; {
			case slices.ContainsFunc(tokens[i+1:next], bounds) || slices.ContainsFunc(after, bounds):
				return v, true, true
			case decides && bare.Sign() == 0:
				bare = v
			}
		}
	}
	if bare.Sign() > 0 {
		return bare, true, true
	}
	return n, named, false
}

// least is the limit that counts: the order's own, else the site's.
func (c count) least(f Facts) (n quantity.Number, source string) {
	if own, _, ok := c.ownLimit(f.order()); ok {
		return own, "the order's own limit"
	}
	if c.name == "neutrophils" {
		return f.policy().Care.NeutrophilsLeast.Number, "site policy; the order states none"
	}
	return f.policy().Care.PlateletsLeast.Number, "site policy; the order states none"
}

// nextDose is when the counts have to be of use: at the next dose, and of an
// infusion that already runs without a pause at its start.
func nextDose(f Facts) time.Time {
	first := f.plan().FirstHomeDose
	if first.After(f.now()) || !first.IsZero() && unbroken(f) {
		return first
	}
	for _, dose := range f.plan().HomeDoses {
		if dose.After(f.now()) {
			return dose
		}
	}
	return f.now()
}

// unbroken: one bag follows the other, or there is one run only. A run of two
// days every two weeks has its own counts each time.
func unbroken(f Facts) bool {
	run, ok := f.quantities()["duration"]
	if !ok || !IsContinuous(f.order(), f.quantities()) {
		return false
	}
	every, repeats := f.quantities()["interval"]
	return !repeats || !run.Unit.ToBase(run.Value).Less(every.Unit.ToBase(every.Value))
}

// labThreshold: each count is there, not older than the site allows at the
// next dose, and not below the limit.
func labThreshold(f Facts) []finding.Finding {
	var out []finding.Finding
	days := f.policy().Care.CountsDays
	for _, c := range countsAsked {
		least, source := c.least(f)
		say := func(n quantity.Number) string { return notation.Quantity(n, thousandPerMicrolitre) }
		m, found := newestCount(f, c)
		n, readable := inThousands(m.Quantity)
		switch {
		case !found:
			out = append(out, here(f.order().Place, "no "+c.says+" on record", c.says+" of at least "+say(least)+" ("+source+"), not older than "+notation.Duration(time.Duration(days)*24*time.Hour)+" at the start")...)
		case tooOld(m.At, nextDose(f), days):
			observed := c.says + " without a date"
			if !m.At.Absent() {
				observed = c.says + " of " + notation.Date(m.At.Time) + " for a dose on " + notation.Date(nextDose(f))
			}
			out = append(out, here(m.Place, observed, "not older than "+notation.Duration(time.Duration(days)*24*time.Hour)+" at the start")...)
		case readable && n.Less(least):
			x := here(m.Place, c.says+" "+say(n), "at least "+say(least)+" ("+source+")")
			if f.order().Place.Expression != "" {
				x[0].Evidence = []string{f.order().Place.Expression}
			}
			out = append(out, x...)
		}
	}
	return out
}

// tooOld: more whole days than allowed lie between a result and the dose. A
// date alone counts from the end of its day.
func tooOld(at order.Instant, dose time.Time, days int) bool {
	if at.Absent() {
		return true
	}
	taken := at.Time
	if at.DateOnly {
		taken = taken.AddDate(0, 0, 1)
	}
	return dose.Sub(taken) > time.Duration(days)*24*time.Hour
}

// thresholdUnknown: the order names a count without a number that can be
// read, or a result is in a unit that is no count.
func thresholdUnknown(f Facts) []Fact {
	var out []Fact
	for _, c := range countsAsked {
		if _, named, ok := c.ownLimit(f.order()); named && !ok {
			out = append(out, c.limitUnread())
		}
		if m, found := newestCount(f, c); found {
			if _, ok := inThousands(m.Quantity); !ok {
				out = append(out, c.unreadable())
			}
		}
	}
	return out
}
