package verification

import (
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/plan"
)

// making is how a lot was made, as far as anything tells: its own record, and
// for what that leaves open the site's way. Empty is not known.
type making struct{ category, method, components, tested string }

func madeAs(f Facts, lot plan.Prepared) making {
	own := f.policy().Sterility
	m := making{category: own.Category, method: own.Method, components: own.Components}
	if own.Category != "" {
		m.tested = map[bool]string{true: "yes", false: "no"}[own.Tested]
	}
	for i, b := range recordsOf(f, lot) {
		switch {
		case b.Category != "" && (i == 0 || m.category == b.Category):
			m.category = b.Category
		case i > 0 && b.Category != m.category:
			m.category = "" // which of the two records it is cannot be told
		}
	}
	return m
}

// may: the row can be the one in which it was made. Nothing that is kept in
// stock is made for immediate use unless its record says so.
func (m making) may(r compendium.Sterility) bool {
	same := func(have, want string) bool { return have == "" || want == "any" || want == have }
	if m.category == "" && r.Category == "immediate-use" {
		return false
	}
	return same(m.category, r.Category) && same(m.method, r.Method) && same(m.components, r.Components) && same(m.tested, r.Tested)
}

// allowance is the least and the most that the rows allow which can be meant.
type allowance struct {
	least, most time.Duration
	figure      compendium.Figure // of the most
	ok          bool
}

func bounded(m making, storage string) (b allowance) {
	for _, r := range compendium.SterilityLimits() {
		figure, has := r.Values.One(storage, "")
		q, number := figure.Quantity()
		if !m.may(r) || !has || !number {
			continue
		}
		low, _ := q.Base()
		seconds, whole := low.Floor()
		if !whole {
			continue
		}
		lasts := time.Duration(seconds) * time.Second
		if !b.ok || lasts > b.most {
			b.most, b.figure = lasts, figure
		}
		if !b.ok || lasts < b.least {
			b.least = lasts
		}
		b.ok = true
	}
	return b
}

// heldTo is the category limit of a lot: that of the plan, which knows the
// row, else what the rows allow that can be meant.
func heldTo(f Facts, d dated) (b allowance) {
	if l, ok := limitOf(d.use, plan.OfSterility); ok && !l.Until.IsZero() {
		lasts := l.Until.Sub(d.use.Made) // on a night when the clocks change the earlier of two readings
		return allowance{lasts, lasts, compendium.Figure{Source: l.Source, Standing: l.Standing}, true}
	}
	return bounded(madeAs(f, d.lot), d.use.Storage)
}

// compounded: made from parts in the pharmacy. What is only thawed is not.
func compounded(u plan.Use) bool { return u.Kind != compendium.Premix }

// neverKept: no way of making in this category is kept so (Category 1, frozen).
func neverKept(f Facts, d dated) (category string, yes bool) {
	category = madeAs(f, d.lot).category
	return category, category != "" && !bounded(making{category: category}, d.use.Storage).ok
}

// categoryLimit: row f2. What is dated is held to the limit of the category
// in which it was made; where the record leaves the row open, to the longest
// that can be meant. What is still to be made is held to what its delivery
// asks for.
func categoryLimit(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, d := range datedLots(f) {
		if !d.told() || !compounded(d.use) {
			continue
		}
		category, no := neverKept(f, d)
		b := heldTo(f, d)
		var x []finding.Finding
		switch {
		case no:
			x = here(d.place, d.shown(), "no such storage: the table of sterility limits has none for category "+category)
		case b.ok && b.most < d.lasts():
			expected := "at most " + notation.Duration(b.most)
			if category := madeAs(f, d.lot).category; category != "" {
				expected += " in sterility category " + category
			} else {
				expected += " in any sterility category"
			}
			x = here(d.place, d.shown(), expected+" ("+b.figure.Source+")")
			x[0].Standing, x[0].AtMost = b.figure.Standing, weakly(b.figure.Standing)
		}
		out = append(out, x...)
	}
	for _, d := range unmadeUnits(f) {
		l, ok := limitOf(d.Use, plan.OfSterility)
		if ok && !l.Until.IsZero() && compounded(d.Use) && asksFor(d) > l.Lasts {
			x := tooFar(f, d, l, " in the site's sterility category")
			x[0].Standing, x[0].AtMost = l.Standing, weakly(l.Standing)
			out = append(out, x...)
		}
	}
	return out
}

// weakly: a number seen in one weak source is looked up in the chapter before
// it blocks.
func weakly(standing string) finding.Gate {
	if standing == compendium.Corroborated {
		return finding.Hold
	}
	return finding.NoGate
}

// categoryUnknown: what leaves it open whether the dating is inside the limit.
// How the pharmacy makes its units is the site's to tell, not the hospital's.
func categoryUnknown(f Facts) []Fact {
	out := datingLacks(f)
	for _, d := range datedLots(f) {
		if b := heldTo(f, d); d.told() && compounded(d.use) && (!b.ok || b.least < d.lasts()) {
			out = append(out, SterilityRow)
		}
	}
	for _, d := range unmadeUnits(f) {
		if l, _ := limitOf(d.Use, plan.OfSterility); l.Until.IsZero() && compounded(d.Use) {
			out = append(out, SterilityRow)
		}
	}
	return unique(out)
}
