package verification

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// textContradicts sets words and code side by side: numbers of the infusion,
// the device's rate, the end of the course, the route.
func textContradicts(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, d := range f.agreement().Differing {
		words, code := d.One, d.Other
		if code.Witness == order.Text {
			words, code = code, words
		}
		if words.Witness != order.Text {
			continue
		}
		show := func(s order.Stated) string {
			return notation.Code(s.Quantity.Middle().Decimal(), s.Quantity.Unit.Code())
		}
		source := "coded: "
		if code.Witness == order.Text {
			source = "other words: "
		}
		x := here(words.Place, "words: "+arithmetic.Words(words.Name)+" "+show(words), source+show(code))[0]
		x.Evidence = []string{code.Place.Expression}
		x.Remedy = "Ask the prescriber which is meant."
		out = append(out, x)
	}
	out = append(out, carried("record-text-contradicts")(f)...)
	out = append(out, deviceWords(f)...)
	out = append(out, endWords(f)...)
	return append(out, routeWords(f)...)
}

// codedDiffer: two statements that are no words differ, whatever the words
// say beside them.
func codedDiffer(f Facts) bool {
	for _, d := range f.agreement().Differing {
		if d.One.Witness != order.Text && d.Other.Witness != order.Text {
			return true
		}
	}
	return false
}

// deviceWords: a nominal rate in words that cannot give the coded infusion
// time, even at the edge of the device's tolerance.
func deviceWords(f Facts) []finding.Finding {
	nominal, ok := f.order().Device.Parameter("nominalRate")
	needed, known := neededRate(f)
	if !ok || !known || nominal.Witness != order.Text {
		return nil
	}
	in, err := nominal.Quantity.In(needed.Unit)
	if err != nil {
		return nil
	}
	off := in.Middle().Quo(needed.Value).Sub(quantity.Int(1)).Abs()
	if !f.policy().Device.Tolerance.Less(off) {
		return nil
	}
	x := here(nominal.Place, "words: "+notation.Code(in.Middle().Decimal(), in.Unit.Code()), "coded volume and infusion time: "+notation.Code(needed.Value.Significant(4), needed.Unit.Code()))
	x[0].Evidence = []string{needed.Place.Expression}
	x[0].Remedy = "Ask the prescriber which is meant, the device in words or the coded infusion time."
	return x
}

// endWords: the last day in words against the coded end.
func endWords(f Facts) []finding.Finding {
	end := f.order().Course.End
	if end.Absent() || !f.Has(Plan) {
		return nil
	}
	at := end.Time
	if !end.DateOnly && f.plan().Zone.Known() {
		at = at.In(f.plan().Zone.Location)
	}
	coded := at.Format(time.DateOnly)
	days := []string{coded}
	if !end.DateOnly && at.Hour() == 0 && at.Minute() == 0 { // midnight also ends the day before
		days = append(days, at.AddDate(0, 0, -1).Format(time.DateOnly))
	}
	for _, r := range f.order().Readings {
		day, dated := strings.CutPrefix(r.Value, "--") // --12-15 leaves the year open
		dated = dated || len(r.Value) == len(coded)
		if r.Field == "end" && dated && !slices.ContainsFunc(days, func(d string) bool { return strings.HasSuffix(d, day) }) {
			return here(r.Place, "words: through "+day, "coded end: "+coded)
		}
	}
	return nil
}

func routeWords(f Facts) []finding.Finding {
	coded := routeOf(f.order().Route)
	for _, r := range f.order().Readings {
		if r.Field == "route" && coded != "" && r.Value != coded && (r.Value == "intravenous" || r.Value == "subcutaneous") && r.Place.Expression != "" {
			return here(r.Place, "words: "+r.Value, "coded route: "+coded)
		}
	}
	return nil
}

// routeOf: SNOMED CT 47625008 intravenous, 34206005 subcutaneous.
func routeOf(c order.Concept) string {
	const snomed = "http://snomed.info/sct"
	switch c.Code(snomed) {
	case "47625008":
		return "intravenous"
	case "34206005":
		return "subcutaneous"
	}
	name := strings.ToLower(c.Name())
	for _, word := range []string{"intravenous", "subcutaneous"} {
		if strings.Contains(name, word) {
			return word
		}
	}
	return ""
}

func sourcesDisagree(f Facts) []finding.Finding {
	out := carried("record-sources-disagree")(f)
	if c, ok := conflictOf(f, arithmetic.Statements); ok && codedDiffer(f) {
		out = append(out, disagreement(c)...)
	}
	return out
}

var checkKinds = map[string]bool{"second-check": true, "verifier": true, "checker": true, "finalchecker": true}

// secondCheck: two different people, whatever each of them is called. A
// check that names another order says nothing about this one.
func secondCheck(f Facts) []finding.Finding {
	people := map[string]bool{}
	for _, c := range f.kase().Checks {
		if !checkKinds[c.Kind] || c.OrderRef != "" && !refersTo(c.OrderRef, f.order()) {
			continue
		}
		for _, who := range c.Who {
			if who = strings.ToLower(strings.TrimSpace(who)); who != "" {
				people[who] = true
			}
		}
	}
	if len(people) >= 2 {
		return nil
	}
	return here(f.order().Place, fmt.Sprintf("%d independent people on record", len(people)), "two licensed people, each working from the raw numbers")
}

// refersTo: the reference is the order's address, key or place.
func refersTo(ref string, o order.Order) bool {
	return ref == o.Ref.URL || ref == o.Key || ref == o.Place.Expression
}
