package equation

// loading holds the day on which a loading dose is given. A day's total is
// drug per day, so the loading dose counts once in one day.
var loading = []Equation{
	{
		Code: "E08", Variant: true, Title: "Drug per kg in the first 24 hours with a loading dose", Output: "dailyDosePerKg",
		Inputs:  []string{"loadingDosePerKg", "drugRatePerKg"},
		Formula: "dailyDosePerKg = (loadingDosePerKg + drugRatePerKg × 24 h) per day",
		Limits:  "The first day only, with a loading dose; labelled totals may include it, later days do not.",
		Source:  "milrinone lactate in dextrose, US labelling, dosage table",
		Solve:   firstDay("loadingDosePerKg", "drugRatePerKg"),
	},
	{
		Code: "E08-dose", Variant: true, Title: "Drug in the first 24 hours with a loading dose", Output: "dailyDose",
		Inputs:  []string{"loadingDose", "drugRate"},
		Formula: "dailyDose = (loadingDose + drugRate × 24 h) per day",
		Limits:  "The first day only, with a loading dose; labelled totals may include it, later days do not.",
		Source:  "milrinone lactate in dextrose, US labelling, dosage table",
		Solve:   firstDay("loadingDose", "drugRate"),
	},
}

func firstDay(dose, rate string) func(Values) (Bounds, error) {
	return func(v Values) (Bounds, error) {
		total := v.Base(dose).Add(v.Base(rate).Mul(day))
		return Exactly(total.Quo(day))
	}
}
