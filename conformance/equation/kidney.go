package equation

import "weir.example/weir/mapping/quantity"

// kidney holds the estimates from serum creatinine in mass per volume; who
// has it in µmol/L divides by 88.4 first (E19). None holds on dialysis or
// while the creatinine is changing.
var kidney = []Equation{
	gault("E16", "Creatinine clearance, Cockcroft and Gault 1976, actual weight", "weight",
		"Adults with a stable creatinine, not on dialysis; not indexed to body surface. The original used the actual weight; a floor for low creatinine is local."),
	gault("E16-adjusted", "Creatinine clearance, Cockcroft and Gault, adjusted weight", "adjustedBodyWeight",
		"As with the actual weight; advised in obesity by some sources, never when the actual weight is lower."),
	gault("E16-ideal", "Creatinine clearance, Cockcroft and Gault, ideal weight", "idealBodyWeight",
		"As with the actual weight; later advice takes the ideal weight unless the actual weight is lower."),
	{
		Code: "E17", Title: "Glomerular filtration rate, CKD-EPI 2021", Output: "glomerularFiltrationRate", Inputs: []string{"age", "sex", "serumCreatinine"},
		Formula: "glomerularFiltrationRate = 142 × min(serumCreatinine in mg/dL ÷ κ, 1)^α × max(serumCreatinine in mg/dL ÷ κ, 1)^−1.2 × 0.9938^(age in years), × 1.012 for women; " +
			"κ 0.7 and α −0.241 for women, κ 0.9 and α −0.302 for men",
		Limits: "Adults of 18 years and older with a stable creatinine by a standardised assay; indexed to 1.73 m², so not for the Calvert dose.",
		Source: "CKD-EPI creatinine equation 2021, National Kidney Foundation, kidney.org/ckd-epi-creatinine-equation-2021",
		Solve:  epi("142", "143.704", "-0.302", "-0.241", "-1.2", "0.9938"), // 142 × 1.012 for women
	},
	{
		Code: "E17-older", Title: "Glomerular filtration rate, CKD-EPI 2009, superseded", Output: "glomerularFiltrationRate", Inputs: []string{"age", "sex", "serumCreatinine"}, Variant: true,
		Formula: "glomerularFiltrationRate = 141 × min(serumCreatinine in mg/dL ÷ κ, 1)^α × max(serumCreatinine in mg/dL ÷ κ, 1)^−1.209 × 0.993^(age in years), × 1.018 for women; " +
			"κ 0.7 and α −0.329 for women, κ 0.9 and α −0.411 for men",
		Limits: "Only to retrace an older report, and without the factor for race that some of these carry: the 2021 form replaced it. Adults of 18 years and older; indexed to 1.73 m².",
		Source: "Levey et al., Ann Intern Med 2009;150:604 (citation and constants from memory)",
		Solve:  epi("141", "143.538", "-0.411", "-0.329", "-1.209", "0.993"), // 141 × 1.018 for women
	},
	{
		Code: "E17-absolute", Title: "Filtration rate of this body", Output: "absoluteFiltrationRate", Inputs: []string{"glomerularFiltrationRate", "bodySurfaceArea"},
		Formula: "absoluteFiltrationRate = glomerularFiltrationRate × bodySurfaceArea ÷ 1.73 m²",
		Limits:  "For a rate that is indexed to 1.73 m²; one that is stated in mL/min is absolute already.",
		Source:  "CKD-EPI creatinine equation 2021, National Kidney Foundation, kidney.org/ckd-epi-creatinine-equation-2021",
		Solve: func(v Values) (Bounds, error) {
			return Exactly(v.Base("glomerularFiltrationRate").Mul(v.Base("bodySurfaceArea")).Quo(of("1.73", "m2")))
		},
	},
	schwartz("E18", nil, []string{"age"}, true),
	schwartz("E18-child", []string{"age"}, nil, false),
	{
		Code: "E20", Title: "Carboplatin dose, Calvert", Output: "dose", Inputs: []string{"targetAUC", "absoluteFiltrationRate"},
		Optional: []string{"age"},
		Formula:  "dose = targetAUC × (min(absoluteFiltrationRate, 125 mL/min) + 25 mL/min)",
		Limits: "Adults. The whole dose in mg, never per m²; the rate is absolute, in mL/min. An estimated rate above 125 mL/min counts as 125, " +
			"so the greatest dose is targetAUC × 150 mL/min; a measured rate is not capped and needs a person.",
		Source: "US FDA communication on carboplatin dosing; carboplatin dosing appendix of the NCCN order templates, 2020",
		Solve: func(v Values) (Bounds, error) {
			if v.Has("age") {
				if says := notAdult(v); says != "" {
					return outside("%s", says)
				}
			}
			rate := quantity.Least(v.Base("absoluteFiltrationRate"), of("125", "mL/min"))
			return Exactly(v.Base("targetAUC").Mul(rate.Add(of("25", "mL/min"))))
		},
	},
}

