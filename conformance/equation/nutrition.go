package equation

import "weir.example/weir/mapping/quantity"

const (
	glucose = "Hydrous dextrose as labelled. Cyclic nutrition is judged by its plateau rate, not by the mean."
	perGram = "nutrition textbook, box 18.5 on parenteral nutrition prescriptions"
	sameBag = "The concentration is that of the same container as the volume."
)

// nutrition holds parenteral nutrition.
var nutrition = []Equation{
	{
		Code: "E23", Title: "Osmolarity of parenteral nutrition, estimated", Output: "osmolarity",
		Inputs:   []string{"aminoAcidConcentration", "dextroseConcentration", "lipidConcentration", "electrolyteConcentration"},
		Optional: []string{"aminoAcidFactor", "dextroseFactor", "lipidFactor", "electrolyteFactor"},
		Formula: "osmolarity = aminoAcidFactor × aminoAcidConcentration + dextroseFactor × dextroseConcentration + lipidFactor × lipidConcentration + electrolyteFactor × electrolyteConcentration; " +
			"10, 5 and 0.7 mosm/g and 1 mosm/meq unless given",
		Limits: "An estimate per litre of the whole mixture; lipid of 0.7 to 1.0 mosm/g and electrolytes of 1 or 2 mosm/meq are both in use. Use the components when they are known.",
		Source: "common practice; published factors differ and no primary source was found",
		Solve:  estimate,
	},
	{
		Code: "E24", Title: "Glucose infusion rate", Output: "glucoseInfusionRate", Inputs: []string{"dextroseConcentration", "rate", "weight"},
		Formula: "glucoseInfusionRate = dextroseConcentration × rate ÷ weight", Limits: glucose,
		Source: "page on glucose in parenteral nutrition, hpn.hms.harvard.edu/glucose", Solve: product("dextroseConcentration rate", "weight"),
	},
	{
		Code: "E24-mass", Title: "Glucose infusion rate from the whole dextrose", Output: "glucoseInfusionRate", Inputs: []string{"dextrose", "duration", "weight"},
		Formula: "glucoseInfusionRate = dextrose ÷ duration ÷ weight", Limits: glucose + " This is the mean over the infusion.",
		Source: "page on glucose in parenteral nutrition, hpn.hms.harvard.edu/glucose", Solve: product("dextrose", "duration weight"),
	},
	{
		Code: "E25-amino", Title: "Amino acids in a container", Output: "aminoAcids", Inputs: []string{"aminoAcidConcentration", "volume"},
		Formula: "aminoAcids = aminoAcidConcentration × volume", Limits: sameBag, Source: perGram, Solve: product("aminoAcidConcentration volume", ""),
	},
	{
		Code: "E25-dextrose", Title: "Dextrose in a container", Output: "dextrose", Inputs: []string{"dextroseConcentration", "volume"},
		Formula: "dextrose = dextroseConcentration × volume", Limits: sameBag, Source: perGram, Solve: product("dextroseConcentration volume", ""),
	},
	{
		Code: "E25-lipid", Title: "Lipid in a container", Output: "lipid", Inputs: []string{"lipidConcentration", "volume"},
		Formula: "lipid = lipidConcentration × volume", Limits: sameBag, Source: perGram, Solve: product("lipidConcentration volume", ""),
	},
	{
		Code: "E25", Title: "Energy of parenteral nutrition", Output: "energy", Inputs: []string{"dextrose"},
		Optional: []string{"aminoAcids", "lipid", "lipidEnergy", "lipidVolume", "lipidEnergyPerVolume", "aminoAcidConcentration", "lipidConcentration"},
		Formula:  "energy = 3.4 kcal/g × dextrose + 4 kcal/g × aminoAcids + lipid × lipidEnergy (or lipidVolume × lipidEnergyPerVolume)",
		Limits:   "Hydrous dextrose. Lipid is 9 or 10 kcal/g by source, or 1.1, 2.0 and 3.0 kcal/mL for 10, 20 and 30 % emulsion, so its energy must be given. What is not given is not counted.",
		Source:   perGram,
		Solve:    energy,
	},
	{
		Code: "E26", Title: "Plateau rate of cyclic nutrition with half-rate ramps", Output: "plateauRate", Inputs: []string{"volume", "cycle", "rampUp", "rampDown"},
		Formula: "plateauRate = volume ÷ (cycle − (rampUp + rampDown) ÷ 2)",
		Limits:  "Both ramps run at half the plateau rate and fit into the cycle.",
		Source:  "common practice, no source; arithmetic of half-rate ramps",
		Solve: func(v Values) (Bounds, error) {
			ramps := v.Base("rampUp").Add(v.Base("rampDown"))
			if v.Base("cycle").Less(ramps) {
				return outside("needs a cycle at least as long as rampUp and rampDown together")
			}
			return Exactly(v.Base("volume").Quo(v.Base("cycle").Sub(ramps.Quo(quantity.Int(2)))))
		},
	},
	longhurst("E27", "plateauRate", "Plateau rate of cyclic nutrition, Longhurst 2003", "4 × ", 4),
	longhurst("E27-taper", "taperRate", "First and last rate of cyclic nutrition, Longhurst 2003", "", 1),
}

