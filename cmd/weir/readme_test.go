package main

import (
	"bytes"
	"context"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/settings"
)

// block is the first fenced block of a language in a section of the README.
func block(t *testing.T, section, language string) string {
	t.Helper()
	page, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	_, rest, found := strings.Cut(string(page), "\n## "+section+"\n")
	require.True(t, found, section)
	rest, _, _ = strings.Cut(rest, "\n## ")
	_, rest, found = strings.Cut(rest, "```"+language+"\n")
	require.True(t, found, language)
	text, _, _ := strings.Cut(rest, "```")
	return text
}

// The commands of "Run it as a service" do what it says, typed into a shell
// as they stand; only the folder and the ports are others.
func TestTheServiceOfTheReadme(t *testing.T) {
	shell, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("no shell")
	}
	withoutTestSettings(t)
	folder := t.TempDir()
	replace := []string{"/var/lib/weir", folder}
	for _, port := range []string{"8765", "8766"} {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(t, err)
		_, free, _ := net.SplitHostPort(l.Addr().String())
		require.NoError(t, l.Close())
		replace = append(replace, port, free)
	}
	here := strings.NewReplacer(replace...)
	write := func(name, content string, mode os.FileMode) {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(content), mode))
	}
	write("weir.yaml", here.Replace(block(t, "Run it as a service", "yaml")), 0o600)
	site := signedSite(t)
	for _, ending := range []string{"", ".signatures.json"} {
		data, err := os.ReadFile(site + ending)
		require.NoError(t, err)
		write("site.yaml"+ending, string(data), 0o600)
	}
	require.NoError(t, os.MkdirAll(filepath.Join(folder, "backups"), 0o700))
	require.NoError(t, os.MkdirAll(filepath.Join(folder, "bin"), 0o700))
	self, err := filepath.Abs(os.Args[0])
	require.NoError(t, err)
	write("bin/weir", "#!"+shell+"\n"+asProgram+"=weir exec '"+self+"' \"$@\"\n", 0o700)

	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	c := exec.CommandContext(ctx, shell, "-eu", "-c", here.Replace(block(t, "Run it as a service", "sh")))
	c.Env = append(os.Environ(), "PATH="+filepath.Join(folder, "bin")+string(os.PathListSeparator)+os.Getenv("PATH"))
	c.WaitDelay = 5 * time.Second
	var out bytes.Buffer
	c.Stdout, c.Stderr = &out, &out
	require.NoError(t, c.Run(), out.String())
	for _, want := range []string{"weir.yaml fits", "file " + folder + "/weir.yaml:6:", "weir serve answers on", "backup, checked", "restored, checked", "nothing to do"} {
		assert.Contains(t, out.String(), want)
	}
	first, _ := content(t, "sqlite:"+filepath.Join(folder, "weir.db"))
	second, _ := content(t, "sqlite:"+filepath.Join(folder, "again.db"))
	assert.Equal(t, first, second)
}

// The commands of "The night" do what it says; only the folder and the number
// of orders are others.
func TestTheNightOfTheReadme(t *testing.T) {
	shell, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("no shell")
	}
	if _, err := exec.LookPath("go"); err != nil {
		t.Skip("no go command")
	}
	withoutTestSettings(t)
	folder := t.TempDir()
	self, err := filepath.Abs(os.Args[0])
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(filepath.Join(folder, "bin"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "bin", "weir"), []byte("#!"+shell+"\n"+asProgram+"=weir exec '"+self+"' \"$@\"\n"), 0o700))
	text := strings.NewReplacer("/tmp/weir-nights", folder, "-orders 200", "-orders 20", "go run ./cmd/weir ", "weir ").Replace(block(t, "The night", "sh"))
	_, err = settings.ReadFile("f", []byte(block(t, "The night", "yaml")))
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
	defer cancel()
	c := exec.CommandContext(ctx, shell, "-eu", "-c", text)
	c.Dir = filepath.Join("..", "..")
	c.Env = append(os.Environ(), "PATH="+filepath.Join(folder, "bin")+string(os.PathListSeparator)+os.Getenv("PATH"))
	c.WaitDelay = 5 * time.Second
	var out bytes.Buffer
	c.Stdout, c.Stderr = &out, &out
	require.NoError(t, c.Run(), out.String())
	for _, want := range []string{"MORNING REPORT", "Automatic release", "RECALL of lot LL-261217-D", "Nobody has units of it"} {
		assert.Contains(t, out.String(), want)
	}
	page, err := os.ReadFile(filepath.Join(folder, "morning.html"))
	require.NoError(t, err)
	assert.Contains(t, string(page), "<h1>Morning report</h1>")
	assert.Contains(t, string(page), ">Before</th>")
}
