package arithmetic

import (
	"fmt"
	"time"

	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// Body is what the body-size and kidney equations need. Absent quantities
// are zero; an equation that lacks one gives nothing.
type Body struct {
	Weight     order.Measurement // actual body weight
	Height     order.Measurement
	Creatinine order.Measurement // serum creatinine, mass per volume or amount per volume
	Born       time.Time
	Now        time.Time
	Female     bool
	SexKnown   bool
	Adult      int // age in years from which the adult equations hold
}

var (
	kilogram   = bodyUnit("kg")
	centimetre = quantity.MustUnit("cm")
	inch       = quantity.MustUnit("[in_i]")
	squareM    = quantity.MustUnit("m2")
	mgPerDL    = quantity.MustUnit("mg/dL")
	umolPerL   = quantity.MustUnit("umol/L")
	mLPerMin   = quantity.MustUnit("mL/min")
	years      = quantity.MustUnit("a")
)

func bodyUnit(code string) quantity.Unit {
	u, _ := quantity.MustUnit(code).As(quantity.BodyMass)
	return u
}

// Years is the age in whole years at the clock, −1 when unknown.
func (b Body) Years() int {
	if b.Born.IsZero() || b.Now.Before(b.Born) {
		return -1
	}
	years := b.Now.Year() - b.Born.Year()
	if b.Now.Month() < b.Born.Month() || b.Now.Month() == b.Born.Month() && b.Now.Day() < b.Born.Day() {
		years--
	}
	return years
}

// Surface is the body surface area by Mosteller (N Engl J Med 1987;317:1098):
// √(height in cm × weight in kg ÷ 3600), in m². Code E12.
func (b Body) Surface() (order.Stated, order.Quantity, bool) {
	if b.Weight.Quantity.Absent() || b.Height.Quantity.Absent() {
		return order.Stated{}, order.Quantity{}, false
	}
	w, errW := b.Weight.Quantity.In(kilogram)
	h, errH := b.Height.Quantity.In(centimetre)
	if errW != nil || errH != nil || w.Low.Sign() <= 0 || h.Low.Sign() <= 0 {
		return order.Stated{}, order.Quantity{}, false
	}
	area := func(h, w quantity.Number) equation.Bounds {
		out, _ := b.solve("E12", map[string]quantity.Number{"height": centimetre.ToBase(h), "weight": kilogram.ToBase(w)}) // both above 0
		return out
	}
	wl, wh := measured(b.Weight, w)
	hl, hh := measured(b.Height, h)
	low, high := area(hl, wl).Low, area(hh, wh).High
	value := area(h.Low, w.Low).Low.RoundDigits(8)
	d := order.Derivation{
		Formula:  "bodySurfaceArea = √(height in cm × weight in kg ÷ 3600)",
		Inputs:   []order.Input{input("height", b.Height), input("weight", b.Weight)},
		Citation: "Mosteller, N Engl J Med 1987;317:1098 (E12)",
		Text:     fmt.Sprintf("body surface area = √(%s × %s ÷ 3,600) = %s", h.Low.Decimal(), w.Low.Decimal(), notation.Code(value.Significant(4), "m2")),
	}
	q := order.Quantity{Value: value, Low: low, High: high, Unit: squareM, Place: b.Weight.Place, Derivation: []order.Derivation{d}}
	s := order.Stated{Name: "bodySurfaceArea", Quantity: quantity.Range(low, high, squareM), Place: b.Weight.Place, Witness: order.Computed,
		Uses: []string{b.Height.Place.Expression, b.Weight.Place.Expression}}
	return s, q, true
}

// measured is half a unit of the last digit on each side, at most 2 %.
func measured(m order.Measurement, q quantity.Quantity) (low, high quantity.Number) {
	by := unitInLastPlace(order.Stated{Literal: m.Literal, Quantity: m.Quantity}, false).Mul(half)
	in, err := quantity.Point(by, m.Quantity.Unit).In(q.Unit)
	if err != nil {
		return q.Low, q.High
	}
	by = quantity.Least(in.Low, q.Low.Mul(capSize))
	return q.Low.Sub(by), q.High.Add(by)
}

// solve asks a published equation about base units; false when it does not
// hold for them.
func (b Body) solve(code string, numbers map[string]quantity.Number) (equation.Bounds, bool) {
	e, ok := equation.Find(code)
	v := equation.Values{By: map[string]equation.Value{}}
	for name, n := range numbers {
		v.By[name] = equation.Value{Number: n}
	}
	if b.SexKnown {
		v.By["sex"] = equation.Value{Word: "male"}
		if b.Female {
			v.By["sex"] = equation.Value{Word: "female"}
		}
	}
	if !ok {
		return equation.Bounds{}, false
	}
	out, err := e.Solve(v)
	return out, err == nil
}

func input(name string, m order.Measurement) order.Input {
	return order.Input{Name: name, Value: m.Quantity.Low.Decimal(), Unit: m.Quantity.Unit.Code(), Expression: m.Place.Expression}
}

// Ideal is the ideal body weight by Devine (1974): 50 kg (male) or 45.5 kg
// (female) + 2.3 kg for each inch of height above 60, in kg. Adults of at
// least 60 inches only. Code E10.
func (b Body) Ideal() (order.Quantity, bool) {
	if b.Height.Quantity.Absent() || !b.SexKnown || b.Years() < b.Adult {
		return order.Quantity{}, false
	}
	h, err := b.Height.Quantity.In(inch)
	if err != nil {
		return order.Quantity{}, false
	}
	solved, ok := b.solve("E10", map[string]quantity.Number{"height": inch.ToBase(h.Low)})
	if !ok {
		return order.Quantity{}, false
	}
	value := kilogram.FromBase(solved.Low)
	base := value.Sub(quantity.MustNumber("2.3").Mul(h.Low.Sub(quantity.Int(60))))
	return computed(value, kilogram, b.Height, order.Derivation{
		Formula: "idealBodyWeight = " + base.Decimal() + " + 2.3 × (height in inches − 60)", Inputs: []order.Input{input("height", b.Height)},
		Citation: "Devine 1974 (E10)",
		Text:     fmt.Sprintf("ideal body weight = %s + 2.3 × (%s − 60) = %s", base.Decimal(), h.Low.Significant(4), notation.Code(value.Significant(4), "kg"))}), true
}

// Adjusted is ideal + 0.4 × (actual − ideal), in kg, when the actual weight
// is above the ideal. Code E11.
func (b Body) Adjusted() (order.Quantity, bool) {
	ideal, ok := b.Ideal()
	if !ok || b.Weight.Quantity.Absent() {
		return order.Quantity{}, false
	}
	w, err := b.Weight.Quantity.In(kilogram)
	if err != nil || !ideal.Value.Less(w.Low) {
		return order.Quantity{}, false
	}
	solved, ok := b.solve("E11", map[string]quantity.Number{"idealBodyWeight": kilogram.ToBase(ideal.Value), "weight": kilogram.ToBase(w.Low)})
	if !ok {
		return order.Quantity{}, false
	}
	value := kilogram.FromBase(solved.Low)
	return computed(value, kilogram, b.Weight, order.Derivation{
		Formula: "adjustedBodyWeight = idealBodyWeight + 0.4 × (weight − idealBodyWeight)",
		Inputs:  []order.Input{input("weight", b.Weight), input("height", b.Height)}, Citation: "factor 0.4; others are published (E11)",
		Text: fmt.Sprintf("adjusted body weight = %s + 0.4 × (%s − %s) = %s", ideal.Value.Significant(4), w.Low.Decimal(), ideal.Value.Significant(4), notation.Code(value.Significant(4), "kg"))}), true
}

// Clearance is the creatinine clearance by Cockcroft and Gault (Nephron
// 1976;16:31) with the actual body weight: (140 − age) × kg ÷ (72 × mg/dL),
// × 0.85 for women, in mL/min. Adults with a stable creatinine only; never
// on dialysis. Creatinine in µmol/L is divided by 88.4. Code E16.
func (b Body) Clearance() (order.Quantity, bool) {
	age := b.Years()
	if age < b.Adult || age < 0 || !b.SexKnown || b.Weight.Quantity.Absent() || b.Creatinine.Quantity.Absent() {
		return order.Quantity{}, false
	}
	w, err := b.Weight.Quantity.In(kilogram)
	scr, ok := CreatinineMgPerDL(b.Creatinine.Quantity)
	if err != nil || !ok || scr.Sign() <= 0 || age >= 140 {
		return order.Quantity{}, false
	}
	solved, ok := b.solve("E16", map[string]quantity.Number{"age": years.ToBase(quantity.Int(int64(age))), "weight": kilogram.ToBase(w.Low), "serumCreatinine": mgPerDL.ToBase(scr)})
	if !ok {
		return order.Quantity{}, false
	}
	value := mLPerMin.FromBase(solved.Low)
	formula, sex := "creatinineClearance = (140 − age) × weight in kg ÷ (72 × creatinine in mg/dL)", ""
	if b.Female {
		formula, sex = formula+" × 0.85", " × 0.85"
	}
	return computed(value, mLPerMin, b.Creatinine, order.Derivation{
		Formula:  formula,
		Inputs:   []order.Input{{Name: "age", Value: fmt.Sprint(age), Unit: "a"}, input("weight", b.Weight), input("serumCreatinine", b.Creatinine)},
		Citation: "Cockcroft and Gault, Nephron 1976;16:31, actual body weight (E16)",
		Text: fmt.Sprintf("creatinine clearance = (140 − %d) × %s ÷ (72 × %s)%s = %s", age, w.Low.Decimal(), scr.Significant(3), sex,
			notation.Code(value.Significant(3), "mL/min"))}), true
}

// CreatinineMgPerDL gives a serum creatinine in mg/dL. Amounts per volume
// are divided by 88.4 (µmol/L per mg/dL, the published rounding of the molar
// mass 113.12 g/mol).
func CreatinineMgPerDL(q quantity.Quantity) (quantity.Number, bool) {
	if m, err := q.In(mgPerDL); err == nil {
		return m.Low, true
	}
	if m, err := q.In(umolPerL); err == nil {
		return m.Low.Quo(quantity.MustNumber("88.4")), true
	}
	return quantity.Number{}, false
}

func computed(v quantity.Number, u quantity.Unit, from order.Measurement, d order.Derivation) order.Quantity {
	return order.Quantity{Value: v, Low: v, High: v, Unit: u, Place: from.Place, Derivation: []order.Derivation{d}}
}
