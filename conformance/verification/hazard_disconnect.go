package verification

import (
	"strings"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
)

// disconnectLate is how long an infusion that has ended may hang before
// somebody comes: 12 hours (common practice, no source). An empty device
// flushes nothing, and the line clots.
const disconnectLate = 12 * time.Hour

// disconnectPlan: a named person comes at a time at which the infusion has
// ended. Several containers have several ends: then the time is not compared.
func disconnectPlan(f Facts) []finding.Finding {
	wrong := ""
	var at finding.Place
	for _, s := range f.kase().Services {
		if !disconnects(s) || s.Performer == "" {
			continue
		}
		for _, when := range s.When {
			says := outsideEnds(f, when)
			if says == "" {
				return nil
			}
			wrong, at = says, s.Place
		}
	}
	if wrong != "" {
		return here(at, "the visit to disconnect is "+wrong, "a visit between the earliest end and "+notation.Duration(disconnectLate)+" after the latest")
	}
	return here(f.order().Place, "no named visit to disconnect", "a trained person, a time and a route for the waste")
}

// disconnects: a visit, by its words, that takes an infusion off the line.
func disconnects(s order.Service) bool {
	text := strings.ToLower(s.Code.Name())
	return s.Kind != "laboratory" && s.Kind != "access-plan" && anyOf(text, "disconnect", "take down", "takedown", "de-access", "deaccess", "unhook", "detach")
}

// outsideEnds says how a time lies outside the ends of the only infusion; empty:
// it does not, or nobody can tell.
func outsideEnds(f Facts, when order.Instant) string {
	if !f.Has(Plan) || when.DateOnly || f.plan().EndsEarliest.IsZero() || len(f.plan().HomeDoses) > 1 {
		return ""
	}
	p := f.plan()
	when.Time = when.Time.In(p.EndsLatest.Location()) // both in the time of the home
	switch {
	case when.Time.Before(p.EndsEarliest):
		return notation.Instant(when.Time, "") + ", before the earliest end, " + notation.Instant(p.EndsEarliest, "")
	case when.Time.After(p.EndsLatest.Add(disconnectLate)):
		return notation.Instant(when.Time, "") + ", long after the latest end, " + notation.Instant(p.EndsLatest, "")
	}
	return ""
}
