package compendium

import (
	"fmt"
	"slices"
	"strings"
)

// Drug is one generic ingredient, or one fixed combination, with everything
// known about it: one file in the folder drugs.
type Drug struct {
	Name                      string
	Class                     string
	Codes                     Codes
	Parts                     []Part   // the ingredients of a combination; empty for a single drug
	Mixture                   []Part   // an admixture with all of these, whatever else it holds, is this row
	Additives                 []string // of a mixture: what else it may hold that was looked for in the hazardous list
	Also                      []string // salts, other national names, other word orders: exact names
	NotThis                   []string // names that are near and mean something else
	Kinds                     []string // anti-infective, antineoplastic, beta-lactam, …
	HighAlert                 bool     // two people pass what one may pass for others
	Hazard                    *Review  // nil: look in the hazardous list only
	RoundingStep              *Step
	UsualVolumes              *Sizes
	GenotypeTest              bool // a gene test is asked for before the first dose
	MonitorBeforeFirstRelease bool
	Flags                     []Flag
	Companions                []Companion
	LabLimits                 []LabLimit
	Facts                     []Fact
}

// Codes are the codes that mean this row and no other, and how far they were
// checked. Ambiguous ones cover other forms too: they never find the row.
type Codes struct {
	RxNorm, ATC      []string
	Standing, Source string
	Ambiguous        []Ambiguous
}

// Ambiguous is a code that covers more than this row.
type Ambiguous struct{ Code, Why string }

// Part is one ingredient of a combination.
type Part struct{ Name, RxNorm string }

// Review says that a pharmacist looked for the drug in the hazardous list
// and did not find it. ApprovedBy is a year by which the drug was on the
// market: newer than the list's review means nobody has assessed it.
type Review struct{ Listed, Edition, Reviewer, Reason, ApprovedBy, Standing string }

// Step is what doses are rounded to, for one population.
type Step struct{ Value, Unit, Population, Standing, Source string }

// Sizes is a list of numbers with a unit.
type Sizes struct {
	List                   []string
	Unit, Standing, Source string
}

// The flags a row may carry.
const (
	NoBolus        = "no-bolus"        // nothing is flushed through its line
	ElectronicPump = "electronic-pump" // a steady or stepped rate: no elastomeric device
	NeverPause     = "never-pause"     // stopping it suddenly harms
	SecondPump     = "second-pump"     // a second pump stands ready
	CentralLine    = "central-line"
	OwnLine        = "own-line" // nothing else in that line
	NeverGravity   = "never-gravity"
	NeverPush      = "never-push"
	NeverSaline    = "never-saline" // flushed with the fluid of its fact flush_fluid
	Vesicant       = "vesicant"     // it destroys tissue where it leaks out of a vein
)

var flags = []string{NoBolus, ElectronicPump, NeverPause, SecondPump, CentralLine, OwnLine, NeverGravity, NeverPush, NeverSaline, Vesicant}

// Flag is one property of a drug. Fact, where given, is the id of the fact
// it rests on: see FlaggedFor.
type Flag struct{ Flag, Standing, Source, Fact string }

// Companion is a treatment that goes with the drug. Names are exact, as in
// an order; Gate is hold or warn.
type Companion struct {
	Need         string
	Names        []string
	RxNorm, When string
	Gate, Fact   string
}

// LabLimit is a result above which somebody acts.
type LabLimit struct {
	Test  string
	Above Band
	Do    string
	Fact  string
}

// Is reports whether the drug is of the kind.
func (d Drug) Is(kind string) bool { return slices.Contains(d.Kinds, kind) }

// Flagged reports whether the drug carries the flag.
func (d Drug) Flagged(flag string) (Flag, bool) {
	i := slices.IndexFunc(d.Flags, func(f Flag) bool { return f.Flag == flag })
	if i < 0 {
		return Flag{}, false
	}
	return d.Flags[i], true
}

