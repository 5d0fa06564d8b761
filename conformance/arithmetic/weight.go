package arithmetic

// The weights of the ranking, in thousandths of a natural logarithm: by how
// much each mark makes an explanation more or less likely. They were fitted
// once (conditional logit) on slips of seed 77 of the generator in package
// slips and rounded by hand; RESULT.md there reports on other seeds. They
// order explanations and never decide whether numbers disagree.
const (
	unexplained    = -2800 // no signature fits
	neighbourLong  = 100   // the digits of another field, three or more
	neighbourShort = -900  // one or two digits agree easily by chance
	otherKnown     = -1000 // from one known concentration to another
	otherStated    = -2600 // any strength typed rightly is a known one: little evidence
	courseMultiple = -300
	swappedDigits  = 0
	secondFault    = -3000 // each further number that must be wrong too
	carriedOn      = -500  // numbers worked out from a wrong one: one fault, not many

	perDigit     = -290  // each significant digit a number needs more
	oddContainer = -1350 // a volume no container is sold in
	oddFrequency = -5400 // a frequency nobody orders, or part of a dose

	tableStep  = 2600 // outside the range of the drug's table
	tableSlope = 5200
	tableFloor = -20000

	// A table may be that of another use of the drug, or of another drug. So
	// much that is to be feared, and so much does each stated number inside
	// its range speak against it.
	tableWrong  = -3600
	insideSpeak = -300

	generalStep  = 300 // outside what is customary for any drug
	generalSlope = 850
	generalFloor = -4500
	middleSlope  = 360 // away from the middle of what is customary
)

// lead is by how much the best explanation must lead to be named alone;
// leadUnmarked is that for one without a signature, which only its size
// speaks for.
const (
	lead         = 1600
	leadUnmarked = 2100
)

func (e explanation) leadNeeded() int {
	if e.slip.name == NoSignature {
		return leadUnmarked
	}
	return lead
}
