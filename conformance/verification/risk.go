package verification

import (
	"slices"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// answered is the newest answer to a question that is about this order, or
// about none.
func answered(f Facts, name string) (order.Answer, bool) {
	i := slices.IndexFunc(f.kase().Answers, func(a order.Answer) bool {
		return a.Name == name && (a.Focus == "" || refersTo(a.Focus, f.order()) || a.Focus == f.kase().Patient.Ref.URL)
	})
	if i < 0 {
		return order.Answer{}, false
	}
	return f.kase().Answers[i], true
}

// preconditions are the facts of the row that something must be known before
// the drug is given; Tests are the questions, any of which answers it.
func preconditions(f Facts) []compendium.Fact {
	return slices.DeleteFunc(f.drug().About("precondition", population(f)), func(x compendium.Fact) bool { return !x.Gates })
}

func hasPreconditions(f Facts) bool { return len(preconditions(f)) > 0 }

// riskUnassessed: one finding for each precondition without an answer. What
// the answer is, a person judges.
func riskUnassessed(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, x := range preconditions(f) {
		if slices.ContainsFunc(x.Value.Tests, func(t string) bool { _, ok := answered(f, t); return ok }) {
			continue
		}
		found := here(f.order().Drug.Place, "not on record for "+f.drug().Name+": "+x.Value.Text, "the answer, as asked before the first dose ("+x.Source+")")
		found[0].Standing = x.Standing
		out = append(out, found...)
	}
	return out
}
