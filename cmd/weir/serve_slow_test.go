package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/api"
)

// A body that stands still is cut off with an answer, one that trickles at
// the end of its whole time; a slow answer to a whole body is not.
func TestABodyThatStandsStillIsCutOff(t *testing.T) {
	door := api.Server{Now: time.Now, NewID: func() string { return "made-1" }, Log: slog.New(slog.DiscardHandler)}.Handler()
	mux := http.NewServeMux()
	mux.Handle("/fhir/", door)
	mux.HandleFunc("/slow", func(w http.ResponseWriter, r *http.Request) {
		_, _ = io.Copy(io.Discard, r.Body)
		select {
		case <-r.Context().Done():
		case <-time.After(700 * time.Millisecond):
			_, _ = w.Write([]byte("answered"))
		}
	})
	s := httptest.NewUnstartedServer(unhurried(mux, 150*time.Millisecond, 500*time.Millisecond))
	s.Config.ReadTimeout = 500 * time.Millisecond
	s.Start()
	defer s.Close()
	for name, pause := range map[string]time.Duration{"stands still": time.Hour, "trickles": 50 * time.Millisecond} {
		c, err := net.Dial("tcp", s.Listener.Addr().String())
		require.NoError(t, err)
		began := time.Now()
		_, err = fmt.Fprintf(c, "POST /fhir/MedicationRequest/$verify HTTP/1.1\r\nHost: x\r\nContent-Type: application/fhir+json\r\nContent-Length: 1000\r\n\r\n{")
		require.NoError(t, err)
		gone := make(chan struct{})
		go func() {
			for {
				select {
				case <-gone:
					return
				case <-time.After(pause):
					_, _ = c.Write([]byte(" "))
				}
			}
		}()
		w, err := http.ReadResponse(bufio.NewReader(c), nil)
		close(gone)
		require.NoError(t, err, name)
		assert.Equal(t, http.StatusRequestTimeout, w.StatusCode, name)
		assert.Less(t, time.Since(began), 5*time.Second, name)
		_ = c.Close()
	}
	w, err := http.Post(s.URL+"/slow", "text/plain", bytes.NewReader([]byte("x")))
	require.NoError(t, err)
	body, err := io.ReadAll(w.Body)
	require.NoError(t, err)
	assert.Equal(t, "answered", string(body))
}
