package policy

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
)

// solution is one thing a standing protocol may put into a line, in the words
// of this list only. Of names the first stands for the others in a message.
type solution struct {
	names    []string
	limits   string // as the table of locks calls it; "" for none
	unit     string // of a strength
	such     string // an example of one
	strength string // the only one there is; "" for those of the table
}

// solutions is the closed list. What is not on it (an antibiotic, ethanol,
// taurolidine) is ordered for one patient and never by a standing protocol.
var solutions = []solution{
	{names: []string{"sodium chloride 0.9 %"}, unit: "%", such: "0.9 %", strength: "0.9 %"},
	{names: []string{"heparin", "heparin lock flush", "heparin sodium"}, limits: "heparin", unit: "[USP'U]/mL", such: "10 [USP'U]/mL"},
	{names: []string{"sodium citrate"}, limits: "citrate", unit: "%", such: "4 %"},
}

func solutionOf(name string) (solution, bool) {
	i := slices.IndexFunc(solutions, func(s solution) bool { return slices.Contains(s.names, name) })
	if i < 0 {
		return solution{}, false
	}
	return solutions[i], true
}

// lock: a protocol in force names a line, a population and what goes in; and
// it may not order what the table of locks blocks.
func (c *checker) lock() {
	if list := "lock.protocols"; c.p.Lock.StandingProtocol && len(c.p.Lock.Protocols) == 0 && c.fine(list) {
		c.refuse("lock.standingProtocol", "is true, and no protocol says what goes into which line of whom", "the protocols below lock.protocols")
	}
	seen := map[string]bool{}
	for i, x := range c.p.Lock.Protocols {
		key := func(k string) string { return fmt.Sprintf("lock.protocols[%d].%s", i, k) }
		c.word(key("access"), x.Access, "peripheral", "midline", "picc", "non-tunnelled", "tunnelled", "port", "dialysis")
		c.word(key("population"), x.Population, "adult", "child", "neonate", "all")
		if whom := x.Access + " for " + x.Population; seen[whom] && x.Access != "" && x.Population != "" {
			c.refuse(key("access"), "has a second protocol: "+whom, "one for each line and population")
		} else {
			seen[whom] = true
		}
		c.said(key("source"), x.Source, from)
		// No catheter holds more than 5 mL; a flush is 10 mL, 20 mL after
		// blood. A newborn of 1 kg has 80 mL of blood.
		volume, flush := "10", "20"
		if x.Population == "neonate" {
			volume, flush = "3", "5"
		}
		c.amount(key("volume"), x.Volume, "mL", volume, true)
		c.amount(key("flush"), x.Flush, "mL", flush, false)
		if s, listed := c.solution(key("solution"), x.Solution); listed {
			c.strength(key("strength"), x, s)
		}
	}
}

func (c *checker) solution(key, name string) (solution, bool) {
	s, listed := solutionOf(name)
	if listed {
		return s, true
	}
	var names []string
	for _, s := range solutions {
		names = append(names, s.names...)
	}
	switch {
	case strings.TrimSpace(name) == "":
		c.refuse(key, "is missing", "one of "+strings.Join(names, ", "))
	case strings.EqualFold(name, "saline") || strings.EqualFold(name, "normal saline"):
		c.refuse(key, fmt.Sprintf("is %.40q, which says no strength", name), "sodium chloride 0.9 %")
	default:
		c.refuse(key, fmt.Sprintf("is %.40q, which no standing protocol may give", name), "one of "+strings.Join(names, ", ")+"; anything else is ordered for one patient")
	}
	return s, false
}

// strength asks the table of locks, whose limits carry their sources.
func (c *checker) strength(key string, x Protocol, s solution) {
	q, err := x.Strength.Quantity()
	switch _, given := c.r.at[key]; {
	case x.Strength == "" && s.limits == "" && !given:
		return
	case x.Strength == "":
		c.refuse(key, "is missing", "a number and a unit, such as "+s.such)
		return
	case err != nil:
		c.refuse(key, err.Error(), "a number, a blank and a UCUM unit, such as "+s.such)
		return
	case q.Low.Sign() <= 0:
		c.refuse(key, fmt.Sprintf("is %q", string(x.Strength)), "a number above 0")
		return
	case s.strength != "":
		only, _ := Amount(s.strength).in(s.unit)
		if in, same := x.Strength.in(s.unit); !same || !in.Equal(only) {
			c.refuse(key, fmt.Sprintf("is %q", string(x.Strength)), s.strength+", or no such key")
		}
		return
	}
	whom := map[string]string{"adult": "adult", "child": "pediatric", "neonate": "neonate", "all": "neonate"}[x.Population]
	limit, reached, known := compendium.Lock(s.limits, x.Access, whom, q)
	switch {
	case !known:
		c.refuse(key, fmt.Sprintf("is %q, another kind of quantity", string(x.Strength)), "a number in "+s.unit)
	case reached && limit.Gate == "block":
		need := "up to " + limit.Above
		if limit.From != "" {
			need = "below " + limit.From
		}
		need += " " + limit.Unit + ": " + limit.Says
		if x.Population == "all" && limit.Population != "" {
			need += "; or a population without newborns"
		}
		c.refuse(key, fmt.Sprintf("is %q", string(x.Strength)), need)
	}
}
