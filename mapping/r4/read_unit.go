package r4

import (
	"errors"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// number is one FHIR Quantity as read: the literal, the unit's code and the
// unit it stands for. A count without any unit has the zero Unit.
type number struct {
	node    element.Node
	literal string
	value   quantity.Number
	unit    quantity.Unit
	words   string // Quantity.unit
}

// counted reports whether the number has no physical unit: none at all, "1"
// or an annotation such as {dose} or {bag}.
func (q number) counted() bool { return q.unit.IsZero() || isCount(q.unit.Code()) }

func isCount(code string) bool {
	return code == "1" || strings.HasPrefix(code, "{") && strings.HasSuffix(code, "}")
}

func (q number) dimension() quantity.Dimension { return q.unit.Dimension() }

// as gives the number in the dimension a NAME asks for: mg/kg is mass per
// body mass only there.
func (q number) as(d quantity.Dimension) (quantity.Quantity, bool) {
	u, ok := q.unit.As(d)
	return quantity.Point(q.value, u), ok && !q.unit.IsZero()
}

// quantity reads a Quantity. It answers false when there is no number to
// work with, and says why: nothing for an absent element,
// record-number-impossible for a negative one, an entry in unused for a comparator or a stated absence, record-unit-unknown for a unit that
// is not UCUM. A unit text that contradicts the code is a fault and the code
// decides (https://hl7.org/fhir/R4/datatypes.html#Quantity).
func (n *notes) quantity(at element.Node) (number, bool) {
	if at.Kind() != element.Object {
		return number{}, false
	}
	value := at.Get("value")
	if reason := absence(at); reason != "" {
		n.notUsed(at, "the sender says the value is absent (%s)", reason)
		return number{}, false
	}
	if !value.Exists() {
		if at.Len() > 0 {
			n.notUsed(at, "it has no value")
		}
		return number{}, false
	}
	if c := at.Get("comparator").Text(); c != "" {
		n.notUsed(at, "the value is a bound (%s), not a number to calculate with", comparatorWords[c])
		return number{}, false
	}
	v, err := quantity.ParseNumber(value.Literal())
	if err != nil {
		n.notUsed(at, "the value is no decimal that can be calculated with exactly")
		return number{}, false
	}
	if v.Sign() < 0 {
		n.impossible(at, notation.Code(v.Decimal(), firstText(at.Get("code").Text(), at.Get("unit").Text())), "a number that is not negative")
		return number{}, false
	}
	q := number{node: at, literal: value.Literal(), value: v, words: at.Get("unit").Text()}
	code, system := at.Get("code").Text(), at.Get("system").Text()
	switch {
	case code == "" && q.words == "":
		return q, true
	case n.lenient && quantity.Meant(firstText(code, q.words)) != "" && (system == "" || system == ucum):
		spelled := firstText(code, q.words)
		q.unit = quantity.MustUnit(quantity.Meant(spelled))
		n.said(at, "the unit %s was read as %s, as it is commonly spelled", quoted(spelled), q.unit.Code())
		return q, true
	case code == "":
		n.fault("record-unit-unknown", at, "unit "+quoted(q.words)+" without a code", wantedCode(q.words),
			"a quantity has words for its unit and no UCUM code")
		return number{}, false
	case system != ucum:
		n.fault("record-unit-unknown", at, "code "+quoted(code)+" of system "+quoted(system), "system "+ucum+" with a UCUM code",
			"a quantity's unit is not from UCUM")
		return number{}, false
	}
	u, err := quantity.ParseUnit(code)
	if err != nil {
		expected := wantedCode(code)
		var unit *quantity.UnitError
		if errors.As(err, &unit) && unit.Meant == "" {
			expected = "a UCUM code that is read here; this one " + unit.Problem
		}
		n.fault("record-unit-unknown", at, "unit code "+quoted(code), expected, "a quantity's unit code is not one that is read")
		return number{}, false
	}
	q.unit = u
	if contradicts(q.words, u) {
		n.fault("record-unit-unknown", at, "unit "+quoted(q.words)+" beside code "+quoted(code), "a unit text that means the same as the code",
			"the words and the code of a unit mean different things; the code was used")
	}
	return q, true
}

// impossible says that a number cannot be what it says it is.
func (n *notes) impossible(at element.Node, observed, expected string) {
	n.fault("record-number-impossible", at, observed, expected, "the number is not used")
}

var comparatorWords = map[string]string{"<": "less than", "<=": "at most", ">": "more than", ">=": "at least"}

func quoted(s string) string { return `"` + s + `"` }

func wantedCode(words string) string {
	if m := quantity.Meant(words); m != "" {
		return "UCUM code " + quoted(m) + ", if that was meant"
	}
	return "a UCUM code"
}

// absence is the code of a data-absent-reason on the quantity or its value.
func absence(at element.Node) string {
	for _, n := range []element.Node{at, at.Get("_value")} {
		if c := extensionValue(n, structures+"data-absent-reason").Text(); c != "" {
			return c
		}
	}
	return ""
}

// contradicts reports whether the words of a unit mean another unit than its
// code. Words that are not known contradict nothing.
func contradicts(text string, code quantity.Unit) bool {
	text = strings.TrimSpace(text)
	if text == "" || strings.EqualFold(text, code.Code()) || isCount(code.Code()) {
		return false
	}
	meant, known := meaning(text)
	if !known {
		return false
	}
	if m, c := quantity.AnyUnits(meant.Dimension()), quantity.AnyUnits(code.Dimension()); m != meant.Dimension() || c != code.Dimension() {
		if m == c {
			return false // "units", also per something, is said of international and of USP units
		}
	}
	low, _ := quantity.Point(quantity.Int(1), meant).Base()
	other, _ := quantity.Point(quantity.Int(1), code).Base()
	return meant.Dimension() != code.Dimension() || !low.Equal(other)
}

// meaning is the unit that words stand for: spelled-out names, common
// spellings, or UCUM itself; ratios part by part.
func meaning(text string) (quantity.Unit, bool) {
	text = strings.NewReplacer(" per ", "/", " / ", "/", "/ ", "/", " /", "/").Replace(text)
	parts := strings.Split(text, "/")
	for i, p := range parts {
		p = strings.TrimSpace(p)
		if m := spelled[strings.ToLower(p)]; m != "" {
			p = m
		} else if m := quantity.Meant(p); m != "" {
			p = m
		}
		parts[i] = p
	}
	u, err := quantity.ParseUnit(strings.Join(parts, "/"))
	return u, err == nil
}

// spelled are unit names in words, as people write Quantity.unit.
var spelled = map[string]string{
	"milligram": "mg", "milligrams": "mg", "microgram": "ug", "micrograms": "ug", "gram": "g", "grams": "g", "kilogram": "kg",
	"kilograms": "kg", "nanogram": "ng", "nanograms": "ng", "milliliter": "mL", "milliliters": "mL", "millilitre": "mL",
	"millilitres": "mL", "liter": "L", "liters": "L", "litre": "L", "litres": "L", "second": "s", "seconds": "s", "minute": "min",
	"minutes": "min", "min": "min", "hour": "h", "hours": "h", "hr": "h", "day": "d", "days": "d", "week": "wk", "weeks": "wk",
	"month": "mo", "months": "mo", "centimeter": "cm", "centimeters": "cm", "centimetre": "cm", "inch": "[in_i]", "inches": "[in_i]",
	"pound": "[lb_av]", "pounds": "[lb_av]", "lb": "[lb_av]", "lbs": "[lb_av]", "unit": "[iU]", "units": "[iU]", "iu": "[iU]",
	"international unit": "[iU]", "international units": "[iU]", "usp units": "[USP'U]", "mcg": "ug", "meq": "meq",
	"milliequivalent": "meq", "milliequivalents": "meq", "millimole": "mmol", "millimoles": "mmol", "drop": "[drp]", "drops": "[drp]",
	"m2": "m2", "m²": "m2", "ml": "mL", "cc": "mL",
}

// stated makes a Stated of a number in the dimension its NAME asks for.
func (q number) stated(name string, d quantity.Dimension, w order.Witness, label string) (order.Stated, bool) {
	v, ok := q.as(d)
	return order.Stated{Name: name, Quantity: v, Literal: q.literal, Place: q.node.Place(), Witness: w, Label: label}, ok
}
