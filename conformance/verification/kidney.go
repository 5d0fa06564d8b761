package verification

import (
	"fmt"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// renallyDosed: false only where a source says that the kidneys change
// nothing. A drug without an entry is not checked, never "not applicable".
func renallyDosed(f Facts) bool {
	noChange := false
	for _, fact := range f.drug().About("renal_dose_adjustment", population(f)) {
		if len(fact.Value.Bands) > 0 && fact.Gates {
			return true
		}
		noChange = noChange || fact.Value.NoChange
	}
	return !noChange
}

// renalBands are the tables of bands that may hold for the order: more than
// one where the regimen with normal kidneys is not told.
func renalBands(f Facts) []limit {
	yes, unsure := limits(f, "renal_dose_adjustment", population(f))
	var out []limit
	for _, l := range append(yes, unsure...) {
		if len(l.Value.Bands) > 0 {
			out = append(out, l)
		}
	}
	return out
}

// clearanceFor is the creatinine clearance on the basis a table is read by:
// mL/min, mL/min per 1.73 m² of body surface, or mL/min per kg, and with the
// weight the source names. It answers the fact that is missing.
func clearanceFor(f Facts, basis *compendium.Basis) (q quantity.Number, unit string, missing Fact) {
	have, ok := f.quantities()["creatinineClearance"]
	if !ok {
		return q, "", Clearance
	}
	value := have.Value
	if basis == nil {
		return value, "mL/min", ""
	}
	number := func(name, unit string) (quantity.Number, bool) {
		x, ok := f.quantities()[name]
		if !ok || x.Disputed || x.Value.Sign() <= 0 {
			return quantity.Number{}, false
		}
		return quantity.MustUnit(unit).FromBase(x.Unit.ToBase(x.Value)), true
	}
	weight, weighed := get[order.Measurement](f, Weight), f.Has(Weight)
	actual := quantity.Number{}
	if weighed {
		actual = quantity.MustUnit("kg").FromBase(weight.Quantity.Unit.ToBase(weight.Quantity.Middle()))
		weighed = actual.Sign() > 0
	}
	if basis.Weight == "ideal, actual if lower" {
		ideal, known := number("idealBodyWeight", "kg")
		switch {
		case !known:
			return q, "", Height
		case !weighed:
			return q, "", Weight
		case ideal.Less(actual): // the formula is linear in the weight
			value = value.Mul(ideal).Quo(actual)
		}
	}
	switch basis.Per {
	case compendium.PerSurface:
		surface, known := number("bodySurfaceArea", "m2")
		if !known {
			return q, "", Height
		}
		return value.Mul(quantity.MustNumber("1.73")).Quo(surface), "mL/min/{1.73_m2}", ""
	case compendium.PerWeight:
		if !weighed {
			return q, "", Weight
		}
		return value.Quo(actual), "mL/min/kg", ""
	}
	return value, "mL/min", ""
}

// bandFor is the band whose low end is the highest one not above the
// clearance: published bands leave gaps between whole numbers (54 to 55).
func bandFor(bands []compendium.RenalBand, clearance quantity.Number) (compendium.RenalBand, bool) {
	var best compendium.RenalBand
	bestLow, found := quantity.Int(-1), false
	for _, b := range bands {
		low := quantity.Int(0)
		if b.Crcl.Low != "" {
			low, _ = quantity.ParseNumber(b.Crcl.Low.String())
		}
		if !clearance.Less(low) && bestLow.Less(low) {
			best, bestLow, found = b, low, true
		}
	}
	return best, found
}

// renal compares the order with the band of its clearance. Where the regimen
// with normal kidneys is not told, an order that fits one of the tables
// passes; one that fits none is found, with what each would ask.
func renal(f Facts) []finding.Finding {
	var advice, standings []string
	shown := ""
	for _, table := range renalBands(f) {
		clearance, unit, _ := clearanceFor(f, table.Value.Clearance)
		shown = "creatinine clearance " + notation.Code(clearance.Significant(3), unit)
		if beyond(table.Value.Bands, clearance) {
			return nil
		}
		band, ok := bandFor(table.Value.Bands, clearance)
		var asks string
		if !ok { // the table stops above it: the worst kidneys are the last to pass
			shown += ", below every band of the drug table"
			asks = "a dose and an interval that the prescriber states for this clearance"
		} else if asks = asked(f, band); asks == "" {
			return nil
		}
		if len(renalBands(f)) > 1 && table.regimen() != "" {
			asks += " (" + table.regimen() + ")"
		}
		advice, standings = append(advice, asks), append(standings, table.Standing)
	}
	out := here(f.creatinine().Place, shown, strings.Join(advice, "; or "))
	out[0].Standing = weakest(standings)
	return out
}

// beyond reports that the clearance lies above a table that only says what
// to do below a value: nothing changes there.
func beyond(bands []compendium.RenalBand, clearance quantity.Number) bool {
	for _, b := range bands {
		if b.Crcl.High == "" {
			return false
		}
		high, err := quantity.ParseNumber(b.Crcl.High.String())
		if err != nil || !high.Less(clearance) {
			return false
		}
	}
	return true
}

// asked is what the band asks for and the order does not have; "" when the
// order keeps to it.
func asked(f Facts, band compendium.RenalBand) string {
	var out []string
	one := quantity.Int(1)
	for _, share := range []struct {
		factor *compendium.Band
		of     string
	}{{band.DoseFactor, "the usual dose"}, {band.DailyDoseFactor, "the usual dose of a day"}} {
		if share.factor == nil {
			continue
		}
		if factor, err := share.factor.Quantity(); err == nil && factor.Low.Less(one) {
			out = append(out, fmt.Sprintf("%s %% of %s", factor.Low.Mul(quantity.Int(100)).Decimal(), share.of))
		}
	}
	for _, most := range []struct {
		number string
		band   *compendium.Band
	}{{"dose", band.Dose}, {"dailyDose", band.DailyDose}, {"drugRatePerKg", band.Rate}} {
		if most.band == nil {
			continue
		}
		have := f.quantities()[most.number]
		in, ok := inUnit(f, *most.band, have.Unit)
		if !ok {
			continue
		}
		allowed := in.High
		if strings.Contains(most.band.Unit, "/kg") { // a dose by weight is rounded to what can be drawn up
			allowed = allowed.Mul(one.Add(f.policy().Dose.BasisHold.Number))
		}
		if allowed.Less(have.Low) {
			out = append(out, "a "+notation.Name(most.number)+" of at most "+notation.Code(in.High.Significant(4), have.Unit.Code()))
		}
	}
	if least, ok := spacing(band); ok {
		have := f.quantities()["interval"]
		if in, err := least.In(have.Unit); err == nil && have.Value.Less(in.Low) {
			out = append(out, "an interval of at least "+notation.Code(in.Low.Decimal(), have.Unit.Code()))
		}
	}
	if band.Note != "" {
		out = append(out, band.Note)
	}
	return strings.Join(out, ", ")
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

// kidneysMatter: the row says that the dose hangs on the kidneys, or that
// the drug can harm them.
func kidneysMatter(f Facts) bool {
	for _, fact := range f.drug().About("renal_dose_adjustment", population(f)) {
		if !fact.Value.NoChange {
			return true
		}
	}
	return f.drug().Is("nephrotoxic")
}

func renalStale(f Facts) []finding.Finding {
	m := f.creatinine()
	fresh := fmt.Sprintf("a creatinine not older than %d days at the first release", f.policy().Dose.CreatinineDays)
	switch {
	case !f.Has(Creatinine):
		return here(f.kase().Patient.Place, "no creatinine on record", fresh)
	case m.At.Time.IsZero():
		return here(m.Place, "a creatinine without a date", fresh)
	}
	days := int(f.now().Sub(m.At.Time).Hours()) / 24
	if days <= f.policy().Dose.CreatinineDays {
		return nil
	}
	return here(m.Place, fmt.Sprintf("creatinine %d days old", days), fresh)
}

// renalUnknown: what a band is chosen by, and what it is compared with.
func renalUnknown(f Facts) []Fact {
	tables := renalBands(f)
	switch {
	case len(tables) == 0:
		return []Fact{TableLimit}
	case !f.Has(Creatinine):
		return []Fact{Creatinine}
	}
	var out []Fact
	for _, table := range tables {
		clearance, _, missing := clearanceFor(f, table.Value.Clearance)
		if missing != "" {
			return []Fact{missing}
		}
		if beyond(table.Value.Bands, clearance) {
			continue
		}
		band, _ := bandFor(table.Value.Bands, clearance)
		if _, stated := f.quantities()["interval"]; !stated {
			if _, asks := spacing(band); asks {
				out = append(out, Interval)
			}
		}
		for _, x := range []struct {
			band   *compendium.Band
			number string
			fact   Fact
		}{{band.Dose, "dose", Dose}, {band.DailyDose, "dailyDose", DailyDose}, {band.Rate, "drugRatePerKg", DrugRate}} {
			have, known := f.quantities()[x.number]
			if x.band == nil {
				continue
			}
			if !known || have.Disputed {
				out = append(out, x.fact)
			} else if _, ok := inUnit(f, *x.band, have.Unit); !ok {
				out = append(out, TableLimit)
			}
		}
	}
	return out
}
