package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// past is one limit beyond which the order goes.
type past struct {
	limit
	reach Reach
	way   way
	at    quantity.Number // the limit that counts, in the unit of the way
	band  compendium.Band // the same as the table or the site writes it
	of    Facts           // the order, or the potassium in it
}

// compared sets one limit against every way of the order. reads is the number
// of a band in the unit of a way; beyond tells on which side of it the order
// lies. Ok is false when no way can be compared with the limit.
func compared(f Facts, x limit, ways []way, reads func(compendium.Band, way) (quantity.Number, bool), beyond func(limit, have quantity.Number) bool) (out past, ok bool) {
	out.limit = x
	for _, w := range ways {
		own, readable := reads(x.Value.Band, w)
		if !readable {
			continue
		}
		ok = true
		read := func(b compendium.Band) (quantity.Number, bool) {
			if b == x.Value.Band {
				return own, true
			}
			return reads(b, w)
		}
		reach, by := Reached(x.Fact, x.Value.Band, f.now(), func(b compendium.Band) bool {
			at, readable := read(b)
			return readable && beyond(at, w.worst)
		})
		at, _ := read(by)
		if reach > out.reach || reach == out.reach && reach > Within && farther(w, at, out, beyond) {
			out.reach, out.way, out.at, out.band = reach, w, at, by
		}
	}
	return out, ok
}

// farther: the way goes farther beyond its limit than the one before.
func farther(w way, at quantity.Number, before past, beyond func(limit, have quantity.Number) bool) bool {
	if at.Sign() <= 0 || before.at.Sign() <= 0 {
		return false
	}
	return beyond(before.way.worst.Quo(before.at), w.worst.Quo(at))
}

// gate is the one the finding will have, by the fact it rests on; recalled
// numbers count as unsigned.
func (p past) gate(rule finding.Gate) finding.Gate {
	g := rule
	if own := finding.Gate(p.Gate); own != finding.NoGate && own.Weight() < g.Weight() {
		g = own
	}
	switch {
	case p.reach == Between && g == finding.Block, g == finding.Block && p.Standing == compendium.Memory:
		return finding.Hold
	case p.reach == Between && g == finding.Hold:
		return finding.Warn
	}
	return g
}

// gravest is the limit whose finding has the strictest gate; among those the
// one that goes farthest. The least limit alone could be one that only holds,
// with a laxer one beyond which nobody may go.
func gravest(rule finding.Gate, list []past) (past, bool) {
	best, found := past{}, false
	for _, p := range list {
		if p.reach == Within {
			continue
		}
		more := p.gate(rule).Weight() - best.gate(rule).Weight()
		if !found || more > 0 || more == 0 && (best.Gate != "" && p.Gate == "" || best.Gate == p.Gate && p.reach > best.reach) {
			best, found = p, true
		}
	}
	return best, found
}

// shownIn is the unit a person compares in: that of the limit where the number
// of the order is of the same kind, of potassium in millimoles, else its own.
func (p past) shownIn() quantity.Unit {
	for _, code := range []string{p.band.Unit, strings.Replace(p.band.Unit, "meq", "mmol", 1)} {
		if unit, err := quantity.ParseUnit(code); err == nil && unit.Dimension() == p.way.unit.Dimension() {
			return unit
		}
	}
	return p.way.unit
}

// finding says what the order has, and what the limit allows; a limit by the
// size of the body also as it is for this one.
func (p past) finding(least string) []finding.Finding {
	unit, w := p.shownIn(), p.way
	w.worst, w.unit = unit.FromBase(w.unit.ToBase(w.worst)), unit
	observed := w.shown()
	if p.of.drug().Name == potassiumRow {
		observed = "potassium: " + observed
	}
	expected := least + " " + notation.Code(bandNumber(p.band, least), p.band.Unit)
	if unit.Code() != p.band.Unit {
		expected += ", here " + notation.About(unit.FromBase(p.way.unit.ToBase(p.at)), unit, 4)
		if bySize(p.band.Unit) && !bySize(unit.Code()) { // multiplied by the size of this body
			expected += " with " + percent(p.of.policy().Dose.BasisWarn.Number) + " for rounding"
		}
	}
	x := here(p.way.place, observed, expected+p.says())
	x[0].Standing, x[0].AtMost = p.Standing, finding.Gate(p.Gate)
	if p.reach == Between {
		x[0].Detail = LoosenedDetail
	}
	return x
}

const (
	atMost  = "at most"
	atLeast = "at least"
)

// bandNumber is the end of a band that limits.
func bandNumber(b compendium.Band, least string) string {
	switch {
	case b.Value != "":
		return b.Value.String()
	case least == atLeast:
		return b.Low.String()
	}
	return b.High.String()
}

// asks are the facts a limit hangs on, in the words a person is asked by.
func (l limit) asks() []Fact {
	out := slices.Clone(l.hangsOn())
	for i, x := range out {
		switch x {
		case regimen("method"):
			out[i] = Method
		case regimen("tip of the line"):
			out[i] = Tip
		case regimen("route"):
			out[i] = Route
		}
	}
	return out
}

// uncompared is what a rule about limits could not check: none in the table,
// one that no number of the order can be compared with, one beyond which the
// order goes and of which nobody can tell whether it holds, and for a child
// the lack of a limit of its own.
func uncompared(yes, unsure []limit, compare func(limit) (past, bool), lacks func(limit) Fact, own func(compendium.Fact) bool) []Fact {
	if len(yes)+len(unsure) == 0 {
		return []Fact{TableLimit}
	}
	var out []Fact
	applied, hasOwn := false, false
	for _, x := range yes {
		if _, ok := compare(x); !ok {
			out = append(out, lacks(x))
		} else if x.Gates {
			applied, hasOwn = true, hasOwn || own(x.Fact)
		}
	}
	for _, x := range unsure {
		switch p, ok := compare(x); {
		case !ok:
			out = append(out, lacks(x))
		case p.reach > Within:
			out = append(out, x.asks()...)
		}
	}
	if !applied || !hasOwn {
		out = append(out, TableLimit)
	}
	return unique(out)
}

// ownOf: the limit is one of this population. Minutes and strengths do not
// hang on the size of the body, so what holds for all holds for a child.
func ownOf(f Facts) func(compendium.Fact) bool {
	own := population(f)
	return func(x compendium.Fact) bool {
		return own == "adult" || x.Population == own || x.Population == "all"
	}
}
