package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// flushFluids are the fluids of the table that the drug is flushed with, in
// full, and where that stands.
func flushFluids(f Facts) (fluids []string, source, standing string) {
	for _, fact := range f.drug().About("flush_fluid", population(f)) {
		for _, code := range fact.Value.List {
			fluids = append(fluids, compendium.DiluentName(code))
		}
		if source == "" {
			source, standing = fact.Source, fact.Standing
		}
	}
	return fluids, source, standing
}

// isSaline: by its name the flush is sodium chloride and nothing else, heparin
// in it or not.
func isSaline(x order.Order) bool {
	text := drugText(x)
	return saltWater(text) && !strings.Contains(text, "dextrose") && !strings.Contains(text, "glucose")
}

// flushFluid: row h5, sodium chloride as the only flush of a drug that falls out
// in it. With a flush of the drug's own fluid beside it sodium chloride comes
// after that, and clears the fluid, not the drug. Where no flush is ordered
// this pharmacy's own sheet names the fluid of the table.
func flushFluid(f Facts) []finding.Finding {
	flag, answer, _ := flagged(f, compendium.NeverSaline)
	if answer != compendium.Yes {
		return nil
	}
	fluids, source, standing := flushFluids(f)
	var salted []order.Order
	for _, x := range flushes(f) {
		same, _ := sharesLumen(f, x)
		switch {
		case same == compendium.No || withdrawnFirst(x):
		case isSaline(x):
			salted = append(salted, x)
		case ownFluid(fluids, x):
			return nil
		}
	}
	own := order.Order{Role: "flush", Directions: []order.Direction{{Text: ownFlush(f)}}}
	switch {
	case ownFluid(fluids, own):
		return nil
	case isSaline(own):
		own.Place = f.order().Place
		salted = append(salted, own)
	}
	if len(salted) == 0 {
		return nil
	}
	expected := "a fluid that the drug bears, before and after"
	if len(fluids) > 0 {
		expected = strings.Join(fluids, " or ") + " before and after; sodium chloride only behind it"
	}
	if source == "" || flag.Standing == compendium.Memory {
		source, standing = flag.Source, flag.Standing
	}
	x := here(salted[0].Place, "sodium chloride is the only flush, and "+f.order().Drug.Name+" does not bear it ("+source+")", expected)
	x[0].Standing = standing
	x[0].Evidence = []string{f.order().Place.Expression}
	return x
}

// ownFluid: the flush is one of the fluids of the table.
func ownFluid(fluids []string, x order.Order) bool {
	for _, n := range []string{x.Drug.Name, x.Drug.Concept.Name()} {
		if code, ok := compendium.Carrier(n); ok && slices.Contains(fluids, compendium.DiluentName(code)) {
			return true
		}
	}
	text := drugText(x)
	return slices.ContainsFunc(fluids, func(fluid string) bool {
		return strings.Contains(fluid, "dextrose") && (strings.Contains(text, "dextrose") || strings.Contains(text, "glucose"))
	})
}

// flushFluidUnknown: whether the drug bears sodium chloride, where such a flush
// is ordered.
func flushFluidUnknown(f Facts) []Fact {
	if !slices.ContainsFunc(flushes(f), isSaline) {
		return nil
	}
	return flagUnknown(compendium.NeverSaline)(f)
}

// DextroseFlush: the drug never meets sodium chloride, or may be one of those,
// and its table flushes with dextrose.
func DextroseFlush(f Facts) bool {
	fluids, _, _ := flushFluids(f)
	return carries(compendium.NeverSaline)(f) && slices.ContainsFunc(fluids, func(x string) bool { return strings.Contains(x, "dextrose") })
}
