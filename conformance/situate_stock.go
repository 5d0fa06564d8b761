package conformance

import (
	"time"

	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/notation"
)

// stock is what the home reported of each kit item: the newest report, not
// older than the longest delivery, in whole items. All of one report.
func (s *state) stock() []fulfillment.Stock {
	var out []fulfillment.Stock
	var at time.Time
	oldest := s.now.AddDate(0, 0, -s.ref.Policy.Delivery.LongestDays)
	for _, r := range s.kase.Reports {
		if r.Kind != "home-stock" || r.Item == "" || r.Count.Absent() || r.At.DateOnly || r.At.Time.Before(oldest) || r.At.Time.Before(at) {
			continue
		}
		n, ok := r.Count.Low.Floor()
		if !ok || n < 0 || n > 10_000 {
			continue
		}
		if r.At.Time.After(at) {
			out, at = nil, r.At.Time
		}
		local := r.At.Time
		if s.zone.Known() {
			local = local.In(s.zone.Location)
		}
		out = append(out, fulfillment.Stock{Item: r.Item, Count: int(n), At: at, On: notation.Date(local)})
	}
	return out
}

// usedUntil counts what is done between a report and the first dose of a
// delivery, as if each dose of the interval were given at home: that can only
// send more.
func (s *state) usedUntil(first, report time.Time, draws []fulfillment.Draw) fulfillment.Use {
	p := s.plan
	if len(p.HomeDoses) == 0 || first.IsZero() || p.Interval <= 0 {
		return fulfillment.Use{}
	}
	if !first.After(report) {
		return fulfillment.Use{Known: true}
	}
	use := fulfillment.Use{Known: true, Days: int((first.Sub(report) + 24*time.Hour - 1) / (24 * time.Hour))}
	for at := first.Add(-p.Interval); at.After(report); at = at.Add(-p.Interval) {
		use.Doses++
	}
	for _, d := range draws {
		if d.Day.After(report) && d.Day.Before(first) {
			use.Draws++
		}
	}
	return use
}
