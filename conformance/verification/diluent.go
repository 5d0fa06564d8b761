package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
)

// fluid is a carrier fluid that the order names.
type fluid struct {
	name, code string // code "" for one that the tables have none for
	vague      bool   // its strength is not told, or nobody can tell what it is
	place      finding.Place
}

// fluids are the carriers among the ingredients, whether they are said to be
// active or not. An ingredient that is said to be inactive and that nobody
// knows may be one.
func fluids(f Facts) []fluid {
	var out []fluid
	for _, i := range f.order().Drug.Ingredients {
		name := i.Concept.Name()
		if sameDrug(f, name) {
			continue
		}
		x := fluid{name: name, place: i.Place}
		code, known := compendium.Diluent(name)
		water := compendium.FluidContains(name, "dextrose") || compendium.FluidContains(name, "sodium chloride")
		other := strings.Contains(strings.ToLower(name), "ringer") || strings.Contains(strings.ToLower(name), "hartmann")
		switch {
		case known:
			x.name, x.code = compendium.DiluentName(code), code
		case other:
		case water:
			x.vague = !strings.Contains(name, "%") && !strings.Contains(strings.ToLower(name), "percent")
		case i.Active != nil && !*i.Active:
			x.vague = true
		default:
			continue
		}
		out = append(out, x)
	}
	return out
}

// wordedFluids are the codes of the carriers that words of the order name.
func wordedFluids(f Facts) []string {
	var out []string
	for _, r := range f.order().Readings {
		if r.Field == "diluent" && r.Role == "" && compendium.DiluentName(r.Value) != r.Value {
			out = append(out, r.Value)
		}
	}
	return out
}

func diluentChosen(f Facts) bool {
	return diluentListed(f) && slices.ContainsFunc(fluids(f), func(x fluid) bool { return !x.vague })
}

// noDiluent: the table lists no fluid, or only good ones and the order has
// another; the order names no fluid, or one that cannot be told; or its words
// name one that is no listed one and not among the ingredients. Words may
// also refuse a fluid, so they alone block nothing.
func noDiluent(f Facts) []Fact {
	if !f.Has(DrugRow) {
		return []Fact{DrugRow}
	}
	if !diluentListed(f) {
		return []Fact{TableLimit}
	}
	list, good := fluids(f), listOf(f, "diluent_compatible")
	if len(list) == 0 && method(f.order()) == "push" {
		return nil // a ready solution is pushed as it is
	}
	if len(list) == 0 || slices.ContainsFunc(list, func(x fluid) bool { return x.vague }) {
		return []Fact{Diluent}
	}
	for _, code := range wordedFluids(f) {
		if !slices.Contains(good, code) && !slices.ContainsFunc(list, func(x fluid) bool { return x.code == code }) {
			return []Fact{Diluent}
		}
	}
	if !forbiddenListed(f) && slices.ContainsFunc(list, func(x fluid) bool { return !slices.Contains(good, x.code) }) {
		return []Fact{TableLimit}
	}
	return nil
}

// noGoodDiluent: the table lists what is incompatible and nothing else.
func noGoodDiluent(f Facts) []Fact {
	if len(listOf(f, "diluent_compatible")) == 0 {
		return []Fact{TableLimit}
	}
	return nil
}

func listOf(f Facts, topic string) []string {
	var out []string
	for _, fact := range f.drug().About(topic, population(f)) {
		out = append(out, fact.Value.List...)
	}
	return out
}

func forbiddenListed(f Facts) bool {
	return slices.ContainsFunc(f.drug().About("diluent_incompatible", population(f)), func(x compendium.Fact) bool {
		return len(x.Value.List)+len(x.Value.Containing) > 0
	})
}

