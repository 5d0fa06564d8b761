package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// dailyMaximum: the dose of 24 hours against the table's limits that hold
// for the population and the regimen. The one that goes farthest speaks; of
// those that go as far, the least. Without a limit of the population the usual
// doses speak.
func dailyMaximum(f Facts) []finding.Finding {
	q := dayAsOrdered(f)
	yes, _ := dailyFacts(f)
	worst, from, least, said := Within, limit{}, quantity.Number{}, false
	for _, x := range yes {
		reach, by := Reached(x.Fact, x.Value.Band, f.now(), func(b compendium.Band) bool {
			most, ok := dailyIn(f, b, q.Unit)
			return ok && most.Less(q.High)
		})
		if reach == Within || reach < worst {
			continue
		}
		if most, ok := dailyIn(f, by, q.Unit); ok && (reach > worst || !said || most.Less(least)) {
			worst, from, least, said = reach, x, most, true
		}
	}
	switch {
	case !said && judgedByOwn(f, yes):
		return nil
	case !said:
		if one := farAboveUsual(f, "dose"); len(one) > 0 {
			if IsContinuous(f.order(), f.quantities()) { // a long infusion has no day of its own
				return one
			}
			return nil // said of the single dose
		}
		return farAboveUsual(f, "dailyDose")
	}
	out := here(doseAt(f, q.Place), notation.Code(q.High.Decimal(), q.Unit.Code()), "at most "+notation.Code(least.Decimal(), q.Unit.Code())+from.says())
	out[0].Standing = from.Standing
	if worst == Between {
		out[0].Detail = LoosenedDetail
	}
	return out
}

// dayAsOrdered is the dose of 24 hours; High is the most of it that the order
// as written permits. A disputed dose counts as it is written: that is what
// would be given.
func dayAsOrdered(f Facts) order.Quantity {
	q := f.quantities()
	dose, every, day := q["dose"], q["interval"], q["dailyDose"]
	if dose.Disputed && dose.Stated && !every.Disputed && every.Value.Sign() > 0 {
		if unit, err := quantity.ParseUnit(dose.Unit.Code() + "/d"); err == nil {
			per := unit.FromBase(dose.Unit.ToBase(dose.Low).Quo(every.Unit.ToBase(every.Value)))
			return order.Quantity{Value: per, Low: per, High: per, Unit: unit, Place: dose.Place}
		}
	}
	if day.Disputed {
		day.High = day.Low
		return day
	}
	_, day.High = permitted(f, "dailyDose")
	return day
}

// noDailyLimit: what was not compared, though nothing compared was above its
// limit. A limit that nobody can tell holds, and that the order is above, is
// asked about; one that cannot be read is, too. A child within the adult's
// limit was not compared with a limit for a child.
func noDailyLimit(f Facts) []Fact {
	yes, unsure := dailyFacts(f)
	if len(yes)+len(unsure) == 0 {
		return []Fact{TableLimit}
	}
	q, ok := f.quantities()["dailyDose"]
	if !ok || q.Disputed {
		return []Fact{DailyDose}
	}
	var out []Fact
	applied, own := false, false
	for _, x := range yes {
		if _, ok := dailyIn(f, x.Value.Band, q.Unit); !ok {
			out = append(out, unread(f, x.Value.Band.Unit))
		} else if x.Gates {
			applied, own = true, own || ownLimit(x.Fact, population(f))
		}
	}
	for _, x := range unsure {
		most, ok := dailyIn(f, x.Value.Band, q.Unit)
		if !ok {
			out = append(out, unread(f, x.Value.Band.Unit))
		}
		if !ok || most.Less(dayAsOrdered(f).High) {
			out = append(out, x.hangsOn()...)
		}
	}
	if !applied || !own {
		out = append(out, TableLimit)
	}
	return unique(out)
}

// ownLimit: the limit is one of this population, and not a fixed ceiling of
// another that a child is only held under as well.
func ownLimit(x compendium.Fact, population string) bool {
	perSize := strings.Contains(x.Value.Band.Unit, "/kg") || strings.Contains(x.Value.Band.Unit, "/m2")
	return population == "adult" || x.Population == population || perSize && x.Population != "adult"
}

func unique(list []Fact) []Fact {
	var out []Fact
	for _, x := range list {
		if !slices.Contains(out, x) {
			out = append(out, x)
		}
	}
	return out
}

// dailyFacts are the limits for the population; a child is also held under
// the adult's limit, so that none of its doses is above an adult's.
func dailyFacts(f Facts) (yes, unsure []limit) {
	populations := []string{population(f)}
	if populations[0] != "adult" {
		populations = append(populations, "adult")
	}
	return limits(f, "max_daily_dose", populations...)
}

// dailyIn is the most of a day that a band allows, in a unit. The tables
// write "12 g" and "12 g/d" alike.
func dailyIn(f Facts, band compendium.Band, unit quantity.Unit) (quantity.Number, bool) {
	if perDay, err := quantity.ParseUnit(band.Unit + "/d"); err == nil && !strings.HasSuffix(band.Unit, "/d") {
		band.Unit = perDay.Code()
	}
	in, ok := inUnit(f, band, unit)
	return in.High, ok
}
