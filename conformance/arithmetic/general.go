package arithmetic

import "weir.example/weir/mapping/quantity"

// customary is what home infusions of any drug look like: hardly ever below
// low or above high, most often near middle. Base units.
type customary struct {
	low, middle, high quantity.Number
	known             bool
}

// general holds the customary values by quantity.
type general [nameCount]customary

// What is customary for infusions that pause and for those that do not, and
// for drugs measured by mass (common practice, no source). They only order
// the explanations of a disagreement that the arithmetic has already proved:
// no number is ever refused or passed by them.
var (
	customaryPausing = customs(map[int][4]string{
		duration: {"15", "60", "240", "min"}, rate: {"20", "120", "500", "mL/h"}, volume: {"20", "150", "1000", "mL"}})
	customaryRunning = customs(map[int][4]string{
		duration: {"4", "24", "168", "h"}, rate: {"0.5", "8", "125", "mL/h"}, volume: {"20", "150", "1000", "mL"}})
	massPausing = customs(map[int][4]string{
		dose: {"5", "800", "5000", "mg"}, concentration: {"0.1", "5", "100", "mg/mL"}, dailyDose: {"10", "1600", "25000", "mg/d"},
		drugRate: {"5", "800", "20000", "mg/h"}, dosePerKg: {"0.1", "", "500", "mg/kg"}})
	massRunning = customs(map[int][4]string{
		dose: {"1", "200", "20000", "mg"}, concentration: {"0.005", "1", "60", "mg/mL"}, dailyDose: {"0.2", "240", "25000", "mg/d"},
		drugRate: {"0.01", "10", "1000", "mg/h"}, drugRatePerKg: {"0.01", "", "100", "ug/kg/min"}})
	customaryAlways = customs(map[int][4]string{
		dosingWeight: {"2", "", "180", "kg"}, interval: {"6", "", "336", "h"}, dosesPerDay: {"0.05", "", "4", "/d"},
		courseLength: {"1", "", "84", "d"}, doseCount: {"1", "", "120", "1"}})
)

// customs reads rows of low, middle, high and unit; an empty middle is none.
func customs(rows map[int][4]string) general {
	var g general
	for at, row := range rows {
		u := quantity.MustUnit(row[3])
		g[at] = customary{low: u.ToBase(quantity.MustNumber(row[0])), high: u.ToBase(quantity.MustNumber(row[2])), known: true}
		if row[1] != "" {
			g[at].middle = u.ToBase(quantity.MustNumber(row[1]))
		}
	}
	return g
}

// customsOf are the customs of the four kinds of order: pausing or running,
// by mass or not.
var customsOf = func() (all [2][2]general) {
	for running, own := range []general{customaryPausing, customaryRunning} {
		for byMass := range 2 {
			lists := []general{customaryAlways, own, {}}
			if byMass == 1 {
				lists[2] = []general{massPausing, massRunning}[running]
			}
			for _, l := range lists {
				for at, c := range l {
					if c.known {
						all[running][byMass][at] = c
					}
				}
			}
		}
	}
	return all
}()

// customary is what may hold for this order: one list, or both when nothing
// says whether the infusion pauses. A reservoir of two days must not be taken
// for a short infusion typed wrongly.
func (u Usual) customary(list []claim, mass bool) []*general {
	byMass := 0
	if mass && (u.Drug == quantity.Mass || u.Drug == quantity.None) {
		byMass = 1
	}
	pausing, running := &customsOf[0][byMass], &customsOf[1][byMass]
	if u.Continuous {
		return []*general{running}
	}
	for i := range list {
		switch list[i].at {
		case interval, dosesPerDay, doseCount:
			return []*general{pausing}
		}
	}
	return []*general{pausing, running}
}

// outside scores a value between low and high that lies outside what is
// customary; near scores how far it is from the middle.
func (c *customary) outside(low, high quantity.Number) int {
	if !c.known {
		return 0
	}
	return beyond(low, high, c.low, c.high, generalStep, generalSlope, generalFloor)
}

func (c *customary) near(low, high quantity.Number) int {
	if !c.known || c.middle.Sign() == 0 {
		return 0
	}
	return beyond(low, high, c.middle, c.middle, 0, middleSlope, generalFloor)
}

// beyond is 0 where the ranges meet, else a step and a slope with the
// natural logarithm of the distance, down to a floor.
func beyond(low, high, least, most quantity.Number, step, slope, lowest int) int {
	distance := 0
	switch {
	case most.Less(low):
		distance = quantity.MilliLog(low.Quo(most))
	case high.Less(least) && high.Sign() > 0:
		distance = quantity.MilliLog(least.Quo(high))
	default:
		return 0
	}
	return max(-step-slope*distance/1000, lowest)
}