// diluentForbidden: the fluid is listed as incompatible, by its code or by a
// solute that no fluid or additive for this drug may hold.
func diluentForbidden(f Facts) []finding.Finding {
	if !f.Has(DrugRow) {
		return forbiddenAmong(f)
	}
	for _, i := range f.order().Drug.Ingredients {
		name := i.Concept.Name()
		standing, bad := forbidden(f, name)
		if !bad {
			continue
		}
		if code, known := compendium.Diluent(name); known {
			name = compendium.DiluentName(code)
		}
		out := here(i.Place, name+" is listed as incompatible with "+f.drug().Name, "one of: "+names(listOf(f, "diluent_compatible")))
		out[0].Standing = standing
		return out
	}
	return nil
}

// forbiddenAmong: no row is a mixture of drugs, but each of them has one, and
// another in the same container may be what it forbids (calcium beside
// ceftriaxone). The rows are those of the program: a site's own are not read.
func forbiddenAmong(f Facts) []finding.Finding {
	list := f.order().Drug.Ingredients
	for i, drug := range list {
		row, why := compendium.Embedded().Find(compendium.Named(drug.Concept.Code(compendium.RxNorm), drug.Concept.Name()))
		if why != "" {
			continue
		}
		own := f.With(DrugRow, row)
		for j, other := range list {
			standing, bad := forbidden(own, other.Concept.Name())
			if i == j || !bad {
				continue
			}
			out := here(other.Place, other.Concept.Name()+" is listed as incompatible with "+row.Name, "each in a container of its own, or the prescriber's word on which is meant")
			out[0].Standing = standing
			return out
		}
	}
	return nil
}

// forbidden tells whether a fact that gates forbids what is named so, and the
// standing of that fact.
func forbidden(f Facts, name string) (standing string, bad bool) {
	code, known := compendium.Diluent(name)
	for _, fact := range f.drug().About("diluent_incompatible", population(f)) {
		if !fact.Gates || sameDrug(f, name) {
			continue
		}
		holds := func(solute string) bool { return compendium.FluidContains(name, solute) }
		if known && slices.Contains(fact.Value.List, code) || slices.ContainsFunc(fact.Value.Containing, holds) {
			return fact.Standing, true
		}
	}
	return "", false
}

// sameDrug: the name is that of the drug itself, not of a fluid around it.
func sameDrug(f Facts, name string) bool {
	return compendium.Fold(name) == f.drug().Name || slices.Contains(f.drug().Also, compendium.Fold(name))
}

// diluentUnlisted: the first carrier that is on neither list.
func diluentUnlisted(f Facts) []finding.Finding {
	good, bad := listOf(f, "diluent_compatible"), listOf(f, "diluent_incompatible")
	if len(good) == 0 {
		return nil
	}
	for _, x := range fluids(f) {
		if _, other := forbidden(f, x.name); other {
			continue // the other rule's
		}
		if !x.vague && !slices.Contains(good, x.code) && !slices.Contains(bad, x.code) {
			return here(x.place, x.name+" is not on the list of fluids for "+f.drug().Name, "one of: "+names(good))
		}
	}
	return nil
}

func names(codes []string) string {
	if len(codes) == 0 {
		return "a fluid the label of the product names"
	}
	var out []string
	for _, c := range codes {
		out = append(out, compendium.DiluentName(c))
	}
	return strings.Join(out, ", ")
}

// gravityDrug: potassium and anything high-alert wants a pump (common
// practice; the site's policy may say otherwise).
func gravityDrug(f Facts) []finding.Finding {
	d := f.order().Drug
	names := []string{d.Name, d.Concept.Name()}
	for _, i := range d.Ingredients {
		names = append(names, i.Concept.Name())
	}
	for _, n := range names {
		if strings.Contains(strings.ToLower(n), "potassium") {
			return here(f.order().Device.Place, "potassium by gravity", "a pump, or the pharmacist's reason: the flow by gravity changes with height")
		}
	}
	return nil
}

func closedTransferByPolicy(f Facts) bool {
	return f.hazard().ClosedTransfer == "by-policy" && f.policy().Hazard.ClosedTransferPolicy
}
