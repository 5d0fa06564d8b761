package night_test

import (
	"os"
	"strconv"
	"testing"
	"time"

	"weir.example/weir/adapter/night/nightgen"
)

// TestScale loads a hospital and runs an unchanged night, one with churn and
// one a day later, and says what each took. It runs when WEIR_NIGHT_ORDERS
// says with how many orders.
func TestScale(t *testing.T) {
	orders, _ := strconv.Atoi(os.Getenv("WEIR_NIGHT_ORDERS"))
	if orders == 0 {
		t.Skip("WEIR_NIGHT_ORDERS is not set")
	}
	workers := 2
	s := newSite(t)
	h := nightgen.Hospital{Orders: orders, Seed: 1}
	path := folder(t, h, 0)
	for _, step := range []struct {
		name string
		at   time.Time
	}{{"first load", nightgen.Clock(0)}, {"a minute later", nightgen.Clock(0).Add(time.Minute)}, {"an hour later", nightgen.Clock(1)},
		{"a day later", nightgen.Clock(24)}, {"two days later", nightgen.Clock(48)}} {
		start := time.Now()
		_, summary, unchanged := s.counted(t, path, step.at, workers)
		took := time.Since(start)
		t.Logf("%s: %d orders, %d passed over, %.1f s, %.0f orders/s", step.name, summary.Orders.Total, unchanged, took.Seconds(), float64(summary.Orders.Total)/took.Seconds())
	}
}
