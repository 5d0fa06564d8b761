package policy

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/quantity"
)

// checker collects what could be read and makes no sense, each at its key.
type checker struct {
	p       *Policy
	r       *reader
	faults  Faults
	refused map[string]bool // keys with a fault
}

// check answers every fault of what could be read of a file.
func check(p *Policy, r *reader) Faults {
	c := &checker{p: p, r: r, refused: map[string]bool{}}
	for _, part := range []func(){c.site, c.secondCheck, c.delivery, c.device, c.dose, c.opioid, c.care, c.nutrition, c.night, c.counts, c.sources, c.gates, c.catalogue, c.lock, c.hazard, c.assessments, c.overrides, c.formulas, c.sterility, c.eventTimes} {
		part()
	}
	return c.faults
}

// refuse notes a fault at a key. What was already refused when it was read
// is not refused again for its default or for being absent.
func (c *checker) refuse(key, problem, expected string) {
	for k := key; k != ""; k = above(k) {
		if c.r.unread[k] {
			return
		}
	}
	line, column := c.r.at.of(key)
	c.refused[key] = true
	c.faults = append(c.faults, Fault{Line: line, Column: column, Key: key, Problem: problem, Expected: expected})
}

// fine reports that nothing was refused at any of the keys, so that they may
// be compared with each other.
func (c *checker) fine(keys ...string) bool {
	return !slices.ContainsFunc(keys, func(k string) bool { return c.r.unread[k] || c.refused[k] })
}

// given is the first of the keys that the file itself sets: where a default
// and the site's value clash, the site's is shown.
func (c *checker) given(keys ...string) string {
	for _, k := range keys {
		if _, set := c.r.at[k]; set {
			return k
		}
	}
	return keys[0]
}

func (c *checker) count(key string, value, least, most int) {
	if value < least || value > most {
		c.refuse(key, fmt.Sprintf("is %d", value), fmt.Sprintf("%d to %d", least, most))
	}
}

type named struct {
	key   string
	value Fraction
}

// within asks for values above 0 and up to a most.
func (c *checker) within(most string, list ...named) {
	for _, x := range list {
		if x.value.Sign() <= 0 || quantity.MustNumber(most).Less(x.value.Number) {
			c.refuse(x.key, "is "+x.value.Decimal(), "a number above 0 and up to "+most)
		}
	}
}

// between asks for values from a least to a most, both allowed.
func (c *checker) between(least, most string, list ...named) {
	for _, x := range list {
		if x.value.Less(quantity.MustNumber(least)) || quantity.MustNumber(most).Less(x.value.Number) {
			c.refuse(x.key, "is "+x.value.Decimal(), "a number from "+least+" to "+most)
		}
	}
}

// ordered asks that the first of two is not above the second.
func (c *checker) ordered(a, b named) {
	if b.value.Less(a.value.Number) && c.fine(a.key, b.key) {
		c.refuse(c.given(a.key, b.key), fmt.Sprintf("disagrees: %s is %s and %s is %s", a.key, a.value.Decimal(), b.key, b.value.Decimal()), "the first not above the second")
	}
}

// day asks for a date of this century: a slip in the year would make an
// assessment last for ever.
func (c *checker) day(key, text string) {
	on, err := time.Parse(time.DateOnly, text)
	switch {
	case text == "":
		c.refuse(key, "is missing", "a day of the calendar, written 2026-11-26")
	case err != nil:
		c.refuse(key, fmt.Sprintf("has %.40q", text), "a day of the calendar, written 2026-11-26")
	case on.Year() < 2000 || on.Year() > 2099:
		c.refuse(key, fmt.Sprintf("has %q", text), "a day from 2000-01-01 to 2099-12-31")
	}
}

func (c *checker) word(key, value string, words ...string) {
	switch {
	case value == "":
		c.refuse(key, "is missing", "one of "+strings.Join(words, ", "))
	case !slices.Contains(words, value):
		problem := fmt.Sprintf("is %.40q", value)
		if near := nearest(value, words, 2); near != "" {
			problem += ", probably " + near + " was meant"
		}
		c.refuse(key, problem, "one of "+strings.Join(words, ", "))
	}
}

// amount asks for a quantity in a unit, above 0 and up to a most; it may be
// absent unless it must be there. False when it cannot be compared further.
func (c *checker) amount(key string, a Amount, unit, most string, must bool) (quantity.Number, bool) {
	n, ok := c.measured(key, a, unit, must)
	if ok && (n.Sign() <= 0 || quantity.MustNumber(most).Less(n)) {
		c.refuse(key, fmt.Sprintf("is %q", string(a)), "above 0 and up to "+most+" "+unit)
		return n, false
	}
	return n, ok
}

// measured asks for a quantity of the kind of a unit, and gives it in that.
func (c *checker) measured(key string, a Amount, unit string, must bool) (quantity.Number, bool) {
	if a == "" {
		if _, given := c.r.at[key]; must || given {
			c.refuse(key, "is missing", "a number and a unit, such as 5 "+unit)
		}
		return quantity.Number{}, false
	}
	if _, err := a.Quantity(); err != nil {
		c.refuse(key, err.Error(), "a number, a blank and a UCUM unit, such as 5 "+unit)
		return quantity.Number{}, false
	}
	n, same := a.in(unit)
	if !same {
		c.refuse(key, fmt.Sprintf("is %q, another kind of quantity", string(a)), "a number in "+unit+" or a unit of its kind")
	}
	return n, same
}

// span asks for one amount or a range of two in one unit: the tables have
// one unit for both ends.
func (c *checker) span(key func(string) string, s Span, must bool) {
	n := 0
	for _, x := range []struct {
		key string
		a   Amount
	}{{"value", s.Value}, {"low", s.Low}, {"high", s.High}} {
		at := key(x.key)
		if _, given := c.r.at[at]; x.a == "" && !given {
			continue
		}
		n++
		q, err := x.a.Quantity()
		switch {
		case err != nil:
			c.refuse(at, err.Error(), "a number, a blank and a UCUM unit, such as 10 mg/mL")
		case q.Low.Sign() <= 0:
			c.refuse(at, fmt.Sprintf("is %q", string(x.a)), "a number above 0")
		}
	}
	low, errLow := s.Low.Quantity()
	high, errHigh := s.High.Quantity()
	switch {
	case n == 0 && must:
		c.refuse(key("value"), "is missing", "a number with its unit, or low and high")
	case s.Value != "" && n > 1:
		c.refuse(key("value"), "stands beside a range", "one number or a range")
	case errLow == nil && errHigh == nil:
		if low.Unit.Code() != high.Unit.Code() || !low.Low.Less(high.Low) {
			c.refuse(key("high"), "is not above low, or in another unit", "a range in one unit")
		}
	}
}

func sortedKeys[V any](m map[string]V) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// once asks that no value of a list stands twice.
func once[T ~string](c *checker, key string, list []T) {
	seen := make(map[T]bool, len(list))
	for i, x := range list {
		if x != "" && seen[x] {
			c.refuse(fmt.Sprintf("%s[%d]", key, i), fmt.Sprintf("has %.40q for the second time", string(x)), "each once")
		}
		seen[x] = true
	}
}
