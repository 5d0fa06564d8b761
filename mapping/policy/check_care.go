package policy

import (
	"fmt"
	"time"
)

// care: what a site may ask of results. The bounds are wide: they stop slips
// of unit and point, not a programme's own choice.
func (c *checker) care() {
	x := c.p.Care
	c.count("care.countsDays", x.CountsDays, 1, 14)                               // two weeks: past the lowest counts of the cycle before
	c.between("0", "3", named{"care.neutrophilsLeast", x.NeutrophilsLeast})       // thousand per microlitre: 1500 is a slip of the unit
	c.between("0", "300", named{"care.plateletsLeast", x.PlateletsLeast})         // the same
	c.count("care.levelDoses", x.LevelDoses, 0, 10)                               // steady state is reached long before
	if d := time.Duration(x.LevelBefore); d < 15*time.Minute || 4*time.Hour < d { // 4 h: half of the shortest usual interval
		c.refuse("care.levelBefore", "is "+d.String(), fmt.Sprintf("from %s to %s", 15*time.Minute, 4*time.Hour))
	}
}

// nutrition: see care.
func (c *checker) nutrition() {
	x := c.p.Nutrition
	warn, hold := named{"nutrition.glucoseWarn", x.GlucoseWarn}, named{"nutrition.glucoseHold", x.GlucoseHold}
	c.between("2", "15", warn, hold) // 2 is a drip of 5 % glucose; no adult uses 15
	c.ordered(warn, hold)
	c.within("40", named{"nutrition.potassiumMost", x.PotassiumMost}) // 40 mmol/h is for monitored beds and never selectable
	c.within("1", named{"nutrition.potassiumMostChild", x.PotassiumMostChild})
	c.within("0.05", named{"nutrition.cycleDifference", x.CycleDifference})
	c.between("0", "0.1", named{"nutrition.componentDifference", x.ComponentDifference})
}
