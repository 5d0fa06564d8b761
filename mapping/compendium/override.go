package compendium

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/quantity"
)

// Override is a site's own number for one fact. Band nil keeps the table's
// number; Gates nil keeps whether it gates.
type Override struct {
	Fact           string
	Band           *Band
	Gates          *bool
	Source, Reason string
	By, On         string
}

// blocking are the topics whose rules block: what a site may not relax below
// hold. Beyond the table's own number and within the site's, such a rule
// holds instead of passing (see Local.Loosened).
var blocking = []string{"infusion_rate_max", "infusion_duration_min", "concentration_max", "concentration_max_central", "max_dose_per_hour",
	"interval_min", "diluent_incompatible", "flush_fluid"}

// lower are the topics whose number is a least: a smaller one loosens them.
var lower = []string{"infusion_duration_min", "interval_min", "concentration_min"}

// farthest is how far a site's number may lie from the table's: further is
// a slip of the pen, of a unit or of a decimal point.
var farthest = quantity.Int(5)

// Overrule gives tables in which a site's numbers stand in place of the
// shipped ones, with standing local and who decided it. The shipped tables
// are not changed. A fact may be overruled once. A fault names the override
// by its place in the list.
func (t *Tables) Overrule(list []Override) (*Tables, []OverrideFault) {
	out := *t
	out.Drugs = slices.Clone(t.Drugs)
	var faults []OverrideFault
	seen := map[string]bool{}
	for i, o := range list {
		if seen[o.Fact] { // the second would be held against the first, not against the table
			faults = append(faults, OverrideFault{i, "fact", fmt.Sprintf("the fact %q is overruled twice", o.Fact), "one override for each fact"})
			continue
		}
		seen[o.Fact] = true
		d, f, ok := out.locate(o.Fact)
		if !ok {
			faults = append(faults, OverrideFault{i, "fact", fmt.Sprintf("no fact has the id %q", o.Fact), "an id as `weir tables drug NAME` prints it"})
			continue
		}
		fact := out.Drugs[d].Facts[f]
		if next, fault := fact.overruled(o); fault != nil {
			fault.Index = i
			faults = append(faults, *fault)
		} else {
			out.Drugs[d].Facts = slices.Clone(out.Drugs[d].Facts)
			out.Drugs[d].Facts[f] = next
		}
	}
	return &out, faults
}

// OverrideFault is what is wrong with one override of a list.
type OverrideFault struct {
	Index                  int
	Key, Problem, Expected string
}

func (t *Tables) locate(id string) (drug, fact int, ok bool) {
	for d := range t.Drugs {
		for f := range t.Drugs[d].Facts {
			if t.Drugs[d].Facts[f].ID == id {
				return d, f, true
			}
		}
	}
	return 0, 0, false
}

// number is the one number of a fact that a site may replace: the fact's own
// band, or how long a dose is stable.
func (f *Fact) number() *Band {
	switch {
	case !f.Value.Band.Empty():
		return &f.Value.Band
	case f.Value.Duration != nil:
		d := *f.Value.Duration
		f.Value.Duration = &d
		return f.Value.Duration
	case f.Value.Dose != nil && strings.HasPrefix(f.Topic, "max_"):
		d := *f.Value.Dose
		f.Value.Dose = &d
		return f.Value.Dose
	}
	return nil
}

func (f Fact) overruled(o Override) (Fact, *OverrideFault) {
	local := Local{By: o.By, On: o.On, Reason: o.Reason, Gated: f.Gates}
	if o.Gates != nil {
		if f.Gates && !*o.Gates && slices.Contains(blocking, f.Topic) {
			return f, &OverrideFault{Key: "gates", Problem: "the rule of " + f.ID + " blocks and would never gate", Expected: "a number of the site's own: beyond the table's it then holds"}
		}
		f.Gates = *o.Gates
		if !f.Gates && f.Review == "" {
			f.Review = o.Reason
		}
	}
	if o.Band != nil {
		at := f.number()
		if at == nil {
			return f, &OverrideFault{Key: "value", Problem: "the fact " + f.ID + " holds no single number", Expected: "a fact with one number, or gates alone"}
		}
		was, err := at.Quantity()
		if err != nil {
			return f, &OverrideFault{Key: "value", Problem: "the number of " + f.ID + " cannot be compared", Expected: "gates alone"}
		}
		now, err := o.Band.Quantity()
		if err != nil {
			return f, &OverrideFault{Key: "value", Problem: err.Error(), Expected: "a number in " + at.Unit}
		}
		in, err := now.In(was.Unit)
		if err != nil {
			return f, &OverrideFault{Key: "value", Problem: fmt.Sprintf("the unit %s is of another kind than %s", o.Band.Unit, at.Unit), Expected: "a number in " + at.Unit}
		}
		if in.High.Sign() <= 0 || was.High.Mul(farthest).Less(in.High) || in.High.Mul(farthest).Less(was.High) {
			return f, &OverrideFault{Key: "value", Problem: fmt.Sprintf("%s lies more than %s times away from the table's %s", o.Band.says(), farthest.Decimal(), at.says()), Expected: "a number within that factor, or another fact"}
		}
		local.Was = *at
		least := slices.Contains(lower, f.Topic)
		local.Loosened = slices.Contains(blocking, f.Topic) && (least && in.Low.Less(was.Low) || !least && was.High.Less(in.High))
		*at = *o.Band
	}
	f.Standing, f.Source, f.Override = LocalStanding, o.Source, &local
	return f, nil
}

// says is the band as written.
func (b Band) says() string {
	switch {
	case b.Value != "":
		return b.Value.String() + " " + b.Unit
	case b.Low != "" && b.High != "":
		return b.Low.String() + " to " + b.High.String() + " " + b.Unit
	case b.Low != "":
		return "at least " + b.Low.String() + " " + b.Unit
	}
	return "at most " + b.High.String() + " " + b.Unit
}
