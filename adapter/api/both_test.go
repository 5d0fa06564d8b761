package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/api"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/postgres"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/adapter/store/storetest"
)

type keeping interface {
	adapter.Store
	adapter.Keeper
}

// server is the private PostgreSQL of these tests, started when first asked
// for.
var (
	started atomic.Bool
	server  = sync.OnceValues(func() (*storetest.Server, error) {
		if !started.Load() {
			return nil, storetest.ErrNoServer
		}
		return storetest.StartServer()
	})
)

func TestMain(m *testing.M) {
	code := m.Run()
	if s, err := server(); started.Load() && err == nil {
		_ = s.Close()
	}
	os.Exit(code)
}

// eachStore runs a test over both databases.
func eachStore(t *testing.T, f func(t *testing.T, s keeping)) {
	t.Run("sqlite", func(t *testing.T) {
		s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "weir.db"), store.Options{Migrate: true})
		require.NoError(t, err)
		defer func() { require.NoError(t, s.Close()) }()
		f(t, s)
	})
	t.Run("postgres", func(t *testing.T) {
		started.Store(true)
		pg, err := server()
		if errors.Is(err, storetest.ErrNoServer) && !storetest.Required() {
			t.Skip(err)
		}
		require.NoError(t, err)
		s, err := postgres.Open(context.Background(), pg.Fresh(t), store.Options{Migrate: true})
		require.NoError(t, err)
		defer func() { require.NoError(t, s.Close()) }()
		f(t, s)
	})
}

// listen serves a store over a real port.
func listen(t *testing.T, s adapter.Store, limits api.Limits) (*httptest.Server, *http.Client) {
	h, _ := open(t, func(x *api.Server) {
		x.Store, x.Now, x.Limits = s, time.Now, limits
		var n atomic.Int64
		x.NewID = func() string { return fmt.Sprintf("n-%d", n.Add(1)) }
	})
	l := httptest.NewServer(h)
	t.Cleanup(l.Close)
	return l, &http.Client{Transport: &http.Transport{MaxIdleConns: 256, MaxIdleConnsPerHost: 256}}
}

func number(name string, other int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil {
		return n
	}
	return other
}

// Sixty-four clients create one patient at once by its identifier, round
// after round, over HTTP: in each round exactly one is told that it created.
func TestOfManyCreatesOneCreates(t *testing.T) {
	rounds := number("WEIR_HTTP_ROUNDS", 10)
	eachStore(t, func(t *testing.T, s keeping) {
		l, client := listen(t, s, api.Limits{AtOnce: 64, Queue: 256, Waiting: time.Minute})
		places := map[string]bool{}
		for round := range rounds {
			body := fmt.Sprintf(`{"resourceType":"Patient","identifier":[{"system":"urn:oid:1.2.3","value":"%d"}],"name":[{"family":"Lindqvist","given":["Ada"]}],"birthDate":"1980-01-02"}`, round)
			var mu sync.Mutex
			answers := map[int]int{}
			var wait sync.WaitGroup
			for range 64 {
				wait.Go(func() {
					r, _ := http.NewRequest(http.MethodPost, l.URL+"/fhir/Patient", bytes.NewReader([]byte(body)))
					r.Header.Set("Content-Type", "application/fhir+json")
					r.Header.Set("If-None-Exist", fmt.Sprintf("identifier=urn:oid:1.2.3|%d", round))
					r.Header.Set("Prefer", "return=minimal")
					w, err := client.Do(r)
					if !assert.NoError(t, err) {
						return
					}
					_ = w.Body.Close()
					mu.Lock()
					answers[w.StatusCode]++
					places[w.Header.Get("Location")+w.Header.Get("Content-Location")] = true
					mu.Unlock()
				})
			}
			wait.Wait()
			require.Equal(t, map[int]int{201: 1, 200: 63}, answers, round)
		}
		assert.Len(t, places, rounds)
		t.Logf("%d rounds of 64 clients: 1 created and 63 found in each", rounds)
	})
}

// took are the times of requests, from when each was due.
type took struct {
	mu     sync.Mutex
	times  []time.Duration
	status map[int]int
	keys   map[string]bool // of orders that were acknowledged
}

func (x *took) at(p float64) time.Duration {
	if len(x.times) == 0 {
		return 0
	}
	slices.Sort(x.times)
	return x.times[min(len(x.times)-1, int(p*float64(len(x.times))))].Round(100 * time.Microsecond)
}