func estimate(v Values) (Bounds, error) {
	sum := quantity.Number{}
	for _, part := range []struct{ name, literal, unit string }{
		{"aminoAcid", "10", "mosm/g"}, {"dextrose", "5", "mosm/g"}, {"lipid", "0.7", "mosm/g"}, {"electrolyte", "1", "mosm/meq"},
	} {
		sum = sum.Add(v.orElse(part.name+"Factor", of(part.literal, part.unit)).Mul(v.Base(part.name + "Concentration")))
	}
	return Exactly(sum)
}

// energy refuses rather than leave out a part that is known to be there.
func energy(v Values) (Bounds, error) {
	for _, part := range [][2]string{{"aminoAcidConcentration", "aminoAcids"}, {"lipidConcentration", "lipid"}} {
		if v.Base(part[0]).Sign() > 0 && !v.Has(part[1]) {
			return outside("give %s, or volume with %s", part[1], part[0])
		}
	}
	sum := of("3.4", "kcal/g").Mul(v.Base("dextrose")).Add(of("4", "kcal/g").Mul(v.Base("aminoAcids")))
	byMass, byVolume := v.Base("lipid").Sign() > 0, v.Base("lipidVolume").Sign() > 0
	switch { // mass and volume are the same lipid, counted once
	case byMass && v.Has("lipidEnergy"):
		sum = sum.Add(v.Base("lipid").Mul(v.Base("lipidEnergy")))
	case byVolume && v.Has("lipidEnergyPerVolume"):
		sum = sum.Add(v.Base("lipidVolume").Mul(v.Base("lipidEnergyPerVolume")))
	case byMass:
		return outside("give lipidEnergy: 9 and 10 kcal/g are both published")
	case byVolume:
		return outside("give lipidEnergyPerVolume: 1.1, 2.0 and 3.0 kcal/mL are published for 10, 20 and 30 %% emulsion")
	}
	return Exactly(sum)
}

// longhurst runs F and 2F for an hour each, 4F, then 2F and F for an hour
// each: volume = F × (4 × cycle − 10 h).
func longhurst(code, output, title, times string, factor int64) Equation {
	return Equation{
		Code: code, Title: title, Output: output, Inputs: []string{"volume", "cycle"}, Variant: true,
		Formula: output + " = " + times + "volume ÷ (4 × cycle − 10 h)",
		Limits:  "Cycles longer than 4 h in the steps F, 2F, 4F, 2F, F with an hour for each taper step; a rounded F leaves a remainder for the last step.",
		Source:  "Longhurst et al., Nutr Clin Pract 2003;18:517 (abstract)",
		Solve: func(v Values) (Bounds, error) {
			if v.Base("cycle").Cmp(of("4", "h")) <= 0 {
				return outside("needs a cycle longer than 4 h")
			}
			hours := quantity.Int(4).Mul(v.Base("cycle")).Sub(of("10", "h"))
			return Exactly(quantity.Int(factor).Mul(v.Base("volume")).Quo(hours))
		},
	}
}
