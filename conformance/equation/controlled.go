package equation

import "weir.example/weir/mapping/quantity"

// controlled holds patient-controlled infusion: what can be had at most when
// every press is taken. A stated limit per hour or four hours may be lower.
var controlled = []Equation{
	{
		Code: "E30", Title: "Most drug from a patient-controlled infusion", Output: "maximumDose", Inputs: []string{"demand", "lockout", "window"}, Optional: []string{"basal"},
		Formula: "maximumDose = ⌊window ÷ lockout⌋ × demand + basal × window",
		Limits:  "Every press taken, none at the very start of the window, which would add one; a limit set on the device may be lower.",
		Source:  "course problem on patient-controlled analgesia, allnurses.com",
		Solve: func(v Values) (Bounds, error) {
			presses, ok := v.Base("window").Quo(v.Base("lockout")).Floor()
			if !ok {
				return Bounds{}, errMany
			}
			most := quantity.Int(presses).Mul(v.Base("demand"))
			return Exactly(most.Add(v.Base("basal").Mul(v.Base("window"))))
		},
	},
	{
		Code: "E30-volume", Title: "Most volume from a patient-controlled infusion", Output: "maximumVolume", Inputs: []string{"maximumDose", "concentration"},
		Formula: "maximumVolume = maximumDose ÷ concentration",
		Limits:  "As for the most drug.",
		Source:  "course problem on patient-controlled analgesia, allnurses.com",
		Solve:   product("maximumDose", "concentration"),
	},
}
