package policy

import (
	"fmt"
	"time"
)

// night: what a site may choose for the nightly comparison. The bounds keep a
// slip from switching a check off: a feed of a week ago, or half of all
// orders gone, is never quiet.
func (c *checker) night() {
	x := c.p.Night
	c.longs("night.feedAge", x.FeedAge, time.Hour, 36*time.Hour) // a night, and a night that was missed
	c.between("0", "0.5", named{"night.absentShare", x.AbsentShare})
	c.longs("night.unseenAge", x.UnseenAge, 0, 24*time.Hour)
	c.count("night.stockTolerance", x.StockTolerance, 0, 3)
	c.longs("night.testGrace", x.TestGrace, 0, 7*24*time.Hour) // a culture takes days, a count none
	c.longs("night.resultGrace", x.ResultGrace, 0, 72*time.Hour)
	c.longs("night.taskGrace", x.TaskGrace, 0, 24*time.Hour)
	c.longs("night.taskSupervisor", x.TaskSupervisor, 0, 24*time.Hour)
	if x.TaskSupervisor < x.TaskGrace && c.fine("night.taskGrace", "night.taskSupervisor") {
		c.refuse(c.given("night.taskSupervisor", "night.taskGrace"), fmt.Sprintf("disagrees: night.taskGrace is %s and night.taskSupervisor is %s", time.Duration(x.TaskGrace), time.Duration(x.TaskSupervisor)), "the first not above the second")
	}
	c.count("night.endDays", x.EndDays, 1, 14)
}

// longs asks for a length of time from a least to a most, both allowed.
func (c *checker) longs(key string, value Length, least, most time.Duration) {
	if d := time.Duration(value); d < least || most < d {
		c.refuse(key, "is "+d.String(), fmt.Sprintf("from %s to %s", least, most))
	}
}
