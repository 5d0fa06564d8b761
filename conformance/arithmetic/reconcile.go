package arithmetic

import (
	"slices"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// Kind says which rule owns a conflict.
type Kind string

// The kinds of conflict.
const (
	Products   Kind = "products"   // numbers of the infusion disagree: dose-arithmetic
	Basis      Kind = "basis"      // only dose against dose per kg or m²: dose-basis
	Statements Kind = "statements" // two statements of one number: record-text-contradicts or record-sources-disagree
)

// Conflict is one disagreement with its explanations, best first.
type Conflict struct {
	Kind     Kind
	Gap      quantity.Number // how far the worst relation misses 1, beyond all precision
	Ratio    quantity.Number // worst relation with the numbers exactly as written; 1 would agree
	Formula  string          // the shortest failed relation, in words
	Shown    string          // the same with the numbers filled in
	Places   []finding.Place // of every statement in the failed relations
	Names    []string        // of the quantities in the failed relations
	Culprits []finding.Culprit
	Readings []finding.Culprit // other meanings of a field that close every relation: a question, not a fault
	AtLeast  bool              // no single number explains it: at least two are wrong
	untold   *untold
}

// untold is what Describe writes a conflict's words from: most of the work,
// and nobody reads them of an order that did not change.
type untold struct {
	list  []claim
	shown check
	found []explanation
}

func (c *Conflict) describe() {
	if c.untold == nil {
		return
	}
	c.Formula, c.Shown = c.untold.shown.words(c.untold.list)
	for i, e := range c.untold.found {
		c.Culprits[i] = e.describe(c.untold.list, c.Culprits[i])
	}
	c.untold = nil
}

// Unchecked is a stated number that no relation reaches, with the one extra
// number that would make it checkable ("" when no single one would).
type Unchecked struct {
	Name  string
	Extra string
	Place finding.Place
}

// Differing is two statements of one quantity that cannot both be true.
type Differing struct{ One, Other order.Stated }

// Agreement is the whole answer about the numbers of one order.
type Agreement struct {
	Quantities order.Quantities
	Conflicts  []Conflict
	Unchecked  []Unchecked
	Differing  []Differing // statements of one number that differ beyond their precision
	Relations  int         // relations that could be checked
	TooMany    bool        // more statements than are compared: nothing was checked, and the order must not pass
	usable     []claim
	rels       []relation
}

// Reconcile checks every relation between the stated numbers, explains what
// fails and works out what nobody stated. The order of the statements, and
// stating a consistent number twice, never changes the answer.
func Reconcile(stated []order.Stated, u Usual) Agreement {
	if len(stated) > mostStatements {
		return Agreement{TooMany: true, Quantities: order.Quantities{}}
	}
	list := claims(stated)
	if len(list) > mostClaims {
		return Agreement{TooMany: true, Quantities: order.Quantities{}}
	}
	rels := relationsFor(u)
	rounding := slackOf(list, u)
	all := checks(list, rels, rounding)
	a := Agreement{Relations: len(all)}
	for _, c := range all {
		if c.isPair() && c.gap.Sign() > 0 {
			a.Differing = append(a.Differing, Differing{*list[c.claims[0]].first(), *list[c.claims[1]].first()})
		}
	}
	failed := violated(all)
	if len(failed) > 0 {
		a.Conflicts = append(a.Conflicts, conflict(list, all, failed, u, rounding))
	}
	a.Quantities, a.usable = settle(list, rels, rounding, a.Conflicts, u)
	a.rels = rels
	a.Unchecked = unchecked(list, rels, all)
	return a
}

func conflict(list []claim, all, failed []check, u Usual, rounding slack) Conflict {
	c := Conflict{Kind: Statements}
	basis := true
	worst := failed[0]
	for _, f := range failed {
		if worst.gap.Less(f.gap) {
			worst = f
		}
		switch {
		case !f.isPair():
			c.Kind = Products
			basis = basis && f.isBasis()
		case f.isSum(list):
			c.Kind, basis = Products, false
		}
	}
	if c.Kind == Products && basis {
		c.Kind = Basis
	}
	if c.Kind == Basis {
		for _, f := range failed { // the plain one: dose against dose per size × size
			if f.relation.mask&(1<<dose) != 0 && len(f.claims) == 3 {
				worst = f
			}
		}
	}
	c.Gap, c.Ratio = worst.gap, worst.asWritten(list)
	var set uint64
	for _, f := range failed {
		set |= f.set
	}
	c.Names, c.Places = make([]string, 0, len(list)), make([]finding.Place, 0, len(list))
	for i := range list {
		k := &list[i]
		if set&(1<<i) == 0 {
			continue
		}
		if !slices.Contains(c.Names, Names[k.at]) {
			c.Names = append(c.Names, Names[k.at])
		}
		for j := range k.stated {
			c.Places = append(c.Places, k.stated[j].Place)
		}
	}
	found := explain(list, all, failed, u, rounding)
	shown := worst
	if len(found) > 0 {
		shown = found[0].by
	}
	c.untold = &untold{list, shown, found}
	c.AtLeast = len(found) > 0 && len(found[0].claims) > 1 && !found[0].carried
	named := name(found, list, failed, u)
	for i, e := range found {
		c.Culprits = append(c.Culprits, e.culprit(list, named && i == 0))
	}
	if c.Kind != Statements && excused(found) {
		for _, r := range readings(list, failed, u, rounding) {
			c.Readings = append(c.Readings, r.culprit(list))
		}
	}
	return c
}

func (c check) isPair() bool { return c.relation.powers == (powers{}) }

// isSum: one of the two statements was added up from parts, so it is
// arithmetic that disagrees and not two people.
func (c check) isSum(list []claim) bool {
	return list[c.claims[0]].first().Witness == order.Computed || list[c.claims[1]].first().Witness == order.Computed
}

// isBasis: the relation speaks of dose per kg or m² times size. When only
// such relations fail, dose and container agree and the basis is in doubt.
func (c check) isBasis() bool { return c.relation.sized }

// asWritten is the product with every number exactly as written.
func (c check) asWritten(list []claim) quantity.Number {
	p := quantity.Int(1)
	for _, i := range c.claims {
		if c.power(list, i) > 0 {
			p = p.Mul(list[i].value())
		} else {
			p = p.Quo(list[i].value())
		}
	}
	return p
}

// unchecked lists the stated quantities that stand in no relation whose
// other members are stated.
func unchecked(list []claim, rels []relation, all []check) []Unchecked {
	var mask, reached uint32
	for _, c := range list {
		mask |= 1 << c.at
	}
	for _, c := range all {
		if !c.isPair() {
			reached |= c.relation.mask
		}
	}
	var out []Unchecked
	for _, c := range firstOfEach(list) {
		if reached&(1<<c.at) != 0 || c.at == dosingWeight && c.first().Witness == order.Record || c.first().Witness == order.Computed {
			continue
		}
		u := Unchecked{Name: Names[c.at], Place: c.first().Place}
		for _, r := range rels { // shortest first
			missing := r.mask &^ mask
			if r.powers[c.at] != 0 && missing != 0 && missing&(missing-1) == 0 {
				u.Extra = Names[trailing(missing)]
				break
			}
		}
		out = append(out, u)
	}
	return out
}

func trailing(mask uint32) int {
	n := 0
	for ; mask&1 == 0; mask >>= 1 {
		n++
	}
	return n
}
