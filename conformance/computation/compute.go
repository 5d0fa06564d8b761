package computation

import (
	"slices"
	"strings"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// Request is what a person asks.
type Request struct {
	Given     []Given
	Equations []string                 // codes of published variants to be used
	In        map[string]quantity.Unit // units to answer in, by NAME
}

// Answer is everything that follows.
type Answer struct {
	Quantities map[string]order.Quantity
	Words      map[string]Given // what was given as a word, an instant or steps
	Conflicts  []arithmetic.Conflict
	Unchecked  []arithmetic.Unchecked
	Next       []Next
	Outside    []Outside
	TooMany    bool
}

// Next is one more NAME and what it would let be worked out.
type Next struct {
	Give  string
	Gives []string
}

// Outside is an equation that was asked of values it does not hold for.
type Outside struct{ Code, Output, Says string }

// known is one quantity in base units with how it came.
type known struct {
	value, low, high quantity.Number
	unit             quantity.Unit
	drug             quantity.Dimension
	stated           *Given
	from             map[string]bool // the stated NAMEs it rests on
	ways             []order.Derivation
	disputed         bool
}

type run struct {
	request Request
	known   map[string]known
	extra   []Given // further statements of a NAME, beyond the first
	words   map[string]Given
	steps   []Step
	drug    quantity.Dimension
	active  []equation.Equation
	outside map[string]Outside
	network arithmetic.Agreement
	entered map[string]bool // NAMEs an equation outside gave to the network
}

// Compute works out what follows.
func Compute(r Request) (Answer, error) {
	c := &run{request: r, known: map[string]known{}, words: map[string]Given{}, outside: map[string]Outside{}, entered: map[string]bool{}}
	if err := c.choose(r); err != nil {
		return Answer{}, err
	}
	c.take(r.Given)
	if err := c.measure(); err != nil {
		return Answer{}, err
	}
	for range 2 * len(names) { // every round adds a NAME or ends
		before := len(c.known)
		c.equations()
		if len(c.known) == before {
			c.reconcile()
		}
		if len(c.known) == before {
			break
		}
	}
	return c.answer(), nil
}

// meanGlucose are the equations that give the glucose rate of a cycle by its
// mean: too low, so the plateau alone stands.
var meanGlucose = []string{"E24", "E24-mass"}

// choose picks the equations in use: of those that give one quantity, the
// variants that were asked for, else the others.
func (c *run) choose(r Request) error {
	codes, cycles := r.Equations, slices.ContainsFunc(r.Given, func(g Given) bool { return g.Name == "cycle" || g.Name == "plateauRate" })
	asked := map[string]bool{}
	for _, code := range codes {
		e, ok := equation.Find(code)
		if !ok {
			return &ArgumentError{code, "is no equation here", "weir compute --list names all"}
		}
		asked[e.Output] = true
	}
	for _, e := range append(links(), equation.All()...) {
		if cycles && slices.Contains(meanGlucose, e.Code) {
			continue
		}
		if slices.Contains(codes, e.Code) || !asked[e.Output] && !e.Variant {
			c.active = append(c.active, e)
		}
	}
	return nil
}

// take files what was given. A second, different statement of a NAME stays a
// statement: the network compares the two.
func (c *run) take(given []Given) {
	for i, g := range given {
		switch {
		case g.Step != nil:
			c.steps = append(c.steps, *g.Step)
			c.words["step"] = Given{Name: g.Name, Step: g.Step, Word: stepsText(c.steps)}
		case g.Quantity.Absent():
			c.words[g.Name] = g
		default:
			if _, twice := c.known[g.Name]; twice {
				c.extra = append(c.extra, g)
				continue
			}
			low, high := span(g)
			base := g.Quantity.Unit.ToBase(g.Quantity.Middle())
			c.known[g.Name] = known{value: base, low: low, high: high, unit: g.Quantity.Unit, drug: g.Drug, stated: &given[i], from: map[string]bool{g.Name: true}}
		}
	}
}

// span is what a printed number stands for: the network's interval, half a
// last digit for what was measured, else the number itself.
func span(g Given) (low, high quantity.Number) {
	if s, ok := statement(g); ok {
		return arithmetic.Interval(s)
	}
	low, high = g.Quantity.Base()
	if slices.Contains([]string{"weight", "height", "serumCreatinine", "idealBodyWeight", "adjustedBodyWeight"}, g.Name) {
		return arithmetic.Measured(g.Literal, g.Quantity)
	}
	return low, high
}

// statement is a given number of the network as the network reads it.
func statement(g Given) (order.Stated, bool) {
	if !arithmetic.Knows(g.Name) || g.Quantity.Absent() {
		return order.Stated{}, false
	}
	return order.Stated{Name: g.Name, Quantity: g.Quantity, Literal: g.Literal, Place: place(g.Name), Witness: order.Given}, true
}

func place(name string) finding.Place { return finding.Place{Expression: name} }

// equations works out what one equation gives from what is known.
func (c *run) equations() {
	for _, e := range c.active {
		if _, done := c.known[e.Output]; done || len(c.steps) > 1 && slices.Contains(steppedRates, e.Output) {
			continue
		}
		k, ok := c.solve(e)
		if ok {
			c.known[e.Output] = k
			delete(c.outside, e.Output)
		}
	}
}

// steppedRates have no one value when the rate changes on the way.
var steppedRates = []string{"rate", "ratePerKg", "drugRate", "drugRatePerKg"}

// usual is what the network may know: the strength of the vial, and other
// weights a dose may have been worked out on.
func (c *run) usual() arithmetic.Usual {
	u := arithmetic.Usual{Drug: c.drug, Counted: c.drug == quantity.None}
	if k, ok := c.known["vialStrength"]; ok {
		u.Concentrations = []quantity.Quantity{quantity.Point(k.unit.FromBase(k.value), k.unit)}
	}
	if _, own := c.known["weight"]; own {
		for _, name := range []string{"idealBodyWeight", "adjustedBodyWeight"} {
			if k, ok := c.known[name]; ok {
				u.OtherWeights = append(u.OtherWeights, arithmetic.OtherWeight{Says: notation.Name(name), Quantity: quantity.Point(k.unit.FromBase(k.value), k.unit)})
			}
		}
	}
	return u
}

// withheld: with two steps or more there is no one rate, and a dose that is
// rounded first gives the day's total by its rounded size.
func (c *run) withheld(name string) bool {
	_, rounds := c.known["roundTo"]
	return len(c.steps) > 1 && slices.Contains(steppedRates, name) || rounds && name == "dailyDose"
}

// reconcile asks the network and takes from it what nobody stated.
func (c *run) reconcile() {
	c.network = arithmetic.Reconcile(c.statements(), c.usual())
	if c.network.TooMany {
		return
	}
	c.network.Describe()
	for name, q := range c.network.Quantities {
		k, have := c.known[name]
		if have {
			k.disputed = q.Disputed
			if k.stated != nil {
				k.ways = q.Derivation
			}
			c.known[name] = k
			continue
		}
		if c.withheld(name) {
			continue
		}
		k = known{value: q.Unit.ToBase(q.Value), low: q.Unit.ToBase(q.Low), high: q.Unit.ToBase(q.High), unit: q.Unit, drug: c.drug,
			from: map[string]bool{}, ways: q.Derivation, disputed: q.Disputed}
		if len(q.Derivation) > 0 {
			for _, in := range q.Derivation[0].Inputs {
				for n := range c.known[in.Name].from {
					k.from[n] = true
				}
			}
		}
		c.known[name] = k
	}
}

// statements are what the network is told: what was given, and what an
// equation outside it gave.
func (c *run) statements() []order.Stated {
	var out []order.Stated
	for _, name := range arithmetic.Names {
		k, ok := c.known[name]
		if !ok || k.from == nil {
			continue
		}
		switch {
		case k.stated != nil:
			s, _ := statement(*k.stated)
			if k.unit.Code() != s.Quantity.Unit.Code() { // converted on the way in
				s.Quantity, s.Literal = quantity.Range(k.unit.FromBase(k.low), k.unit.FromBase(k.high), k.unit), ""
			}
			out = append(out, s)
		case !slices.ContainsFunc(k.ways, func(d order.Derivation) bool { return strings.HasPrefix(d.Citation, networkCitation) }):
			c.entered[name] = true
			out = append(out, order.Stated{Name: name, Quantity: quantity.Range(k.unit.FromBase(k.low), k.unit.FromBase(k.high), k.unit),
				Witness: order.Computed, Place: place(name)})
		}
	}
	for _, g := range c.extra {
		if s, ok := statement(g); ok {
			s.Place = place(g.Name + "[2]")
			out = append(out, s)
		}
	}
	return out
}

// networkCitation begins the citation of what the network itself worked out.
const networkCitation = "equations E01"
