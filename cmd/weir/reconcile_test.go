package main

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/adapter/night/nightgen"
)

// The exit of a night by the outside contract: 4 when lines failed and nothing
// is worse, and --fail-on never does not hide it.
func TestTheExitOfANight(t *testing.T) {
	now := nightgen.Clock(0).Format(time.RFC3339)
	run := func(folder string, args ...string) result {
		return weir(t, "", append([]string{"reconcile", "--store", "sqlite:" + filepath.Join(t.TempDir(), "weir.db"), "--now", now, "--output", "ndjson", folder}, args...)...)
	}
	whole, broken := t.TempDir(), t.TempDir()
	writeNight(t, nightgen.Hospital{Orders: 6, Seed: 3}, 0, whole)
	writeNight(t, nightgen.Hospital{Orders: 6, Seed: 3, Broken: 2}, 0, broken)
	for name, c := range map[string]struct {
		folder, failOn string
		want           int
	}{
		"nothing at block": {whole, "block", 0}, "nobody looked: held": {whole, "hold", 1}, "never": {whole, "never", 0},
		"lines failed, nothing worse": {broken, "block", 4}, "held, and lines failed": {broken, "hold", 1}, "never, and lines failed": {broken, "never", 4},
	} {
		r := run(c.folder, "--fail-on", c.failOn)
		assert.Equal(t, c.want, r.code, "%s: %s", name, r.err)
		lines := strings.Split(strings.TrimSpace(r.out), "\n")
		last := lines[len(lines)-1]
		assert.Contains(t, last, `{"night":`)
		if c.folder == broken {
			assert.Contains(t, last, `"autoRelease":"blocked"`)
			assert.Contains(t, last, "nightly-feed-silent")
			assert.Equal(t, 2, strings.Count(r.out, `{"file":`))
			continue
		}
		assert.Contains(t, last, `"autoRelease":"allowed"`)
	}
	for _, args := range [][]string{{"--output", "pdf"}, {"--workers", "0"}, {"--now", "yesterday"}, {"--fail-on", "x"}} {
		assert.Equal(t, exitUsage, run(whole, args...).code, args)
	}
	assert.Equal(t, exitUsage, run(filepath.Join(whole, "nowhere")).code)
	assert.Equal(t, exitUnreadable, run(t.TempDir()).code)
}
