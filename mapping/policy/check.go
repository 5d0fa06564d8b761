package policy

import (
	"fmt"
	"regexp"
	"slices"
	"time"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// weekdays are the words of delivery.noDelivery.
var weekdays = []string{"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}

// checker collects what could be read and makes no sense, each at its key.
type checker struct {
	p      *Policy
	at     places
	faults Faults
}

// check answers every fault of a policy that could be read.
func check(p *Policy, at places) Faults {
	c := &checker{p: p, at: at}
	for _, part := range []func(){c.site, c.delivery, c.device, c.dose, c.counts, c.gates, c.catalogue, c.lock, c.hazard, c.own} {
		part()
	}
	return c.faults
}

// refuse notes a fault at a key.
func (c *checker) refuse(key, problem, expected string) {
	line, column := c.at.of(key)
	c.faults = append(c.faults, Fault{Line: line, Column: column, Key: key, Problem: problem, Expected: expected})
}

// site: the zone of the homes, and numbers that can be dialled. A zone that
// nobody knows would be passed over where it is needed.
func (c *checker) site() {
	if zone := c.p.Home.Zone; zone != "" {
		if _, err := schedule.LoadZones().Zone(zone); err != nil {
			c.refuse("home.zone", fmt.Sprintf("is %q", zone), "a name of the IANA time zone database, such as America/New_York")
		}
	}
	t := c.p.Telephone
	for _, x := range []struct{ key, number string }{{"pharmacy.phone", c.p.Pharmacy.Phone}, {"telephone.day", t.Day}, {"telephone.night", t.Night}, {"telephone.pharmacist", t.Pharmacist},
		{"telephone.nurse", t.Nurse}, {"telephone.emergency", t.Emergency}} {
		if x.number != "" && !dialled.MatchString(x.number) {
			c.refuse(x.key, fmt.Sprintf("is %q", x.number), "a number as it is dialled: digits, blanks, + - ( ), at least three digits")
		}
	}
}

var dialled = regexp.MustCompile(`^\+?[0-9() -]*[0-9][0-9() -]*[0-9][0-9() -]*[0-9][0-9() -]*$`)

func (c *checker) delivery() {
	d := c.p.Delivery
	if d.LongestDays < 1 || d.LongestDays > 31 {
		c.refuse("delivery.longestDays", fmt.Sprintf("is %d", d.LongestDays), "1 to 31")
	}
	for i, name := range d.NoDelivery {
		if !slices.Contains(weekdays, name) {
			c.refuse(fmt.Sprintf("delivery.noDelivery[%d]", i), fmt.Sprintf("names %q", name), "weekdays in English, lower case, such as sunday")
		}
	}
	if !slices.ContainsFunc(weekdays, func(w string) bool { return !slices.Contains(d.NoDelivery, w) }) {
		c.refuse("delivery.noDelivery", "names every weekday", "one that is left")
	}
	for i, date := range d.Holidays {
		c.day(fmt.Sprintf("delivery.holidays[%d]", i), date)
	}
	for _, x := range []struct{ key, clock string }{{"delivery.openFrom", d.OpenFrom}, {"delivery.openUntil", d.OpenUntil}} {
		if !clock.MatchString(x.clock) {
			c.refuse(x.key, fmt.Sprintf("is %q", x.clock), "a time of day from 00:00 to 23:59, two digits each")
		}
	}
	if d.OpenFrom >= d.OpenUntil { // two digits each, so text sorts as time does
		c.refuse(c.given("delivery.openUntil", "delivery.openFrom"), fmt.Sprintf("closes at %s and opens at %s", d.OpenUntil, d.OpenFrom), "a begin before the end")
	}
	for _, x := range []struct {
		key    string
		length Length
	}{{"delivery.warmUp", d.WarmUp}, {"delivery.teach", d.Teach}, {"delivery.visitBefore", d.VisitBefore}} {
		if time.Duration(x.length) > 24*time.Hour {
			c.refuse(x.key, "is "+time.Duration(x.length).String(), "at most 24h: longer, and the next dose is due")
		}
	}
	if d.SpareRate.Sign() < 0 || quantity.Int(1).Less(d.SpareRate.Number) {
		c.refuse("delivery.spareRate", "is "+d.SpareRate.Decimal(), "a fraction from 0 to 1")
	}
	c.count("delivery.spareLeast", d.SpareLeast, 0, 100)
}

var clock = regexp.MustCompile(`^([01][0-9]|2[0-3]):[0-5][0-9]$`)

func (c *checker) day(key, text string) {
	if _, err := time.Parse(time.DateOnly, text); err != nil {
		c.refuse(key, fmt.Sprintf("has %q", text), "a day of the calendar, written 2026-11-26")
	}
}

func (c *checker) count(key string, value, least, most int) {
	if value < least || value > most {
		c.refuse(key, fmt.Sprintf("is %d", value), fmt.Sprintf("%d to %d", least, most))
	}
}

// given is the first of the keys that the file itself sets: where a default
// and the site's value clash, the site's is shown.
func (c *checker) given(keys ...string) string {
	for _, k := range keys {
		if _, set := c.at[k]; set {
			return k
		}
	}
	return keys[0]
}

type named struct {
	key   string
	value Fraction
}

func fraction(text string) Fraction { return Fraction{quantity.MustNumber(text)} }

// within asks for values above 0 and up to a most that a pharmacist would
// still call a choice and not a slip.
func (c *checker) within(most string, list ...named) {
	for _, x := range list {
		if x.value.Sign() <= 0 || quantity.MustNumber(most).Less(x.value.Number) {
			c.refuse(x.key, "is "+x.value.Decimal(), "a number above 0 and up to "+most)
		}
	}
}

// ordered asks that no value is above the one behind it.
func (c *checker) ordered(list ...named) {
	for i := range len(list) - 1 {
		if a, b := list[i], list[i+1]; b.value.Less(a.value.Number) {
			c.refuse(c.given(a.key, b.key), fmt.Sprintf("disagrees: %s is %s and %s is %s", a.key, a.value.Decimal(), b.key, b.value.Decimal()), "the smaller band not above the larger one")
		}
	}
}

func (c *checker) device() {
	d := c.p.Device
	c.within("0.5", named{"device.tolerance", d.Tolerance}, named{"device.rateError", d.RateError})
	c.within("1", named{"device.wrongFamilySlow", d.WrongFamilySlow})
	c.within("5", named{"device.wrongFamilyFast", d.WrongFamilyFast})
	c.within("10", named{"device.intermittentNote", d.IntermittentNote}, named{"device.intermittentHold", d.IntermittentHold})
	one, half := named{"the ordered flow", fraction("1")}, named{"half of the dose", fraction("0.5")}
	c.ordered(one, named{"device.wrongFamilyFast", d.WrongFamilyFast})
	c.ordered(one, named{"device.intermittentNote", d.IntermittentNote}, named{"device.intermittentHold", d.IntermittentHold})
	c.ordered(half, named{"device.deliveredLeastAntiInfective", d.DeliveredLeastAntiInfective}, named{"device.deliveredLeast", d.DeliveredLeast}, named{"the whole dose", fraction("1")})
	for i, r := range d.NominalRates {
		if r.Sign() <= 0 || quantity.Int(2000).Less(r.Number) {
			c.refuse(fmt.Sprintf("device.nominalRates[%d]", i), "has "+r.Decimal(), "rates above 0 and up to 2000, in mL/h")
		}
	}
}

func (c *checker) dose() {
	d := c.p.Dose
	warn, block := named{"dose.arithmeticWarn", d.ArithmeticWarn}, named{"dose.arithmeticBlock", d.ArithmeticBlock}
	basisWarn, basisHold := named{"dose.basisWarn", d.BasisWarn}, named{"dose.basisHold", d.BasisHold}
	c.within("0.1", warn, block) // a tenth: beyond it a wrong number would pass for rounding
	c.within("0.25", basisWarn, basisHold)
	c.within("0.5", named{"dose.weightChange", d.WeightChange})
	c.ordered(warn, block)
	c.ordered(basisWarn, basisHold)
	c.ordered(named{"nothing", Fraction{}}, named{"dose.firstDoseEarly", d.FirstDoseEarly}, named{"one interval", fraction("1")}, named{"dose.firstDoseLate", d.FirstDoseLate}, named{"two intervals", fraction("2")})
}

// counts: days, years and hours, each within what could be meant.
func (c *checker) counts() {
	p := c.p
	c.count("dose.creatinineDays", p.Dose.CreatinineDays, 1, 30)
	c.count("dose.adultWeightDays", p.Dose.AdultWeightDays, 1, 365)
	c.count("dose.childWeightDays", p.Dose.ChildWeightDays, 1, 180)
	c.count("dose.infantWeightDays", p.Dose.InfantWeightDays, 1, 60)
	c.count("records.adultYears", p.Records.AdultYears, 12, 21)
	c.count("records.leastAgeDays", p.Records.LeastAgeDays, 0, 365)
	c.count("access.planDueDays", p.Access.PlanDueDays, 0, 30)
	c.count("access.planGateDays", p.Access.PlanGateDays, 0, 30)
	c.count("hazard.bodyFluidHours", p.Hazard.BodyFluidHours, 24, 168)
	if m := p.Access.OsmolarityMost; m != 600 && m != 900 {
		c.refuse("access.osmolarityMost", fmt.Sprintf("is %d", m), "600 (nursing standard) or 900 (nutrition society), in mOsm/L")
	}
}
