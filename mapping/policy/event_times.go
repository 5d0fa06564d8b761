package policy

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/schedule"
)

// Clocks are the site's clock times for events of the day and timing codes,
// as a schedule takes them; nil when it has set none.
func (p *Policy) Clocks() schedule.Clocks {
	if len(p.EventTimes) == 0 {
		return nil
	}
	out := schedule.Clocks{}
	for code, list := range p.EventTimes {
		for _, text := range list {
			if at, err := time.Parse("15:04", text); err == nil { // what is no time was refused when the file was read
				out[code] = append(out[code], time.Duration(at.Hour())*time.Hour+time.Duration(at.Minute())*time.Minute)
			}
		}
	}
	return out
}

// eventCodes are the codes that may have clock times, with the number of them
// a day; 0: any. They are FHIR R4 event-timing and those codes of
// timing-abbreviation that are given at clock times of the institution. AC and
// its like are left to their parts, so that "30 minutes before" has one
// meaning.
var eventCodes = map[string]int{
	"MORN": 1, "MORN.early": 1, "MORN.late": 1, "NOON": 1, "AFT": 1, "AFT.early": 1, "AFT.late": 1, "EVE": 1, "EVE.early": 1, "EVE.late": 1,
	"NIGHT": 1, "PHS": 1, "HS": 1, "WAKE": 1, "CM": 1, "CD": 1, "CV": 1, "ACM": 1, "ACD": 1, "ACV": 1, "PCM": 1, "PCD": 1, "PCV": 1,
	"QD": 1, "AM": 1, "PM": 1, "BED": 1, "BID": 2, "TID": 3, "QID": 4, "QOD": 1, "WK": 1, "MO": 1,
}

// dayOrder are pairs of events of which the first comes before the second on
// every day.
var dayOrder = [][2]string{{"MORN.early", "MORN.late"}, {"AFT.early", "AFT.late"}, {"EVE.early", "EVE.late"},
	{"CM", "CD"}, {"CD", "CV"}, {"ACM", "CM"}, {"CM", "PCM"}, {"ACD", "CD"}, {"CD", "PCD"}, {"ACV", "CV"}, {"CV", "PCV"},
	{"MORN", "NOON"}, {"NOON", "AFT"}, {"AFT", "EVE"}}

// eventTimes: a code that nobody reads would leave its doses unplaced in
// silence, and two meals in the wrong order are a slip of the pen.
func (c *checker) eventTimes() {
	for _, code := range sortedKeys(c.p.EventTimes) {
		key, list := "eventTimes."+plain(code), c.p.EventTimes[code]
		many, known := eventCodes[code]
		if !known {
			c.refuse(key, "is no event of the day and no timing code with clock times", "a code of FHIR R4 event-timing other than C, AC and PC, or AM, PM, BED, QD, BID, TID, QID, QOD, WK, MO")
			continue
		}
		for i, text := range list {
			if at := fmt.Sprintf("%s[%d]", key, i); !clock.MatchString(text) {
				c.refuse(at, fmt.Sprintf("is %.40q", text), "a time of day from 00:00 to 23:59, two digits each")
				c.refused[key] = true
			}
		}
		once(c, key, list)
		if len(list) != many && c.fine(key) {
			c.refuse(key, fmt.Sprintf("has %d clock times", len(list)), fmt.Sprintf("%d, as many as doses a day", many))
		}
		if !slices.IsSorted(list) && c.fine(key) {
			c.refuse(key, "has "+strings.Join(list, ", "), "the times in the order of the day")
		}
	}
	for _, pair := range dayOrder {
		a, b := c.p.EventTimes[pair[0]], c.p.EventTimes[pair[1]]
		first, second := "eventTimes."+plain(pair[0]), "eventTimes."+plain(pair[1])
		if len(a) == 1 && len(b) == 1 && a[0] >= b[0] && c.fine(first, second) {
			c.refuse(second, fmt.Sprintf("is %s and %s is %s", b[0], pair[0], a[0]), "the later one later in the day")
		}
	}
}
