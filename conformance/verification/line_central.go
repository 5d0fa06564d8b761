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

// longestVesicant is how long a vesicant may run through peripheral access:
// 60 minutes (nursing management of venous access devices,
// docslib.org/doc/11940499).
var longestVesicant = quantity.Int(60 * 60)

// candidates are the lines that the order may run through: the one it names,
// else every line in use.
func candidates(f Facts) []order.Access {
	if f.order().AccessDevice != "" {
		if a, ok := lineOf(f); ok && a.Kind != "" {
			return []order.Access{a}
		}
		return nil
	}
	return slices.DeleteFunc(slices.Clone(f.kase().Access), func(a order.Access) bool { return a.Kind == "" || !a.Removed.Absent() })
}

// endsCentral: the tip of such a line lies in a central vein.
func endsCentral(a order.Access) bool {
	row, ok := compendium.AccessOf(a.Kind)
	return ok && row.Central() == compendium.Yes
}

// outside are the candidates that do not end in a central vein. Midline and
// short cannula are both peripheral.
func outside(f Facts) []order.Access {
	return slices.DeleteFunc(candidates(f), endsCentral)
}

// throughVein: the order is not known to be given otherwise, and may run
// through a line that does not end in a central vein.
func throughVein(f Facts) bool {
	word := routeWord(f.order().Route.Name())
	return word != "subcutaneous" && word != "intramuscular" && (len(outside(f)) > 0 || len(candidates(f)) == 0)
}

// whichLine: lines of both kinds are in use and the order names neither, or
// the one it names is not described.
func whichLine(f Facts) []Fact {
	all, out := candidates(f), outside(f)
	if len(all) == 0 || len(out) > 0 && len(out) < len(all) {
		return []Fact{LineUsed}
	}
	return nil
}

// needs is one reason why an order runs through a central vein only.
type needs struct {
	says, limit, standing string
	atMost                finding.Gate
}

// reasons are all of them, and what would have to be known for others.
func reasons(f Facts) (out []needs, lacks []Fact) {
	for _, x := range []func(Facts) ([]needs, []Fact){marked, vesicant, hyperosmolar, strongDextrose} {
		r, l := x(f)
		out, lacks = append(out, r...), append(lacks, l...)
	}
	return out, unique(lacks)
}

// marked: the drug's row says central line only, for this route.
func marked(f Facts) ([]needs, []Fact) {
	if !f.Has(DrugRow) {
		return nil, []Fact{DrugRow}
	}
	flag, answer, lacks := flagged(f, compendium.CentralLine)
	if answer != compendium.Yes {
		return nil, lacks
	}
	return []needs{{f.drug().Name + " is marked for a central line only", "a central line (" + flag.Source + ")", flag.Standing, finding.NoGate}}, nil
}

// vesicant: one that runs longer than 60 minutes, or until it is stopped.
func vesicant(f Facts) ([]needs, []Fact) {
	flag, answer, lacks := flagged(f, compendium.Vesicant)
	if answer == compendium.No {
		return nil, nil
	}
	seconds, _, known := runSeconds(f)
	says := ""
	switch {
	case known && longestVesicant.Less(seconds):
		says = inWords(seconds)
	case known:
		return nil, nil
	case drip(f.order()):
		says = "until it is stopped"
	default:
		return nil, append(lacks, RunTime)
	}
	if answer == compendium.Unknown {
		return nil, lacks
	}
	rests, _ := f.drug().Fact(flag.Fact)
	limit := "a central line, or at most " + inWords(longestVesicant) + " (" + flag.Source + ")"
	return []needs{{f.drug().Name + ", a vesicant, runs " + says, limit, flag.Standing, finding.Gate(rests.Gate)}}, nil
}

// osmolarityMost is the highest osmolarity for a peripheral vein: the site's
// choice between the two that are published, and the drug's own where that is
// lower.
func osmolarityMost(f Facts) (most quantity.Number, says string) {
	most = quantity.Int(int64(f.policy().Access.OsmolarityMost))
	var others []string
	if row, ok := compendium.AccessOf("midline"); ok {
		for _, x := range row.Values.All("osmolarityMax") {
			others = append(others, x.By+" "+notation.Code(x.High, x.Unit))
		}
	}
	says = "by the site's policy"
	if len(others) > 0 {
		says += "; " + strings.Join(others, ", ")
	}
	for _, x := range f.drug().About("osmolarity_max_peripheral", population(f)) {
		q, err := x.Value.Band.Quantity()
		if in, bad := q.In(milliosmolar); err == nil && bad == nil && x.Gates && in.High.Less(most) {
			most, says = in.High, x.Source
		}
	}
	return most, says
}

var milliosmolar = quantity.MustUnit("mosm/L")

// hyperosmolar: too many particles for a small vein. Where an ingredient is
// in no table what is known of the others is a least, and may be enough. Of
// nutrition the hospital can tell the whole; of other drugs the table of
// solutes is ours.
func hyperosmolar(f Facts) ([]needs, []Fact) {
	most, source := osmolarityMost(f)
	q, known := f.quantities()["osmolarity"]
	known = known && !q.Disputed
	least := ""
	if !known {
		if part, ok := leastOsmolarity(f); ok {
			q, least = part, "at least "
		}
	}
	if q.Unit.Dimension() == milliosmolar.Dimension() {
		have := milliosmolar.FromBase(q.Unit.ToBase(q.Value))
		if most.Less(have) {
			return []needs{{least + notation.About(have, milliosmolar, 4) + " in a peripheral vein", "at most " + notation.Quantity(most, milliosmolar) + " (" + source + ")", "", finding.NoGate}}, nil
		}
	}
	switch {
	case known:
		return nil, nil
	case f.drug().Is("nutrition") || len(f.drug().About("osmolarity_max_peripheral", population(f))) > 0:
		return nil, []Fact{Osmolarity}
	}
	return nil, []Fact{Solutes}
}

func leastOsmolarity(f Facts) (order.Quantity, bool) {
	q, ok := f.values[LeastOsmolarity].(order.Quantity)
	return q, ok
}

// strongDextrose: the drug's row gives a highest strength of dextrose for a
// peripheral vein, and the container holds more.
func strongDextrose(f Facts) ([]needs, []Fact) {
	have, known := f.values[Dextrose].(order.Quantity)
	for _, x := range f.drug().About("dextrose_final_concentration_peripheral", population(f)) {
		limit, err := x.Value.Band.Quantity()
		if err != nil || !x.Gates || !known {
			continue
		}
		// Grams in 100 mL are what is meant by percent here.
		percent := have.Unit.ToBase(have.Value).Quo(gramPerMillilitre.ToBase(quantity.Int(1)))
		if _, high := limit.Base(); high.Less(percent) {
			return []needs{{"dextrose " + notation.Rounded(percent.Mul(hundred), 4) + " % in a peripheral vein", "at most " + notation.Code(x.Value.Band.High.String(), "%") + " (" + x.Source + ")", x.Standing, finding.NoGate}}, nil
		}
	}
	return nil, nil
}

var gramPerMillilitre = quantity.MustUnit("g/mL")

// needsCentral: one of the reasons blocks or holds.
func needsCentral(f Facts) bool {
	list, _ := reasons(f)
	return slices.ContainsFunc(list, func(n needs) bool { return n.atMost == finding.NoGate })
}
