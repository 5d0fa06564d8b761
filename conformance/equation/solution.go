package equation

const (
	salts   = "sample osmolarity calculations, globalrph.com/sample-osmolarity-calculations; definition of the mole"
	hydrate = "The molar mass is that of the salt and hydrate as weighed (calcium chloride dihydrate 147.0, magnesium sulfate heptahydrate 246.47 g/mol)"
)

// solution holds moles, equivalents and osmoles. Equivalents never turn into
// mass without the molar mass and the valence of the named salt.
var solution = []Equation{
	{
		Code: "E21", Title: "Amount of substance from mass", Output: "drugAmount", Inputs: []string{"drugMass", "molarMass"},
		Formula: "drugAmount = drugMass ÷ molarMass", Limits: hydrate + ".", Source: salts,
		Solve: product("drugMass", "molarMass"),
	},
	{
		Code: "E21-amount", Title: "Amount of substance from equivalents", Output: "drugAmount", Inputs: []string{"drugEquivalents", "valence"},
		Formula: "drugAmount = drugEquivalents ÷ valence",
		Limits:  "The valence is that of the ion the order names; phosphate is ordered in mmol, not in equivalents.",
		Source:  "lecture on pharmaceutical calculations (F. Rahmawati); the remark on phosphate from memory",
		Solve:   product("drugEquivalents", "valence"),
	},
	{
		Code: "E21-equivalents", Title: "Equivalents from amount of substance", Output: "drugEquivalents", Inputs: []string{"drugAmount", "valence"},
		Formula: "drugEquivalents = drugAmount × valence",
		Limits:  "The valence is that of the ion the order names; phosphate is ordered in mmol, not in equivalents.",
		Source:  "lecture on pharmaceutical calculations (F. Rahmawati); the remark on phosphate from memory",
		Solve:   product("drugAmount valence", ""),
	},
	{
		Code: "E21-mass", Title: "Mass from amount of substance", Output: "drugMass", Inputs: []string{"drugAmount", "molarMass"},
		Formula: "drugMass = drugAmount × molarMass", Limits: hydrate + ".", Source: salts,
		Solve: product("drugAmount molarMass", ""),
	},
	{
		Code: "E22", Title: "Osmoles of one dissolved substance", Output: "osmoles", Inputs: []string{"volume", "concentration", "molarMass", "particles"},
		Formula: "osmoles = volume × concentration ÷ molarMass × particles",
		Limits:  "Ideal solution, so a label can be lower; one substance, and a mixture is the sum of all. " + hydrate + ".",
		Source:  salts,
		Solve:   product("volume concentration particles", "molarMass"),
	},
	{
		Code: "E22-solution", Title: "Osmolarity of a solution of one substance", Output: "osmolarity", Inputs: []string{"concentration", "molarMass", "particles"},
		Formula: "osmolarity = concentration ÷ molarMass × particles",
		Limits: "Ideal solution of one substance in water, so a label can be lower; 5 % dextrose is 252 as monohydrate and 278 mosm/L as anhydrous. " +
			"In a bag of dextrose or saline the fluid adds its own.",
		Source: salts,
		Solve:  product("concentration particles", "molarMass"),
	},
	{
		Code: "E22-admixture", Title: "Osmolarity of a mixture", Output: "osmolarity", Inputs: []string{"osmoles", "volume"},
		Formula: "osmolarity = osmoles ÷ volume",
		Limits:  "The osmoles are the sum over every component, the fluid of the bag among them, and the volume is that of the whole mixture.",
		Source:  "Calculating osmolarity of an IV admixture, docest.com/doc/83922",
		Solve:   product("osmoles", "volume"),
	},
}