// gault is the clearance with one of the three weights.
func gault(code, title, weight, limits string) Equation {
	return Equation{
		Code: code, Title: title, Output: "creatinineClearance", Inputs: []string{"age", "sex", weight, "serumCreatinine"}, Variant: weight != "weight",
		Formula: "creatinineClearance = (140 − age in years) × " + weight + " in kg ÷ (72 × serumCreatinine in mg/dL), × 0.85 for women",
		Limits:  limits,
		Source:  "Cockcroft and Gault, Nephron 1976;16:31",
		Solve: func(v Values) (Bounds, error) {
			woman, ok := female(v)
			if !ok {
				return outside(wantsSex)
			}
			if says := notAdult(v); says != "" {
				return outside("%s", says)
			}
			n := quantity.Int(140).Sub(v.In("age", "a")).Mul(v.In(weight, "kg")).Quo(quantity.Int(72).Mul(v.In("serumCreatinine", "mg/dL")))
			if woman {
				n = n.Mul(quantity.MustNumber("0.85"))
			}
			return Exactly(quantity.MustUnit("mL/min").ToBase(n))
		},
	}
}

// epi is CKD-EPI with the constants of a year, those for men before those
// for women. Of min and max only one differs from 1, so one power of the
// creatinine is taken: alpha below κ, above it the other.
func epi(men, women, alphaMen, alphaWomen, above, yearly string) func(Values) (Bounds, error) {
	return func(v Values) (Bounds, error) {
		woman, ok := female(v)
		if !ok {
			return outside(wantsSex)
		}
		if says := notAdult(v); says != "" {
			return outside("%s", says)
		}
		kappa, power, factor := "0.9", alphaMen, men
		if woman {
			kappa, power, factor = "0.7", alphaWomen, women
		}
		creatinine := v.In("serumCreatinine", "mg/dL").Quo(quantity.MustNumber(kappa))
		if one.Less(creatinine) {
			power = above
		}
		c1, c2 := quantity.Power(creatinine, quantity.MustNumber(power))
		a1, a2 := quantity.Power(quantity.MustNumber(yearly), v.In("age", "a"))
		k := of(factor, "mL/min")
		return Bounds{k.Mul(c1).Mul(a1), k.Mul(c2).Mul(a2)}, nil
	}
}

// schwartz is the bedside equation twice: E18-child comes into use by the
// age alone, E18 only when it is asked for, since it takes the user's word
// that this is a child.
func schwartz(code string, needs, uses []string, variant bool) Equation {
	title := "Glomerular filtration rate of a child, bedside Schwartz 2009"
	if variant {
		title += ", age not needed"
	}
	return Equation{
		Code: code, Title: title, Output: "glomerularFiltrationRate", Inputs: append([]string{"height", "serumCreatinine"}, needs...), Optional: uses, Variant: variant,
		Formula: "glomerularFiltrationRate = 0.413 × height in cm ÷ serumCreatinine in mg/dL",
		Limits:  "From 1 year to below 18 years, enzymatic or standardised assay, stable creatinine; indexed to 1.73 m². The factor 0.55 of the older equation reads 20 to 40 % high.",
		Source:  "bedside Schwartz equation 2009, National Kidney Foundation, kidney.org",
		Solve: func(v Values) (Bounds, error) {
			if age := v.In("age", "a"); v.Has("age") && (age.Less(one) || !age.Less(quantity.Int(adult))) {
				return outside("for children from 1 year to below 18 years only")
			}
			n := quantity.MustNumber("0.413").Mul(v.In("height", "cm")).Quo(v.In("serumCreatinine", "mg/dL"))
			return Exactly(quantity.MustUnit("mL/min").ToBase(n))
		},
	}
}