// offer sends orders at a fixed rate, whether they are answered or not.
func offer(t *testing.T, client *http.Client, url string, body func(int) ([]byte, string), rate float64, during time.Duration, from int) *took {
	x := &took{status: map[int]int{}, keys: map[string]bool{}}
	var wait sync.WaitGroup
	begin := time.Now()
	n := int(rate * during.Seconds())
	for i := range n {
		due := begin.Add(time.Duration(float64(i) / rate * float64(time.Second)))
		time.Sleep(time.Until(due))
		wait.Go(func() {
			data, key := body(from + i)
			r, _ := http.NewRequest(http.MethodPost, url, bytes.NewReader(data))
			r.Header.Set("Content-Type", "application/fhir+json")
			w, err := client.Do(r)
			if !assert.NoError(t, err) {
				return
			}
			_ = w.Body.Close()
			x.mu.Lock()
			defer x.mu.Unlock()
			x.status[w.StatusCode]++
			if w.StatusCode == 200 {
				x.times = append(x.times, time.Since(due))
				x.keys[key] = true
			}
		})
	}
	wait.Wait()
	return x
}

// Orders are offered at rates up to twice what the server can do. What is
// acknowledged is stored; what is too much is refused with 503, not lost.
// WEIR_LOAD is how many seconds each rate takes; without it the test is short
// and shows only that.
func TestLoad(t *testing.T) {
	seconds := number("WEIR_LOAD", 0)
	rates := []float64{40}
	if seconds > 0 {
		rates = []float64{20, 40, 60, 80, 120, 160}
	}
	whole := transaction(t, s1, "POST")
	for name, base := range map[string][]byte{"short": lean(t, whole), "whole": whole} {
		body, key := numbered(t, base)
		eachStore(t, func(t *testing.T, s keeping) {
			l, client := listen(t, s, api.Limits{AtOnce: 16, Queue: 32, Waiting: time.Second})
			from := 0
			for _, rate := range rates {
				x := offer(t, client, l.URL+"/fhir", func(n int) ([]byte, string) { return body(n), key(n) }, rate, max(time.Duration(seconds)*time.Second, time.Second), from)
				from += 1_000_000
				for status := range x.status {
					assert.Contains(t, []int{200, 429, 503}, status)
				}
				for k := range x.keys {
					_, err := s.Order(context.Background(), k)
					assert.NoError(t, err, "acknowledged and not stored")
				}
				t.Logf("%s (%d bytes), %.0f orders a second offered: %v, p50 %v, p99 %v", name, len(base), rate, x.status, x.at(0.5), x.at(0.99))
			}
			health, err := s.Check(context.Background())
			require.NoError(t, err)
			assert.Empty(t, health.Problems)
		})
	}
}

// lean keeps what a short order document has: about 10 KB.
func lean(t *testing.T, base []byte) []byte {
	keep := []string{"Patient", "MedicationRequest", "Medication", "Encounter", "AllergyIntolerance", "DeviceRequest", "Practitioner"}
	var doc map[string]any
	require.NoError(t, json.Unmarshal(base, &doc))
	var entries []any
	for _, e := range doc["entry"].([]any) {
		if slices.Contains(keep, e.(map[string]any)["resource"].(map[string]any)["resourceType"].(string)) {
			entries = append(entries, e)
		}
	}
	doc["entry"] = entries
	return encode(t, doc)
}

// numbered makes orders of different patients from one document.
func numbered(t *testing.T, base []byte) (body func(int) []byte, key func(int) string) {
	var doc struct {
		Entry []struct {
			Resource struct {
				ResourceType string
				Identifier   []struct{ System, Value string }
			}
		}
	}
	require.NoError(t, json.Unmarshal(base, &doc))
	ids := map[string][2]string{}
	for _, e := range doc.Entry {
		if len(e.Resource.Identifier) > 0 {
			ids[e.Resource.ResourceType] = [2]string{e.Resource.Identifier[0].System, e.Resource.Identifier[0].Value}
		}
	}
	order, patient := ids["MedicationRequest"], ids["Patient"]
	body = func(n int) []byte {
		out := bytes.ReplaceAll(base, []byte(order[1]), fmt.Appendf(nil, "%s-%d", order[1], n))
		out = bytes.ReplaceAll(out, []byte(patient[1]), fmt.Appendf(nil, "%s-%d", patient[1], n))
		return bytes.ReplaceAll(out, []byte("https://marrowgate.example/fhir/"), fmt.Appendf(nil, "https://marrowgate.example/n%d/fhir/", n))
	}
	return body, func(n int) string { return fmt.Sprintf("%s|%s-%d", order[0], order[1], n) }
}
