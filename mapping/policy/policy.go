// Package policy holds the choices a site may make: bands, delivery rules,
// standing protocols. Facts about drugs are in compendium. A Reference is
// both together with the zone data, loaded and hashed once and never changed.
package policy

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"fmt"
	"strings"
	"sync"
	"time"

	"go.yaml.in/yaml/v3"

	"weir.example/weir/mapping/quantity"
)

//go:embed default.yaml
var defaults []byte

// Fraction is an exact decimal in a settings file: 0.05 is 5 %.
type Fraction struct{ quantity.Number }

// UnmarshalYAML reads the digits as written, so that no binary rounding
// enters a limit.
func (f *Fraction) UnmarshalYAML(n *yaml.Node) error {
	v, err := quantity.ParseNumber(n.Value)
	if err != nil {
		return fmt.Errorf("line %d: %w", n.Line, err)
	}
	f.Number = v
	return nil
}

// Length is a length of time in a settings file: 3h, 90m.
type Length time.Duration

// UnmarshalYAML reads Go's notation for durations.
func (l *Length) UnmarshalYAML(n *yaml.Node) error {
	d, err := time.ParseDuration(n.Value)
	if err != nil || d < 0 {
		return fmt.Errorf("line %d: %q is no length of time; write 3h or 90m", n.Line, n.Value)
	}
	*l = Length(d)
	return nil
}

// Policy is a site's choices. Every number has a default; see default.yaml,
// which says where it comes from.
type Policy struct {
	Pharmacy struct {
		Name, Phone string
	}
	// Telephone numbers printed for patients and nurses; empty is not printed.
	Telephone struct{ Day, Night, Pharmacist, Nurse, Emergency string }
	// Gates are the site's own for a rule, by finding code. A block never
	// goes below hold, a hold never below warn.
	Gates  map[string]string
	Orders struct {
		IdentifierSystems []string `yaml:"identifierSystems"`
	}
	Home struct{ Zone string }
	// EventTimes are the site's clock times, 08:00, for events of the day and
	// timing codes, by their FHIR code (see Clocks); none are assumed.
	EventTimes map[string][]string `yaml:"eventTimes"`
	// Lock: the protocols are in force while StandingProtocol is true, each
	// for its line and population alone (see LockProtocol).
	Lock struct {
		StandingProtocol bool `yaml:"standingProtocol"`
		Source           string
		Protocols        []Protocol
	}
	Catalogue []CatalogueDevice
	Overrides []Override
	Stability []Formula
	Delivery  Delivery
	Device    Device
	Dose      Dose
	Care      Care
	Opioid    Opioid
	Nutrition Nutrition
	Night     Night
	Records   struct {
		AdultYears   int `yaml:"adultYears"`
		LeastAgeDays int `yaml:"leastAgeDays"`
		// Ages in years, both included, at which pregnancy is possible, and for
		// how many days an answer counts.
		PregnancyFrom int `yaml:"pregnancyFrom"`
		PregnancyTo   int `yaml:"pregnancyTo"`
		PregnancyDays int `yaml:"pregnancyDays"`
	}
	Access struct {
		PlanDueDays  int `yaml:"planDueDays"`
		PlanGateDays int `yaml:"planGateDays"`
		// OsmolarityMost is the highest osmolarity by a peripheral line, mOsm/L.
		OsmolarityMost int `yaml:"osmolarityMost"`
		Source         string
	}
	Hazard struct {
		ClosedTransferPolicy bool `yaml:"closedTransferPolicy"`
		BodyFluidHours       int  `yaml:"bodyFluidHours"`
		// By exact generic name: hours of body-fluid precautions, and the
		// class of waste.
		BodyFluidHoursByDrug map[string]int    `yaml:"bodyFluidHoursByDrug"`
		WasteByDrug          map[string]string `yaml:"wasteByDrug"`
		Assessments          []Assessment
		Source               string
	}
	SecondCheck SecondCheck `yaml:"secondCheck"`
	// Sterility is how the pharmacy makes its units, in the words of
	// compendium.CategoryLimit; empty: not told, and nothing not yet made is
	// dated. Tested: every lot passes a sterility test before it is used.
	Sterility struct {
		Category, Method, Components string
		Tested                       bool
		Source                       string
	}
	Hash string `yaml:"-"` // SHA-256 of the file, hex
}

// Delivery says when and how much may be delivered.
type Delivery struct {
	LongestDays int      `yaml:"longestDays"`
	NoDelivery  []string `yaml:"noDelivery"` // weekdays in English, lower case
	Holidays    []string // dates, 2026-11-26
	WarmUp      Length   `yaml:"warmUp"`
	Teach       Length
	OpenFrom    string   `yaml:"openFrom"` // staffed hours, wall clock
	OpenUntil   string   `yaml:"openUntil"`
	VisitBefore Length   `yaml:"visitBefore"` // nurse's visit before the first home dose
	SpareRate   Fraction `yaml:"spareRate"`
	SpareLeast  int      `yaml:"spareLeast"`
	Source      string
}

