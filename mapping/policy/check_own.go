package policy

import (
	"fmt"
	"regexp"
	"slices"
	"sync"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/quantity"
)

// fixed are rules whose gate no site relaxes at all: who the patient is, the
// second person, and a drug that nobody assessed.
var fixed = []finding.Code{"second-check", "hazard-unassessed", "identity-conflict", "identity-other-patient"}

// gates: a site may tighten freely, relaxes a block to hold at the most and
// a hold to warn at the most.
func (c *checker) gates() {
	for _, code := range sortedKeys(c.p.Gates) {
		key := "gates." + code
		own := finding.Gate(c.p.Gates[code])
		row, known := finding.Lookup(finding.Code(code))
		switch {
		case !known:
			problem := "is no finding code"
			if near := c.r.near(code, codes(), 2); near != "" {
				problem += ", probably " + near + " was meant"
			}
			c.refuse(key, problem, "one that `weir explain` knows")
		case row.Gate == finding.Refused:
			c.refuse(key, "refuses a document before an order is read", "a rule that finds something in an order")
		case row.Gate == finding.NoGate:
			c.refuse(key, "stands for the whole site and is no rule of an order: no site relaxes it", "a rule that finds something in an order")
		case !slices.Contains([]finding.Gate{finding.Block, finding.Hold, finding.Warn, finding.Note}, own):
			c.refuse(key, fmt.Sprintf("is %.40q", string(own)), "block, hold, warn or note")
		case own.Weight() < row.Gate.Weight() && slices.Contains(fixed, row.Code):
			c.refuse(key, fmt.Sprintf("relaxes %s to %s", row.Gate, own), "no less than "+string(row.Gate)+": no site relaxes this one")
		case row.Gate == finding.Block && own.Weight() < finding.Hold.Weight():
			c.refuse(key, "relaxes a block to "+string(own), "block or hold: a block is never relaxed below hold")
		case row.Gate == finding.Hold && own.Weight() < finding.Warn.Weight():
			c.refuse(key, "relaxes a hold to "+string(own), "block, hold or warn: a hold is never relaxed below warn")
		}
	}
}

func codes() []string {
	var out []string
	for _, row := range finding.Codes() {
		out = append(out, string(row.Code))
	}
	return out
}

// drugNames are all generic names and ingredients of the shipped tables.
var drugNames = sync.OnceValue(func() []string {
	t := compendium.Embedded()
	var out []string
	for _, d := range t.Drugs {
		out = append(out, compendium.Fold(d.Name))
	}
	for _, h := range t.Hazards {
		out = append(out, compendium.Fold(h.Name))
	}
	slices.Sort(out)
	return slices.Compact(out)
})

// catalogue: what the site hands out. No home infusion runs faster than
// 2,000 mL/h or holds more than 5 L; no reservoir keeps back more than 50 mL.
func (c *checker) catalogue() {
	seen := map[string]bool{}
	for i, d := range c.p.Catalogue {
		key := func(k string) string { return fmt.Sprintf("catalogue[%d].%s", i, k) }
		c.said(key("name"), d.Name, "a generic name of the device")
		c.said(key("source"), d.Source, from)
		if seen[d.Name] && d.Name != "" {
			c.refuse(key("name"), fmt.Sprintf("has %.40q for the second time", d.Name), "each device once")
		}
		seen[d.Name] = true
		c.word(key("class"), d.Class, "elastomeric", "electronic-pump", "syringe-pump", "gravity")
		elastomeric, pump := d.Class == "elastomeric", d.Class == "electronic-pump" || d.Class == "syringe-pump"
		c.amount(key("nominalVolume"), d.NominalVolume, "mL", "5000", elastomeric)
		least, okLeast := c.amount(key("fillLeast"), d.FillLeast, "mL", "5000", false)
		most, okMost := c.amount(key("fillMost"), d.FillMost, "mL", "5000", false)
		if okLeast && okMost && most.Less(least) {
			c.refuse(c.given(key("fillMost"), key("fillLeast")), "is below fillLeast", "a range that is not empty")
		}
		if n, ok := c.measured(key("residual"), d.Residual, "mL", false); ok && (n.Sign() < 0 || quantity.Int(50).Less(n)) {
			c.refuse(key("residual"), fmt.Sprintf("is %q", string(d.Residual)), "0 to 50 mL")
		}
		for j, r := range d.NominalRates {
			c.amount(fmt.Sprintf("catalogue[%d].nominalRates[%d]", i, j), r, "mL/h", "2000", true)
		}
		once(c, key("nominalRates"), d.NominalRates)
		slow, okSlow := c.amount(key("rateLeast"), d.RateLeast, "mL/h", "2000", pump)
		fast, okFast := c.amount(key("rateMost"), d.RateMost, "mL/h", "2000", pump)
		if okSlow && okFast && fast.Less(slow) {
			c.refuse(key("rateMost"), "is below rateLeast", "a range that is not empty")
		}
		if step, ok := c.amount(key("rateStep"), d.RateStep, "mL/h", "100", false); ok && okFast && fast.Less(step) {
			c.refuse(key("rateStep"), "is above rateMost", "a step that the pump can make")
		}
		switch {
		case elastomeric && len(d.NominalRates) == 0:
			c.refuse(key("nominalRates"), "is missing", "at least one rate, such as 200 mL/h")
		case elastomeric && d.RateLeast+d.RateMost+d.RateStep != "":
			c.refuse(c.given(key("rateLeast"), key("rateMost"), key("rateStep")), "sets a rate, which an elastomeric device has built in", "nominalRates alone")
		}
		if d.Tolerance != nil {
			c.within("0.5", named{key("tolerance"), *d.Tolerance})
		}
		// The sets there are: 10, 15 or 20 drops per mL, and 60 for slow rates.
		if _, given := c.r.at[key("dropFactor")]; given && !slices.Contains([]int{10, 15, 20, 60}, d.DropFactor) {
			c.refuse(key("dropFactor"), fmt.Sprintf("is %d", d.DropFactor), "10, 15, 20 or 60 drops per mL")
		}
	}
}

func (c *checker) signed(key func(string) string, by, on string) {
	c.said(key("by"), by, "the name of who decided")
	c.day(key("on"), on)
}

var factID = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*-[0-9]{3}$`)

// overrides: the form only; whether the fact exists and the number is of its
// kind and near it, the tables say (Overrule).
func (c *checker) overrides() {
	seen := map[string]bool{}
	for i, o := range c.p.Overrides {
		key := func(k string) string { return fmt.Sprintf("overrides[%d].%s", i, k) }
		switch {
		case o.Fact == "":
			c.refuse(key("fact"), "is missing", "the id of a fact, as `weir tables drug NAME` prints it")
		case !factID.MatchString(o.Fact):
			c.refuse(key("fact"), fmt.Sprintf("is %.40q", o.Fact), "the id of a fact, as `weir tables drug NAME` prints it")
		case seen[o.Fact]:
			c.refuse(key("fact"), fmt.Sprintf("has %q for the second time", o.Fact), "each fact once")
		}
		seen[o.Fact] = true
		c.span(key, o.Span, o.Gates == nil && c.fine(key("gates")))
		c.said(key("source"), o.Source, from)
		c.said(key("reason"), o.Reason, "why, in words")
		c.signed(key, o.By, o.On)
	}
}
