package compendium

import (
	"encoding/json"
	"fmt"
	"slices"

	"weir.example/weir/mapping/quantity"
)

// Fact is one statement of one document.
type Fact struct {
	ID, Topic, Population, Condition string
	Value                            Value
	AppliesTo                        []Applies // any of them; empty: whatever the order
	Basis                            string    // label, guideline_or_practice, study
	Standing, Source                 string
	Gates                            bool   // false: this fact never blocks or holds by itself
	Gate                             string // hold, warn: no more than that, where its rule would do more; empty: as its rule does
	Review                           string // why it does not, or what to mind
	Conflict                         string // what another document says instead
	Override                         *Local // set when a site put its own number in place of the table's
}

// basisLabel is the basis of what a label says; any other is data or practice.
const basisLabel = "label"

// Local is who overruled a fact and why, and what stood there. Loosened says
// that the rule would block by the table's own number: between that and the
// site's it holds.
type Local struct {
	By, On, Reason  string
	Was             Band
	Gated, Loosened bool
}

// Value is what a fact says; which members are set depends on its topic.
type Value struct {
	Band
	Dose, Interval, Max, Bolus, Continuous *Band
	DailyDose, DividedDoses, Doses         *Band
	InfusionDuration, Rate, BagDuration    *Band
	Duration, Temperature, Concentration   *Band
	Frequency                              *Band
	Bands                                  []RenalBand
	Clearance                              *Basis
	NoChange                               bool // the source says: no change with the kidneys
	NoChangeAbove                          bool // the source says: no change above the highest of the bands
	Strengths                              []Band
	List                                   []string // codes of carrier fluids, see Carriers
	Containing                             []string // solutes: any fluid with one of them
	Others                                 []string // fluids and conditions in words, for a person
	Tests, Diluent, Containers             []string
	Text, Storage, ContainerText           string
	Weight                                 string // the weight a dose is reckoned by
	Weeks                                  []json.Number
	FollowedBy                             *Period
	Other                                  map[string]Band // rare members, by name
}

// Period is a second stretch of storage after the first.
type Period struct {
	Storage               string
	Duration, Temperature *Band
}

// Band is a number or a range with a UCUM unit.
type Band struct {
	Value, Low, High json.Number
	Unit             string
}

// Basis says which clearance a table of bands is read by: per minute, per
// 1.73 m² of body surface, or per kg; by which formula and weight, where the
// source says it.
type Basis struct{ Formula, Per, Weight, Fact string }

// The bases of a clearance.
const (
	PerMinute  = "min"
	PerSurface = "1.73 m2"
	PerWeight  = "kg"
)

// RenalBand is the dose for a range of creatinine clearance.
type RenalBand struct {
	Crcl              Band
	Dose, DailyDose   *Band
	DoseFactor        *Band
	DailyDoseFactor   *Band // factor on the dose of a day
	Interval          *Band
	IntervalMin       *Band
	Rate              *Band
	TimesPerWeek      *Band
	AlternativeFirst  *Band
	AlternativeSecond *Band
	Note              string
}

// Empty reports that the band holds no number.
func (b Band) Empty() bool { return b.Value == "" && b.Low == "" && b.High == "" }

// Quantity returns the band as an interval. A band open below begins at 0;
// one open above ends at its low end times 1,000,000. It fails for an empty
// band or a unit outside the UCUM subset.
func (b Band) Quantity() (quantity.Quantity, error) {
	u, err := quantity.ParseUnit(b.Unit)
	if err != nil {
		return quantity.Quantity{}, err
	}
	parse := func(n json.Number) quantity.Number {
		v, e := quantity.ParseNumber(n.String())
		if e != nil {
			err = e
		}
		return v
	}
	switch {
	case b.Value != "":
		return quantity.Point(parse(b.Value), u), err
	case b.Low != "" && b.High != "":
		return quantity.Range(parse(b.Low), parse(b.High), u), err
	case b.Low != "":
		low := parse(b.Low)
		return quantity.Range(low, low.Mul(quantity.Int(1000000)), u), err
	case b.High != "":
		return quantity.Range(quantity.Int(0), parse(b.High), u), err
	}
	return quantity.Quantity{}, fmt.Errorf("band without a number")
}

var (
	populations = []string{"all", "adult", "pediatric", "neonate"}
	standings   = []string{Sourced, Corroborated, Memory, LocalStanding}
	storages    = []string{"", "room", "refrigerated", "frozen", "worn", "total", "infusion"}
)

func standing(s string) bool { return slices.Contains(standings, s) }

func (f Fact) check() error {
	switch {
	case f.ID == "":
		return fmt.Errorf("drug table: a fact has no id")
	case f.Source == "":
		return fmt.Errorf("drug table: fact %s has no source", f.ID)
	case !standing(f.Standing):
		return fmt.Errorf("drug table: fact %s has standing %q; use sourced, corroborated, memory or local", f.ID, f.Standing)
	case !slices.Contains(populations, f.Population):
		return fmt.Errorf("drug table: fact %s is for %q; use all, adult, pediatric or neonate", f.ID, f.Population)
	case !slices.Contains(storages, f.Value.Storage):
		return fmt.Errorf("drug table: fact %s is stored %q; use room, refrigerated, frozen, worn, total or infusion", f.ID, f.Value.Storage)
	case !f.Gates && f.Review == "":
		return fmt.Errorf("drug table: fact %s never gates and does not say why", f.ID)
	case !slices.Contains([]string{"", "hold", "warn"}, f.Gate) || f.Gate != "" && (!f.Gates || f.Review == ""):
		return fmt.Errorf("drug table: fact %s has the gate %q; use hold or warn, only for a fact that gates, with a review that says why", f.ID, f.Gate)
	}
	for _, l := range [][]string{f.Value.List, f.Value.Diluent} {
		for _, code := range l {
			if DiluentName(code) == code {
				return fmt.Errorf("drug table: fact %s names the fluid %q, which has no code", f.ID, code)
			}
		}
	}
	if err := f.Value.checkBands(); err != nil {
		return fmt.Errorf("drug table: fact %s: %w", f.ID, err)
	}
	for _, a := range f.AppliesTo {
		if err := a.check(); err != nil {
			return fmt.Errorf("drug table: fact %s: %w", f.ID, err)
		}
	}
	return nil
}
