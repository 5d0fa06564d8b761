package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/settings"
)

// start runs the server on free ports and gives its addresses, and a stop
// that returns the exit code.
func start(t *testing.T, args ...string) (outside, inside string, stop func() int) {
	return startLogged(t, io.Discard, args...)
}

// startLogged is start; what it says on standard error goes to log, whole
// once it has stopped.
func startLogged(t *testing.T, log io.Writer, args ...string) (outside, inside string, stop func() int) {
	ctx, cancel := context.WithCancel(context.Background())
	from, to := io.Pipe()
	code := make(chan int, 1)
	go func() {
		code <- run(ctx, append([]string{"serve", "--listen", "127.0.0.1:0", "--inner", "127.0.0.1:0"}, args...), streams{in: strings.NewReader(""), out: io.Discard, err: to, now: func() time.Time { return time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC) }})
		_ = to.Close()
	}()
	lines := bufio.NewScanner(from)
	for outside == "" && lines.Scan() {
		if a, ok := strings.CutPrefix(lines.Text(), "inner port on "); ok {
			inside = a
		}
		if a, ok := strings.CutPrefix(lines.Text(), "listening on "); ok {
			outside = a
		}
	}
	require.NotEmpty(t, outside)
	copied := make(chan struct{})
	go func() {
		defer close(copied)
		for lines.Scan() {
			fmt.Fprintln(log, lines.Text())
		}
		_, _ = io.Copy(log, from) // a line too long for a Scanner
	}()
	return outside, inside, func() int {
		cancel()
		defer func() { <-copied }()
		return <-code
	}
}

func status(t *testing.T, address string) int {
	r, err := http.Get(address)
	require.NoError(t, err)
	defer r.Body.Close()
	return r.StatusCode
}

func TestServeAnswersAndStops(t *testing.T) {
	outside, inside, stop := start(t)
	order, err := os.ReadFile("../../testdata/orders/s1-cefazolin-elastomeric/s1-cefazolin-elastomeric.json")
	require.NoError(t, err)
	r, err := http.Post(outside+"/MedicationRequest/$verify", "application/fhir+json", bytes.NewReader(order))
	require.NoError(t, err)
	body, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	assert.Equal(t, 200, r.StatusCode)
	assert.Contains(t, string(body), `"device-family"`)
	assert.Equal(t, 200, status(t, outside+"/metadata"))
	assert.Equal(t, 200, status(t, inside+"/readyz"))
	assert.Equal(t, 200, status(t, inside+"/metrics"))
	assert.Equal(t, 404, status(t, strings.TrimSuffix(outside, "/fhir")+"/metrics"), "never on the outer port")
	assert.Zero(t, stop())
	_, err = http.Get(outside + "/metadata")
	assert.Error(t, err, "nobody answers any more")
}

// A request whose body is still on its way when the stop comes is answered.
func TestAStopWaitsForWhatRuns(t *testing.T) {
	outside, _, stop := start(t)
	order, err := os.ReadFile("../../testdata/orders/s1-cefazolin-elastomeric/s1-cefazolin-elastomeric.json")
	require.NoError(t, err)
	body, feed := io.Pipe()
	answered := make(chan int, 1)
	go func() {
		r, err := http.Post(outside+"/MedicationRequest/$verify", "application/fhir+json", body)
		if err != nil {
			answered <- 0
			return
		}
		answered <- r.StatusCode
		_ = r.Body.Close()
	}()
	_, err = feed.Write(order[:20_000]) // more than a client keeps back: the server has the head
	require.NoError(t, err)
	time.Sleep(300 * time.Millisecond) // the server has taken the connection: nothing outside tells
	stopped := make(chan int, 1)
	go func() { stopped <- stop() }()
	require.Eventually(t, func() bool {
		c, err := net.DialTimeout("tcp", strings.TrimSuffix(strings.TrimPrefix(outside, "http://"), "/fhir"), time.Second)
		if err == nil {
			_ = c.Close()
		}
		return err != nil
	}, 5*time.Second, 5*time.Millisecond, "no new request is taken")
	_, err = feed.Write(order[20_000:])
	require.NoError(t, err)
	require.NoError(t, feed.Close())
	assert.Equal(t, 200, <-answered)
	assert.Zero(t, <-stopped)
}

func TestServeListensOnThisMachineOnly(t *testing.T) {
	for _, address := range []string{"0.0.0.0:8765", ":8765", "[::]:8765", "192.0.2.1:8765", "example.org:80", "8765"} {
		for _, flag := range []string{"--listen", "--inner"} {
			got := weir(t, "", "serve", "--listen", "127.0.0.1:0", flag, address)
			assert.Equal(t, 2, got.code, address)
			assert.Contains(t, got.err, "127.0.0.1")
		}
	}
	for _, address := range []string{"127.0.0.1:0", "[::1]:0", "localhost:0"} {
		assert.NoError(t, loopback(address))
	}
}

// What the settings say is what the server does.
func TestServeReadsItsSettings(t *testing.T) {
	file := filepath.Join(t.TempDir(), "weir.yaml")
	path := filepath.Join(t.TempDir(), "weir.db")
	require.NoError(t, os.WriteFile(file, []byte("public: https://orders.example.org/\nstore: sqlite:"+path+"\nlimits:\n  body: 1MiB\n"), 0o600))
	outside, _, stop := start(t, "--config", file)
	r, err := http.Get(outside + "/metadata")
	require.NoError(t, err)
	body, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	_ = r.Body.Close()
	assert.Contains(t, string(body), "https://orders.example.org/fhir")
	assert.NotContains(t, string(body), "example.org//")
	large := "{" + strings.Repeat(" ", 1<<20) + "}"
	r, err = http.Post(outside+"/MedicationRequest/$verify", "application/fhir+json", strings.NewReader(large))
	require.NoError(t, err)
	_ = r.Body.Close()
	assert.Equal(t, 413, r.StatusCode)
	assert.Zero(t, stop())
	assert.FileExists(t, path)
	assert.NoFileExists(t, path+"-wal", "the log is written into the file at the end")
	assert.FileExists(t, path+".key")

	require.NoError(t, os.WriteFile(file, []byte("store: sqlite:"+filepath.Join(filepath.Dir(path), "none", "weir.db")+"\n"), 0o600))
	got := weir(t, "", "serve", "--listen", "127.0.0.1:0", "--config", file)
	assert.Equal(t, 2, got.code)
	assert.Contains(t, got.err, "the folder is not there")
	got = weir(t, "", "serve", "--listen", "127.0.0.1:0", "--store", "postgres://weir@127.0.0.1:1/weir?sslmode=disable")
	assert.Equal(t, 5, got.code, got.err)
}

func TestTheLogIsWrittenAsTheSettingsSay(t *testing.T) {
	for _, x := range []struct{ level, format, want string }{{"info", "json", `"msg":"a"`}, {"info", "text", "msg=a"}, {"warn", "json", ""}} {
		var out bytes.Buffer
		var set settings.Settings
		set.Log.Level, set.Log.Format = x.level, x.format
		logger(&out, set).Info("a")
		if x.want == "" {
			assert.Empty(t, out.String())
		}
		assert.Contains(t, out.String(), x.want)
	}
}
