package conformance

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

func said(name, literal, unit string) order.Stated {
	return order.Stated{Name: name, Literal: literal, Quantity: quantity.Point(quantity.MustNumber(literal), quantity.MustUnit(unit)), Witness: order.Coded,
		Place: finding.Place{Expression: name}}
}

// The published scheme of a quarter, a half and the full rate: 70 kg at a
// ceiling of 0.05 mL/kg/min is 210 mL per hour, so 52.5 and 105 for half an
// hour each and 210 for 57.5 minutes are 26.25 + 52.5 + 201.25 = 280 mL
// (medicalalgorithms.com, immunoglobulin infusion rate).
func stepped(volume string) *state {
	step := func(rate, minutes string) order.Step {
		r, d := said("rate", rate, "mL/h"), said("duration", minutes, "min")
		return order.Step{Rate: &r, Duration: &d}
	}
	s := &state{order: order.Order{Steps: []order.Step{step("52.5", "30"), step("105", "30"), step("210", "57.5")}, Stated: []order.Stated{said("volume", volume, "mL")}}}
	s.sums()
	return s
}

func TestTheStepsAddUpToTheContainer(t *testing.T) {
	a := arithmetic.Reconcile(stepped("280").order.Stated, arithmetic.Usual{})
	assert.Empty(t, a.Conflicts)
	assert.Equal(t, "1.9583", a.Quantities["duration"].Value.Places(4))
}

func TestStepsThatDoNotEmptyTheContainerDisagreeWithIt(t *testing.T) {
	a := arithmetic.Reconcile(stepped("350").order.Stated, arithmetic.Usual{})
	require.Len(t, a.Conflicts, 1)
	a.Describe()
	c := a.Conflicts[0]
	assert.Equal(t, arithmetic.Products, c.Kind, "a sum that disagrees is arithmetic, not two people")
	require.Len(t, c.Culprits, 2)
	said := c.Culprits[0].Sentence + c.Culprits[1].Sentence
	assert.Contains(t, said, "sum of the steps")
	assert.Contains(t, said, "350 mL")
}

// The last step runs until the container is empty: nothing can be added up.
func TestAnOpenLastStepIsNoSum(t *testing.T) {
	s := stepped("280")
	s.order.Stated = s.order.Stated[:1]
	s.order.Steps[2].Duration = nil
	s.sums()
	assert.Len(t, s.order.Stated, 1)
}
