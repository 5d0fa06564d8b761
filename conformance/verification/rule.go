package verification

import (
	"slices"

	"weir.example/weir/mapping/finding"
)

// Kind is one of the five answers of a rule.
type Kind string

// The five answers.
const (
	NotApplicable Kind = "not-applicable"
	NotEffective  Kind = "not-effective" // its stage has not come: an open task
	Indeterminate Kind = "indeterminate" // a fact is missing
	Pass          Kind = "pass"
	Found         Kind = "finding"
)

// Rule is one requirement. Needs are the facts without which it cannot
// answer; Uses are facts it reads when they are there. It may read no other.
type Rule struct {
	Code    finding.Code
	Needs   []Fact
	Uses    []Fact
	Applies func(Facts) bool // nil: always
	// Scope are the facts Applies rests on; nil means Needs. Without one of
	// them a rule is never "not applicable": nobody can say whether it applies.
	Scope []Fact
	Check func(Facts) []finding.Finding
	// NotYet: the stage may have come, but the moment has not (a removal plan
	// gates only near the end of the course). Until then it is a task.
	NotYet func(Facts) bool
	// Lacks names facts that are present in the document in principle but
	// empty for this order ("creatinine"): the rule is then indeterminate.
	Lacks func(Facts) []Fact
	// inPart is what Lacks asks when nothing was found, so that Check is asked
	// once. Nil: Lacks is asked as it is.
	inPart func(Facts) []Fact
}

// Outcome is what a rule answered.
type Outcome struct {
	Code     finding.Code
	Kind     Kind
	Missing  []Fact
	Findings []finding.Finding
	Due      []finding.Finding // not effective: what would be found, for the open task
}

// Run asks every rule, in order, and settles the first three answers itself.
func Run(rules []Rule, f Facts, at finding.Stage) []Outcome {
	out := make([]Outcome, 0, len(rules))
	for _, r := range rules {
		out = append(out, r.ask(f, at))
	}
	return out
}

func (r Rule) scope() []Fact {
	if r.Scope == nil {
		return r.Needs
	}
	return r.Scope
}

func (r Rule) ask(f Facts, at finding.Stage) Outcome {
	o := Outcome{Code: r.Code, Kind: Pass}
	seen := f.only(slices.Concat(r.Needs, r.Uses))
	row, _ := finding.Lookup(r.Code)
	reached := row.Stage.Reached(at) && (r.NotYet == nil || !r.NotYet(seen))
	if r.Applies != nil && !r.Applies(seen) {
		if o.Missing = seen.lacking(r.scope()); len(o.Missing) == 0 {
			o.Kind = NotApplicable
			return o
		}
	} else {
		o.Missing = seen.lacking(r.Needs)
	}
	var found []finding.Finding
	checked := len(o.Missing) == 0 && r.inPart != nil
	switch {
	case checked:
		if found = r.Check(seen); len(found) == 0 {
			o.Missing = r.inPart(seen)
		}
	case len(o.Missing) == 0 && r.Lacks != nil:
		o.Missing = r.Lacks(seen)
	}
	if len(o.Missing) > 0 {
		o.Kind = Indeterminate
		if !reached {
			o.Kind = NotEffective
		}
		return o
	}
	if !checked {
		found = r.Check(seen)
	}
	for i := range found {
		found[i].Code = r.Code
	}
	switch {
	case len(found) == 0:
	case !reached:
		o.Kind, o.Due = NotEffective, found
	default:
		o.Kind, o.Findings = Found, found
	}
	return o
}
