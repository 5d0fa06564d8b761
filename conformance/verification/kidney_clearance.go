package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// clearance is a creatinine clearance on the basis a table is read by.
type clearance struct {
	value  quantity.Number
	unit   string // mL/min, per 1.73 m² of body surface, or per kg
	weight string // the weight it is worked out with; "" for the actual one
	actual string // the clearance by the actual weight, for a person
	doubt  Fact   // by a weight lower than any of this body: never found by it
}

func (c clearance) shown() string {
	out := notation.Code(c.value.Significant(3), c.unit)
	if c.weight != "" {
		out += " by the " + c.weight + " body weight (" + c.actual + " by the actual one)"
	}
	return out
}

// heavy is how far above the ideal weight the actual one makes the clearance
// too high to stand alone (the equation comes from people of ordinary weight).
func heavy(f Facts) quantity.Number { return f.policy().Dose.HeavyTimes.Number }

// bodyWeight is a weight the clearance is worked out with.
type bodyWeight struct {
	weight quantity.Number // kg
	name   string
	doubt  Fact
}

// clearances are those the patient is to be judged by, the lowest first, on
// the basis a table is read by, or the fact that is missing. The formula is
// linear in the weight. Where the source names no weight and the actual one
// is far above the ideal, the ideal and the adjusted one count too.
func clearances(f Facts, basis *compendium.Basis) ([]clearance, Fact) {
	have, ok := f.quantities()["creatinineClearance"]
	if !ok {
		return nil, Clearance
	}
	if basis == nil {
		basis = &compendium.Basis{Per: compendium.PerMinute}
	}
	measured := get[order.Measurement](f, Weight)
	if !f.Has(Weight) || measured.Quantity.Low.Sign() <= 0 {
		return nil, Weight
	}
	actual := quantity.MustUnit("kg").FromBase(measured.Quantity.Unit.ToBase(measured.Quantity.Middle()))
	list, missing := weightsFor(f, basis.Weight, actual)
	if missing != "" {
		return nil, missing
	}
	divide, unit := quantity.Int(1), "mL/min"
	switch basis.Per {
	case compendium.PerSurface:
		surface, known := bodyNumber(f, "bodySurfaceArea", "m2")
		if !known {
			return nil, Height
		}
		divide, unit = surface.Quo(quantity.MustNumber("1.73")), "mL/min/{1.73_m2}"
	case compendium.PerWeight:
		divide, unit = actual, "mL/min/kg"
	}
	by := func(w quantity.Number) quantity.Number { return have.Value.Mul(w).Quo(actual).Quo(divide) }
	var out []clearance
	for _, w := range list {
		out = append(out, clearance{by(w.weight), unit, w.name, notation.Code(by(actual).Significant(3), unit), w.doubt})
	}
	slices.SortStableFunc(out, func(a, b clearance) int { return a.value.Cmp(b.value) })
	return out, ""
}

// weightsFor are the weights to work the clearance out with, by what the
// source says of it.
func weightsFor(f Facts, says string, actual quantity.Number) ([]bodyWeight, Fact) {
	ideal, known := bodyNumber(f, "idealBodyWeight", "kg")
	own := bodyWeight{weight: actual}
	switch says {
	case "actual", "cancels":
		return []bodyWeight{own}, ""
	case "ideal, actual if lower":
		if !known {
			return nil, Height
		}
		if ideal.Less(actual) {
			return []bodyWeight{{weight: ideal, name: "ideal"}}, ""
		}
		return []bodyWeight{own}, ""
	}
	if known {
		if !ideal.Mul(heavy(f)).Less(actual) {
			return []bodyWeight{own}, ""
		}
		adjusted := ideal.Add(actual.Sub(ideal).Mul(quantity.MustNumber("0.4"))) // equation E11
		return []bodyWeight{own, {weight: adjusted, name: "adjusted"}, {weight: ideal, name: "ideal"}}, ""
	}
	// The ideal weight at 60 inches, the least for which Devine's formula is
	// defined (E10). What passes by it passes at any greater height.
	least := quantity.MustNumber("45.5")
	if f.kase().Patient.Gender == "male" {
		least = quantity.Int(50)
	}
	if !least.Mul(heavy(f)).Less(actual) {
		return []bodyWeight{own}, ""
	}
	doubt := Height
	if slices.ContainsFunc(f.kase().Measurements, func(m order.Measurement) bool { return m.Name == "height" && !m.Quantity.Absent() }) {
		doubt = ClearanceWeight
	}
	return []bodyWeight{own, {weight: least, name: "ideal", doubt: doubt}}, ""
}

// bodyNumber is a size of the body that nothing disputes and that is above 0.
func bodyNumber(f Facts, name, unit string) (quantity.Number, bool) {
	x, ok := f.quantities()[name]
	if !ok || x.Disputed || x.Value.Sign() <= 0 {
		return quantity.Number{}, false
	}
	return quantity.MustUnit(unit).FromBase(x.Unit.ToBase(x.Value)), true
}

// dialysisCodes mean a patient on dialysis (from memory): ICD-10 Z99.2
// dependence, Z49 care; SNOMED CT 105502003 dependence, 265764009 renal
// dialysis, 302497006 haemodialysis, 71192002 peritoneal dialysis, 236435004
// end-stage renal failure on dialysis.
var dialysisCodes = []string{"Z99.2", "Z49.0", "Z49.1", "Z49.2", "105502003", "265764009", "302497006", "71192002", "236435004"}

var dialysisWords = []string{"dialysis", "haemodialysis", "hemodialysis", "haemofiltration", "hemofiltration", "haemodiafiltration", "hemodiafiltration"}

// onDialysis: a condition of the patient says so. A creatinine then tells the
// dialysis, not the kidneys. A condition that denies it ("not on dialysis")
// says nothing.
func onDialysis(f Facts) bool { return OnDialysis(f.kase()) }

// OnDialysis reports that a condition of the patient says so, by one of the
// codes listed here or in words.
func OnDialysis(k order.Case) bool {
	return slices.ContainsFunc(k.Conditions, func(c order.Concept) bool {
		texts := []string{c.Text}
		for _, k := range c.Codings {
			if slices.Contains(dialysisCodes, k.Code) {
				return true
			}
			texts = append(texts, k.Display)
		}
		return slices.ContainsFunc(texts, dialysed)
	})
}

func dialysed(text string) bool {
	denied := false
	for _, w := range wordsOf(strings.ToLower(text)) {
		switch {
		case slices.Contains(refusing, w), w == "pre", w == "predialysis":
			denied = true
		case slices.Contains(dialysisWords, w) && !denied:
			return true
		}
	}
	return false
}
