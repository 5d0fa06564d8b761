package verification

import (
	"slices"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/quantity"
)

// strengthTopics: what may run through a central line stands apart.
var strengthTopics = []string{"concentration_max", "concentration_max_central"}

func strengthLimits(f Facts) (yes, unsure []limit) {
	for _, topic := range strengthTopics {
		y, u := limits(f, topic, populations(f)...)
		yes, unsure = append(yes, y...), append(unsure, u...)
	}
	return yes, unsure
}

func strengthIn(f Facts) func(compendium.Band, way) (quantity.Number, bool) {
	return func(b compendium.Band, w way) (quantity.Number, bool) {
		in, ok := limitIn(f, b, w.unit)
		return in.High, ok
	}
}

func strengthCompare(f Facts) func(limit) (past, bool) {
	ways := strengths(f)
	return func(x limit) (past, bool) { return compared(f, x, ways, strengthIn(f), above) }
}

// forSelected: the limit only holds the order, and a laxer one of the same
// kind blocks: between the two the label allows selected patients.
func forSelected(x compendium.Fact, others []compendium.Fact) bool {
	return x.Gate == string(finding.Hold) && slices.ContainsFunc(others, func(o compendium.Fact) bool {
		return o.Topic == x.Topic && o.Gate == "" && o.ID != x.ID && !o.Value.Band.Empty() && wider(o.Value.Band, x.Value.Band)
	})
}

func wider(a, b compendium.Band) bool {
	p, errA := a.Quantity()
	q, errB := b.Quantity()
	if errA != nil || errB != nil {
		return false
	}
	in, err := q.In(p.Unit)
	return err == nil && in.High.Less(p.High)
}

// hasSelected: the row knows such a range.
func hasSelected(f Facts) bool {
	return slices.ContainsFunc(f.drug().Facts, func(x compendium.Fact) bool {
		return slices.Contains(strengthTopics, x.Topic) && forSelected(x, f.drug().Facts)
	})
}

// peripheral: the line on record does not end in a central vein.
func peripheral(f Facts) bool {
	_, known := line(f)
	return known && !central(f)
}

// strengthOver are the limits beyond which the container is, apart for the
// range for selected patients. That range is for a central line: through
// another one its low end is the limit, and no gate lowers it.
func strengthOver(f Facts) (over, selected []past) {
	yes, _ := strengthLimits(f)
	compare := strengthCompare(f)
	for _, x := range yes {
		p, ok := compare(x)
		p.of = f
		switch {
		case !ok || p.reach == Within:
		case forSelected(x.Fact, f.drug().Facts) && !peripheral(f):
			selected = append(selected, p)
		default:
			if forSelected(x.Fact, f.drug().Facts) {
				p.Gate = ""
			}
			over = append(over, p)
		}
	}
	return over, selected
}

// tooStrong: row d10, the concentration against the limits for this line.
func tooStrong(f Facts) []finding.Finding {
	var over []past
	for _, x := range rowsOf(f) {
		more, _ := strengthOver(x)
		over = append(over, more...)
	}
	p, found := gravest(finding.Block, over)
	if !found {
		return nil
	}
	out := p.finding(atMost)
	out[0].Expected += throughLine(f)
	return out
}

func throughLine(f Facts) string {
	if a, known := line(f); known {
		return ", through this line (" + a.Kind + ")"
	}
	return ", and no line is on record"
}

// tooStrongSelected: between the usual limit and the one for selected
// patients. Beyond that, the rule that blocks speaks.
func tooStrongSelected(f Facts) []finding.Finding {
	over, selected := strengthOver(f)
	p, found := gravest(finding.Hold, selected)
	if !found || slices.ContainsFunc(over, func(o past) bool { return o.reach == Beyond }) {
		return nil
	}
	out := p.finding(atMost)
	out[0].Expected += ", more only for a selected patient and through a central line"
	if _, known := line(f); !known {
		out[0].Expected += ", and no line is on record"
	}
	return out
}

func strengthUnchecked(f Facts) []Fact {
	yes, unsure := strengthLimits(f)
	if len(yes)+len(unsure) == 0 {
		return []Fact{TableLimit}
	}
	if len(strengths(f)) == 0 {
		return []Fact{Concentration}
	}
	out := uncompared(yes, unsure, strengthCompare(f), func(limit) Fact { return TableLimit }, ownOf(f))
	if inDispute(f, "dose", "volume", "concentration") {
		out = append(out, Concentration)
	}
	return unique(out)
}
