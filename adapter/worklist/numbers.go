package worklist

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/worksheet"
)

// number is one NAME of the contract: as ordered beside as recomputed.
type number struct {
	ID, Name    string
	Statements  []statement
	Recomputed  string
	Difference  string
	Agrees      bool
	Disputed    bool
	Range       string // between which values it lies, "" when it is exact
	Derivations []derivation
}

// statement is one place that says the number.
type statement struct {
	Value, Witness string
	Place          place
}

// derivation is one way to reach a number.
type derivation struct {
	Text, Formula, Value, Citation string
	Inputs                         []input
}

type input struct {
	Name, Value string
	Place       place
}

// aloud is the order in which one reads an infusion order aloud.
var aloud = []string{"dose", "dosePerKg", "dosePerArea", "dosingWeight", "bodySurfaceArea", "concentration", "volume", "rate",
	"drugRate", "drugRatePerKg", "duration", "interval", "dosesPerDay", "dailyDose", "dailyDosePerKg", "doseCount", "courseLength",
	"orderedQuantity", "homeQuantity", "nominalRate", "fill", "residual", "delivered", "idealBodyWeight", "adjustedBodyWeight", "creatinineClearance",
	"glucoseInfusionRate", "osmolarity", "endsAt", "endsEarliest", "endsLatest", "startBefore", "finishBy"}

// numbers are all quantities of a worksheet: in dispute first, then as one
// reads them aloud. Those that were not stated and are in no dispute follow
// from the others and stand apart.
func numbers(w worksheet.Worksheet, h home, find func(string) place) (stated, following []number) {
	names := make([]string, 0, len(w.Quantities))
	for n := range w.Quantities {
		names = append(names, n)
	}
	spoken := func(n string) int {
		if i := slices.Index(aloud, n); i >= 0 {
			return i
		}
		return len(aloud)
	}
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(spoken(a)-spoken(b), strings.Compare(a, b)) })
	for _, disputed := range []bool{true, false} {
		for _, n := range names {
			q := w.Quantities[n]
			switch one := numberOf(n, q, w, h, find); {
			case q.Disputed != disputed:
			case q.Disputed || q.Stated:
				stated = append(stated, one)
			default:
				following = append(following, one)
			}
		}
	}
	return stated, following
}

func numberOf(name string, q worksheet.Quantity, w worksheet.Worksheet, h home, find func(string) place) number {
	out := number{ID: "n-" + anchorText(name), Name: notation.Name(name), Disputed: q.Disputed}
	inUnit := func(v, unit string) string {
		if unit == "" {
			return h.read(v).Words
		}
		return value(v, unit)
	}
	exact := func(v, unit string) string { // the digits that were sent
		if unit == "" {
			return h.read(v).Words
		}
		return notation.NonBreaking(notation.Code(v, unit))
	}
	span := func(low, high, unit string) string {
		if low == "" || high == "" || low == high {
			return ""
		}
		return inUnit(low, unit) + " to " + inUnit(high, unit)
	}
	for _, s := range q.StatedAs {
		said := exact(s.Value, s.Unit)
		if s.Low != "" { // the middle of a range is what nobody ordered
			said = exact(s.Low, s.Unit) + " to " + exact(s.High, s.Unit)
		}
		out.Statements = append(out.Statements, statement{said, words(s.Witness), find(s.Expression)})
	}
	if q.Stated && len(q.StatedAs) == 0 {
		out.Statements = []statement{{exact(q.Value, q.Unit), "stated", find(q.Expression)}}
	}
	out.Range = span(q.Low, q.High, q.Unit)
	for _, d := range q.Derivation {
		one := derivation{Text: d.Text, Formula: formula(d.Formula), Citation: d.Citation}
		if d.Value != "" {
			one.Value = inUnit(d.Value, d.Unit)
		}
		for _, i := range d.Inputs {
			one.Inputs = append(one.Inputs, input{nameOf(i.Name), inUnit(i.Value, i.Unit), find(i.Expression)})
		}
		out.Derivations = append(out.Derivations, one)
	}
	if len(q.Derivation) > 0 {
		d := q.Derivation[0]
		_, right, _ := strings.Cut(d.Text, " = ")
		if i := strings.LastIndex(right, " = "); i >= 0 {
			right = right[i+len(" = "):]
		}
		out.Recomputed = cmp.Or(out.Derivations[0].Value, notation.NonBreaking(right), inUnit(q.Value, q.Unit))
	} else if !q.Stated {
		out.Recomputed = inUnit(q.Value, q.Unit)
	}
	if q.Stated {
		for _, d := range q.Derivation {
			if d.Value != "" {
				out.Difference = compare(q, d)
				break
			}
		}
	}
	out.Agrees = out.Difference == agrees
	return out
}

var (
	inFormula = regexp.MustCompile(`[a-z]+[A-Z][A-Za-z]*`)
	capital   = regexp.MustCompile(`([a-z])([A-Z])`)
	overUnit  = regexp.MustCompile(`\b(mg|mcg|g|mL|mmol|mEq|units)/(dL|L|mL|kg|min|h)\b`)
)

// formula writes a formula with its NAMEs and units as people read them.
func formula(text string) string {
	return inFormula.ReplaceAllStringFunc(overUnit.ReplaceAllString(text, "$1 per $2"), nameOf)
}

// nameOf is a NAME in words; one that has none is taken apart where a capital
// begins a word.
func nameOf(name string) string {
	if w := notation.Name(name); w != name {
		return w
	}
	return strings.ToLower(capital.ReplaceAllString(name, "$1 $2"))
}

const agrees = "agrees"

// compare says how far the ordered number is from the recomputed one.
func compare(q worksheet.Quantity, d worksheet.Derivation) string {
	stated, err1 := quantity.ParseNumber(q.Value)
	again, err2 := quantity.ParseNumber(d.Value)
	if err1 != nil || err2 != nil || again.Sign() == 0 || q.Unit != d.Unit {
		return ""
	}
	off := stated.Quo(again)
	if !off.Less(quantity.Int(2)) || !quantity.Ratio(1, 2).Less(off) {
		return notation.Rounded(off, 3) + " times as much"
	}
	percent := off.Sub(quantity.Int(1)).Mul(quantity.Int(100))
	if percent.Abs().Less(quantity.Ratio(1, 20)) {
		return agrees
	}
	if percent.Sign() < 0 {
		return notation.Rounded(percent.Abs(), 2) + " % less"
	}
	return notation.Rounded(percent, 2) + " % more"
}