// FlaggedFor reports whether the drug carries the flag and whether it holds
// for the order: a flag that rests on a fact holds where that fact does, as a
// central line for one route only.
func (d Drug) FlaggedFor(flag string, c Circumstance) (Flag, Answer) {
	x, ok := d.Flagged(flag)
	if !ok {
		return Flag{}, No
	}
	f, rests := d.Fact(x.Fact)
	if !rests {
		return x, Yes
	}
	answer, _ := f.Holds(c)
	return x, answer
}

// Fact returns the fact with the id.
func (d Drug) Fact(id string) (Fact, bool) {
	i := slices.IndexFunc(d.Facts, func(f Fact) bool { return f.ID == id })
	if i < 0 {
		return Fact{}, false
	}
	return d.Facts[i], true
}

// About returns the facts of a topic that hold for a population ("adult",
// "pediatric" or "neonate"; facts for "all" always hold, and what holds for
// children holds for a newborn too).
func (d Drug) About(topic, population string) []Fact {
	count := 0
	for i := range d.Facts {
		if d.Facts[i].about(topic, population) {
			count++
		}
	}
	if count == 0 {
		return nil
	}
	out := make([]Fact, 0, count) // a fact is large: no list grows
	for i := range d.Facts {
		if f := &d.Facts[i]; f.about(topic, population) {
			out = append(out, *f)
		}
	}
	return out
}

func (f *Fact) about(topic, population string) bool {
	return f.Topic == topic && (f.Population == population || f.Population == "all" || population == "neonate" && f.Population == "pediatric")
}

// check refuses a row that could not be relied on: a name that is not
// folded, a fact without source or standing, a pointer to a fact that is not
// there.
func (d Drug) check() error {
	if d.Name == "" || d.Name != Fold(d.Name) {
		return fmt.Errorf("drug table: name %q must be lower case and not empty", d.Name)
	}
	seen := map[string]bool{}
	for _, f := range d.Facts {
		if err := f.check(); err != nil {
			return err
		}
		if seen[f.ID] {
			return fmt.Errorf("drug table: %s: fact id %q stands twice", d.Name, f.ID)
		}
		seen[f.ID] = true
	}
	for _, f := range d.Flags {
		if !slices.Contains(flags, f.Flag) || f.Source == "" || !standing(f.Standing) || f.Fact != "" && !seen[f.Fact] {
			return fmt.Errorf("drug table: %s: flag %q needs a known name, a source, a standing and a fact of this drug", d.Name, f.Flag)
		}
	}
	for _, c := range d.Companions {
		if c.Gate != "hold" && c.Gate != "warn" || !seen[c.Fact] || len(c.Names) == 0 {
			return fmt.Errorf("drug table: %s: companion %q needs names, the gate hold or warn, and a fact of this drug", d.Name, c.Need)
		}
	}
	for _, l := range d.LabLimits {
		if err := l.Above.check(); err != nil || !seen[l.Fact] || l.Do == "" {
			return fmt.Errorf("drug table: %s: limit for %q needs a number with a unit, what to do, and a fact of this drug", d.Name, l.Test)
		}
	}
	return d.checkSizes()
}

// checkSizes looks at what stands beside the facts: the review, the rounding
// step and the usual volumes.
func (d Drug) checkSizes() error {
	if r := d.Hazard; r != nil && !year(r.ApprovedBy) {
		return fmt.Errorf("drug table: %s: the review is of a drug approved by %q; need a year of 4 digits", d.Name, r.ApprovedBy)
	}
	if s := d.RoundingStep; s != nil {
		if err := checkNumber(s.Value, s.Unit); err != nil {
			return fmt.Errorf("drug table: %s: rounding step: %w", d.Name, err)
		}
	}
	if v := d.UsualVolumes; v != nil {
		for _, n := range v.List {
			if err := checkNumber(n, v.Unit); err != nil {
				return fmt.Errorf("drug table: %s: usual volumes: %w", d.Name, err)
			}
		}
	}
	return nil
}

// year: four digits, so that years compare as text.
func year(s string) bool {
	return len(s) == 4 && strings.Trim(s, "0123456789") == ""
}
