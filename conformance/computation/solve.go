package computation

import (
	"errors"
	"regexp"
	"slices"
	"strings"

	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// ready reports whether all an equation needs is known, and what it lacks.
func (c *run) ready(e equation.Equation) (lacks []string) {
	for _, name := range e.Inputs {
		_, number := c.known[name]
		_, word := c.words[name]
		if !number && !word || name == "step" && len(c.steps) == 0 {
			lacks = append(lacks, name)
		}
	}
	return lacks
}

// uses are the NAMEs an equation takes here.
func (c *run) uses(e equation.Equation) []string {
	out := slices.Clone(e.Inputs)
	for _, name := range e.Optional {
		_, number := c.known[name]
		_, word := c.words[name]
		if number || word {
			out = append(out, name)
		}
	}
	return out
}

// solve asks an equation at the corners of what its inputs can be.
func (c *run) solve(e equation.Equation) (known, bool) {
	n, ok := lookup(e.Output)
	if !ok || len(c.ready(e)) > 0 {
		return known{}, false
	}
	unit, ok := n.InUnit(c.drug)
	if !ok {
		return known{}, false
	}
	uses := c.uses(e)
	values := equation.Values{By: map[string]equation.Value{}}
	var wide []string
	k := known{unit: unit, drug: c.drug, from: map[string]bool{}}
	for _, name := range uses {
		if w, ok := c.words[name]; ok {
			values.By[name] = equation.Value{Word: w.Word, Time: w.Time, DateOnly: w.DateOnly}
			continue
		}
		in := c.known[name]
		values.By[name] = equation.Value{Number: in.value, Unit: in.unit}
		k.disputed = k.disputed || in.disputed
		for n := range in.from {
			k.from[n] = true
		}
		if !in.low.Equal(in.high) && !e.Counts {
			wide = append(wide, name)
		}
	}
	for _, s := range c.steps {
		flow, ok := c.flow(s)
		if !ok && slices.Contains(e.Inputs, "step") {
			return known{}, false
		}
		step := equation.Step{Rate: flow}
		if !s.Duration.Absent() {
			step.Duration, _ = s.Duration.Base()
		}
		values.Steps = append(values.Steps, step)
	}
	middle, err := e.Solve(values)
	if err != nil {
		if errors.Is(err, equation.ErrOutside) && !isLink(e) {
			c.outside[e.Output] = Outside{e.Code, e.Output, err.Error()}
		}
		return known{}, false
	}
	k.value = middle.Low
	if !middle.Low.Equal(middle.High) {
		k.value = middle.Low.Add(middle.High).Quo(quantity.Int(2)).RoundDigits(9)
	}
	k.low, k.high = c.corners(e, values, wide, middle)
	k.ways = []order.Derivation{c.way(e, uses, k)}
	return k, true
}

// mostWide bounds the corners tried; no equation has more measured inputs.
const mostWide = 6

func (c *run) corners(e equation.Equation, values equation.Values, wide []string, middle equation.Bounds) (low, high quantity.Number) {
	low, high = middle.Low, middle.High
	if len(wide) > mostWide {
		return low, high
	}
	for corner := range 1 << len(wide) {
		for i, name := range wide {
			v := values.By[name]
			v.Number = c.known[name].low
			if corner&(1<<i) != 0 {
				v.Number = c.known[name].high
			}
			values.By[name] = v
		}
		if b, err := e.Solve(values); err == nil {
			low, high = quantity.Least(low, b.Low), quantity.Greatest(high, b.High)
		}
	}
	return low, high
}

// way is the derivation with its numbers filled in.
func (c *run) way(e equation.Equation, uses []string, k known) order.Derivation {
	shown := c.unitFor(e.Output, k.unit)
	value := shown.FromBase(k.value)
	citation := e.Title + "; " + e.Source + " (" + e.Code + ")"
	return order.Derivation{Formula: e.Formula, Inputs: c.inputs(uses), Citation: citation, Value: value.Decimal(), Unit: shown.Code(),
		Text: c.fill(e) + " = " + notation.Code(value.Significant(5), shown.Code())}
}

// amountNames are answered in the measure the person used: grams stay grams.
var (
	amountNames = []string{"dose", "dailyDose", "roundedDose", "loadingDose", "waste", "maximumDose", "drugMass"}
	amountFrom  = []string{"dose", "dosePerKg", "dosePerArea", "dailyDose", "dailyDosePerKg", "loadingDose", "demand", "vialContent"}
)

// asTyped is the unit of an amount in the measure of the first amount given.
func (c *run) asTyped(name string) (quantity.Unit, bool) {
	n, _ := lookup(name)
	for _, from := range amountFrom {
		k, ok := c.known[from]
		if !ok || k.stated == nil {
			continue
		}
		measure, _, _ := strings.Cut(k.stated.Quantity.Unit.Code(), "/")
		if measure != "g" && measure != "ug" {
			return quantity.Unit{}, false
		}
		return n.read(strings.Replace(n.Unit, "@", measure, 1))
	}
	return quantity.Unit{}, false
}

// unitFor is the unit a NAME is answered in: the one asked for, that of the
// person's own amounts, else its own.
func (c *run) unitFor(name string, own quantity.Unit) quantity.Unit {
	if _, asked := c.request.In[name]; !asked && slices.Contains(amountNames, name) && (c.known[name].stated == nil) {
		if u, ok := c.asTyped(name); ok && u.Dimension() == own.Dimension() {
			return u
		}
	}
	if u, ok := c.request.In[name]; ok {
		if u, ok := u.As(own.Dimension()); ok {
			return u
		}
	}
	return own
}

var inUnit = regexp.MustCompile(`\b([a-z][A-Za-z]*)( in ([A-Za-zµ²/\[\]_]+))?`)

var unitOfWords = map[string]string{"inches": "[in_i]", "years": "a", "µmol/L": "umol/L", "m²": "m2", "hours": "h", "minutes": "min"}

// fill writes a formula with the numbers in the place of NAMEs: "height in
// cm" becomes the number of centimetres, a NAME alone its value with unit.
func (c *run) fill(e equation.Equation) string {
	left, right, _ := strings.Cut(e.Formula, " = ")
	left = notation.Name(left)
	if _, alone := lookup(right); alone {
		return left + " = " + notation.Name(right) // the same number under another name
	}
	return left + " = " + inUnit.ReplaceAllStringFunc(right, func(match string) string {
		parts := inUnit.FindStringSubmatch(match)
		name, code := parts[1], parts[3]
		if w, ok := c.words[name]; ok && w.Text() != "" {
			return w.Text()
		}
		k, ok := c.known[name]
		if _, listed := lookup(name); !ok && listed {
			return notation.Name(name)
		} else if !ok {
			return match
		}
		if words, ok := unitOfWords[code]; ok {
			code = words
		}
		if code != "" {
			if u, err := quantity.ParseUnit(code); err == nil {
				return notation.Code(short(u.FromBase(k.value)), "")
			}
			return match
		}
		return notation.Code(short(k.unit.FromBase(k.value)), k.unit.Code())
	})
}

func short(n quantity.Number) string {
	if n.RoundDigits(6).Equal(n) {
		return n.Significant(6)
	}
	return n.Significant(5)
}
