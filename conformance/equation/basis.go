package equation

// basis takes another weight than the actual one for the dose. Which one is
// right is the drug's or the site's rule, so each is used only when asked for.
var basis = []Equation{
	weighed("E06-adjusted", "adjustedBodyWeight", "Weight for dosing, the adjusted weight",
		"For drugs dosed so in obesity; from which weight on differs between sources."),
	weighed("E06-ideal", "idealBodyWeight", "Weight for dosing, the ideal weight",
		"For drugs dosed so; the actual weight counts where it is lower."),
}

func weighed(code, weight, title, limits string) Equation {
	return Equation{Code: code, Title: title, Output: "dosingWeight", Inputs: []string{weight}, Variant: true,
		Formula: "dosingWeight = " + weight, Limits: limits,
		Source: "university pharmacy calculations module, dosage by adjusted body weight, uhphar-4330.herokuapp.com", Solve: product(weight, "")}
}
