package reconciliation

import (
	"slices"
	"sync"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
)

// compounding: row m22 (Nutr Clin Pract 2016;31:654: 46 of 100 compounding
// records of parenteral nutrition differed from the prescription).
func compounding(p *pair) (a answer) {
	if !p.inForce() {
		return a
	}
	list, unclear := p.compared()
	for _, f := range list {
		x := a.found("nightly-compounding-differs", f.Place, f.Observed, f.Expected)
		x.Evidence = f.Evidence
	}
	if unclear {
		a.lacking("nightly-compounding-differs", string(verification.MadeComponents), "a compounding record cannot be set beside the order, component by component")
	}
	if len(a.findings) > 0 {
		a.ask("dispatch-block", p.clock(), "a unit made is not the one prescribed")
		p.apart(&a, "a unit made is not the one prescribed")
	}
	return a
}

// apart asks for units of the order to be set apart wherever they are.
func (p *pair) apart(a *answer, why string) {
	now, s := p.clock(), p.stock
	if s.pharmacy > 0 {
		a.ask("quarantine-pharmacist", now, why)
	}
	if s.way > 0 {
		a.ask("quarantine-driver", now, why)
	}
	if s.most > 0 {
		a.ask("call-patient", p.beforeNext(), why)
		a.ask("quarantine-patient", p.beforeNext(), why)
	}
}

// comparison is what came of comparing the records of compounding.
type comparison struct {
	findings []finding.Finding
	unclear  bool
}

// compoundingRule is the rule of the pack stage, asked here at night.
var compoundingRule = sync.OnceValue(func() []verification.Rule {
	return slices.DeleteFunc(slices.Clone(verification.Rules()), func(r verification.Rule) bool { return r.Code != "nutrition-compounding" })
})

// compared runs the rule for compounding records on the order with all
// dispenses that are for it, once. A drug and its fluid are no mixture.
func (p *pair) compared() ([]finding.Finding, bool) {
	if p.mixed == nil {
		p.mixed = &comparison{}
		*p.mixed = p.compareMade()
	}
	return p.mixed.findings, p.mixed.unclear
}

func (p *pair) compareMade() (out comparison) {
	v := p.current()
	o := v.order.Drug
	made := p.batches()
	if len(o.Ingredients) < 3 || len(made) == 0 {
		return out
	}
	c := p.after.Case
	if p.now == nil {
		c = p.before.Case
	}
	c.Held.Prepared = nil
	for _, b := range made {
		b.OrderRef = v.order.Ref.URL
		if b.OrderRef == "" {
			b.OrderRef = v.order.Place.Expression
		}
		c.Held.Prepared = append(c.Held.Prepared, b.Batch)
	}
	asked := compendium.Asked{Item: verification.ItemOf(o.Concept)}
	asked.Names = append(asked.Names, o.Name)
	for _, i := range o.Ingredients {
		if i.Active == nil || *i.Active {
			asked.Ingredients = append(asked.Ingredients, verification.ItemOf(i.Concept))
		} else {
			asked.Inactive = append(asked.Inactive, verification.ItemOf(i.Concept))
		}
	}
	f := verification.Facts{}.With(verification.Order, v.order).With(verification.Case, c).With(verification.Policy, p.night.Reference.Policy).With(verification.Quantities, v.numbers())
	if row, why := p.night.Reference.Tables.Find(asked); why == "" {
		f = f.With(verification.DrugRow, row)
	}
	for _, x := range verification.Run(compoundingRule(), f, finding.Pack) {
		out.findings = append(out.findings, x.Findings...)
		out.unclear = out.unclear || x.Kind == verification.Indeterminate
	}
	return out
}
