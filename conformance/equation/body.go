package equation

import "weir.example/weir/mapping/quantity"

// body holds the size of the body. The surface formulas differ in the second
// decimal, so the one in use is always named with its value.
var body = []Equation{
	{
		Code: "E10", Title: "Ideal body weight, Devine 1974", Output: "idealBodyWeight", Inputs: []string{"sex", "height"}, Optional: []string{"age"},
		Formula: "idealBodyWeight = 50 kg (men) or 45.5 kg (women) + 2.3 kg × (height in inches − 60)",
		Limits:  "Adults of at least 60 inches (152.4 cm); below that it is not defined. Metric copies of it differ by up to 0.5 kg.",
		Source:  "Devine, Drug Intell Clin Pharm 1974;8:650 (citation from memory), as restated at rxkinetics.com/online_crcl.html",
		Solve:   ideal,
	},
	{
		Code: "E11", Title: "Adjusted body weight", Output: "adjustedBodyWeight", Inputs: []string{"idealBodyWeight", "weight"}, Optional: []string{"adjustmentFactor"},
		Formula: "adjustedBodyWeight = idealBodyWeight + adjustmentFactor × (weight − idealBodyWeight), adjustmentFactor 0.4 unless given",
		Limits:  "For a weight above the ideal one. Factors of 0.1, 0.2 and 0.25 are published too, and when to use it differs (120 % or 125 % of ideal, body mass index 25 or 30).",
		Source:  "university pharmacy calculations module, dosage by adjusted body weight, uhphar-4330.herokuapp.com",
		Solve:   adjusted,
	},
	{
		Code: "E11-percent", Title: "Actual weight as a part of the ideal weight", Output: "percentOfIdeal", Inputs: []string{"weight", "idealBodyWeight"},
		Formula: "percentOfIdeal = weight ÷ idealBodyWeight",
		Limits:  "Wherever the ideal weight is defined; the threshold for an adjusted weight differs between sources.",
		Source:  "university pharmacy calculations module, dosage by adjusted body weight, uhphar-4330.herokuapp.com",
		Solve:   product("weight", "idealBodyWeight"),
	},
	{
		Code: "E12", Title: "Body surface area, Mosteller 1987", Output: "bodySurfaceArea", Inputs: []string{"height", "weight"},
		Formula: "bodySurfaceArea = √(height in cm × weight in kg ÷ 3600)",
		Limits:  "Children and adults; rounding the area before multiplying changes the dose, and a cap of the area is the protocol's.",
		Source:  "Mosteller, N Engl J Med 1987;317:1098",
		Solve: func(v Values) (Bounds, error) {
			low, high := quantity.Sqrt(v.In("height", "cm").Mul(v.In("weight", "kg")).Quo(quantity.Int(3600)))
			return Bounds{low, high}, nil
		},
	},
	{
		Code: "E13", Title: "Body surface area, DuBois and DuBois 1916", Output: "bodySurfaceArea", Inputs: []string{"height", "weight"}, Variant: true,
		Formula: "bodySurfaceArea = 0.007184 × (height in cm)^0.725 × (weight in kg)^0.425",
		Limits:  "Derived from nine subjects; 3 to 5 % low in obesity, more in one study.",
		Source:  "DuBois and DuBois, Arch Intern Med 1916;17:863",
		Solve:   surface("0.007184", "0.725", "0.425"),
	},
	{
		Code: "E14", Title: "Body surface area, Haycock 1978", Output: "bodySurfaceArea", Inputs: []string{"height", "weight"}, Variant: true,
		Formula: "bodySurfaceArea = 0.024265 × (height in cm)^0.3964 × (weight in kg)^0.5378",
		Limits:  "Infants, children and adults.",
		Source:  "Haycock, Schwartz and Wisotsky, J Pediatr 1978;93:62",
		Solve:   surface("0.024265", "0.3964", "0.5378"),
	},
}

func ideal(v Values) (Bounds, error) {
	woman, ok := female(v)
	if !ok {
		return outside(wantsSex)
	}
	if v.Has("age") && notAdult(v) != "" {
		return outside("%s", notAdult(v))
	}
	over := v.In("height", "[in_i]").Sub(quantity.Int(60))
	if over.Sign() < 0 {
		return outside("needs a height of at least 60 inches (152.4 cm)")
	}
	least := of("50", "kg")
	if woman {
		least = of("45.5", "kg")
	}
	return Exactly(least.Add(of("2.3", "kg").Mul(over)))
}

func adjusted(v Values) (Bounds, error) {
	factor := v.orElse("adjustmentFactor", quantity.MustNumber("0.4"))
	if one.Less(factor) {
		return outside("needs an adjustmentFactor of at most 1")
	}
	least, above := v.Base("idealBodyWeight"), v.Base("weight").Sub(v.Base("idealBodyWeight"))
	if above.Sign() <= 0 {
		return outside("needs a weight above the idealBodyWeight")
	}
	return Exactly(least.Add(factor.Mul(above)))
}

// surface is an area in m² from powers of centimetres and kilograms.
func surface(factor, height, weight string) func(Values) (Bounds, error) {
	f, powerH, powerW := quantity.MustNumber(factor), quantity.MustNumber(height), quantity.MustNumber(weight)
	return func(v Values) (Bounds, error) {
		h1, h2 := quantity.Power(v.In("height", "cm"), powerH)
		w1, w2 := quantity.Power(v.In("weight", "kg"), powerW)
		return Bounds{f.Mul(h1).Mul(w1), f.Mul(h2).Mul(w2)}, nil
	}
}
