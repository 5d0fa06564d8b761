package computation

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/quantity"
)

// Given is one thing a person states: NAME=QUANTITY.
type Given struct {
	Name     string
	Literal  string // digits as typed
	Quantity quantity.Quantity
	Drug     quantity.Dimension // what the drug is measured in, for a NAME of the drug
	Word     string
	Time     time.Time
	DateOnly bool
	Step     *Step
}

// Step is one step of a stepped rate; the last may lack its time.
type Step struct {
	Rate     quantity.Quantity // volume or drug per time, or the same per kg
	Duration quantity.Quantity // absent: until the container is empty
}

// ArgumentError says which argument cannot be read, why, and what would be.
type ArgumentError struct{ Argument, Problem, Instead string }

// Error implements error.
func (e *ArgumentError) Error() string {
	return fmt.Sprintf("%.60q %s; %s", e.Argument, e.Problem, e.Instead)
}

// mostArgument bounds an argument: the longest NAME with digits and a unit
// needs less than half of it.
const mostArgument = 200

// mostArguments and mostSteps bound the work on an absurd command line.
const (
	mostArguments = 400
	mostSteps     = 50
)

// Parse reads arguments of the form NAME=QUANTITY. The order in which they
// are typed is no part of the answer, but for steps.
func Parse(arguments []string) ([]Given, error) {
	if len(arguments) > mostArguments {
		return nil, &ArgumentError{"", "are too many arguments", fmt.Sprintf("at most %d are read", mostArguments)}
	}
	var out []Given
	steps := 0
	for _, a := range arguments {
		if len(a) > mostArgument {
			return nil, &ArgumentError{a, "is too long", fmt.Sprintf("an argument has at most %d characters", mostArgument)}
		}
		name, text, ok := strings.Cut(a, "=")
		if !ok || name == "" || text == "" {
			return nil, &ArgumentError{a, "is not NAME=QUANTITY", "for example volume=250mL"}
		}
		n, ok := lookup(name)
		if !ok {
			return nil, &ArgumentError{a, "has a NAME that is not known", instead(name)}
		}
		g, err := n.given(text)
		if err != nil {
			return nil, &ArgumentError{a, err.Error(), "give " + n.wants()}
		}
		if g.Name == "step" {
			if steps++; steps > mostSteps {
				return nil, &ArgumentError{a, "is one step too many", fmt.Sprintf("at most %d are read", mostSteps)}
			}
		}
		if g.Name != "step" && slices.ContainsFunc(out, func(h Given) bool { return h.Name == g.Name && h.Drug == g.Drug && h.same(g) }) {
			continue // the same thing said twice is said once
		}
		if i := slices.IndexFunc(out, func(h Given) bool { return h.Name == g.Name }); i >= 0 && g.Name != "step" && !arithmetic.Knows(g.Name) {
			return nil, &ArgumentError{a, "is a second, different value of " + g.Name, "give the one that is right: only numbers of the infusion itself are compared with each other"}
		}
		out = append(out, g)
	}
	slices.SortStableFunc(out, func(a, b Given) int {
		if c := rank(a.Name) - rank(b.Name); c != 0 || a.Quantity.Absent() || b.Quantity.Absent() {
			return c
		}
		x, _ := a.Quantity.Base()
		y, _ := b.Quantity.Base()
		return cmp.Or(x.Cmp(y), cmp.Compare(a.Quantity.Unit.Code(), b.Quantity.Unit.Code()))
	})
	return out, nil
}

func (g Given) same(h Given) bool {
	if !g.Quantity.Absent() && !h.Quantity.Absent() {
		a, _ := g.Quantity.Base()
		b, _ := h.Quantity.Base()
		return a.Equal(b)
	}
	return g.Word == h.Word && g.Time.Equal(h.Time) && g.Quantity.Absent() == h.Quantity.Absent()
}

// instead names the NAMEs that begin like the one typed.
func instead(typed string) string {
	var near []string
	for n := len(typed); n > 2 && len(near) == 0; n-- {
		for _, x := range names {
			if strings.Contains(strings.ToLower(x.Name), strings.ToLower(typed[:n])) {
				near = append(near, x.Name)
			}
		}
	}
	for _, x := range names {
		if len(near) < 3 && strings.Contains(strings.ToLower(typed), strings.ToLower(x.Name)) {
			near = append(near, x.Name)
		}
	}
	if len(near) == 0 {
		return "weir compute --list names all"
	}
	return "perhaps " + strings.Join(near[:min(len(near), 5)], ", ") + "; weir compute --list names all"
}

// wants says what the NAME takes.
func (n Name) wants() string {
	switch {
	case n.Name == "sex":
		return "male or female"
	case n.Unit == "":
		return n.Means
	}
	u, _ := n.InUnit(quantity.Mass)
	return "a number with a UCUM unit such as " + u.Code()
}

func (n Name) given(text string) (Given, error) {
	g := Given{Name: n.Name}
	switch n.Name {
	case "sex":
		if text != "male" && text != "female" {
			return g, fmt.Errorf("is neither male nor female")
		}
		g.Word = text
		return g, nil
	case "zone":
		g.Word = text
		return g, nil
	case "start", "end":
		var err error
		g.Time, g.DateOnly, err = instant(text)
		return g, err
	case "step":
		s, err := step(text)
		g.Step = s
		return g, err
	}
	q, literal, err := quantity.Read(text)
	if err != nil {
		return g, err
	}
	if q.Low.Sign() < 0 || q.Low.Sign() == 0 && !equation.MayBeNothing(n.Name) {
		return g, fmt.Errorf("must be above 0")
	}
	if slices.Contains(parts, n.Name) && quantity.Int(1).Less(q.Unit.ToBase(q.Low)) {
		return g, fmt.Errorf("is above 100 %%")
	}
	if strings.HasSuffix(n.Name, "FiltrationRate") && strings.Contains(q.Unit.Code(), "{") && !indexed(q.Unit) {
		return g, fmt.Errorf("has an annotation that is not read: a rate is for 1.73 m² of surface (mL/min/{1.73_m2}) or for this body (mL/min)")
	}
	g.Literal = literal
	return n.fit(g, q)
}

