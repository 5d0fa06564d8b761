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

// check refuses what could be read and makes no sense. It names the key and
// what would be accepted; the first fault in the order of the file is given.
func (p *Policy) check() error {
	for _, check := range []func() error{p.checkSite, p.checkDelivery, p.checkDevice, p.checkDose, p.checkCounts} {
		if err := check(); err != nil {
			return fmt.Errorf("policy: %w", err)
		}
	}
	return nil
}

// checkSite: the day of the signature, and the zone of the homes. A zone
// that nobody knows would be passed over where it is needed.
func (p *Policy) checkSite() error {
	if on := p.Pharmacy.SignedOn; on != "" {
		if err := day("pharmacy.signedOn", on); err != nil {
			return err
		}
	}
	if zone := p.Home.Zone; zone != "" {
		if _, err := schedule.LoadZones().Zone(zone); err != nil {
			return fmt.Errorf("home.zone is %q; need a name of the IANA time zone database, such as America/New_York", zone)
		}
	}
	return nil
}

func (p *Policy) checkDelivery() error {
	d := p.Delivery
	if d.LongestDays < 1 || d.LongestDays > 31 {
		return fmt.Errorf("delivery.longestDays is %d; need 1 to 31", d.LongestDays)
	}
	for _, name := range d.NoDelivery {
		if !slices.Contains(weekdays, name) {
			return fmt.Errorf("delivery.noDelivery names %q; need weekdays in English, lower case, such as sunday", name)
		}
	}
	if !slices.ContainsFunc(weekdays, func(w string) bool { return !slices.Contains(d.NoDelivery, w) }) {
		return fmt.Errorf("delivery.noDelivery names every weekday; need one that is left")
	}
	for _, date := range d.Holidays {
		if err := day("delivery.holidays", date); err != nil {
			return err
		}
	}
	for _, x := range []struct{ key, clock string }{{"openFrom", d.OpenFrom}, {"openUntil", d.OpenUntil}} {
		if !clock.MatchString(x.clock) {
			return fmt.Errorf("delivery.%s is %q; need a time of day from 00:00 to 23:59, two digits each", x.key, x.clock)
		}
	}
	if d.OpenFrom >= d.OpenUntil { // two digits each, so text sorts as time does
		return fmt.Errorf("delivery.openFrom is %s and openUntil %s; need a begin before the end", d.OpenFrom, d.OpenUntil)
	}
	if d.SpareLeast < 0 || d.SpareRate.Sign() < 0 || quantity.Int(1).Less(d.SpareRate.Number) {
		return fmt.Errorf("delivery.spareRate is %s and spareLeast %d; need a fraction from 0 to 1 and a count that is not negative", d.SpareRate.Decimal(), d.SpareLeast)
	}
	return nil
}

var clock = regexp.MustCompile(`^([01][0-9]|2[0-3]):[0-5][0-9]$`)

func day(key, text string) error {
	if _, err := time.Parse(time.DateOnly, text); err != nil {
		return fmt.Errorf("%s has %q; need a day of the calendar, written 2026-11-26", key, text)
	}
	return nil
}

type named struct {
	key   string
	value Fraction
}

// between asks for values above 0 and below 1.
func between(list ...named) error {
	for _, x := range list {
		if x.value.Sign() <= 0 || !x.value.Less(quantity.Int(1)) {
			return fmt.Errorf("%s is %s; need a number between 0 and 1", x.key, x.value.Decimal())
		}
	}
	return nil
}

// ordered asks that no value is above the one behind it.
func ordered(list ...named) error {
	for i := range len(list) - 1 {
		if a, b := list[i], list[i+1]; b.value.Less(a.value.Number) {
			return fmt.Errorf("%s is %s and %s is %s; the smaller band must not be above the larger one", a.key, a.value.Decimal(), b.key, b.value.Decimal())
		}
	}
	return nil
}

func (p *Policy) checkDevice() error {
	d := p.Device
	if err := between(named{"device.tolerance", d.Tolerance}, named{"device.wrongFamilySlow", d.WrongFamilySlow}, named{"device.rateError", d.RateError}); err != nil {
		return err
	}
	one := named{"the ordered flow", Fraction{quantity.Int(1)}}
	for _, bands := range [][]named{
		{one, {"device.wrongFamilyFast", d.WrongFamilyFast}},
		{one, {"device.intermittentNote", d.IntermittentNote}, {"device.intermittentHold", d.IntermittentHold}},
		{{"nothing", Fraction{}}, {"device.deliveredLeastAntiInfective", d.DeliveredLeastAntiInfective}, {"device.deliveredLeast", d.DeliveredLeast}, {"the whole dose", one.value}},
	} {
		if err := ordered(bands...); err != nil {
			return err
		}
	}
	for _, r := range d.NominalRates {
		if r.Sign() <= 0 {
			return fmt.Errorf("device.nominalRates has %s; need rates above 0, in mL/h", r.Decimal())
		}
	}
	return nil
}

func (p *Policy) checkDose() error {
	d := p.Dose
	if err := between(named{"dose.arithmeticWarn", d.ArithmeticWarn}, named{"dose.arithmeticBlock", d.ArithmeticBlock}, named{"dose.basisWarn", d.BasisWarn},
		named{"dose.basisHold", d.BasisHold}, named{"dose.weightChange", d.WeightChange}); err != nil {
		return err
	}
	for _, bands := range [][]named{
		{{"dose.arithmeticWarn", d.ArithmeticWarn}, {"dose.arithmeticBlock", d.ArithmeticBlock}},
		{{"dose.basisWarn", d.BasisWarn}, {"dose.basisHold", d.BasisHold}},
		{{"nothing", Fraction{}}, {"dose.firstDoseEarly", d.FirstDoseEarly}, {"one interval", Fraction{quantity.Int(1)}}, {"dose.firstDoseLate", d.FirstDoseLate}},
	} {
		if err := ordered(bands...); err != nil {
			return err
		}
	}
	return nil
}

// checkCounts: days, years and hours.
func (p *Policy) checkCounts() error {
	for _, x := range []struct {
		key          string
		value, least int
	}{
		{"dose.creatinineDays", p.Dose.CreatinineDays, 1}, {"dose.adultWeightDays", p.Dose.AdultWeightDays, 1},
		{"dose.childWeightDays", p.Dose.ChildWeightDays, 1}, {"dose.infantWeightDays", p.Dose.InfantWeightDays, 1},
		{"records.adultYears", p.Records.AdultYears, 1}, {"records.leastAgeDays", p.Records.LeastAgeDays, 0},
		{"access.planDueDays", p.Access.PlanDueDays, 0}, {"access.planGateDays", p.Access.PlanGateDays, 0},
		{"hazard.bodyFluidHours", p.Hazard.BodyFluidHours, 0},
	} {
		if x.value < x.least {
			return fmt.Errorf("%s is %d; need at least %d", x.key, x.value, x.least)
		}
	}
	return nil
}
