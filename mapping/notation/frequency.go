package notation

import (
	"weir.example/weir/mapping/quantity"
)

// Every writes the interval between doses: "every 8 hours", "daily", "every
// other day", "weekly". 24 hours stay "every 24 hours": an interval and a
// calendar day differ at a clock change.
func Every(period quantity.Number, ucum string) string {
	one := period.Equal(quantity.Int(1))
	switch {
	case one && ucum == "d":
		return "daily"
	case period.Equal(quantity.Int(2)) && ucum == "d":
		return "every other day"
	case one && ucum == "wk":
		return "weekly"
	case one:
		return "every " + unitWords(ucum, true, staff)
	}
	return "every " + join(period, Number(period), ucum, staff)
}

// Frequency writes so many times in a period: "2 times daily", "3 times
// weekly", "every 8 hours" for once in 8 hours. times below 1 is written as
// it is, for the caller to be corrected by.
func Frequency(times int, period quantity.Number, ucum string) string {
	if times == 1 {
		return Every(period, ucum)
	}
	n := Number(quantity.Int(int64(times))) + " times "
	if s := Every(period, ucum); s == "daily" || s == "weekly" {
		return n + s
	}
	if period.Equal(quantity.Int(1)) {
		return n + "in each " + unitWords(ucum, true, staff)
	}
	return n + "in " + join(period, Number(period), ucum, staff)
}

// when holds the FHIR R4 event timing codes,
// https://hl7.org/fhir/R4/valueset-event-timing.html, in words.
var when = map[string]string{
	"MORN": "in the morning", "MORN.early": "early in the morning", "MORN.late": "late in the morning", "NOON": "at noon",
	"AFT": "in the afternoon", "AFT.early": "early in the afternoon", "AFT.late": "late in the afternoon",
	"EVE": "in the evening", "EVE.early": "early in the evening", "EVE.late": "late in the evening", "NIGHT": "at night",
	"PHS": "after falling asleep", "HS": "at bedtime", "WAKE": "on waking", "C": "with a meal", "CM": "with breakfast",
	"CD": "with lunch", "CV": "with dinner", "AC": "before a meal", "ACM": "before breakfast", "ACD": "before lunch",
	"ACV": "before dinner", "PC": "after a meal", "PCM": "after breakfast", "PCD": "after lunch", "PCV": "after dinner",
}

// When writes a FHIR event timing code in words ("HS" is "at bedtime"). An
// unknown code is shown as a code.
func When(code string) string {
	if w, ok := when[code]; ok {
		return w
	}
	return asCode(code)
}
