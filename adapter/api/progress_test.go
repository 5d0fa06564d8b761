package api_test

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/store/storetest"
)

// A task is read, its status changed, and sent back with its ETag, as any FHIR
// client does it (https://hl7.org/fhir/R4/task.html, https://hl7.org/fhir/R4/http.html#concurrency).
func TestATaskIsDone(t *testing.T) {
	d := openStore(t)
	ask(t, d, "POST", "/fhir", transaction(t, s1, "POST"))
	byStatus := map[string]storetest.Task{}
	for _, x := range storetest.Tasks(t, d.store, d.orders(t)[0].Key) {
		if x.Code != "fulfill" {
			byStatus[x.Status] = x
		}
	}
	for status, want := range map[string]string{"requested": "", "draft": "task-not-begun"} {
		one, there := byStatus[status]
		if !there {
			continue
		}
		path := "/fhir/Task/" + one.ID
		read := ask(t, d, "GET", path, nil)
		body := bytes.Replace(read.Body.Bytes(), []byte(`"status":"`+status+`"`), []byte(`"status":"completed"`), 1)
		require.NotEqual(t, read.Body.String(), string(body))
		w := ask(t, d, "PUT", path, body)
		assert.Equal(t, 428, w.Code, "without If-Match")
		d.at(d.now.Load().Add(time.Minute))
		w = ask(t, d, "PUT", path, body, "If-Match", read.Header().Get("ETag"))
		if want != "" {
			assert.Equal(t, 409, w.Code)
			assert.Equal(t, want, fhir(t, w, "OperationOutcome").Get("issue").At(0).Get("details").Get("coding").At(0).Get("code").Text())
			continue
		}
		require.Equal(t, 200, w.Code, w.Body.String())
		assert.Equal(t, `W/"2"`, w.Header().Get("ETag"))
		assert.Equal(t, "completed", fhir(t, ask(t, d, "GET", path, nil), "Task").Get("status").Text())
		assert.Equal(t, 412, ask(t, d, "PUT", path, body, "If-Match", read.Header().Get("ETag")).Code, "somebody else was faster")

		var v map[string]any
		require.NoError(t, json.Unmarshal(body, &v))
		v["description"] = "Give it now"
		w = ask(t, d, "PUT", path, encode(t, v), "If-Match", `W/"2"`)
		assert.Equal(t, 409, w.Code)
		assert.Equal(t, "resource-ours", fhir(t, w, "OperationOutcome").Get("issue").At(0).Get("details").Get("coding").At(0).Get("code").Text())
	}
	found := fhir(t, ask(t, d, "GET", "/fhir/Task?status=completed", nil), "Bundle")
	assert.Len(t, found.Get("entry").Each(), 1)
	d.rows(t)
}
