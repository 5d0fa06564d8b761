package terminal

import (
	"fmt"

	"weir.example/weir/mapping/worksheet"
)

// firstHome is the first home dose, or when it may fall; empty when neither is
// known.
func firstHome(w worksheet.Worksheet) string {
	s := w.Schedule
	switch {
	case s.FirstHomeDose != "" || s.FirstHomeEarliest == "":
		return w.Moment(s.FirstHomeDose)
	case s.FirstHomeEarliest == s.FirstHomeLatest:
		return w.Moment(s.FirstHomeEarliest)
	}
	return w.Moment(s.FirstHomeEarliest) + " to " + w.Moment(s.FirstHomeLatest)
}

// dosesAtHome counts the doses at home: the least and the most where the order
// leaves a range. Without a range, 0 is what could be listed.
func dosesAtHome(s worksheet.Schedule) string {
	if s.HomeMost > s.HomeLeast {
		return fmt.Sprintf("%d to %d at home", s.HomeLeast, s.HomeMost)
	}
	return fmt.Sprint(max(s.DoseCount, s.HomeMost), " at home")
}
