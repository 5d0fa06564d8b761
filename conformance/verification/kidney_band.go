package verification

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// bandFor is the band whose low end is the highest one not above the
// clearance: published bands leave gaps between whole numbers (54 to 55). An
// end that two bands share is the lower one's, as in "> 1.0 to 1.4".
func bandFor(bands []compendium.RenalBand, at quantity.Number) (compendium.RenalBand, bool) {
	var best compendium.RenalBand
	bestLow, found := quantity.Int(-1), false
	for _, b := range bands {
		low := lowEnd(b)
		shared := slices.ContainsFunc(bands, func(o compendium.RenalBand) bool {
			high, err := quantity.ParseNumber(o.Crcl.High.String())
			return err == nil && high.Equal(low) && lowEnd(o).Less(low)
		})
		if at.Less(low) || shared && at.Equal(low) {
			continue
		}
		if bestLow.Less(low) {
			best, bestLow, found = b, low, true
		}
	}
	return best, found
}

func lowEnd(b compendium.RenalBand) quantity.Number {
	low, err := quantity.ParseNumber(b.Crcl.Low.String())
	if err != nil {
		return quantity.Int(0)
	}
	return low
}

// highest: the band is open above and none begins higher: that of kidneys
// that work.
func highest(bands []compendium.RenalBand, band compendium.RenalBand) bool {
	return band.Crcl.High == "" && !slices.ContainsFunc(bands, func(b compendium.RenalBand) bool { return lowEnd(band).Less(lowEnd(b)) })
}

// beyond reports that the clearance lies above the highest band. A band that
// is open above and below another is a step: it ends where the next begins.
func beyond(bands []compendium.RenalBand, at quantity.Number) bool {
	var top compendium.RenalBand
	for i, b := range bands {
		if i == 0 || lowEnd(top).Less(lowEnd(b)) {
			top = b
		}
	}
	high, err := quantity.ParseNumber(top.Crcl.High.String())
	return err == nil && high.Less(at)
}

// comparison is what a band asks for and the order does not have, and what
// could not be compared with it.
type comparison struct {
	facts   Facts
	band    compendium.RenalBand
	asks    []string
	missing []Fact
}

// against compares the order with one band. What runs all day is compared by
// the dose of a day or the rate, never by what one container holds. A band
// that says nothing of the dose leaves the dose unchecked, except the highest
// with the usual dose: nothing changes there.
func against(f Facts, band compendium.RenalBand, top bool) ([]string, []Fact) {
	c := &comparison{facts: f, band: band}
	told := c.shares() || top && usualDose(band)
	if band.Note != "" {
		told = true
	}
	switch {
	case band.Rate != nil:
		told = true
		c.atMost("drugRatePerKg", band.Rate, DrugRate)
	case IsContinuous(f.order(), f.quantities()):
		if day := c.day(); day != nil {
			told = true
			c.hold("dailyDose", *day, DailyDose)
		}
	default:
		told = c.doses() || told
		c.interval()
	}
	if !told {
		c.missing = append(c.missing, TableLimit)
	}
	if band.Note != "" {
		c.asks = append(c.asks, band.Note)
	}
	return c.asks, c.missing
}

// usualDose: the band leaves the dose as it is.
func usualDose(band compendium.RenalBand) bool {
	for _, b := range []*compendium.Band{band.DoseFactor, band.DailyDoseFactor} {
		if b == nil {
			continue
		}
		if q, err := b.Quantity(); err != nil || q.Low.Less(quantity.Int(1)) {
			return false
		}
	}
	return band.Dose == nil && band.DailyDose == nil && band.Rate == nil && (band.DoseFactor != nil || band.DailyDoseFactor != nil)
}

// shares are the parts of a usual dose that the band asks for. The order does
// not tell the usual dose, so it may hold that part already: it is asked.
func (c *comparison) shares() bool {
	before := len(c.asks)
	for _, share := range []struct {
		factor     *compendium.Band
		of, number string
	}{{c.band.DoseFactor, "the usual dose", "dose"}, {c.band.DailyDoseFactor, "the usual dose of a day", "dailyDose"}} {
		if share.factor == nil {
			continue
		}
		factor, err := share.factor.Quantity()
		if err != nil || !factor.Low.Less(quantity.Int(1)) {
			continue
		}
		asks := fmt.Sprintf("%s %% of %s", factor.Low.Mul(quantity.Int(100)).Decimal(), share.of)
		if have, ok := c.facts.quantities()[share.number]; ok {
			asks += " (the order does not tell whether " + notation.Code(have.Value.Significant(4), have.Unit.Code()) + " is that share already)"
		}
		c.asks = append(c.asks, asks)
	}
	return len(c.asks) > before
}

