package arithmetic

import (
	_ "embed"
	"encoding/json"
	"slices"

	"weir.example/weir/mapping/quantity"
)

// customary is what home infusions of any drug look like: hardly ever below
// low or above high, most often near middle. Base units.
type customary struct {
	low, middle, high quantity.Number
	known             bool
}

// general holds the customary values by quantity.
type general [nameCount]customary

//go:embed customs.json
var customsFile []byte

// customsOf are the customs of the four kinds of order: pausing or running,
// by mass or not. The table with its standing is customs.json.
var customsOf = func() (all [2][2]general) {
	var file struct {
		Customs []struct{ Of, Name, Low, Middle, High, Unit string }
	}
	if err := json.Unmarshal(customsFile, &file); err != nil {
		panic(err) // a fault of this build, caught by the first test
	}
	for running, kind := range []string{"pausing", "running"} {
		for byMass, lists := range [][]string{{"always", kind}, {"always", kind, kind + " by mass"}} {
			for _, row := range file.Customs {
				if !slices.Contains(lists, row.Of) {
					continue
				}
				u := quantity.MustUnit(row.Unit)
				c := customary{low: u.ToBase(quantity.MustNumber(row.Low)), high: u.ToBase(quantity.MustNumber(row.High)), known: true}
				if row.Middle != "" {
					c.middle = u.ToBase(quantity.MustNumber(row.Middle))
				}
				all[running][byMass][indexOf(row.Name)] = c
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
