package policy

// Care holds what must be known before and during a course: ages of results,
// and limits for an order that states none of its own. Counts are in thousand
// per microlitre.
type Care struct {
	CountsDays       int      `yaml:"countsDays"` // oldest blood counts at the start of an antineoplastic
	NeutrophilsLeast Fraction `yaml:"neutrophilsLeast"`
	PlateletsLeast   Fraction `yaml:"plateletsLeast"`
	LevelBefore      Length   `yaml:"levelBefore"` // a trough is drawn within this time before a dose
	LevelDoses       int      `yaml:"levelDoses"`  // doses given before one at steady state
	Source           string
}

// Nutrition holds the limits for a bag of parenteral nutrition. Glucose is in
// mg/kg/min and for adults; potassium in mmol/h for adults and in mmol/kg/h
// for children. Differences are fractions.
type Nutrition struct {
	GlucoseWarn         Fraction `yaml:"glucoseWarn"`
	GlucoseHold         Fraction `yaml:"glucoseHold"`
	PotassiumMost       Fraction `yaml:"potassiumMost"`
	PotassiumMostChild  Fraction `yaml:"potassiumMostChild"`
	CycleDifference     Fraction `yaml:"cycleDifference"`     // of what the cycle gives from what the bag holds
	ComponentDifference Fraction `yaml:"componentDifference"` // of a component made from the one ordered
	Source              string
}
