package compendium

import (
	"fmt"
	"maps"
	"slices"

	"weir.example/weir/mapping/quantity"
)

// shownOnly are units no number is reckoned in: degrees Celsius and pH are no
// ratio scales. Every other unit is one of quantity.
var shownOnly = []string{"Cel", "[pH]"}

// check refuses a band that could not be compared with: a look-up that
// cannot read its number would pass in silence.
func (b Band) check() error {
	if b.Empty() || b.Value != "" && (b.Low != "" || b.High != "") {
		return fmt.Errorf("needs one number, or a range, with a unit; has %q, %q, %q in %q", b.Value, b.Low, b.High, b.Unit)
	}
	if !slices.Contains(shownOnly, b.Unit) {
		if _, err := quantity.ParseUnit(b.Unit); err != nil {
			return err
		}
	}
	var ends []quantity.Number
	for _, n := range []string{b.Value.String(), b.Low.String(), b.High.String()} {
		if n == "" {
			continue
		}
		v, err := quantity.ParseNumber(n)
		if err != nil {
			return err
		}
		ends = append(ends, v)
	}
	if len(ends) == 2 && ends[1].Less(ends[0]) {
		return fmt.Errorf("runs from %s down to %s", b.Low, b.High)
	}
	return nil
}

// bandAt is a band and the name it stands under.
type bandAt struct {
	name string
	band *Band
}

// checkBands looks at every band of a value, in the order in which they are
// written.
func (v Value) checkBands() error {
	list := []bandAt{{"dose", v.Dose}, {"interval", v.Interval}, {"max", v.Max}, {"bolus", v.Bolus}, {"continuous", v.Continuous},
		{"dailyDose", v.DailyDose}, {"dividedDoses", v.DividedDoses}, {"doses", v.Doses}, {"infusionDuration", v.InfusionDuration},
		{"rate", v.Rate}, {"bagDuration", v.BagDuration}, {"duration", v.Duration}, {"temperature", v.Temperature},
		{"concentration", v.Concentration}, {"frequency", v.Frequency}}
	if v.Band != (Band{}) {
		list = append(list, bandAt{"value", &v.Band})
	}
	for i := range v.Bands {
		list = append(list, v.Bands[i].bands()...)
	}
	for i := range v.Strengths {
		list = append(list, bandAt{"strengths", &v.Strengths[i]})
	}
	if p := v.FollowedBy; p != nil {
		list = append(list, bandAt{"followedBy.duration", p.Duration}, bandAt{"followedBy.temperature", p.Temperature})
	}
	for _, name := range slices.Sorted(maps.Keys(v.Other)) {
		b := v.Other[name]
		list = append(list, bandAt{"other." + name, &b})
	}
	return checkEach(list)
}

func (b *RenalBand) bands() []bandAt {
	return []bandAt{{"bands.crcl", &b.Crcl}, {"bands.dose", b.Dose}, {"bands.dailyDose", b.DailyDose}, {"bands.doseFactor", b.DoseFactor},
		{"bands.dailyDoseFactor", b.DailyDoseFactor}, {"bands.interval", b.Interval}, {"bands.intervalMin", b.IntervalMin}, {"bands.rate", b.Rate},
		{"bands.timesPerWeek", b.TimesPerWeek}, {"bands.alternativeFirst", b.AlternativeFirst}, {"bands.alternativeSecond", b.AlternativeSecond}}
}

func (a Applies) checkBands() error {
	return checkEach([]bandAt{{"appliesTo.age", a.Age}, {"appliesTo.weight", a.Weight}, {"appliesTo.dose", a.Dose}, {"appliesTo.interval", a.Interval}})
}

func checkEach(list []bandAt) error {
	for _, x := range list {
		if x.band == nil {
			continue
		}
		if err := x.band.check(); err != nil {
			return fmt.Errorf("%s: %w", x.name, err)
		}
	}
	return nil
}

// checkNumber looks at a number that is written with its unit beside it.
func checkNumber(number, unit string) error {
	if _, err := quantity.ParseUnit(unit); err != nil {
		return err
	}
	_, err := quantity.ParseNumber(number)
	return err
}
