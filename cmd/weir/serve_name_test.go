package main

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/adapter/api"
)

// A name that is not the server's own gets nothing of the record.
func TestOnlyOwnNamesAreAnswered(t *testing.T) {
	h := known(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("the record")) }), api.Server{NewID: func() string { return "made-1" }}.Elsewhere(), "http://127.0.0.1:8765", "https://orders.lanternlight.example")
	for host, want := range map[string]int{"127.0.0.1:8765": 200, "localhost:8765": 200, "LOCALHOST": 200, "[::1]:8765": 200, "orders.lanternlight.example": 200, "Orders.Lanternlight.Example:443": 200,
		"evil.example": 421, "127.0.0.1.evil.example:8765": 421, "": 421, "192.0.2.7:8765": 421} {
		r := httptest.NewRequest("GET", "/", nil)
		r.Host = host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		assert.Equal(t, want, w.Code, host)
		if want != 200 {
			assert.NotContains(t, w.Body.String(), "record")
			assert.Contains(t, w.Body.String(), `"OperationOutcome","id":"made-1"`)
			assert.Contains(t, w.Body.String(), `"host-unknown"`)
			assert.Equal(t, "made-1", w.Header().Get("X-Request-Id"))
		}
	}
}
