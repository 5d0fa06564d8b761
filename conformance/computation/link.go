package computation

import (
	"slices"

	"weir.example/weir/conformance/equation"
	"weir.example/weir/mapping/quantity"
)

// links carry one NAME into another where both are the same number, and the
// few products that join them. They are tried before the equations.
func links() []equation.Equation { return linkList }

func isLink(e equation.Equation) bool {
	return slices.ContainsFunc(linkList, func(l equation.Equation) bool { return l.Code == e.Code })
}

const commonPractice = "common practice, no source"

// same gives the value of another NAME.
func same(code, output, input, title string, more ...string) equation.Equation {
	return equation.Equation{Code: code, Title: title, Output: output, Inputs: append([]string{input}, more...), Formula: output + " = " + input,
		Source: commonPractice, Solve: func(v equation.Values) (equation.Bounds, error) { return equation.Exactly(v.Base(input)) }}
}

// product gives a × b, or a ÷ b.
func product(code, output, a, sign, b, title, source string) equation.Equation {
	return equation.Equation{Code: code, Title: title, Output: output, Inputs: []string{a, b}, Formula: output + " = " + a + " " + sign + " " + b, Source: source,
		Solve: func(v equation.Values) (equation.Bounds, error) {
			if sign == "×" {
				return equation.Exactly(v.Base(a).Mul(v.Base(b)))
			}
			return equation.Exactly(v.Base(a).Quo(v.Base(b)))
		}}
}

var linkList = []equation.Equation{
	same("E06-weight", "dosingWeight", "weight", "the actual weight, no other basis being given"),
	only(same("E20-absolute", "absoluteFiltrationRate", "glomerularFiltrationRate", "the rate as given, not indexed"), func(u quantity.Unit) bool { return !indexed(u) }),
	same("E21-given", "drugMass", "dose", "the dose, in mass", "molarMass"),
	same("E21-dose", "dose", "drugMass", "the mass of the drug as the dose"),
	product("E31-each", "ratePerKg", "rate", "÷", "dosingWeight", "rate per kg", "product (E01)"),
	product("E34-day", "dailyDose", "roundedDose", "×", "dosesPerDay", "the day's total of the dose as rounded", "product (E06)"),
	product("E25-dextrose-per-volume", "dextroseConcentration", "dextrose", "÷", "volume", "dextrose per volume", "product (E25)"),
	product("E25-amino-per-volume", "aminoAcidConcentration", "aminoAcids", "÷", "volume", "amino acids per volume", "product (E25)"),
	product("E25-lipid-per-volume", "lipidConcentration", "lipid", "÷", "volume", "lipid per volume", "product (E25)"),
	product("E25-electrolytes-per-volume", "electrolyteConcentration", "electrolytes", "÷", "volume", "electrolytes per volume", "product (E25)"),
	{Code: "E24-plateau", Title: "glucose infusion rate at the plateau of a cycle", Output: "glucoseInfusionRate",
		Inputs: []string{"dextroseConcentration", "plateauRate", "weight"}, Formula: "glucoseInfusionRate = dextroseConcentration × plateauRate ÷ weight",
		Source: "plateau, not mean, rate: equation E24 with its note on cyclic nutrition",
		Solve: func(v equation.Values) (equation.Bounds, error) {
			return equation.Exactly(v.Base("dextroseConcentration").Mul(v.Base("plateauRate")).Quo(v.Base("weight")))
		}},
}

// only lets an equation stand for an input in the right unit.
func only(e equation.Equation, fits func(quantity.Unit) bool) equation.Equation {
	solve, input := e.Solve, e.Inputs[0]
	e.Solve = func(v equation.Values) (equation.Bounds, error) {
		if !fits(v.By[input].Unit) {
			return equation.Bounds{}, equation.ErrOutside
		}
		return solve(v)
	}
	return e
}
