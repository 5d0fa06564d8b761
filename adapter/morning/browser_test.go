package morning_test

import (
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

	"weir.example/weir/adapter/morning"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/adapter/worklist"
)

// TestBrowser opens the page of the night and the page to print in Chromium:
// axe finds nothing, and nothing is wider than the window.
func TestBrowser(t *testing.T) {
	tools := os.Getenv("WEIR_PAGES_TOOLS")
	if tools == "" {
		t.Skip("opens a real browser: bash .ci/pages/run")
	}
	s, lines := nights(t, 2)
	now := func() time.Time { return nightgen.Clock(30) }
	list, page := worklist.Pages{Store: s, Now: now}.Handler(), morning.Pages{Store: s, Now: now, Name: "Lanternlight"}.Handler()
	paper := written(t, morning.HTML, morning.Options{Name: "Lanternlight"}, lines)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/paper":
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			_, _ = w.Write([]byte(paper))
		case "/style.css", "/icon.svg":
			list.ServeHTTP(w, r)
		default:
			page.ServeHTTP(w, r)
		}
	}))
	defer server.Close()
	pages := []string{"/night", "/night/none", "/paper"}
	ask, err := json.Marshal(map[string]any{"Base": server.URL, "Pages": pages, "Hostile": []string{}, "Pictures": os.Getenv("WEIR_PICTURES")})
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "plan.json")
	require.NoError(t, os.WriteFile(file, ask, 0o600))
	out, err := exec.Command("node", filepath.Join("..", "..", ".ci", "pages", "check.js"), tools, file).Output()
	require.NoError(t, err, string(out))
	var a struct {
		Checked, Violations, Scripts, Reports, Elsewhere, Overflow int
		Details                                                    []string
	}
	require.NoError(t, json.Unmarshal(out, &a), string(out))
	assert.Empty(t, a.Details)
	assert.Equal(t, len(pages)*2*2, a.Checked)
	assert.Zero(t, a.Violations+a.Overflow+a.Scripts+a.Reports+a.Elsewhere)
}
