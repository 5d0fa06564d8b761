package equation

import "weir.example/weir/mapping/quantity"

const (
	alligation = "The volumes add up and both solutions hold the same drug; keep the ratio exact until the end."
	weaken     = "question on diluting dextrose 10 % to 8 %; conservation of mass"
	table      = "milrinone lactate, US labelling, dilution table"
)

var mixing = []Equation{
	{
		Code: "E28", Title: "Alligation, volume of the stronger solution", Output: "strongerVolume",
		Inputs:  []string{"strongerConcentration", "weakerConcentration", "targetConcentration", "volume"},
		Formula: "strongerVolume = volume × (targetConcentration − weakerConcentration) ÷ (strongerConcentration − weakerConcentration)",
		Limits:  alligation, Source: "common practice in lecture sets; conservation of mass",
		Solve: func(v Values) (Bounds, error) {
			if says := between(v); says != "" {
				return outside("%s", says)
			}
			return share(v, v.Base("targetConcentration").Sub(v.Base("weakerConcentration")))
		},
	},
	{
		Code: "E28-weaker", Title: "Alligation, volume of the weaker solution", Output: "weakerVolume",
		Inputs:  []string{"strongerConcentration", "weakerConcentration", "targetConcentration", "volume"},
		Formula: "weakerVolume = volume × (strongerConcentration − targetConcentration) ÷ (strongerConcentration − weakerConcentration)",
		Limits:  alligation, Source: "common practice in lecture sets; conservation of mass",
		Solve: func(v Values) (Bounds, error) {
			if says := between(v); says != "" {
				return outside("%s", says)
			}
			return share(v, v.Base("strongerConcentration").Sub(v.Base("targetConcentration")))
		},
	},
	{
		Code: "E28-add", Title: "Diluent to add to weaken a solution", Output: "diluent", Inputs: []string{"concentration", "volume", "targetConcentration"},
		Formula: "diluent = volume × (concentration ÷ targetConcentration − 1)",
		Limits:  "The volume is that before the diluent is added; the diluent holds none of the drug.", Source: weaken,
		Solve: func(v Values) (Bounds, error) {
			if v.Base("concentration").Less(v.Base("targetConcentration")) {
				return outside("needs a targetConcentration not above the concentration: diluent only weakens")
			}
			return Exactly(v.Base("volume").Mul(v.Base("concentration").Quo(v.Base("targetConcentration")).Sub(one)))
		},
	},
	{
		Code: "E29", Title: "Concentration after dilution", Output: "concentration", Inputs: []string{"additive", "vialStrength", "diluent"},
		Formula: "concentration = additive × vialStrength ÷ (additive + diluent)",
		Limits:  "The final volume counts, not the diluent alone; a powder displaces volume of its own.",
		Source:  table + "; displacement from memory",
		Solve: func(v Values) (Bounds, error) {
			return Exactly(v.Base("additive").Mul(v.Base("vialStrength")).Quo(v.Base("additive").Add(v.Base("diluent"))))
		},
	},
	{
		Code: "E29-draw", Title: "Volume to draw from the vial", Output: "additive", Inputs: []string{"dose", "vialStrength"},
		Formula: "additive = dose ÷ vialStrength",
		Limits:  "The strength is that of the vial as drawn, after reconstitution.", Source: "definition of concentration; common practice, no source",
		Solve: product("dose", "vialStrength"),
	},
	{
		Code: "E29-vial", Title: "Strength of a vial", Output: "vialStrength", Inputs: []string{"vialContent", "vialVolume"},
		Formula: "vialStrength = vialContent ÷ vialVolume",
		Limits:  "The volume is that after reconstitution, with what the powder displaces.", Source: "definition of concentration; common practice, no source",
		Solve: product("vialContent", "vialVolume"),
	},
	{
		Code: "E29-volume", Title: "Volume after dilution", Output: "volume", Inputs: []string{"additive", "diluent"},
		Formula: "volume = additive + diluent",
		Limits:  "Liquids whose volumes add up; overfill of the bag is not in it.", Source: table,
		Solve: func(v Values) (Bounds, error) { return Exactly(v.Base("additive").Add(v.Base("diluent"))) },
	},
}

// between says what is wrong with the order of the three strengths.
func between(v Values) string {
	weak, target, strong := v.Base("weakerConcentration"), v.Base("targetConcentration"), v.Base("strongerConcentration")
	switch {
	case weak.Cmp(strong) >= 0:
		return "needs a strongerConcentration above the weakerConcentration"
	case target.Less(weak) || strong.Less(target):
		return "needs a targetConcentration between the weaker and the stronger one"
	}
	return ""
}

func share(v Values, parts quantity.Number) (Bounds, error) {
	return Exactly(v.Base("volume").Mul(parts).Quo(v.Base("strongerConcentration").Sub(v.Base("weakerConcentration"))))
}
