package equation

// bag holds what is in a bag beyond its label and what stays behind.
var bag = []Equation{
	{
		Code: "E36", Title: "Additive volume above which diluent is withdrawn first", Output: "withdrawalThreshold", Inputs: []string{"volume", "withdrawalFraction"},
		Formula: "withdrawalThreshold = volume × withdrawalFraction",
		Limits:  "A rule of the site, usually 10 % of the label volume.",
		Source:  "common practice; published explanation at ismp.org, IV container overfill",
		Solve: func(v Values) (Bounds, error) {
			if one.Less(v.Base("withdrawalFraction")) {
				return outside("needs a withdrawalFraction of at most 100 %%")
			}
			return Exactly(v.Base("volume").Mul(v.Base("withdrawalFraction")))
		},
	},
	{
		Code: "E36-overfill", Title: "Concentration in a bag with its overfill", Output: "concentration", Inputs: []string{"dose", "labelVolume", "overfill"}, Optional: []string{"additive"}, Variant: true,
		Formula: "concentration = dose ÷ (labelVolume + overfill + additive)",
		Limits:  "Drug added without withdrawing diluent; bags hold about 10 % above the label, and overfill of a vial is not dose.",
		Source:  "Am J Crit Care 2000;9:130 (100 mL bags held 109.26 mL on average); ismp.org, IV container overfill",
		Solve: func(v Values) (Bounds, error) {
			return Exactly(v.Base("dose").Quo(v.Base("labelVolume").Add(v.Base("overfill")).Add(v.Base("additive"))))
		},
	},
	{
		Code: "E37", Title: "Part of a dose left behind", Output: "residualFraction", Inputs: []string{"volume", "residual"},
		Formula: "residualFraction = residual ÷ volume",
		Limits:  "The same concentration throughout, no flush; sets hold 15 to 27 mL.",
		Source:  "infusionnurse.org 2015, priming volume and residual volume",
		Solve: func(v Values) (Bounds, error) {
			if v.Base("volume").Less(v.Base("residual")) {
				return outside("needs a residual of at most the volume")
			}
			return Exactly(v.Base("residual").Quo(v.Base("volume")))
		},
	},
	{
		Code: "E37-open", Title: "Volume to keep the vein open between doses", Output: "keepOpenVolume", Inputs: []string{"keepOpenRate", "dosesPerDay", "duration"},
		Formula: "keepOpenVolume = keepOpenRate × (24 h/d − dosesPerDay × duration)",
		Limits:  "The rate runs whenever no dose runs; no rate is backed by evidence, so it must be given.",
		Source:  "Paquet and Marchionni, J Infus Nurs 2016, as quoted at avatargroup.org.au",
		Solve: func(v Values) (Bounds, error) {
			busy := v.Base("dosesPerDay").Mul(v.Base("duration"))
			if one.Less(busy) {
				return outside("needs doses that fit into a day: dosesPerDay × duration is above 24 h")
			}
			return Exactly(v.Base("keepOpenRate").Mul(one.Sub(busy)))
		},
	},
}