// doses compares the dose and the dose of a day with those of the band. A
// larger dose at a longer interval is held by the dose of a day; that much at
// once stands in no table.
func (c *comparison) doses() (told bool) {
	if c.band.DailyDose != nil {
		told = true
		c.atMost("dailyDose", c.band.DailyDose, DailyDose)
	}
	if c.band.Dose == nil {
		return told
	}
	dose, err := c.band.Dose.Quantity()
	if err != nil {
		return told
	}
	asks, ok := c.above("dose", dose, Dose)
	if day := c.day(); ok && asks != "" && day != nil && c.longer() {
		if more, ok := c.above("dailyDose", *day, DailyDose); ok && more == "" {
			c.missing = append(c.missing, TableLimit)
			return true
		}
	}
	if asks != "" {
		c.asks = append(c.asks, asks)
	}
	if _, repeats := c.facts.quantities()["interval"]; repeats && c.day() == nil { // a dose, and the band does not say how often
		c.missing = append(c.missing, TableLimit)
	}
	return true
}

// interval compares the time between doses with the least one of the band.
func (c *comparison) interval() {
	least, asks := spacing(c.band)
	if !asks {
		return
	}
	have, ok := c.facts.quantities()["interval"]
	if !ok || have.Disputed {
		c.missing = append(c.missing, Interval)
		return
	}
	in, err := least.In(have.Unit)
	if err != nil {
		c.missing = append(c.missing, TableLimit)
		return
	}
	if from, _ := permitted(c.facts, "interval"); from.Less(in.Low) {
		c.asks = append(c.asks, "an interval of at least "+notation.Code(in.Low.Decimal(), have.Unit.Code()))
	}
}

// longer: the doses come less often than the band asks for.
func (c *comparison) longer() bool {
	least, asks := spacing(c.band)
	have, ok := c.facts.quantities()["interval"]
	if !asks || !ok || have.Disputed {
		return false
	}
	in, err := least.In(have.Unit)
	from, _ := permitted(c.facts, "interval")
	return err == nil && in.Low.Less(from)
}

// day is the most that the band allows in a day: as it says, or its dose at
// its interval. It is nil where the band tells neither.
func (c *comparison) day() *quantity.Quantity {
	if c.band.DailyDose != nil {
		if q, err := c.band.DailyDose.Quantity(); err == nil {
			return &q
		}
		return nil
	}
	least, ok := spacing(c.band)
	if c.band.Dose == nil || !ok || least.Low.Sign() <= 0 {
		return nil
	}
	dose, err := c.band.Dose.Quantity()
	unit, errUnit := quantity.ParseUnit(c.band.Dose.Unit + "/d")
	if err != nil || errUnit != nil {
		return nil
	}
	per := unit.FromBase(dose.Unit.ToBase(dose.High).Quo(least.Unit.ToBase(least.Low)))
	q := quantity.Range(quantity.Int(0), per, unit)
	return &q
}

func (c *comparison) atMost(number string, band *compendium.Band, fact Fact) {
	q, err := band.Quantity()
	if err != nil {
		c.missing = append(c.missing, TableLimit)
		return
	}
	c.hold(number, q, fact)
}

func (c *comparison) hold(number string, most quantity.Quantity, fact Fact) {
	if asks, ok := c.above(number, most, fact); ok && asks != "" {
		c.asks = append(c.asks, asks)
	}
}

// above is what is asked for where the order permits more of a number than
// the band; false where the two could not be compared. A dose by weight is
// rounded to what can be drawn up.
func (c *comparison) above(number string, most quantity.Quantity, fact Fact) (asks string, compared bool) {
	have, known := c.facts.quantities()[number]
	if !known || have.Disputed {
		c.missing = append(c.missing, fact)
		return "", false
	}
	in, ok := readIn(c.facts, most, have.Unit)
	if !ok {
		c.missing = append(c.missing, unread(c.facts, most.Unit.Code()))
		return "", false
	}
	allowed := in.High
	if strings.Contains(most.Unit.Code(), "/kg") {
		allowed = allowed.Mul(quantity.Int(1).Add(c.facts.policy().Dose.BasisHold.Number))
	}
	if _, permits := permitted(c.facts, number); allowed.Less(permits) {
		return "a " + notation.Name(number) + " of at most " + notation.Code(in.High.Significant(4), have.Unit.Code()), true
	}
	return "", true
}

// spacing is the least interval of a band.
func spacing(band compendium.RenalBand) (quantity.Quantity, bool) {
	for _, b := range []*compendium.Band{band.Interval, band.IntervalMin} {
		if b != nil {
			q, err := b.Quantity()
			return q, err == nil
		}
	}
	if band.TimesPerWeek == nil {
		return quantity.Quantity{}, false
	}
	n, err := quantity.ParseNumber(band.TimesPerWeek.Value.String())
	if err != nil || n.Sign() <= 0 {
		return quantity.Quantity{}, false
	}
	days, _ := quantity.Int(7).Quo(n).Floor() // three times a week is every second day at the closest
	return quantity.Point(quantity.Int(days), quantity.MustUnit("d")), true
}
