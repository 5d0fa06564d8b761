package equation

import "slices"

// all is in the order of the codes. Where an equation feeds another of its
// own code (dextrose into energy), the feeding one stands first.
var all = guarded(drops, basis, loading, body, kidney, solution, nutrition, mixing, controlled, stepped, vials, device, bag, count)

// guarded puts one question before every equation: is each number there, and
// above 0? What follows then divides without asking.
func guarded(topics ...[]Equation) []Equation {
	out := slices.Concat(topics...)
	for i, e := range out {
		out[i].Solve = func(v Values) (Bounds, error) {
			if says := e.lacks(v); says != "" {
				return outside("%s", says)
			}
			return e.Solve(v)
		}
	}
	return out
}

// mayBeNothing are the NAMEs that are 0 when there is none.
var mayBeNothing = []string{"basal", "rampUp", "rampDown", "diluent", "overfill", "residual", "keepOpenRate", "tolerance",
	"aminoAcids", "dextrose", "lipid", "aminoAcidConcentration", "dextroseConcentration", "lipidConcentration",
	"electrolytes", "electrolyteConcentration", "weakerConcentration", "lipidVolume"}

// MayBeNothing reports whether a NAME may be 0: there is none of it.
func MayBeNothing(name string) bool { return slices.Contains(mayBeNothing, name) }

// noNumber are the NAMEs that are a word, an instant or steps.
var noNumber = []string{"sex", "start", "end", "step"}

// lacks says which input is missing or has no sense as a number.
func (e Equation) lacks(v Values) string {
	for _, name := range e.Inputs {
		if name == "step" && len(v.Steps) == 0 || name != "step" && !v.Has(name) {
			return "give " + name
		}
	}
	for _, name := range slices.Concat(e.Inputs, e.Optional) {
		if !v.Has(name) || slices.Contains(noNumber, name) {
			continue
		}
		switch sign := v.Base(name).Sign(); {
		case sign < 0:
			return name + " must not be below 0"
		case sign == 0 && !MayBeNothing(name):
			return name + " must be above 0"
		}
	}
	return ""
}
