package equation

import "weir.example/weir/mapping/quantity"

const (
	fixedFlow = "ISO 28620:2020, 5.1 (extract)"
	emitted   = "The nominal rate is printed on the device for one liquid, temperature and fill; flowRatio holds all that differs here, and emittedFraction what leaves the reservoir; both are 1 unless given."
)

// device holds fixed-flow (elastomeric) reservoirs.
var device = []Equation{
	{
		Code: "E35", Title: "Run time of a fixed-flow device", Output: "runTime", Inputs: []string{"fill", "nominalRate"}, Optional: []string{"emittedFraction", "flowRatio"},
		Formula: "runTime = fill × emittedFraction ÷ (nominalRate × flowRatio)", Limits: emitted, Source: fixedFlow + "; definition of mean flow",
		Solve: func(v Values) (Bounds, error) { return reservoir(v, one) },
	},
	{
		Code: "E35-ratio", Title: "Run time at another flow", Output: "runTime", Inputs: []string{"duration", "flowRatio"},
		Formula: "runTime = duration ÷ flowRatio",
		Limits:  "The ratio is that of this device (temperature, viscosity, height, fill); one restrictor ran 10.8 % faster at 30 than at 25 °C, others differ.",
		Source:  "J Pain Symptom Manage 1997;14:210",
		Solve:   product("duration", "flowRatio"),
	},
	{
		Code: "E35-shortest", Title: "Shortest run time within the tolerance", Output: "shortestRun", Inputs: []string{"fill", "nominalRate", "tolerance"}, Optional: []string{"emittedFraction", "flowRatio"},
		Formula: "shortestRun = fill × emittedFraction ÷ (nominalRate × flowRatio × (1 + tolerance))",
		Limits:  "Mean flow within the tolerance, 15 % for fixed and 20 % for adjustable devices; single moments differ more. " + emitted, Source: fixedFlow,
		Solve: func(v Values) (Bounds, error) { return reservoir(v, one.Add(v.Base("tolerance"))) },
	},
	{
		Code: "E35-longest", Title: "Longest run time within the tolerance", Output: "longestRun", Inputs: []string{"fill", "nominalRate", "tolerance"}, Optional: []string{"emittedFraction", "flowRatio"},
		Formula: "longestRun = fill × emittedFraction ÷ (nominalRate × flowRatio × (1 − tolerance))",
		Limits:  "Mean flow within the tolerance, 15 % for fixed and 20 % for adjustable devices; single moments differ more. " + emitted, Source: fixedFlow,
		Solve: func(v Values) (Bounds, error) { return reservoir(v, one.Sub(v.Base("tolerance"))) },
	},
	{
		Code: "E35-viscosity", Title: "Flow of a more viscous liquid", Output: "flowFraction", Inputs: []string{"viscosityRatio"},
		Formula: "flowFraction = 1 ÷ viscosityRatio",
		Limits:  "A bound only: at a ratio of 2.59 about 40 % was measured where this gives 39 %, at 1.74 about 80 % where it gives 57 %.",
		Source:  "Ko et al., J Korean Med Sci 2022;37:e71",
		Solve:   product("", "viscosityRatio"),
	},
}

// reservoir is the run time at so many times the flow.
func reservoir(v Values, times quantity.Number) (Bounds, error) {
	part := v.orElse("emittedFraction", one)
	if one.Less(part) {
		return outside("needs an emittedFraction of at most 100 %%")
	}
	if times.Sign() <= 0 {
		return outside("needs a tolerance below 100 %%")
	}
	flow := v.Base("nominalRate").Mul(v.orElse("flowRatio", one)).Mul(times)
	return Exactly(v.Base("fill").Mul(part).Quo(flow))
}
