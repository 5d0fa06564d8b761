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
// days or months on the wall clock.
type abbreviation struct {
	EveryDays   int    `json:"everyDays"`
	EveryMonths int    `json:"everyMonths"`
	Times       int    `json:"times"`
	Event       string `json:"event"` // the part of the day the code names, "" for none
	As          string `json:"as"`    // the code of that event, "" when it is not one
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

// shapeOfCode reads how often a timing code asks for, without its clock
// times. It reports false for a code that is not understood.
func shapeOfCode(code string) (Pace, bool) {
	if a, ok := abbreviations()[code]; ok {
		return Pace{Days: a.EveryDays, Months: a.EveryMonths, PerDay: a.Times}, true
	}
	if middle, ok := strings.CutPrefix(code, "Q"); ok {
		if digits, ok := strings.CutSuffix(middle, "H"); ok {
			if n, err := strconv.Atoi(digits); err == nil && n > 0 && n <= longestHours && digits[0] != '0' && digits[0] != '+' {
				return elapsedPace(time.Duration(n)*time.Hour, 1), true
			}
		}
	}
	return Pace{}, false
}

// paceOfCode reads a timing code. Unknown codes are an error: a pace that is
// not understood must not be left out in silence. The clock times are the
// site's; a code that names a part of the day is not placed without them.
func paceOfCode(code string, clocks Clocks) (Pace, error) {
	p, ok := shapeOfCode(code)
	if !ok {
		return Pace{}, unplaced("the timing code %.20q is neither in the FHIR R4 value set of timing abbreviations nor every so many hours, such as Q8H", code)
	}
	if p.Elapsed() {
		return p, nil
	}
	a := abbreviations()[code]
	times := clocks.of(code)
	if len(times) == 0 && a.As != "" {
		times = clocks.of(a.As)
	}
	switch {
	case len(times) > 0 && len(times) != a.Times:
		return Pace{}, unplaced("the site has set %d clock times for a timing code of %d doses a day", len(times), a.Times)
	case len(times) > 0:
		p.Times, p.PerDay = times, 0
	case a.Event != "":
		return Pace{}, unplaced("the timing code ties the dose to an event of the day (%s), and no clock time is set for it", a.Event)
	}
	p.sayEvenly()
	if p.Months > 0 {
		p.sayMonthly()
	}
	return p, nil
}
