package slips_test

import (
	"math"
)

// limit is one promise about the checker. The table is what the promise
// says; a sample of orders may miss it by the slack its size needs.
type limit struct {
	says    string
	percent float64
	atMost  bool
	exact   bool                    // no slack: every single case counts
	of      func(*tally) (int, int) // how many, of how many
}

// limits are the targets of the design. Ranking is judged with rough drug
// tables, alarms with full ones: a table that is missing cannot say to which
// step a dose was rounded.
var limits = []limit{
	{"checkable slips by a factor that are found", 100, false, true, slipsOf("total", "multiples", full, func(c *count) (int, int) { return c.foundCheckable, c.checkable })},
	{"checkable neighbouring fields that are found", 99, false, false, slipsOf("signature", neighbour, full, func(c *count) (int, int) { return c.foundCheckable, c.checkable })},
	{"checkable swapped digits that are found", 93, false, false, slipsOf("signature", transposed, full, func(c *count) (int, int) { return c.foundCheckable, c.checkable })},
	{"correct orders blocked (gap above 5 %)", 0.05, true, false, alarmsOf(careful, func(a *alarm) int { return a.overFive })},
	{"correct orders with any finding", 0.3, true, false, alarmsOf(careful, func(a *alarm) int { return a.any })},
	{"careless orders blocked (gap above 5 %)", 0.25, true, false, alarmsOf(careless, func(a *alarm) int { return a.overFive })},
	{"careless orders with any finding", 3, true, false, alarmsOf(careless, func(a *alarm) int { return a.any })},
	{"found slips whose culprit is in the list", 99.9, false, false, slipsOf("total", "all", rough, func(c *count) (int, int) { return c.listed, c.foundCheckable })},
	{"found slips whose culprit is first", 93, false, false, slipsOf("total", "all", rough, func(c *count) (int, int) { return c.first, c.foundCheckable })},
	{"the same with three and more independent checks", 97, false, false, threeChecks},
	{"named culprits that are right", 99, false, false, slipsOf("total", "all", rough, func(c *count) (int, int) { return c.right, c.named })},
	{"found slips whose culprit is named, drug known", 80, false, false, slipsOf("total", "all", full, func(c *count) (int, int) { return c.named, c.foundCheckable })},
	// Of a drug without a table, what would give the patient more is never
	// put forward alone: the design's 80 % was measured without that care.
	{"the same with rough tables", 77, false, false, slipsOf("total", "all", rough, func(c *count) (int, int) { return c.named, c.foundCheckable })},
}

func slipsOf(group, row string, grade int, of func(*count) (int, int)) func(*tally) (int, int) {
	return func(t *tally) (int, int) {
		c := t.slips[key{careful.name, group, row, grade}]
		if c == nil {
			c = &count{}
		}
		return of(c)
	}
}

func alarmsOf(w ward, of func(*alarm) int) func(*tally) (int, int) {
	return func(t *tally) (int, int) {
		a := t.alarms[key{w.name, "total", "all", full}]
		if a == nil {
			a = &alarm{}
		}
		return of(a), a.cases
	}
}

func threeChecks(t *tally) (int, int) {
	c := count{}
	for _, row := range list("3", "4") {
		if n := t.slips[key{careful.name, "checks", row, rough}]; n != nil {
			c.add(*n)
		}
	}
	return c.first, c.foundCheckable
}

func percent(n, of int) float64 {
	if of == 0 {
		return math.NaN()
	}
	return 100 * float64(n) / float64(of)
}

// within reports whether the tally keeps the limit. slack widens it by three
// standard errors; cases of one order hang together, so four of them count
// as one.
func (l limit) within(t *tally, slack bool) (value float64, ok bool) {
	n, of := l.of(t)
	value = percent(n, of)
	by := 0.0
	if p := l.percent / 100; slack && !l.exact && of > 0 {
		by = 100 * 3 * math.Sqrt(p*(1-p)/(float64(of)/4))
	}
	if l.atMost {
		return value, value <= l.percent+by
	}
	return value, value >= l.percent-by
}
