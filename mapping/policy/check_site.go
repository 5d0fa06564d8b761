package policy

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// The ranges below are wider than any practice we know of and narrower than
// a slip of the pen: a value outside is a wrong unit, a lost decimal point or
// a check switched off without saying so. Where a comment names no source it
// is common practice, no source.

// weekdays are the words of delivery.noDelivery.
var weekdays = []string{"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}

// longestName is what a label has room for, in characters.
const longestName = 100

// site: the zone of the homes, and numbers that can be dialled. A zone that
// nobody knows would be passed over where it is needed.
func (c *checker) site() {
	if name := c.p.Pharmacy.Name; name != "" {
		c.oneLine("pharmacy.name", name)
		if len([]rune(name)) > longestName && c.fine("pharmacy.name") {
			c.refuse("pharmacy.name", fmt.Sprintf("has %d characters", len([]rune(name))), fmt.Sprintf("at most %d", longestName))
		}
	}
	for i, s := range c.p.Orders.IdentifierSystems {
		if !absolute.MatchString(s) {
			c.refuse(fmt.Sprintf("orders.identifierSystems[%d]", i), fmt.Sprintf("is %.40q", s), "an absolute address, such as urn:oid:1.2.3 or https://…")
		}
	}
	once(c, "orders.identifierSystems", c.p.Orders.IdentifierSystems)
	if zone := c.p.Home.Zone; zone != "" {
		if _, err := schedule.LoadZones().Zone(zone); err != nil {
			c.refuse("home.zone", fmt.Sprintf("is %.40q", zone), "a name of the IANA time zone database, such as America/New_York")
		}
	}
	t := c.p.Telephone
	for _, x := range []struct{ key, number string }{{"pharmacy.phone", c.p.Pharmacy.Phone}, {"telephone.day", t.Day}, {"telephone.night", t.Night},
		{"telephone.pharmacist", t.Pharmacist}, {"telephone.nurse", t.Nurse}, {"telephone.emergency", t.Emergency}} {
		if x.number != "" && !dialled.MatchString(x.number) {
			c.refuse(x.key, fmt.Sprintf("is %.40q", x.number), "a number as it is dialled: 3 to 15 digits, with blanks, + - ( ) between them")
		}
	}
}

var (
	// dialled: 15 digits are the longest number there is (ITU-T E.164), three
	// the shortest (emergency).
	dialled  = regexp.MustCompile(`^[+( ]*[0-9]([ ()+-]*[0-9]){2,14}[ )]*$`)
	absolute = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9+.-]*:[^\s]+$`)
	clock    = regexp.MustCompile(`^([01][0-9]|2[0-3]):[0-5][0-9]$`)
)

func (c *checker) delivery() {
	d := c.p.Delivery
	// A month's supply: nothing compounded lasts longer at home.
	c.count("delivery.longestDays", d.LongestDays, 1, 31)
	for i, name := range d.NoDelivery {
		if !slices.Contains(weekdays, name) {
			c.refuse(fmt.Sprintf("delivery.noDelivery[%d]", i), fmt.Sprintf("names %.40q", name), "weekdays in English, lower case, such as sunday")
		}
	}
	once(c, "delivery.noDelivery", d.NoDelivery)
	if !slices.ContainsFunc(weekdays, func(w string) bool { return !slices.Contains(d.NoDelivery, w) }) {
		c.refuse("delivery.noDelivery", "names every weekday", "one that is left")
	}
	for i, date := range d.Holidays {
		c.day(fmt.Sprintf("delivery.holidays[%d]", i), date)
	}
	once(c, "delivery.holidays", d.Holidays)
	for _, x := range []struct{ key, clock string }{{"delivery.openFrom", d.OpenFrom}, {"delivery.openUntil", d.OpenUntil}} {
		if !clock.MatchString(x.clock) {
			c.refuse(x.key, fmt.Sprintf("is %.40q", x.clock), "a time of day from 00:00 to 23:59, two digits each")
		}
	}
	if d.OpenFrom >= d.OpenUntil && c.fine("delivery.openFrom", "delivery.openUntil") { // two digits each, so text sorts as time does
		c.refuse(c.given("delivery.openUntil", "delivery.openFrom"), fmt.Sprintf("closes at %s and opens at %s", d.OpenUntil, d.OpenFrom), "a begin before the end")
	}
	for _, x := range []struct {
		key    string
		length Length
		most   time.Duration
	}{
		{"delivery.warmUp", d.WarmUp, 24 * time.Hour}, // a large cold reservoir takes most of a day; longer, and the next dose is due
		{"delivery.teach", d.Teach, 8 * time.Hour},    // a working day
		{"delivery.visitBefore", d.VisitBefore, 24 * time.Hour},
	} {
		if time.Duration(x.length) > x.most {
			c.refuse(x.key, "is "+time.Duration(x.length).String(), fmt.Sprintf("at most %dh", x.most/time.Hour))
		}
	}
	// One spare for every two is plenty, and one for each doubles what is
	// thrown away; small counts have spareLeast.
	c.between("0", "0.5", named{"delivery.spareRate", d.SpareRate})
	c.count("delivery.spareLeast", d.SpareLeast, 0, 20)
}

func (c *checker) device() {
	d := c.p.Device
	// ISO 28620 asks for 15 %; half of the flow is the widest that published
	// tests of a single moment have shown.
	c.within("0.5", named{"device.tolerance", d.Tolerance})
	c.within("0.2", named{"device.rateError", d.RateError}) // pumps are right within 6 %; a fifth off is another rate
	// Five times too fast or too slow is always another device.
	c.between("0.2", "1", named{"device.wrongFamilySlow", d.WrongFamilySlow})
	c.between("1", "5", named{"device.wrongFamilyFast", d.WrongFamilyFast})
	// In multiples of the ordered time: below 1 every right device is noted,
	// beyond 10 nothing ever is.
	note, hold := named{"device.intermittentNote", d.IntermittentNote}, named{"device.intermittentHold", d.IntermittentHold}
	c.between("1", "10", note, hold)
	c.ordered(note, hold)
	// Published reservoirs deliver 88 to 99 % of the fill: four fifths is the
	// least that can be meant.
	infective, all := named{"device.deliveredLeastAntiInfective", d.DeliveredLeastAntiInfective}, named{"device.deliveredLeast", d.DeliveredLeast}
	c.between("0.8", "1", infective, all)
	c.ordered(infective, all)
	seen := map[string]bool{}
	for i, r := range d.NominalRates {
		if r.Sign() <= 0 || quantity.Int(2000).Less(r.Number) { // the fastest infusion pumps run about 1,000 mL/h
			c.refuse(fmt.Sprintf("device.nominalRates[%d]", i), "has "+r.Decimal(), "rates above 0 and up to 2000, in mL/h")
		}
		if seen[r.Decimal()] {
			c.refuse(fmt.Sprintf("device.nominalRates[%d]", i), "has "+r.Decimal()+" for the second time", "each rate once")
		}
		seen[r.Decimal()] = true
	}
	if len(d.NominalRates) == 0 {
		c.refuse("device.nominalRates", "is an empty list", "at least one rate, in mL/h")
	}
}

func (c *checker) dose() {
	d := c.p.Dose
	warn, block := named{"dose.arithmeticWarn", d.ArithmeticWarn}, named{"dose.arithmeticBlock", d.ArithmeticBlock}
	basisWarn, basisHold := named{"dose.basisWarn", d.BasisWarn}, named{"dose.basisHold", d.BasisHold}
	c.within("0.1", warn, block) // a tenth: beyond it a wrong number would pass for rounding
	c.within("0.25", basisWarn, basisHold)
	c.within("0.25", named{"dose.weightChange", d.WeightChange}) // a quarter of the body
	c.ordered(warn, block)
	c.ordered(basisWarn, basisHold)
	// In intervals after the last dose: at half an interval it is an extra
	// dose, at two one was missed.
	c.between("0.5", "1", named{"dose.firstDoseEarly", d.FirstDoseEarly})
	c.between("1", "2", named{"dose.firstDoseLate", d.FirstDoseLate})
	// Beyond three times the usual dose a slip by four would pass.
	c.between("1.1", "1.5", named{"dose.heavyTimes", d.HeavyTimes})
	c.between("1", "3", named{"dose.aboveUsual", d.AboveUsual}, named{"dose.aboveUsualChild", d.AboveUsualChild})
}

// counts: days, years and hours, each within what could be meant.
func (c *checker) counts() {
	p := c.p
	c.count("dose.creatinineDays", p.Dose.CreatinineDays, 1, 30)       // kidneys change within weeks
	c.count("dose.adultWeightDays", p.Dose.AdultWeightDays, 1, 365)    // weighed at the yearly visit
	c.count("dose.childWeightDays", p.Dose.ChildWeightDays, 1, 180)    // half a year of growth
	c.count("dose.infantWeightDays", p.Dose.InfantWeightDays, 1, 30)   // an infant gains a fifth in a month
	c.count("dose.obeseIndex", p.Dose.ObeseIndex, 25, 40)              // overweight to the third class of obesity
	c.count("dose.implausibleIndex", p.Dose.ImplausibleIndex, 40, 80)  // from the third class of obesity
	c.count("records.adultYears", p.Records.AdultYears, 12, 21)        // from the labels' "12 years and older" to the end of paediatric care
	c.count("records.pregnancyFrom", p.Records.PregnancyFrom, 8, 15)   // a year or two before the first period
	c.count("records.pregnancyTo", p.Records.PregnancyTo, 50, 65)      // after the last one
	c.count("records.pregnancyDays", p.Records.PregnancyDays, 1, 31)   // one cycle
	c.count("records.leastAgeDays", p.Records.LeastAgeDays, 0, 365)    // a first year at the most
	c.count("access.planDueDays", p.Access.PlanDueDays, 0, 30)         // a month before the end
	c.count("access.planGateDays", p.Access.PlanGateDays, 0, 30)       // the same
	c.count("hazard.bodyFluidHours", p.Hazard.BodyFluidHours, 24, 168) // published sheets: 48 hours to 7 days
	if due, gate := "access.planDueDays", "access.planGateDays"; p.Access.PlanDueDays < p.Access.PlanGateDays && c.fine(due, gate) {
		c.refuse(c.given(gate, due), fmt.Sprintf("disagrees: it holds %d days before the end and is due %d days before", p.Access.PlanGateDays, p.Access.PlanDueDays), "a hold that is not before the due day")
	}
	// The two bodies' numbers and no third: default.yaml names them.
	if m := p.Access.OsmolarityMost; m != 600 && m != 900 {
		c.refuse("access.osmolarityMost", fmt.Sprintf("is %d", m), "600 (nursing standard) or 900 (nutrition society), in mOsm/L")
	}
}

// sources: a number whose source was struck out cannot be reviewed.
func (c *checker) sources() {
	p := c.p
	for _, x := range []struct{ key, text string }{{"lock.source", p.Lock.Source}, {"delivery.source", p.Delivery.Source}, {"device.source", p.Device.Source}, {"dose.source", p.Dose.Source}, {"opioid.source", p.Opioid.Source}, {"care.source", p.Care.Source}, {"nutrition.source", p.Nutrition.Source}, {"night.source", p.Night.Source},
		{"access.source", p.Access.Source}, {"hazard.source", p.Hazard.Source}, {"secondCheck.source", p.SecondCheck.Source}} {
		if strings.TrimSpace(x.text) == "" {
			c.refuse(x.key, "is empty", "where the numbers of the section come from")
			continue
		}
		c.oneLine(x.key, x.text)
	}
}