// parts are fractions of a whole.
var parts = []string{"tolerance", "emittedFraction", "withdrawalFraction", "residualFraction"}

func instant(text string) (time.Time, bool, error) {
	if t, err := time.Parse(time.DateOnly, text); err == nil {
		return t, true, nil
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00"} {
		if t, err := time.Parse(layout, text); err == nil {
			return t, false, nil
		}
	}
	return time.Time{}, false, fmt.Errorf("is no instant with a zone and no date")
}

// elsewhere sends a value given in another dimension to the NAME that has
// it: dextrose=100g/L is a concentration.
var elsewhere = map[string][]string{"dextrose": {"dextroseConcentration"}, "aminoAcids": {"aminoAcidConcentration"},
	"lipid": {"lipidConcentration", "lipidVolume"}, "electrolytes": {"electrolyteConcentration"}}

// bare are counted per mole: a plain number says the same.
var bare = []string{"valence", "particles"}

// fit reads the unit in the dimension the NAME has.
func (n Name) fit(g Given, q quantity.Quantity) (Given, error) {
	if slices.Contains(bare, n.Name) && q.Unit.Dimension() == quantity.None {
		u, _ := n.InUnit(quantity.Mass)
		g.Quantity = quantity.Point(q.Low.Mul(u.FromBase(q.Unit.ToBase(quantity.Int(1)))), u)
		return g, nil
	}
	drugs := amounts[:1]
	if n.OfDrug() {
		drugs = amounts
	}
	for _, a := range drugs {
		want, ok := n.InUnit(a.dimension)
		if !ok {
			continue
		}
		if a.dimension == quantity.None && n.OfDrug() && !strings.Contains(q.Unit.Code(), "{") || n.Body == 0 && n.Name != "poundsPerKilogram" && cancels(q.Unit) {
			continue // mg/kg and 15 % are no count of things
		}
		if u, ok := q.Unit.As(want.Dimension()); ok {
			g.Quantity = quantity.Range(q.Low, q.High, u)
			if n.OfDrug() {
				g.Drug = a.dimension
			}
			return g, nil
		}
	}
	for _, code := range also[n.Name] {
		if u, ok := q.Unit.As(quantity.MustUnit(code).Dimension()); ok {
			g.Quantity = quantity.Range(q.Low, q.High, u)
			return g, nil
		}
	}
	for _, other := range elsewhere[n.Name] {
		m, _ := lookup(other)
		if u, ok := m.InUnit(quantity.Mass); ok && u.Dimension() == q.Unit.Dimension() {
			g.Name = other
			return m.fit(g, q)
		}
	}
	if q.Unit.Code() == "1" {
		return g, fmt.Errorf("has no unit")
	}
	if other := n.meant(q); other != "" {
		return g, fmt.Errorf("has a unit of %s, which is that of %s", q.Unit.Dimension(), other)
	}
	return g, fmt.Errorf("has a unit of %s", q.Unit.Dimension())
}

// meant names the quantities people most often mean by such a unit.
func (n Name) meant(q quantity.Quantity) string {
	var out []string
	for _, name := range []string{"dose", "dosePerKg", "dosePerArea", "concentration", "volume", "rate", "ratePerKg", "drugRate", "drugRatePerKg", "duration"} {
		m, _ := lookup(name)
		for _, a := range amounts[:len(amounts)-1] { // not of things that are counted
			if want, ok := m.InUnit(a.dimension); ok && name != n.Name {
				if _, fits := q.Unit.As(want.Dimension()); fits && !slices.Contains(out, name) {
					out = append(out, name)
				}
			}
		}
	}
	return strings.Join(out[:min(len(out), 2)], " or ")
}

// cancels: a mass stands above and below the line, as in mg/kg.
func cancels(u quantity.Unit) bool {
	_, below := u.As(u.Dimension().Times(quantity.Mass).Per(quantity.BodyMass))
	_, above := u.As(u.Dimension().Times(quantity.BodyMass).Per(quantity.Mass))
	return above && below
}

// step reads RATE or RATE@TIME.
func step(text string) (*Step, error) {
	rate, lasts, timed := strings.Cut(text, "@")
	var s Step
	q, _, err := quantity.Read(rate)
	if err != nil {
		return nil, err
	}
	for _, name := range []string{"rate", "ratePerKg", "drugRate", "drugRatePerKg"} {
		n, _ := lookup(name)
		if g, err := n.fit(Given{}, q); err == nil {
			s.Rate = g.Quantity
			break
		}
	}
	if s.Rate.Absent() || s.Rate.Low.Sign() <= 0 {
		return nil, fmt.Errorf("is no rate above 0")
	}
	if timed {
		if s.Duration, _, err = quantity.Read(lasts); err != nil {
			return nil, err
		}
		if s.Duration.Unit.Dimension() != quantity.Time || s.Duration.Low.Sign() <= 0 {
			return nil, fmt.Errorf("has a time that is none")
		}
	}
	return &s, nil
}