// Device holds the limits for matching a device to an order. Numbers without
// a unit are fractions or multiples; NominalRates are in mL/h.
type Device struct {
	Tolerance                   Fraction
	WrongFamilyFast             Fraction   `yaml:"wrongFamilyFast"`
	WrongFamilySlow             Fraction   `yaml:"wrongFamilySlow"`
	IntermittentNote            Fraction   `yaml:"intermittentNote"`
	IntermittentHold            Fraction   `yaml:"intermittentHold"`
	RateError                   Fraction   `yaml:"rateError"`
	DeliveredLeast              Fraction   `yaml:"deliveredLeast"`
	DeliveredLeastAntiInfective Fraction   `yaml:"deliveredLeastAntiInfective"`
	NominalRates                []Fraction `yaml:"nominalRates"`
	Source                      string
}

// Dose holds the bands of the dose checks: fractions, and ages in days.
type Dose struct {
	ArithmeticWarn   Fraction `yaml:"arithmeticWarn"`
	ArithmeticBlock  Fraction `yaml:"arithmeticBlock"`
	BasisWarn        Fraction `yaml:"basisWarn"`
	BasisHold        Fraction `yaml:"basisHold"`
	FirstDoseEarly   Fraction `yaml:"firstDoseEarly"`
	FirstDoseLate    Fraction `yaml:"firstDoseLate"`
	CreatinineDays   int      `yaml:"creatinineDays"`
	AdultWeightDays  int      `yaml:"adultWeightDays"`
	ChildWeightDays  int      `yaml:"childWeightDays"`
	InfantWeightDays int      `yaml:"infantWeightDays"`
	WeightChange     Fraction `yaml:"weightChange"`
	AboveUsual       Fraction `yaml:"aboveUsual"`       // times the highest usual dose, where no maximum stands
	AboveUsualChild  Fraction `yaml:"aboveUsualChild"`  // the same below the age of an adult
	HeavyTimes       Fraction `yaml:"heavyTimes"`       // times the ideal weight, above which other weights count too
	ObeseIndex       int      `yaml:"obeseIndex"`       // body mass index from which a labelled weight for the obese counts
	ImplausibleIndex int      `yaml:"implausibleIndex"` // the same from which a single weight is asked about
	Source           string
}

// SecondCheck says for which orders a second person checks independently of
// the first. A site adds to it and takes nothing away: its lists are joined
// with those of the program, in that order, so that an empty list or a list
// of one kind leaves the rest in force, and a list need not be written out
// again when the program's grows; children and hazardous drugs stay true, and
// false is refused.
type SecondCheck struct {
	Kinds               []string // as in the drug table
	Names               []string // words in the name of a drug that has no table row yet
	Children, Hazardous bool
	Source              string
}

// defaultSecond is read alone: the defaults themselves are checked by it.
var defaultSecond = sync.OnceValue(func() SecondCheck {
	p := &Policy{}
	readOver(defaults, p)
	return p.SecondCheck
})

// Default is the policy shipped with the program, unsigned.
var Default = sync.OnceValue(func() *Policy {
	p, err := Load(nil)
	if err != nil {
		panic(err) // a fault of this build, caught by the first test
	}
	return p
})

// DefaultFile returns the embedded defaults as a commented file.
func DefaultFile() []byte { return bytes.Clone(defaults) }

// Load reads a site's file over the defaults: what the file leaves out keeps
// its default. Everything it may not say is in the error, a Faults.
func Load(site []byte) (*Policy, error) { return Read("policy", site) }

// Read is Load for a file with a name: each fault begins with it, its line
// and its column. The error is a Faults with all faults of the file in its
// order; there is no policy then.
func Read(file string, site []byte) (*Policy, error) {
	p := &Policy{}
	if r := readOver(defaults, p); len(r.faults) > 0 {
		return nil, fmt.Errorf("default policy: %w", r.faults)
	}
	r := readOver(site, p)
	faults := append(r.faults, check(p, r)...)
	if len(faults) > 0 {
		for i := range faults {
			faults[i].File = file
		}
		return nil, faults.sorted()
	}
	p.SecondCheck = p.SecondCheck.withDefaults()
	sum := sha256.Sum256(append(bytes.Clone(defaults), site...))
	p.Hash = hex.EncodeToString(sum[:])
	for i := range p.Overrides {
		o, entry := &p.Overrides[i], fmt.Sprintf("overrides[%d]", i)
		o.File, o.keys = file, places{}
		o.Line, o.Column = r.at.of(entry)
		for key, place := range r.at {
			if k, in := strings.CutPrefix(key, entry+"."); in {
				o.keys[k] = place
			}
		}
	}
	return p, nil
}
