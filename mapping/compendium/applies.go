package compendium

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/quantity"
)

// Applies is the regimen a fact holds for: every member that is set must
// hold. A limit for one regimen says nothing about another.
type Applies struct {
	Method         string   // push, infusion
	Route          string   // intravenous, intramuscular, subcutaneous
	Site           string   // central, peripheral: where the tip of the line lies
	Component      string   // one ingredient of a combination
	Exposure       string   // naive, tolerant: to an opioid
	Product        string   // a product kept apart from others of the same drug
	Regimen        string   // in words: induction, extended-interval, …
	Setting        string   // a state of the patient or a place no order tells
	Indication     []string // words, one of which stands in the indication
	NotIndication  []string // words, none of which stands there
	Age, Weight    *Band
	Dose, Interval *Band
}

// Answer is what is known about a fact and an order.
type Answer int

// The answers. Unknown is never taken for no or for yes.
const (
	No Answer = iota
	Unknown
	Yes
)

// Circumstance is what an order tells about its regimen. Empty text is
// unknown; Quantities holds age, weight, dose and interval as far as known.
type Circumstance struct {
	Method, Route, Site, Exposure, Product string
	Indications                            []string // empty: not stated
	Quantities                             map[string]quantity.Quantity
}

// Holds tells whether a fact holds for the order, and what would have to be
// known to tell. A fact without a regimen always holds.
func (f Fact) Holds(c Circumstance) (Answer, []string) {
	if len(f.AppliesTo) == 0 {
		return Yes, nil
	}
	best, missing := No, []string(nil)
	for _, a := range f.AppliesTo {
		switch answer, need := a.holds(c); {
		case answer == Yes:
			return Yes, nil
		case answer == Unknown:
			best, missing = Unknown, append(missing, need...)
		}
	}
	slices.Sort(missing)
	return best, slices.Compact(missing)
}

func (a Applies) holds(c Circumstance) (Answer, []string) {
	out, missing := Yes, []string(nil)
	worse := func(answer Answer, need string) {
		if answer == Unknown {
			missing = append(missing, need)
		}
		out = min(out, answer)
	}
	for _, x := range []struct{ want, have, need string }{{a.Method, c.Method, "method"}, {a.Route, c.Route, "route"}, {a.Site, c.Site, "tip of the line"},
		{a.Exposure, c.Exposure, "opioid exposure"}, {a.Product, c.Product, "product"}} {
		switch {
		case x.want == "" || x.want == x.have:
		case x.have == "":
			worse(Unknown, x.need)
		default:
			worse(No, x.need)
		}
	}
	for _, x := range []struct {
		name string
		band *Band
	}{{"age", a.Age}, {"weight", a.Weight}, {"dose", a.Dose}, {"interval", a.Interval}} {
		if x.band != nil {
			worse(x.band.covers(c.quantity(x.name, x.band.Unit)), x.name)
		}
	}
	worse(a.indicated(c), "indication")
	// What no order tells is asked of a person, unless a number already told
	// the regimen apart.
	if told := a.Interval != nil || a.Dose != nil; a.Setting != "" || a.Component != "" || a.Regimen != "" && !told {
		worse(Unknown, strings.Join(slices.DeleteFunc([]string{a.Regimen, a.Setting, a.Component}, func(s string) bool { return s == "" }), ", "))
	}
	if out == No {
		missing = nil
	}
	return out, missing
}

// quantity is what the order tells in the kind of a band's unit: a dose by
// body weight is the dose over the weight.
func (c Circumstance) quantity(name, unit string) quantity.Quantity {
	q, weight := c.Quantities[name], c.Quantities["weight"]
	u, err := quantity.ParseUnit(unit)
	if err != nil || q.Absent() || weight.Absent() || !strings.Contains(unit, "/kg") {
		return q
	}
	low, high := weight.Base()
	if _, err := q.In(u); err == nil || low.Sign() <= 0 {
		return q
	}
	least, most := q.Base()
	return quantity.Range(u.FromBase(least.Quo(high)), u.FromBase(most.Quo(low)), u)
}

var hyphens = strings.NewReplacer("-", " ", "\u2010", " ", "\u2011", " ", "\u2013", " ")

// unjoined is a text without hyphens: "hospital-acquired" and "hospital
// acquired" are the same words.
func unjoined(s string) string { return Fold(hyphens.Replace(s)) }

// indicated compares words of the indication. Without an indication a limit
// that some indications lift still holds: the safe side.
func (a Applies) indicated(c Circumstance) Answer {
	names := func(words []string) bool {
		return slices.ContainsFunc(words, func(w string) bool {
			return slices.ContainsFunc(c.Indications, func(i string) bool { return strings.Contains(" "+unjoined(i), " "+unjoined(w)) })
		})
	}
	switch {
	case len(a.Indication) > 0 && len(c.Indications) == 0:
		return Unknown
	case len(a.Indication) > 0 && !names(a.Indication), len(a.NotIndication) > 0 && names(a.NotIndication):
		return No
	}
	return Yes
}

// covers tells whether a quantity lies in the band; a unit of another kind
// tells nothing.
func (b Band) covers(q quantity.Quantity) Answer {
	if q.Absent() {
		return Unknown
	}
	want, err := b.Quantity()
	if err != nil {
		return Unknown
	}
	have, err := q.In(want.Unit)
	if err != nil {
		return Unknown
	}
	switch {
	case !have.Low.Less(want.Low) && !want.High.Less(have.High):
		return Yes
	case have.High.Less(want.Low) || want.High.Less(have.Low):
		return No
	}
	return Unknown
}

func (a Applies) check() error {
	for _, x := range []struct {
		key, value string
		words      []string
	}{{"method", a.Method, []string{"", "push", "infusion"}}, {"site", a.Site, []string{"", "central", "peripheral"}},
		{"exposure", a.Exposure, []string{"", "naive", "tolerant"}}, {"route", a.Route, []string{"", "intravenous", "intramuscular", "subcutaneous"}}} {
		if !slices.Contains(x.words, x.value) {
			return fmt.Errorf("appliesTo.%s is %q; use one of %s", x.key, x.value, strings.Join(x.words[1:], ", "))
		}
	}
	return a.checkBands()
}
