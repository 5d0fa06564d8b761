package conformance

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

func inWords(name, value, unit string) order.Stated {
	u := quantity.MustUnit(unit)
	n, err := quantity.ParseNumber(value)
	if err != nil {
		panic(err)
	}
	return order.Stated{Name: name, Quantity: quantity.Point(n, u), Literal: value, Witness: order.Text}
}

// Scenario S5: 2000 mL in 12 h. A rate that gives from half to twice of it may be
// the plateau of a taper; any other stays in the relations and is found there.
func TestWhichRateIsAPlateau(t *testing.T) {
	taper := []order.Reading{{Field: "taper", Role: "up", Value: "1", Unit: "h"}}
	for _, c := range []struct {
		says  string
		kind  string
		rates []string
		words []order.Reading
		apart bool
	}{
		{"with tapers", "nutrition", []string{"181.8"}, taper, true},
		{"said twice", "nutrition", []string{"181.8", "181.8"}, taper, true},
		{"half of the bag", "nutrition", []string{"83.34"}, taper, true},
		{"less than half", "nutrition", []string{"83.3"}, taper, false},
		{"twice the bag", "nutrition", []string{"333.3"}, taper, true},
		{"more than twice", "nutrition", []string{"333.4"}, taper, false},
		{"tenfold", "nutrition", []string{"1818"}, taper, false},
		{"without tapers", "nutrition", []string{"181.8"}, nil, false},
		{"two that differ", "nutrition", []string{"166.7", "181.8"}, taper, false},
		{"another drug", "anti-infective", []string{"181.8"}, taper, false},
		{"no rate", "nutrition", nil, taper, false},
	} {
		s := &state{drugKnown: true, drug: compendium.Drug{Kinds: []string{c.kind}}}
		s.order.Readings = c.words
		s.order.Stated = []order.Stated{inWords("volume", "2000", "mL"), inWords("duration", "12", "h")}
		for _, r := range c.rates {
			s.order.Stated = append(s.order.Stated, inWords("rate", r, "mL/h"))
		}
		constant, plateau := s.apart()
		assert.Equal(t, c.apart, plateau != nil, c.says)
		if plateau != nil {
			assert.Len(t, constant, 2, c.says)
			assert.Equal(t, c.rates[0], plateau.Literal, c.says)
			continue
		}
		assert.Len(t, constant, len(s.order.Stated), c.says)
	}
}
