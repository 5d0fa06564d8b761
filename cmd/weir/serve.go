package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"sync/atomic"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"weir.example/weir/adapter/api"
	"weir.example/weir/conformance"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/r4/googlefhir"
)

// Times of a server: how long a client may take, and how long a stop waits
// for requests that run.
const (
	headerTime = 5 * time.Second
	bodyTime   = 30 * time.Second
	idleTime   = 2 * time.Minute
	drainTime  = 20 * time.Second
)

func newServe(s streams) *cobra.Command {
	var listen, inner, policyFile string
	c := &cobra.Command{
		Use: "serve", Short: "Answer FHIR requests over HTTP on this machine: $verify judges and keeps nothing",
		Example: "  weir serve\n  weir serve --listen 127.0.0.1:8765 --policy site.yaml",
		Args:    noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			ref, err := reference(policyFile)
			if err != nil {
				return usageError{err}
			}
			return serve(c.Context(), s, listen, inner, api.Server{Reference: ref, Judges: []schema.Judge{googlefhir.Judge}, Now: s.now, NewID: func() string { return uuid.NewString() },
				Version: conformance.Version, Log: slog.New(slog.NewJSONHandler(s.err, nil)), Metrics: api.NewMetrics()})
		},
	}
	c.Flags().StringVar(&listen, "listen", "127.0.0.1:8765", "address of the FHIR door, on this machine only: there is no sign-in yet")
	c.Flags().StringVar(&inner, "inner", "", "address of /livez, /readyz and /metrics, on this machine only; empty: none")
	c.Flags().StringVar(&policyFile, "policy", "", "the site's policy (YAML)")
	return c
}

// loopback refuses an address that others could reach: without sign-in every
// request acts as the one person at this machine.
func loopback(address string) error {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return usageError{fmt.Errorf("%q is no address: need host:port, for example 127.0.0.1:8765", address)}
	}
	if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
		return nil
	}
	return usageError{fmt.Errorf("%q can be reached from elsewhere, and there is no sign-in yet: listen on 127.0.0.1 or [::1]", address)}
}

// serve listens until it is told to stop, answers what runs, and ends.
func serve(ctx context.Context, s streams, listen, inner string, door api.Server) error {
	for _, address := range []string{listen, inner} {
		if address != "" {
			if err := loopback(address); err != nil {
				return err
			}
		}
	}
	outside, err := net.Listen("tcp", listen)
	if err != nil {
		return usageError{err}
	}
	door.Public = "http://" + outside.Addr().String()
	ready := &atomic.Bool{}
	ready.Store(true)
	servers := []*http.Server{server(door.Handler())}
	failed := make(chan error, 2)
	go func() { failed <- servers[0].Serve(outside) }()
	if inner != "" {
		inside, err := net.Listen("tcp", inner)
		if err != nil {
			_ = outside.Close()
			return usageError{err}
		}
		servers = append(servers, server(door.Metrics.Inner(ready)))
		go func() { failed <- servers[1].Serve(inside) }()
		fmt.Fprintf(s.err, "inner port on http://%s\n", inside.Addr())
	}
	fmt.Fprintf(s.err, "no sign-in: every request acts as the one person at this machine\nlistening on %s/fhir\n", door.Public)
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	ready.Store(false)
	drain, cancel := context.WithTimeout(context.WithoutCancel(ctx), drainTime)
	defer cancel()
	var first error
	for _, x := range servers {
		if err := x.Shutdown(drain); err != nil && first == nil {
			first = err
		}
	}
	if errors.Is(first, context.DeadlineExceeded) {
		fmt.Fprintln(s.err, "stopped; requests that still ran were cut off")
		return nil
	}
	return first
}

func server(h http.Handler) *http.Server {
	return &http.Server{Handler: h, ReadHeaderTimeout: headerTime, ReadTimeout: bodyTime, IdleTimeout: idleTime, MaxHeaderBytes: 32 << 10, ErrorLog: slog.NewLogLogger(slog.NewJSONHandler(os.Stderr, nil), slog.LevelWarn)}
}
