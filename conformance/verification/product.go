package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// Product is which product of a biologic is meant.
const Product Fact = "named product"

// product is how a record names one of several products of a drug: by codes that
// are not those of the ingredient, and by words that no name of it has.
type product struct {
	codes map[string]string // system to code
	words string
	says  string
	place finding.Place
}

func (p product) named() bool { return len(p.codes) > 0 || p.words != "" }

// productOf reads what a concept says beyond the ingredient.
func productOf(d compendium.Drug, c order.Concept, place finding.Place) product {
	p := product{codes: map[string]string{}, says: strings.ToLower(c.Name()), place: place}
	for _, k := range c.Codings {
		ingredient := k.System == compendium.RxNorm && slices.Contains(d.Codes.RxNorm, k.Code) || k.System == compendium.ATC
		if !ingredient && k.Code != "" {
			p.codes[k.System] = productCode(k)
		}
	}
	p.words = compendium.ProductWords(d, c.Text)
	return p
}

// productCode drops the part of a National Drug Code that only tells the
// package.
func productCode(k order.Coding) string {
	if !strings.HasSuffix(k.System, "/ndc") {
		return k.Code
	}
	if parts := strings.Split(k.Code, "-"); len(parts) == 3 {
		return parts[0] + "-" + parts[1]
	}
	if len(k.Code) == 11 {
		return k.Code[:9]
	}
	return k.Code
}

// compared tells whether two records name different products. Where only one
// names any, or each by a code of its own, nobody can tell.
func (p product) compared(q product) compendium.Answer {
	for system, code := range p.codes {
		if other, both := q.codes[system]; both {
			if code == other {
				return compendium.No
			}
			return compendium.Yes
		}
	}
	switch {
	case p.words != "" && p.words == q.words:
		return compendium.No
	case p.words != "" && q.words != "":
		return compendium.Yes
	case !p.named() && !q.named():
		return compendium.No
	}
	return compendium.Unknown
}

func isBiologic(f Facts) bool { return f.drug().Is("biologic") || f.drug().Is("immune-globulin") }

func orderedProduct(f Facts) product {
	return productOf(f.drug(), f.order().Drug.Concept, f.order().Drug.Place)
}

// earlierProducts are those ordered, made or given before, the newest first.
func earlierProducts(f Facts) []product {
	var out []product
	k, d, o := f.kase(), f.drug(), f.order()
	for _, a := range k.Administrations {
		if a.Status == "completed" && given(a.Drug, o.Drug) {
			out = append(out, productOf(d, a.Drug, a.Place))
		}
	}
	for _, r := range k.Related {
		if r.Role == "replaced" && given(r.Drug.Concept, o.Drug) {
			out = append(out, productOf(d, r.Drug.Concept, r.Place))
		}
	}
	for _, b := range k.Held.Prepared {
		if given(b.Drug.Concept, o.Drug) {
			out = append(out, productOf(d, b.Drug.Concept, b.Place))
		}
	}
	return out
}

// productDiffers: a named product is another than the one before.
func productDiffers(f Facts) []finding.Finding {
	now := orderedProduct(f)
	for _, p := range earlierProducts(f) {
		if now.compared(p) != compendium.Yes {
			continue
		}
		place := p.place
		if place.Expression == "" {
			place = now.place
		}
		x := here(place, "ordered: "+now.says+"; ordered, made or given before: "+p.says, "the same product, or the prescriber's word for the change: rate, sugar and first dose as for a new one")
		x[0].Evidence = []string{f.order().Drug.Place.Expression}
		return x
	}
	return nil
}

func productUnknown(f Facts) []Fact {
	now := orderedProduct(f)
	if slices.ContainsFunc(earlierProducts(f), func(p product) bool { return now.compared(p) == compendium.Unknown }) {
		return []Fact{Product}
	}
	return nil
}
