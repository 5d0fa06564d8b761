package policy

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
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
			if near := nearest(code, codes(), 2); near != "" {
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

// lock: a standing protocol may not order what the table of locks blocks.
func (c *checker) lock() {
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
		c.said(key("solution"), x.Solution, "the solution, such as sodium chloride 0.9 %")
		c.said(key("source"), x.Source, from)
		// No catheter holds more than 5 mL; a flush is 10 mL, 20 mL after
		// blood. A newborn of 1 kg has 80 mL of blood.
		volume, flush := "10", "20"
		if x.Population == "neonate" {
			volume, flush = "3", "5"
		}
		c.amount(key("volume"), x.Volume, "mL", volume, true)
		c.amount(key("flush"), x.Flush, "mL", flush, false)
		c.strength(key("strength"), x)
	}
}

// strength asks the table of locks, whose limits carry their sources.
func (c *checker) strength(key string, x Protocol) {
	of := ""
	for _, l := range compendium.LockLimits() {
		if strings.Contains(strings.ToLower(x.Solution), l.Solution) {
			of = l.Solution
		}
	}
	unit := map[string]string{"heparin": "[USP'U]/mL", "citrate": "%"}[of]
	such := map[string]string{"heparin": "10 [USP'U]/mL", "citrate": "4 %", "": "2 mg/mL"}[of]
	q, err := x.Strength.Quantity()
	switch _, given := c.r.at[key]; {
	case x.Strength == "" && of == "" && !given:
		return
	case x.Strength == "":
		c.refuse(key, "is missing", "a number and a unit, such as "+such)
		return
	case err != nil:
		c.refuse(key, err.Error(), "a number, a blank and a UCUM unit, such as "+such)
		return
	case q.Low.Sign() <= 0:
		c.refuse(key, fmt.Sprintf("is %q", string(x.Strength)), "a number above 0")
		return
	case of == "":
		return
	}
	whom := map[string]string{"adult": "adult", "child": "pediatric", "neonate": "neonate", "all": "neonate"}[x.Population]
	limit, reached, known := compendium.Lock(of, x.Access, whom, q)
	switch {
	case !known:
		c.refuse(key, fmt.Sprintf("is %q, another kind of quantity", string(x.Strength)), "a number in "+unit)
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

func (c *checker) signed(key func(string) string, by, on string) {
	c.said(key("by"), by, "the name of who decided")
	c.day(key("on"), on)
}

// hazard: hours of precautions and classes of waste by drug. 0 hours are
// none; anything between is days written as hours.
func (c *checker) hazard() {
	h := c.p.Hazard
	for _, drug := range sortedKeys(h.BodyFluidHoursByDrug) {
		key := "hazard.bodyFluidHoursByDrug." + drug
		c.drug(key, drug)
		if n := h.BodyFluidHoursByDrug[drug]; n != 0 && (n < 24 || n > 168) {
			c.refuse(key, fmt.Sprintf("is %d", n), "0, or 24 to 168 hours")
		}
	}
	for _, drug := range sortedKeys(h.WasteByDrug) {
		key := "hazard.wasteByDrug." + drug
		c.drug(key, drug)
		c.word(key, h.WasteByDrug[drug], "listed", "bulk", "trace", "household", "local")
	}
}

// assessments: an assessment of risk names who, why and when; whether it may
// relax is decided against the listing (Relax).
func (c *checker) assessments() {
	seen := map[string]bool{}
	for i, a := range c.p.Hazard.Assessments {
		key := func(k string) string { return fmt.Sprintf("hazard.assessments[%d].%s", i, k) }
		c.drug(key("drug"), a.Drug)
		if seen[a.Drug] && a.Drug != "" {
			c.refuse(key("drug"), fmt.Sprintf("has %.40q for the second time", a.Drug), "each drug once")
		}
		seen[a.Drug] = true
		for _, x := range []struct {
			key, value string
			words      []string
		}{{"closedTransfer", a.ClosedTransfer, []string{"required", "by-policy", "no"}}, {"listed", a.Listed, []string{"yes", "no"}}} {
			if _, given := c.r.at[key(x.key)]; given {
				c.word(key(x.key), x.value, x.words...)
			}
		}
		if a.Listed != "" {
			c.said(key("edition"), a.Edition, "the list that was read, and its edition")
		} else {
			c.oneLine(key("edition"), a.Edition)
		}
		if a.ClosedTransfer == "" && a.Listed == "" && c.fine(key("closedTransfer"), key("listed")) {
			c.refuse(key("closedTransfer"), "is missing, and so is listed", "what was decided")
		}
		c.oneLine(key("dosageForm"), a.DosageForm)
		c.oneLine(key("handling"), a.Handling)
		c.said(key("reason"), a.Reason, "why, in words")
		c.said(key("role"), a.Role, "the role of who decided, such as pharmacist")
		c.signed(key, a.By, a.On)
	}
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
