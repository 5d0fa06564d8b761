package equation

import "weir.example/weir/mapping/quantity"

// stepped holds rates that rise in steps, as of immune globulin.
var stepped = []Equation{
	{
		Code: "E31", Title: "Pump rate of a step by weight", Output: "rate", Inputs: []string{"ratePerKg", "dosingWeight"},
		Formula: "rate = ratePerKg × dosingWeight",
		Limits:  "The labelled limit of the named product holds; published tables round the weight down to their column.",
		Source:  "standardised adult immune globulin rate tables NL-IVIG002, 2017",
		Solve:   product("ratePerKg dosingWeight", ""),
	},
	{
		Code: "E31-perkg", Title: "Pump rate per kg from drug per time and kg", Output: "ratePerKg", Inputs: []string{"drugRatePerKg", "concentration"},
		Formula: "ratePerKg = drugRatePerKg ÷ concentration",
		Limits:  "The concentration is that of the container as hung.",
		Source:  "dobutamine injection, US labelling, table of delivery rates",
		Solve:   product("drugRatePerKg", "concentration"),
	},
	{
		Code: "E32", Title: "Time of a stepped infusion", Output: "duration", Inputs: []string{"volume", "step"},
		Formula: "duration = Σ tᵢ + (volume − Σ Rᵢ × tᵢ) ÷ Rₙ",
		Limits:  "R is the rate of a step and t its time, in order; the last step n runs until the container is empty, and the sum stops early when it empties before.",
		Source:  "medicalalgorithms.com, immunoglobulin infusion rate (the scheme); arithmetic",
		Solve: func(v Values) (Bounds, error) {
			return drain(v.Base("volume"), v.Steps)
		},
	},
}

// drain empties the container step by step.
func drain(left quantity.Number, steps []Step) (Bounds, error) {
	elapsed := quantity.Number{}
	for i, s := range steps {
		if s.Rate.Sign() <= 0 || s.Duration.Sign() < 0 {
			return outside("needs a rate above 0 in step %d", i+1)
		}
		if i < len(steps)-1 && s.Duration.Sign() == 0 {
			return outside("needs a time for step %d: only the last step runs to the end", i+1)
		}
		if rest := left.Quo(s.Rate); s.Duration.Sign() == 0 || rest.Cmp(s.Duration) <= 0 {
			return Exactly(elapsed.Add(rest))
		}
		elapsed, left = elapsed.Add(s.Duration), left.Sub(s.Rate.Mul(s.Duration))
	}
	return outside("the steps end with %s mL left: give a last step without a time", quantity.MustUnit("mL").FromBase(left).Significant(4))
}
