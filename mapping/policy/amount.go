package policy

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

// Amount is a quantity in a settings file: a decimal, a blank and a UCUM
// unit, such as "10 mg/mL". Empty is not stated.
type Amount string

// Quantity reads the amount; it fails for another form or unit.
func (a Amount) Quantity() (quantity.Quantity, error) {
	n, u, err := a.parts()
	if err != nil {
		return quantity.Quantity{}, err
	}
	return quantity.Point(n, u), nil
}

// amountText is the form the schema asks for too: no sign and no exponent,
// which nobody writes on a label.
var amountText = regexp.MustCompile(`^[0-9]+(\.[0-9]+)? [^ ]+$`)

func (a Amount) parts() (n quantity.Number, u quantity.Unit, err error) {
	if !amountText.MatchString(string(a)) {
		return n, u, fmt.Errorf("is %.40q, which is no number with a unit", string(a))
	}
	number, unit, _ := strings.Cut(string(a), " ")
	if n, err = quantity.ParseNumber(number); err != nil {
		return n, u, fmt.Errorf("is %.40q: %w", string(a), err)
	}
	if u, err = quantity.ParseUnit(unit); err != nil {
		return n, u, fmt.Errorf("is %.40q: %w", string(a), err)
	}
	return n, u, nil
}

// in is the amount in a unit, false when it is another kind of quantity.
func (a Amount) in(unit string) (quantity.Number, bool) {
	q, err := a.Quantity()
	if err != nil {
		return quantity.Number{}, false
	}
	in, err := q.In(quantity.MustUnit(unit))
	return in.Low, err == nil
}

// Span is one amount, or a range of two.
type Span struct {
	Value, Low, High Amount
}

// Band is the span as the tables write it; nil when nothing is stated.
func (s Span) Band() *compendium.Band {
	b := compendium.Band{}
	for _, x := range []struct {
		a  Amount
		to *json.Number
	}{{s.Value, &b.Value}, {s.Low, &b.Low}, {s.High, &b.High}} {
		if number, unit, ok := strings.Cut(string(x.a), " "); ok {
			*x.to, b.Unit = json.Number(number), unit
		}
	}
	if b.Empty() {
		return nil
	}
	return &b
}
