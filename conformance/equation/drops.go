package equation

// Drops are a count of their own: the drop of UCUM is fixed at 1/20 mL and
// would be wrong for every other set.
var drops = []Equation{
	{
		Code: "E04", Title: "Drop rate of a gravity set", Output: "dropRate", Inputs: []string{"rate", "dropFactor"},
		Formula: "dropRate = rate × dropFactor",
		Limits:  "The drop factor is the one printed on the set (10, 15, 20 or 60 drops in a millilitre); at 60 the drops in a minute equal the millilitres in an hour.",
		Source:  "open textbook of nursing dosage calculations, wtcs.pressbooks.pub/nursingdosagecalculations",
		Solve:   product("rate dropFactor", ""),
	},
	{
		Code: "E04-rate", Title: "Flow of a gravity set from its drops", Output: "rate", Inputs: []string{"dropRate", "dropFactor"},
		Formula: "rate = dropRate ÷ dropFactor",
		Limits:  "As for the drop rate; drops counted over a short time carry a whole drop of error.",
		Source:  "open textbook of nursing dosage calculations, wtcs.pressbooks.pub/nursingdosagecalculations",
		Solve:   product("dropRate", "dropFactor"),
	},
}
