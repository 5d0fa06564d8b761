package policy

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/quantity"
)

// fixed are rules whose gate no site relaxes at all.
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
			c.refuse(key, "is no finding code", "one that `weir explain` knows")
		case row.Gate == finding.Refused || row.Gate == finding.NoGate:
			c.refuse(key, "is no rule a site can set: the document is refused, or nothing is found", "a rule that finds something in an order")
		case !slices.Contains([]finding.Gate{finding.Block, finding.Hold, finding.Warn, finding.Note}, own):
			c.refuse(key, fmt.Sprintf("is %q", string(own)), "block, hold, warn or note")
		case own.Weight() < row.Gate.Weight() && slices.Contains(fixed, row.Code):
			c.refuse(key, fmt.Sprintf("relaxes %s to %s", row.Gate, own), "no less than "+string(row.Gate)+": no site relaxes this one")
		case row.Gate == finding.Block && own.Weight() < finding.Hold.Weight():
			c.refuse(key, "relaxes a block to "+string(own), "block or hold: a block is never relaxed below hold")
		case row.Gate == finding.Hold && own.Weight() < finding.Warn.Weight():
			c.refuse(key, "relaxes a hold to "+string(own), "block, hold or warn: a hold is never relaxed below warn")
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

// amount asks for a quantity in a unit, above 0 and up to a most; empty is
// allowed unless it must be there.
func (c *checker) amount(key string, a Amount, unit, most string, must bool) (quantity.Number, bool) {
	if a == "" {
		if must {
			c.refuse(key, "is missing", "a number and a unit, such as 5 "+unit)
		}
		return quantity.Number{}, false
	}
	if _, err := a.Quantity(); err != nil {
		c.refuse(key, err.Error(), "a number, a blank and a UCUM unit, such as 5 "+unit)
		return quantity.Number{}, false
	}
	n, same := a.in(unit)
	switch {
	case !same:
		c.refuse(key, fmt.Sprintf("is %q, another kind of quantity", string(a)), "a number in "+unit+" or a unit of its kind")
	case n.Sign() <= 0 || quantity.MustNumber(most).Less(n):
		c.refuse(key, fmt.Sprintf("is %q", string(a)), "above 0 and up to "+most+" "+unit)
	default:
		return n, true
	}
	return n, false
}

func (c *checker) word(key, value string, words ...string) {
	if !slices.Contains(words, value) {
		c.refuse(key, fmt.Sprintf("is %q", value), "one of "+strings.Join(words, ", "))
	}
}

func (c *checker) said(key, value string) {
	if strings.TrimSpace(value) == "" {
		c.refuse(key, "is missing", "who, why or where from, in words")
	}
}

// catalogue: what the site hands out. A rate or volume that no home device
// has is a slip.
func (c *checker) catalogue() {
	seen := map[string]bool{}
	for i, d := range c.p.Catalogue {
		key := func(k string) string { return fmt.Sprintf("catalogue[%d].%s", i, k) }
		c.said(key("name"), d.Name)
		c.said(key("source"), d.Source)
		if seen[d.Name] {
			c.refuse(key("name"), fmt.Sprintf("%q stands twice", d.Name), "each device once")
		}
		seen[d.Name] = true
		c.word(key("class"), d.Class, "elastomeric", "electronic-pump", "syringe-pump", "gravity")
		c.amount(key("nominalVolume"), d.NominalVolume, "mL", "5000", d.Class == "elastomeric")
		least, okLeast := c.amount(key("fillLeast"), d.FillLeast, "mL", "5000", false)
		most, okMost := c.amount(key("fillMost"), d.FillMost, "mL", "5000", false)
		if okLeast && okMost && most.Less(least) {
			c.refuse(key("fillMost"), "is below fillLeast", "a range that is not empty")
		}
		c.amount(key("residual"), d.Residual, "mL", "50", false)
		for j, r := range d.NominalRates {
			c.amount(fmt.Sprintf("catalogue[%d].nominalRates[%d]", i, j), r, "mL/h", "2000", true)
		}
		slow, okSlow := c.amount(key("rateLeast"), d.RateLeast, "mL/h", "2000", d.Class == "electronic-pump")
		fast, okFast := c.amount(key("rateMost"), d.RateMost, "mL/h", "2000", d.Class == "electronic-pump")
		if okSlow && okFast && fast.Less(slow) {
			c.refuse(key("rateMost"), "is below rateLeast", "a range that is not empty")
		}
		c.amount(key("rateStep"), d.RateStep, "mL/h", "100", false)
		if d.Class == "elastomeric" && len(d.NominalRates) == 0 {
			c.refuse(key("nominalRates"), "is missing", "at least one rate, such as 200 mL/h")
		}
		if d.Tolerance != nil {
			c.within("0.5", named{key("tolerance"), *d.Tolerance})
		}
		if d.DropFactor != 0 {
			c.count(key("dropFactor"), d.DropFactor, 10, 60)
		}
	}
}

