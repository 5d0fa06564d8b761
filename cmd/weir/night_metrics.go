package main

import (
	"context"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"weir.example/weir/adapter/night"
)

// nightMetrics are read from the record when somebody asks, so that a night
// that another process ran counts too. Labels are of fixed words.
var nightMetrics = struct{ last, orders, found, failed, release, seconds, runs, jobs, readable *prometheus.Desc }{
	prometheus.NewDesc("weir_night_last_run_timestamp_seconds", "The clock of the last night, since 1970.", nil, nil),
	prometheus.NewDesc("weir_night_orders", "Orders of the last night by what became of them.", []string{"state"}, nil),
	prometheus.NewDesc("weir_night_orders_found", "Orders of the last night by the strictest gate of what was found.", []string{"gate"}, nil),
	prometheus.NewDesc("weir_night_failed_lines", "Lines of the last night that could not be read.", nil, nil),
	prometheus.NewDesc("weir_night_autorelease", "Whether the last night allows automatic release: 1 or 0.", nil, nil),
	prometheus.NewDesc("weir_night_seconds", "How long the last night took that this server ran.", nil, nil),
	prometheus.NewDesc("weir_night_runs_total", "Nights that this server ran.", []string{"outcome"}, nil),
	prometheus.NewDesc("weir_queue_jobs", "Background jobs that are not done.", []string{"state"}, nil),
	prometheus.NewDesc("weir_night_record_readable", "Whether the record could be read for these numbers: 1 or 0.", nil, nil),
}

// Describe and Collect make it a collector of metrics.
func (n *nightly) Describe(to chan<- *prometheus.Desc) { prometheus.DescribeByCollect(n, to) }

func (n *nightly) Collect(to chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	value := func(d *prometheus.Desc, kind prometheus.ValueType, v float64, label ...string) {
		to <- prometheus.MustNewConstMetric(d, kind, v, label...)
	}
	gauge := func(d *prometheus.Desc, v int, label ...string) {
		value(d, prometheus.GaugeValue, float64(v), label...)
	}
	value(nightMetrics.runs, prometheus.CounterValue, float64(n.runs.Load()), "done")
	value(nightMetrics.runs, prometheus.CounterValue, float64(n.failures.Load()), "failed")
	value(nightMetrics.seconds, prometheus.GaugeValue, float64(n.took.Load())/1000)
	counts, err := n.queue.Counts(ctx)
	if err == nil {
		gauge(nightMetrics.jobs, counts.Waiting, "waiting")
		gauge(nightMetrics.jobs, counts.Running, "running")
		gauge(nightMetrics.jobs, counts.Failed, "failed")
	}
	last, ok, err2 := night.ReadLast(ctx, n.record)
	readable := 0
	if err == nil && err2 == nil {
		readable = 1
	}
	gauge(nightMetrics.readable, readable)
	if err2 != nil || !ok {
		return
	}
	s := last.Summary
	if at, err := time.Parse(time.RFC3339, s.Now); err == nil {
		value(nightMetrics.last, prometheus.GaugeValue, float64(at.Unix()))
	}
	for _, x := range []struct {
		state string
		n     int
	}{{"new", s.Orders.New}, {"changed", s.Orders.Changed}, {"unchanged", s.Orders.Unchanged}, {"absent", s.Orders.Absent}, {"older", s.Orders.Older}} {
		gauge(nightMetrics.orders, x.n, x.state)
	}
	for _, x := range []struct {
		gate string
		n    int
	}{{"block", s.Found.Block}, {"hold", s.Found.Hold}, {"warn", s.Found.Warn}, {"note", s.Found.Note}} {
		gauge(nightMetrics.found, x.n, x.gate)
	}
	gauge(nightMetrics.failed, s.Failed)
	allowed := 0
	if s.AutoRelease == "allowed" {
		allowed = 1
	}
	gauge(nightMetrics.release, allowed)
}
