package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/api"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/settings"
	"weir.example/weir/adapter/worklist"
	"weir.example/weir/conformance"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4/googlefhir"
)

// Times of a server: how long a client may take.
const (
	headerTime = 5 * time.Second
	bodyTime   = 30 * time.Second // the whole of it
	bodyIdle   = 15 * time.Second // without a byte
	idleTime   = 2 * time.Minute
)

func newServe(s streams) *cobra.Command {
	c := &cobra.Command{
		Use: "serve", Short: "Answer FHIR requests over HTTP on this machine and keep the record; $verify judges and keeps nothing",
		Example: "  weir serve\n  weir serve --listen 127.0.0.1:8765 --policy site.yaml\n  weir serve --config weir.yaml",
		Args:    noArgs,
	}
	from := addSettings(c, "serve")
	c.RunE = func(c *cobra.Command, _ []string) error {
		set, err := from.load(s)
		if err != nil {
			return err
		}
		for _, address := range []string{set.Listen, set.Inner} {
			if address != "" {
				if err := loopback(address); err != nil {
					return err
				}
			}
		}
		ref, err := reference(set.Policy)
		if err != nil {
			return usageError{err}
		}
		log := logger(s.err, set.Settings)
		record, err := openStore(c.Context(), set.Settings, opening{make: true, key: true})
		if err != nil {
			return err
		}
		by, err := newNightly(c.Context(), record, ref, set.Settings, s.now, log)
		if err != nil {
			return errors.Join(err, record.Close())
		}
		metrics := api.NewMetrics()
		metrics.Register(by)
		work, stop := context.WithCancel(c.Context())
		var background sync.WaitGroup
		background.Go(func() { by.work(work) })
		background.Go(func() { by.schedule(work) })
		if set.Retention.Days > 0 {
			background.Go(func() { retain(work, record, set.Retention.Days, s.now, newID, log) })
		}
		err = serve(c.Context(), s, set.Settings, api.Server{Store: record, Pages: pages(by.record, ref, set.Settings, s.now, log), Reference: ref, Judges: []schema.Judge{googlefhir.Judge}, Now: s.now, NewID: newID,
			Public: set.Public, Version: conformance.Version, Log: log, Metrics: metrics,
			Limits: limits(set.Settings)})
		stop()
		background.Wait()
		return errors.Join(err, by.queue.Close(), record.Close())
	}
	return c
}

// known answers only those who name this server as they were told to: without
// sign-in, a page of another site could otherwise have a browser on this
// machine read the record under a name of its own (DNS rebinding).
func known(next, elsewhere http.Handler, addresses ...string) http.Handler {
	hosts := map[string]bool{"localhost": true}
	for _, a := range addresses {
		if u, err := url.Parse(a); err == nil {
			hosts[strings.ToLower(u.Hostname())] = true
		}
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if name, _, err := net.SplitHostPort(host); err == nil {
			host = name
		}
		host = strings.ToLower(strings.Trim(host, "[]"))
		if ip := net.ParseIP(host); hosts[host] || ip != nil && ip.IsLoopback() {
			next.ServeHTTP(w, r)
			return
		}
		elsewhere.ServeHTTP(w, r)
	})
}

// newID makes an id that sorts by time (RFC 9562, version 7): what is written
// together then lies together in the database.
func newID() string { return uuid.Must(uuid.NewV7()).String() }

// pages are what people read.
func pages(record night.Record, ref policy.Reference, set settings.Settings, now func() time.Time, log *slog.Logger) http.Handler {
	desk := intake.Service{Store: record, Reference: ref, NewID: newID}
	p := worklist.Pages{Store: record, Now: now, Name: ref.Policy.Pharmacy.Name, Public: set.Public, Opened: func(ctx context.Context, o adapter.OrderLine) {
		if err := desk.Open(ctx, intake.Call{Now: now(), Agent: api.Operator}, o); err != nil {
			log.Error("that an order was looked at is not on record", "why", err.Error())
		}
	}}
	if zone, err := ref.Zones.Zone(ref.Policy.Home.Zone); err == nil {
		p.Zone = zone.Location
	}
	list, report := p.Handler(), nightPage(record, ref, now)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/night" {
			report.ServeHTTP(w, r)
			return
		}
		list.ServeHTTP(w, r)
	})
}

func limits(set settings.Settings) api.Limits {
	return api.Limits{Body: set.Limits.Body, AtOnce: set.Limits.AtOnce, Queue: set.Limits.Queue, Waiting: set.Limits.Waiting}
}

// logger writes the log as the settings say.
func logger(to io.Writer, set settings.Settings) *slog.Logger {
	var level slog.Level
	_ = level.UnmarshalText([]byte(set.Log.Level)) // one of four words
	options := &slog.HandlerOptions{Level: level}
	if set.Log.Format == "text" {
		return slog.New(slog.NewTextHandler(to, options))
	}
	return slog.New(slog.NewJSONHandler(to, options))
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
func serve(ctx context.Context, s streams, set settings.Settings, door api.Server) error {
	outside, err := net.Listen("tcp", set.Listen)
	if err != nil {
		return usageError{err}
	}
	here := "http://" + outside.Addr().String()
	if door.Public == "" {
		door.Public = here
	}
	ready := &atomic.Bool{}
	ready.Store(true)
	servers := []*http.Server{server(known(door.Handler(), door.Elsewhere(), here, door.Public), door.Log)}
	failed := make(chan error, 2)
	go func() { failed <- servers[0].Serve(outside) }()
	if set.Inner != "" {
		inside, err := net.Listen("tcp", set.Inner)
		if err != nil {
			_ = outside.Close()
			return usageError{err}
		}
		servers = append(servers, server(door.Metrics.Inner(ready), door.Log))
		go func() { failed <- servers[1].Serve(inside) }()
		fmt.Fprintf(s.err, "inner port on http://%s\n", inside.Addr())
	}
	fmt.Fprintf(s.err, "no sign-in: every request acts as the one person at this machine\nworklist at %s/\nlistening on %s/fhir\n", here, here)
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	ready.Store(false)
	drain, cancel := context.WithTimeout(context.WithoutCancel(ctx), set.Drain)
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

// unhurried cuts off a body that stands still for longer than idle; all of it
// has the time that the server gives. Once it is read, nothing is cut off any
// more: the answer may take longer.
func unhurried(next http.Handler, idle, whole time.Duration) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Body != http.NoBody {
			body := &slowBody{r.Body, http.NewResponseController(w), idle, time.Now().Add(whole)}
			body.wait() // for what is refused unread, too
			r.Body = body
		}
		next.ServeHTTP(w, r)
	})
}

type slowBody struct {
	io.ReadCloser
	connection *http.ResponseController
	idle       time.Duration
	end        time.Time
}

// wait gives the next bytes their time.
func (b *slowBody) wait() {
	until := time.Now().Add(b.idle)
	if b.end.Before(until) {
		until = b.end
	}
	_ = b.connection.SetReadDeadline(until) // a connection that is gone says so itself
}

func (b *slowBody) Read(p []byte) (int, error) {
	b.wait()
	n, err := b.ReadCloser.Read(p)
	if errors.Is(err, io.EOF) {
		_ = b.connection.SetReadDeadline(time.Time{})
	}
	return n, err
}

func server(h http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{Handler: unhurried(h, bodyIdle, bodyTime), ReadHeaderTimeout: headerTime, ReadTimeout: bodyTime, IdleTimeout: idleTime, MaxHeaderBytes: 64 << 10, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
}