// lock: a standing protocol may not order what the rules would block
// (heparin above 100 units per mL except for dialysis, 100 for a newborn,
// citrate of 30 % and more).
func (c *checker) lock() {
	for i, x := range c.p.Lock.Protocols {
		key := func(k string) string { return fmt.Sprintf("lock.protocols[%d].%s", i, k) }
		c.word(key("access"), x.Access, "peripheral", "midline", "picc", "non-tunnelled", "tunnelled", "port", "dialysis")
		c.word(key("population"), x.Population, "adult", "child", "neonate", "all")
		c.said(key("solution"), x.Solution)
		c.said(key("source"), x.Source)
		c.amount(key("volume"), x.Volume, "mL", "20", true)
		c.amount(key("flush"), x.Flush, "mL", "30", false)
		solution := strings.ToLower(x.Solution)
		switch {
		case strings.Contains(solution, "heparin"):
			most := "100"
			if x.Access == "dialysis" {
				most = "1000"
			}
			n, ok := c.amount(key("strength"), x.Strength, "[USP'U]/mL", most, true)
			if ok && (x.Population == "neonate" || x.Population == "all") && !n.Less(quantity.Int(100)) {
				c.refuse(key("strength"), fmt.Sprintf("is %q for newborns too", string(x.Strength)), "below 100 [USP'U]/mL, or a population without newborns")
			}
		case strings.Contains(solution, "citrate"):
			if n, ok := c.amount(key("strength"), x.Strength, "%", "30", true); ok && !n.Less(quantity.Int(30)) {
				c.refuse(key("strength"), fmt.Sprintf("is %q", string(x.Strength)), "below 30 %: concentrated citrate has killed")
			}
		}
	}
}

func (c *checker) signed(key func(string) string, by, on string) {
	c.said(key("by"), by)
	c.day(key("on"), on)
}

// hazard: an assessment of risk names who, why and when; whether it may relax
// is decided against the listing (Assess).
func (c *checker) hazard() {
	h := c.p.Hazard
	for _, drug := range sortedKeys(h.BodyFluidHoursByDrug) {
		c.count("hazard.bodyFluidHoursByDrug."+drug, h.BodyFluidHoursByDrug[drug], 24, 168)
	}
	for _, drug := range sortedKeys(h.WasteByDrug) {
		c.word("hazard.wasteByDrug."+drug, h.WasteByDrug[drug], "listed", "bulk", "trace", "local")
	}
	seen := map[string]bool{}
	for i, a := range h.Assessments {
		key := func(k string) string { return fmt.Sprintf("hazard.assessments[%d].%s", i, k) }
		if a.Drug == "" || a.Drug != strings.ToLower(a.Drug) || seen[a.Drug] {
			c.refuse(key("drug"), fmt.Sprintf("is %q", a.Drug), "an exact generic name in lower case, once")
		}
		seen[a.Drug] = true
		c.word(key("closedTransfer"), a.ClosedTransfer, "", "required", "by-policy", "no")
		c.word(key("listed"), a.Listed, "", "yes", "no")
		if a.Listed != "" {
			c.said(key("edition"), a.Edition)
		}
		if a.ClosedTransfer == "" && a.Listed == "" {
			c.refuse(key("closedTransfer"), "is missing, and so is listed", "what was decided")
		}
		c.said(key("reason"), a.Reason)
		c.said(key("role"), a.Role)
		c.signed(key, a.By, a.On)
	}
}

// own: overrides of single facts, and the site's own formulas.
func (c *checker) own() {
	seen := map[string]bool{}
	for i, o := range c.p.Overrides {
		key := func(k string) string { return fmt.Sprintf("overrides[%d].%s", i, k) }
		if o.Fact == "" || seen[o.Fact] {
			c.refuse(key("fact"), fmt.Sprintf("is %q", o.Fact), "the id of a fact, once")
		}
		seen[o.Fact] = true
		c.span(key, o.Span, o.Gates == nil)
		c.said(key("source"), o.Source)
		c.said(key("reason"), o.Reason)
		c.signed(key, o.By, o.On)
	}
	for i, f := range c.p.Stability {
		key := func(k string) string { return fmt.Sprintf("stability[%d].%s", i, k) }
		c.said(key("drug"), f.Drug)
		c.word(key("kind"), f.Kind, "prepared", "mixed-at-use", "syringe-push")
		c.word(key("container"), f.Container, "bag", "glass", "vial", "syringe", "elastomeric", "pump-reservoir")
		c.word(key("storage"), f.Storage, "room", "refrigerated", "frozen", "worn")
		c.said(key("diluent"), f.Diluent)
		c.said(key("source"), f.Source)
		c.signed(key, f.By, f.On)
		c.span(func(k string) string { return key("concentration." + k) }, f.Concentration, true)
		c.amount(key("limit"), f.Limit, "d", "180", true)
	}
}

// span asks for one amount or a range of two of the same kind.
func (c *checker) span(key func(string) string, s Span, must bool) {
	n := 0
	for _, x := range []struct {
		key string
		a   Amount
	}{{"value", s.Value}, {"low", s.Low}, {"high", s.High}} {
		if x.a == "" {
			continue
		}
		n++
		if _, err := x.a.Quantity(); err != nil {
			c.refuse(key(x.key), err.Error(), "a number, a blank and a UCUM unit, such as 10 mg/mL")
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
		if low.Unit.Code() != high.Unit.Code() || high.Low.Less(low.Low) {
			c.refuse(key("high"), "is below low or in another unit", "a range in one unit")
		}
	}
}
