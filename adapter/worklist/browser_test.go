package worklist_test

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tools finds what the browser check needs. It runs in CI, where a missing
// tool is a failure, and where WEIR_PAGES asks for it: then on every page and
// with every payload (.ci/pages/run), else on a few.
func tools(t *testing.T) (node string, all bool) {
	all = os.Getenv("WEIR_PAGES") != ""
	if !all && os.Getenv("CI") == "" {
		t.Skip("opens a real browser: bash .ci/pages/run")
	}
	for _, tool := range []string{"npm", "chromium", "node"} {
		path, err := exec.LookPath(tool)
		require.NoError(t, err)
		node = path
	}
	return node, all
}

// plan is what the script is asked to do.
type plan struct {
	Base     string   // address of the pages
	Pages    []string // to be judged by axe, in two widths and both themes
	Hostile  []string // to be opened only: nothing may run and nothing may be asked for
	Pictures string   // folder for pictures, "" for none
}

type answer struct {
	Checked, Violations, Opened, Scripts, Reports, Elsewhere, Overflow int
	Details                                                            []string
}

// installed is a folder with the packages of .ci/pages, installed once a run.
// WEIR_PAGES_TOOLS names one that is there already.
var installed = func() func(t *testing.T) string {
	folder := os.Getenv("WEIR_PAGES_TOOLS")
	return func(t *testing.T) string {
		if folder != "" {
			return folder
		}
		made, err := os.MkdirTemp("", "weir-pages-") // outlives the test that asks first
		require.NoError(t, err)
		for _, name := range []string{"package.json", "package-lock.json"} {
			data, err := os.ReadFile(filepath.Join(script(t), name))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(made, name), data, 0o600))
		}
		out, err := exec.Command("npm", "ci", "--prefix", made, "--no-audit", "--no-fund", "--ignore-scripts", "--loglevel=error").CombinedOutput()
		require.NoError(t, err, string(out))
		folder, unpacked = made, made
		return folder
	}
}()

// unpacked is that folder when the run made it, to be removed at its end.
var unpacked string

func TestMain(m *testing.M) {
	code := m.Run()
	if unpacked != "" {
		_ = os.RemoveAll(unpacked)
	}
	os.Exit(code)
}

func script(t *testing.T) string {
	here, err := filepath.Abs(filepath.Join("..", "..", ".ci", "pages"))
	require.NoError(t, err)
	return here
}

// browse runs the script in real Chromium.
func browse(t *testing.T, node, folder string, p plan) answer {
	ask, err := json.Marshal(p)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "plan.json")
	require.NoError(t, os.WriteFile(file, ask, 0o600))
	ctx, cancel := context.WithTimeout(context.Background(), 15*time.Minute)
	defer cancel()
	run := exec.CommandContext(ctx, node, filepath.Join(script(t), "check.js"), folder, file)
	run.Stderr = os.Stderr
	out, err := run.Output()
	require.NoError(t, err, string(out))
	var a answer
	require.NoError(t, json.Unmarshal(out, &a), string(out))
	return a
}

// TestBrowser opens every page in Chromium: axe finds nothing, and nothing is
// wider than the window.
func TestBrowser(t *testing.T) {
	node, all := tools(t)
	fixtures := scenarios(t)
	if !all {
		fixtures = fixtures[3:4]
	}
	s, list := seeded(t, fixtures)
	p := pages(s)
	p.Rows = 8
	server := httptest.NewServer(p.Handler())
	defer server.Close()
	empty := httptest.NewServer(pages(opened(t)).Handler())
	defer empty.Close()
	ask := plan{Base: server.URL, Pages: []string{"/", "/?verdict=ready", "/?state=stopped", "/orders/none", empty.URL + "/"}, Pictures: os.Getenv("WEIR_PICTURES")}
	for _, k := range list {
		ask.Pages = append(ask.Pages, k.Path)
	}
	a := browse(t, node, installed(t), ask)
	for _, d := range a.Details {
		t.Error(d)
	}
	assert.Equal(t, len(ask.Pages)*2*2, a.Checked)
	assert.Zero(t, a.Violations+a.Overflow+a.Scripts+a.Reports+a.Elsewhere)
	t.Logf("%d pages × 2 widths × 2 themes: %d judged, %d axe violations; %d wider than the window at 1,280, 640 and 320", len(ask.Pages), a.Checked, a.Violations, a.Overflow)
}

// TestBrowserCheckSees gives the check pages with known faults: one that can
// not fail shows nothing.
func TestBrowserCheckSees(t *testing.T) {
	node, _ := tools(t)
	mux := http.NewServeMux()
	serve := func(path, policy, body string) {
		mux.HandleFunc(path, func(w http.ResponseWriter, _ *http.Request) {
			if policy != "" {
				w.Header().Set("Content-Security-Policy", policy)
			}
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			_, _ = w.Write([]byte(body))
		})
	}
	serve("/plain", "", `<!doctype html><html><body><p style="color:#bbb;background:#fff">pale</p><div style="width:3000px">wide</div></body></html>`)
	serve("/runs", "", `<!doctype html><html lang="en"><body><main><td><img src=x onerror="alert(1)"><script>prompt(1)</script><link rel="stylesheet" href="http://127.0.0.2:9/x.css"></main></body></html>`)
	serve("/refused", "default-src 'none'", `<!doctype html><html lang="en"><body><main><img src="/x.png" onerror="alert(1)"></main></body></html>`)
	server := httptest.NewServer(mux)
	defer server.Close()
	a := browse(t, node, installed(t), plan{Base: server.URL, Pages: []string{"/plain"}, Hostile: []string{"/runs", "/refused"}})
	assert.Equal(t, 4, a.Checked)
	assert.GreaterOrEqual(t, a.Violations, 8, "no language, no contrast")
	assert.Equal(t, 5, a.Overflow)
	assert.GreaterOrEqual(t, a.Scripts, 4, "alert, prompt, a script element, an attribute that runs")
	assert.GreaterOrEqual(t, a.Reports, 1)
	assert.GreaterOrEqual(t, a.Elsewhere, 1)
	t.Log(a.Violations, a.Overflow, a.Scripts, a.Reports, a.Elsewhere)
}
