package verification

import (
	"fmt"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// renallyDosed: the table has bands for the drug and the population.
func renallyDosed(f Facts) bool { return len(renalBands(f)) > 0 }

func renalBands(f Facts) []compendium.RenalBand {
	for _, fact := range f.drug().About("renal_dose_adjustment", population(f)) {
		if fact.Gates && len(fact.Value.Bands) > 0 {
			return fact.Value.Bands
		}
	}
	return nil
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

func renal(f Facts) []finding.Finding {
	crcl := f.quantities()["creatinineClearance"]
	band, ok := bandFor(renalBands(f), crcl.Value)
	if !ok { // the table stops above it: the worst kidneys are the last to pass
		return here(f.creatinine().Place, "creatinine clearance "+notation.Code(crcl.Value.Significant(3), "mL/min")+", below every band of the drug table",
			"a dose and an interval that the prescriber states for this clearance")
	}
	var advice string
	one := quantity.Int(1)
	for _, share := range []struct {
		factor *compendium.Band
		of     string
	}{{band.DoseFactor, "the usual dose"}, {band.DailyFactor, "the usual dose of a day"}} {
		if share.factor == nil {
			continue
		}
		if factor, err := share.factor.Quantity(); err == nil && factor.Low.Less(one) {
			advice = fmt.Sprintf("%s %% of %s", factor.Low.Mul(quantity.Int(100)).Decimal(), share.of)
		}
	}
	for _, least := range []*compendium.Band{band.Interval, band.IntervalMin} {
		if least == nil {
			continue
		}
		want, err := least.Quantity()
		have, stated := f.quantities()["interval"]
		if err != nil || !stated {
			continue
		}
		if in, err := want.In(have.Unit); err == nil && have.Value.Less(in.Low) {
			if advice != "" {
				advice += ", "
			}
			advice += "an interval of at least " + notation.Code(in.Low.Decimal(), have.Unit.Code())
		}
	}
	if advice == "" {
		return nil
	}
	return here(f.creatinine().Place, "creatinine clearance "+notation.Code(crcl.Value.Significant(3), "mL/min"), advice)
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
	q := f.quantities()
	crcl, ok := q["creatinineClearance"]
	if !ok {
		return []Fact{Clearance}
	}
	band, _ := bandFor(renalBands(f), crcl.Value)
	if _, stated := q["interval"]; !stated && (band.Interval != nil || band.IntervalMin != nil) {
		return []Fact{Interval}
	}
	return nil
}
