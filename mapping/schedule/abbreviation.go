package schedule

import (
	_ "embed"
	"encoding/json"
	"strconv"
	"strings"
	"sync"
	"time"
)

//go:embed abbreviations.json
var abbreviationFile []byte

// abbreviation is one row of abbreviations.json: so many doses in so many
// days on the wall clock.
type abbreviation struct {
	EveryDays int    `json:"everyDays"`
	Times     int    `json:"times"`
	Event     string `json:"event"` // the part of the day the code names, "" for none
}

var abbreviations = sync.OnceValue(func() map[string]abbreviation {
	var table struct{ Codes map[string]abbreviation }
	if err := json.Unmarshal(abbreviationFile, &table); err != nil {
		panic(err) // a fault of this build, caught by the first test
	}
	return table.Codes
})

// longestHours bounds the codes QnH: a week.
const longestHours = 168

// paceOfCode reads a timing code. Unknown codes are an error: a pace that is
// not understood must not be left out in silence.
func paceOfCode(code string) (Pace, error) {
	if a, ok := abbreviations()[code]; ok {
		p := Pace{Days: a.EveryDays, PerDay: a.Times}
		if a.Event != "" {
			p.say("the code " + code + " (" + a.Event + ") names no clock time: the time of day of the first dose is kept")
		}
		p.sayEvenly()
		return p, nil
	}
	if middle, ok := strings.CutPrefix(code, "Q"); ok {
		if digits, ok := strings.CutSuffix(middle, "H"); ok {
			if n, err := strconv.Atoi(digits); err == nil && n > 0 && n <= longestHours {
				return elapsedPace(time.Duration(n)*time.Hour, 1), nil
			}
		}
	}
	return Pace{}, unplaced("the timing code %.20q is not one of QD, BID, TID, QID, QOD, WK, AM, PM, BED or every so many hours such as Q8H", code)
}
