package verification

import (
	"fmt"
	"strings"
	"time"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

func conflictOf(f Facts, kind arithmetic.Kind) (arithmetic.Conflict, bool) {
	for _, c := range f.agreement().Conflicts {
		if c.Kind == kind {
			return c, true
		}
	}
	return arithmetic.Conflict{}, false
}

// disagreement makes the finding of a conflict: what is stated, what would
// agree, and who is to blame.
func disagreement(c arithmetic.Conflict) []finding.Finding {
	x := finding.Finding{Observed: c.Shown, Expected: c.Formula, Culprits: c.Culprits,
		Detail: "the stated numbers cannot all be true: " + c.Formula}
	for i, p := range c.Places {
		if i == 0 {
			x.Place = p
		}
		x.Evidence = append(x.Evidence, p.Expression)
	}
	if len(c.Culprits) == 0 {
		x.Remedy = "Ask the prescriber which of these numbers is wrong; more than two would have to change."
		return []finding.Finding{x}
	}
	best := c.Culprits[0]
	for _, p := range c.Places {
		if p.Expression == best.Expression {
			x.Place = p
			break
		}
	}
	if best.Named {
		x.Diagnostic = best.Sentence
		x.Expected = arithmetic.Words(best.Name) + " " + notation.Code(best.Consistent, best.Unit) + ", from " + c.Formula
		x.Remedy = fmt.Sprintf("Call the prescriber: is the %s %s meant?", arithmetic.Words(best.Name), notation.Code(best.Consistent, best.Unit))
	} else {
		x.Diagnostic = "One of these numbers is wrong:"
		for _, k := range c.Culprits {
			x.Diagnostic += " " + k.Sentence
		}
		x.Remedy = "Call the prescriber: the numbers alone do not tell which of these is wrong."
	}
	return []finding.Finding{x}
}

func arithmeticBlock(f Facts) []finding.Finding {
	c, ok := conflictOf(f, arithmetic.Products)
	if !ok || !f.policy().Dose.ArithmeticBlock.Less(c.Gap) || len(c.Readings) > 0 {
		return nil
	}
	return disagreement(c)
}

// otherReading: the numbers close when one field means something else. That
// is asked; the order waits until it is answered.
func otherReading(f Facts) []finding.Finding {
	for _, c := range f.agreement().Conflicts {
		if c.Kind == arithmetic.Statements || !f.policy().Dose.ArithmeticBlock.Less(c.Gap) || len(c.Readings) == 0 {
			continue
		}
		x := finding.Finding{Observed: c.Shown, Expected: "an answer: " + c.Readings[0].Sentence, Culprits: c.Readings,
			Detail: "closes under another reading: " + c.Readings[0].Reading, Remedy: "Ask the prescriber and have the order say which is meant."}
		var asked []string
		for _, k := range c.Readings {
			asked = append(asked, k.Sentence)
		}
		x.Diagnostic = "As written the numbers cannot all be true; they can if one of them means something else. " + strings.Join(asked, " ")
		for i, p := range c.Places {
			if i == 0 || p.Expression == c.Readings[0].Expression {
				x.Place = p
			}
			x.Evidence = append(x.Evidence, p.Expression)
		}
		return []finding.Finding{x}
	}
	return nil
}

func arithmeticMinor(f Facts) []finding.Finding {
	c, ok := conflictOf(f, arithmetic.Products)
	if !ok || f.policy().Dose.ArithmeticBlock.Less(c.Gap) || !f.policy().Dose.ArithmeticWarn.Less(c.Gap) {
		return nil
	}
	return disagreement(c)
}

var minorSlips = map[string]bool{arithmetic.Pounds: true, arithmetic.DailyTotal: true}

// slips: the best explanation carries the signature of a slip.
func slips(minor bool) func(Facts) []finding.Finding {
	return func(f Facts) []finding.Finding {
		for _, c := range f.agreement().Conflicts {
			if c.Kind == arithmetic.Statements || len(c.Culprits) == 0 || len(c.Readings) > 0 || !f.policy().Dose.ArithmeticBlock.Less(c.Gap) {
				continue
			}
			k := c.Culprits[0]
			if k.Signature == arithmetic.NoSignature || minorSlips[k.Signature] != minor {
				continue
			}
			x := finding.Finding{Observed: k.Stated + " " + k.Unit, Expected: k.Consistent + " " + k.Unit, Culprits: c.Culprits[:1],
				Detail: "signature " + k.Signature + " on " + k.Name, Diagnostic: k.Sentence}
			x.Observed, x.Expected = notation.Code(k.Stated, k.Unit), notation.Code(k.Consistent, k.Unit)
			for _, p := range c.Places {
				if p.Expression == k.Expression {
					x.Place = p
				}
			}
			if !k.Named {
				open(&x, c)
			}
			return []finding.Finding{x}
		}
		if minor {
			return carriedSlip(f)
		}
		return nil
	}
}

// tooMany: the order states more numbers than are compared.
func tooMany(f Facts) []Fact {
	if f.agreement().TooMany {
		return []Fact{Comparable}
	}
	return nil
}

// open says that the slip is seen and its field is not: every explanation
// with a signature stands beside the others, none is put forward.
func open(x *finding.Finding, c arithmetic.Conflict) {
	x.Culprits, x.Diagnostic = c.Culprits, "A slip fits, and the numbers alone do not tell in which field:"
	var may []string
	for _, k := range c.Culprits {
		if k.Signature == arithmetic.NoSignature {
			continue
		}
		x.Diagnostic += " " + k.Sentence
		may = append(may, arithmetic.Words(k.Name)+" "+notation.Code(k.Consistent, k.Unit))
	}
	x.Observed, x.Expected = c.Shown, "one of: "+strings.Join(may, "; ")
	x.Remedy = "Call the prescriber and name each of these; do not choose one."
}

// basis: rule c2. The difference is between the ordered dose and dose per kg
// or m² times size, with the numbers as written; inside the drug's rounding
// step there is no conflict at all. Up to and with 5 % nothing is said.
func basis(minor bool) func(Facts) []finding.Finding {
	return func(f Facts) []finding.Finding {
		c, ok := conflictOf(f, arithmetic.Basis)
		if !ok || len(c.Readings) > 0 && f.policy().Dose.ArithmeticBlock.Less(c.Gap) {
			return nil
		}
		off := c.Ratio.Sub(quantity.Int(1)).Abs()
		hold, warn := f.policy().Dose.BasisHold.Number, f.policy().Dose.BasisWarn.Number
		if hold.Less(off) == minor || !warn.Less(off) {
			return nil
		}
		return disagreement(c)
	}
}

// population is the one whose facts hold: newborns up to the age below which
// the site's records rule holds, children, adults.
func population(f Facts) string {
	born := f.kase().Patient.BirthDate
	switch years := f.years(); {
	case years >= 0 && f.now().Sub(born.Time) < time.Duration(f.policy().Records.LeastAgeDays)*24*time.Hour:
		return "neonate"
	case years >= 0 && years < f.policy().Records.AdultYears:
		return "pediatric"
	}
	return "adult"
}

func (f Facts) years() int {
	born := f.kase().Patient.BirthDate
	if born.Absent() {
		return -1
	}
	return arithmetic.Body{Born: born.Time, Now: f.now()}.Years()
}
