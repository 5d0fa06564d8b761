package adapter

import (
	"weir.example/weir/conformance"
	"weir.example/weir/conformance/computation"
	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// Numbers is what somebody asks of the arithmetic alone.
type Numbers struct {
	Arguments []string // NAME=QUANTITY
	Equations []string // codes of published variants
	In        []string // NAME=UNIT: the unit to answer a NAME in
	Reference policy.Reference
}

// Compute works out what follows from numbers without an order. An error is
// the fault of an argument.
func Compute(n Numbers) (worksheet.Computation, error) {
	given, err := computation.Parse(n.Arguments)
	if err != nil {
		return worksheet.Computation{}, err
	}
	in, err := computation.ParseUnits(n.In)
	if err != nil {
		return worksheet.Computation{}, err
	}
	return conformance.Compute(computation.Request{Given: given, Equations: n.Equations, In: in}, n.Reference, finding.Release)
}

// ComputationJSON writes the answer as the outside contract asks.
func ComputationJSON(c worksheet.Computation) []byte { return marshal(c, "  ") }

// Listed is one NAME or equation of the arithmetic.
type Listed struct {
	Code  string `json:"code"`
	Unit  string `json:"unit,omitempty"`
	Means string `json:"means"`
	Needs string `json:"needs,omitempty"`
	Holds string `json:"holds,omitempty"`
	From  string `json:"source,omitempty"`
}

// Listing lists the NAMEs, then the equations.
func Listing() (names, equations []Listed) {
	for _, n := range computation.Names() {
		unit := ""
		if u, ok := n.InUnit(quantity.Mass); ok {
			unit = u.Code()
		}
		names = append(names, Listed{Code: n.Name, Unit: unit, Means: n.Means})
	}
	for _, e := range equation.All() {
		equations = append(equations, Listed{Code: e.Code, Means: e.Title, Needs: e.Formula, Holds: e.Limits, From: e.Source})
	}
	return names, equations
}
