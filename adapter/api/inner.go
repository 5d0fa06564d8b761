package api

import (
	"net/http"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Metrics count requests by method, route and status; nothing of a request
// becomes a label.
type Metrics struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec
	took     *prometheus.HistogramVec
}

// NewMetrics makes an empty set of its own.
func NewMetrics() *Metrics {
	m := &Metrics{registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "weir_http_requests_total", Help: "Requests answered."}, []string{"method", "route", "status"}),
		took:     prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "weir_http_request_seconds", Help: "Time to answer a request.", Buckets: prometheus.ExponentialBuckets(0.001, 2, 14)}, []string{"route"})}
	m.registry.MustRegister(m.requests, m.took)
	return m
}

// Register adds metrics of another part of the server.
func (m *Metrics) Register(more ...prometheus.Collector) { m.registry.MustRegister(more...) }

func (m *Metrics) observe(method, route string, status int, took time.Duration) {
	m.requests.WithLabelValues(method, route, strconv.Itoa(status)).Inc()
	m.took.WithLabelValues(route).Observe(took.Seconds())
}

// Inner serves whether the program lives, whether it takes requests, and its
// metrics, for an address that only who runs it can reach.
func (m *Metrics) Inner(ready *atomic.Bool) http.Handler {
	r := chi.NewRouter()
	r.Get("/livez", func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("ok\n")) })
	r.Get("/readyz", func(w http.ResponseWriter, _ *http.Request) {
		if !ready.Load() {
			http.Error(w, "stopping", http.StatusServiceUnavailable)
			return
		}
		_, _ = w.Write([]byte("ok\n"))
	})
	r.Handle("/metrics", promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{}))
	return r
}
