package compendium

import (
	"encoding/json"
	"fmt"
	"slices"

	"weir.example/weir/mapping/quantity"
)

// Drug is one generic ingredient with everything known about it.
type Drug struct {
	Name                      string
	Class                     string
	Codes                     Codes
	Synonyms                  []string
	Kinds                     []string // anti-infective, antineoplastic, beta-lactam, …
	HighAlert                 bool     // two people pass what one may pass for others
	Hazard                    *Review  // nil: look in the hazardous list only
	RoundingStep              *Amount
	UsualVolumes              *Sizes
	GenotypeTest              bool // a gene test is asked for before the first dose
	MonitorBeforeFirstRelease bool
	Facts                     []Fact
}

// Codes are the drug's codes and how far they were checked.
type Codes struct{ RxNorm, ATC, Standing string }

// Review says that a pharmacist looked for the drug in the hazardous list
// and did not find it.
type Review struct{ Listed, Edition, Reviewer, Reason, Standing string }

// Amount is one number with a unit and its source.
type Amount struct{ Value, Unit, Standing, Source string }

// Sizes is a list of numbers with a unit.
type Sizes struct {
	List                   []string
	Unit, Standing, Source string
}

// Fact is one statement of one document.
type Fact struct {
	ID, Topic, Population, Condition string
	Value                            Value
	AppliesTo                        map[string]any
	Basis, Standing, Source, Review  string
	Gates                            bool // false: this fact never blocks or holds by itself
}

// Value is what a fact says; which members are set depends on its topic.
type Value struct {
	Band
	Dose, Interval, Bolus, Continuous               *Band
	DailyDose                                       *Band `json:"daily_dose"`
	DividedDoses                                    *Band `json:"divided_doses"`
	InfusionDuration                                *Band `json:"infusion_duration"`
	Time                                            *Band
	Duration, Temperature, Concentration, Frequency *Band
	Bands                                           []RenalBand
	Strengths                                       []Band
	List, Tests                                     []string
	Diluent                                         []string
	Text, Storage                                   string
	Container                                       string
}

// Band is a number or a range with a UCUM unit.
type Band struct {
	Value, Low, High json.Number
	Unit             string
}

// RenalBand is the dose for a range of creatinine clearance.
type RenalBand struct {
	Crcl        Band
	DoseFactor  *Band `json:"dose_factor"`
	DailyFactor *Band `json:"daily_dose_factor"` // factor on the dose of a day
	Interval    *Band
	IntervalMin *Band `json:"interval_min"`
}

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

// Is reports whether the drug is of the kind.
func (d Drug) Is(kind string) bool { return slices.Contains(d.Kinds, kind) }

// About returns the facts of a topic that hold for a population ("adult" or
// "pediatric"; facts for "all" always hold).
func (d Drug) About(topic, population string) []Fact {
	var out []Fact
	for _, f := range d.Facts {
		if f.Topic == topic && (f.Population == population || f.Population == "all") {
			out = append(out, f)
		}
	}
	return out
}

func (d Drug) check() error {
	if d.Name == "" || d.Name != Fold(d.Name) {
		return fmt.Errorf("drug table: name %q must be lower case and not empty", d.Name)
	}
	seen := map[string]bool{}
	for _, f := range d.Facts {
		switch {
		case f.ID == "" || seen[f.ID]:
			return fmt.Errorf("drug table: %s: fact id %q is empty or stands twice", d.Name, f.ID)
		case f.Source == "":
			return fmt.Errorf("drug table: fact %s has no source", f.ID)
		case f.Standing != Sourced && f.Standing != Memory:
			return fmt.Errorf("drug table: fact %s has standing %q; use sourced or memory", f.ID, f.Standing)
		}
		seen[f.ID] = true
	}
	return nil
}
