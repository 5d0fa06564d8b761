package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

func zone(t testing.TB, name string) schedule.Zone {
	t.Helper()
	z, err := schedule.LoadZones().Zone(name)
	require.NoError(t, err)
	return z
}

func instant(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	require.NoError(t, err)
	return at
}

// when reads a FHIR date or dateTime.
func when(t testing.TB, s string) order.Instant {
	t.Helper()
	if s == "" {
		return order.Instant{}
	}
	if at, err := time.Parse("2006-01-02", s); err == nil {
		return order.Instant{Time: at, DateOnly: true, Literal: s}
	}
	return order.Instant{Time: instant(t, s), Literal: s}
}

func every(n string, unit string) quantity.Quantity {
	return quantity.Point(quantity.MustNumber(n), quantity.MustUnit(unit))
}

func lasts(n, unit string) order.Quantities {
	q := order.Quantity{Value: quantity.MustNumber(n), Unit: quantity.MustUnit(unit)}
	q.Low, q.High = q.Value, q.Value
	return order.Quantities{"duration": q}
}

// rules are those of the invented pharmacy of the scenarios.
func rules() plan.Rules {
	return plan.Rules{LongestDays: 7, NoDelivery: []time.Weekday{time.Sunday}, WarmUp: 3 * time.Hour, Teach: time.Hour,
		OpenFrom: 8 * time.Hour, OpenUntil: 20 * time.Hour, Tolerance: quantity.MustNumber("0.15"), FixedFlow: true}
}

// given is one dose on record.
func given(t testing.TB, drug, at, setting string) order.Administration {
	return order.Administration{Drug: order.Concept{Text: drug}, Start: when(t, at), Status: "completed", Setting: setting}
}

func leaves(t testing.TB, at string) order.Discharge {
	return order.Discharge{At: when(t, at), Inpatient: true, Planned: true, Status: "in-progress"}
}

func infusion(t testing.TB, drug, start, end string, timing schedule.Timing) order.Order {
	return order.Order{Drug: order.Drug{Name: drug}, Timing: timing, Course: order.Course{Start: when(t, start), End: when(t, end), Single: timing.Count == 1}}
}

func show(at time.Time) string {
	if at.IsZero() {
		return ""
	}
	return at.Format("Mon 2006-01-02T15:04:05Z07:00")
}

func arrivals(p plan.Plan) (at []string, units, days []int) {
	for _, d := range p.Deliveries {
		at, units, days = append(at, show(d.Arrival)), append(units, d.Units), append(days, d.DaysSupply)
	}
	return at, units, days
}

// The orders of the scenarios, as the hospital sends them.

func cefazolin(t testing.TB) (order.Order, order.Case) {
	o := infusion(t, "cefazolin", "2026-11-03T22:00:00-05:00", "2026-12-15T15:00:00-05:00", schedule.Timing{Frequency: 1, Period: every("8", "h")})
	return o, order.Case{Orders: []order.Order{o}, Discharges: []order.Discharge{leaves(t, "2026-11-10T15:00:00-05:00")},
		Administrations: []order.Administration{given(t, "cefazolin 2 g", "2026-11-10T14:00:00-05:00", "inpatient"), given(t, "cefazolin 2 g", "2026-11-03T22:00:00-05:00", "inpatient")}}
}

func fluorouracil(t testing.TB) (order.Order, order.Case) {
	o := infusion(t, "fluorouracil", "2026-10-31T11:00:00-04:00", "", schedule.Timing{Events: []time.Time{instant(t, "2026-10-31T11:00:00-04:00")}, Count: 1})
	return o, order.Case{Orders: []order.Order{o}, Administrations: []order.Administration{given(t, "fluorouracil", "2026-10-17T11:00:00-04:00", "community")}}
}

func daptomycin(t testing.TB, leaving string, doses ...string) (order.Order, order.Case) {
	o := infusion(t, "daptomycin", "2026-12-05T18:00:00-08:00", "2027-01-15", schedule.Timing{Frequency: 1, Period: every("1", "d"), TimesOfDay: []string{"18:00:00"}})
	c := order.Case{Orders: []order.Order{o}, Discharges: []order.Discharge{leaves(t, leaving)}}
	for _, d := range doses {
		c.Administrations = append(c.Administrations, given(t, "daptomycin", d, "inpatient"))
	}
	return o, c
}
