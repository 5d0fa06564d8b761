package api_test

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/r4"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/api"
)

// Lines are judged behind the request: the state says how far it is, and
// line i of the result is the answer to line i.
func TestLinesAreJudgedBehindTheRequest(t *testing.T) {
	var server api.Server
	h, _ := open(t, func(s *api.Server) { server = *s })
	var one bytes.Buffer
	require.NoError(t, json.Compact(&one, load(t, s1).Document))
	body := []byte(one.String() + "\n" + `{"resourceType":"Bundle","x":1}` + "\n" + one.String() + "\n")
	w := ask(t, h, "POST", verify, body, "Content-Type", "application/fhir+ndjson", "Prefer", "respond-async")
	require.Equal(t, http.StatusAccepted, w.Code, w.Body.String())
	place := strings.TrimPrefix(w.Header().Get("Content-Location"), "http://127.0.0.1:8765")
	state := ask(t, h, "GET", place, nil)
	for deadline := time.Now().Add(30 * time.Second); state.Code == http.StatusAccepted && time.Now().Before(deadline); state = ask(t, h, "GET", place, nil) {
		assert.Equal(t, "2", state.Header().Get("Retry-After"))
		assert.Contains(t, state.Header().Get("X-Progress"), "lines judged")
		time.Sleep(10 * time.Millisecond)
	}
	require.Equal(t, http.StatusOK, state.Code)
	var done struct {
		TransactionTime string
		Output, Error   []struct {
			Type, URL string
			Count     int
		}
	}
	require.NoError(t, json.Unmarshal(state.Body.Bytes(), &done))
	require.Len(t, done.Output, 1)
	require.Len(t, done.Error, 1)
	assert.Equal(t, 3, done.Output[0].Count)
	assert.Equal(t, 1, done.Error[0].Count)
	lines := strings.SplitAfter(ask(t, h, "GET", place+"/output", nil).Body.String(), "\n")
	require.Len(t, lines, 4)
	answer := adapter.Verify(one.Bytes(), adapter.Request{Now: server.Now(), Stage: "release", Reference: server.Reference, Judges: server.Judges})
	assert.Equal(t, string(r4.WriteBundlesLine(answer.Worksheets)), lines[0])
	assert.Contains(t, lines[1], "OperationOutcome")
	assert.Equal(t, lines[0], lines[2])
	assert.Equal(t, lines[1], ask(t, h, "GET", place+"/error", nil).Body.String())
	assert.Equal(t, http.StatusAccepted, ask(t, h, "DELETE", place, nil).Code)
	assert.Equal(t, http.StatusNotFound, ask(t, h, "GET", place, nil).Code)
}

func TestLinesWithoutAWishToWaitAreRefused(t *testing.T) {
	h, _ := open(t)
	assert.Equal(t, 415, ask(t, h, "POST", verify, []byte("{}\n"), "Content-Type", "application/fhir+ndjson").Code)
	assert.Equal(t, 404, ask(t, h, "GET", "/fhir/verify-run/none", nil).Code)
}
