package equation

const (
	discarded = "Medicare Claims Processing Manual ch. 17 s. 40"
	rounding  = "HOPA position statement on dose rounding, ascopost.com/News/58563"
)

// vials holds what is opened, thrown away and rounded. Waste and rounding go
// up and down with the dose, so they are true of the dose as given and not
// of a range of doses.
var vials = []Equation{
	{
		Code: "E33", Counts: true, Title: "Vials opened for one dose", Output: "vialCount", Inputs: []string{"dose", "vialContent"},
		Formula: "vialCount = ⌈dose ÷ vialContent⌉",
		Limits:  "Single-dose vials of one size; with several sizes choose least waste, then least vials.", Source: discarded,
		Solve: counted("dose", "vialContent"),
	},
	{
		Code: "E33-billing", Counts: true, Title: "Billing units given", Output: "billingUnits", Inputs: []string{"dose", "billingUnit"},
		Formula: "billingUnits = ⌈dose ÷ billingUnit⌉",
		Limits:  "What is given rounds up to whole units, what is discarded rounds down.",
		Source:  "American College of Rheumatology, key facts on billing drug wastage, 2023",
		Solve:   counted("dose", "billingUnit"),
	},
	{
		Code: "E33-waste", Counts: true, Title: "Drug discarded from single-dose vials", Output: "waste", Inputs: []string{"dose", "vialContent"},
		Formula: "waste = ⌈dose ÷ vialContent⌉ × vialContent − dose",
		Limits:  "Single-dose vials of one size; overfill of the vial is not counted. True of the dose as given, not of a range.", Source: discarded,
		Solve: func(v Values) (Bounds, error) {
			n, ok := whole(v.Base("dose").Quo(v.Base("vialContent")))
			if !ok {
				return Bounds{}, errMany
			}
			return Exactly(n.Mul(v.Base("vialContent")).Sub(v.Base("dose")))
		},
	},
	{
		Code: "E34", Counts: true, Title: "Rounded dose", Output: "roundedDose", Inputs: []string{"dose", "roundTo"},
		Formula: "roundedDose = dose to the nearest multiple of roundTo, half up",
		Limits:  "Not to nothing; how far a dose may be rounded is the site's policy, and trials and organ failure are excepted.", Source: rounding,
		Solve: func(v Values) (Bounds, error) {
			rounded := v.Base("dose").RoundTo(v.Base("roundTo"))
			if rounded.Sign() == 0 {
				return outside("needs a roundTo of at most twice the dose: it would round to nothing")
			}
			return Exactly(rounded)
		},
	},
	{
		Code: "E34-change", Counts: true, Title: "Change of a dose by rounding", Output: "roundingChange", Inputs: []string{"dose", "roundedDose"},
		Formula: "roundingChange = (roundedDose − dose) ÷ dose",
		Limits:  "Measured against the ordered dose, below 0 when rounded down; 10 % is the usual limit, some sites take 5 % for curative intent.", Source: rounding,
		Solve: func(v Values) (Bounds, error) {
			return Exactly(v.Base("roundedDose").Sub(v.Base("dose")).Quo(v.Base("dose")))
		},
	},
}

// counted is how many whole parts hold the whole.
func counted(all, part string) func(Values) (Bounds, error) {
	return func(v Values) (Bounds, error) {
		n, ok := whole(v.Base(all).Quo(v.Base(part)))
		if !ok {
			return Bounds{}, errMany
		}
		return Exactly(n)
	}
}
