package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/api"
	"weir.example/weir/adapter/settings"
)

// Each source in turn, as a person would type it.
func TestConfigShowSaysWhoSaidSo(t *testing.T) {
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	shown := func(name string, args ...string) string {
		r := weir(t, "", append([]string{"config", "show", "--source"}, args...)...)
		require.Equal(t, 0, r.code, r.err)
		for line := range strings.Lines(r.out) {
			if first, rest, _ := strings.Cut(line, " "); first == name {
				return strings.Join(strings.Fields(rest), " ")
			}
		}
		t.Fatalf("%s is not shown", name)
		return ""
	}
	assert.Equal(t, "20s default", shown("drain"))
	usual := filepath.Join(os.Getenv("XDG_CONFIG_HOME"), "weir", "weir.yaml")
	require.NoError(t, os.MkdirAll(filepath.Dir(usual), 0o700))
	require.NoError(t, os.WriteFile(usual, []byte("drain: 10s\n"), 0o600))
	assert.Equal(t, "10s file "+usual+":1:8", shown("drain"), "the usual file is read when it is there")
	second := filepath.Join(t.TempDir(), "b.yaml")
	require.NoError(t, os.WriteFile(second, []byte("drain: 11s\n"), 0o600))
	t.Setenv("WEIR_CONFIG", second)
	assert.Equal(t, "11s file "+second+":1:8", shown("drain"))
	third := filepath.Join(t.TempDir(), "c.yaml")
	require.NoError(t, os.WriteFile(third, []byte("# ours\n\ndrain: 12s\nlog:\n  level: warn\n"), 0o600))
	assert.Equal(t, "12s file "+third+":3:8", shown("drain", "--config", third))
	assert.Equal(t, "warn file "+third+":5:10", shown("log.level", "--config", third))
	t.Setenv("WEIR_DRAIN", "13s")
	assert.Equal(t, "13s environment WEIR_DRAIN", shown("drain", "--config", third))
	assert.Equal(t, "14s flag --drain", shown("drain", "--config", third, "--drain", "14s"))
	assert.Equal(t, "https://a https://b:1 flag --message-targets", shown("message.targets", "--message-targets", "https://a", "--message-targets", "https://b:1"))
	t.Setenv("WEIR_MESSAGE_TARGETS", "https://c https://d")
	assert.Equal(t, "https://c https://d environment WEIR_MESSAGE_TARGETS", shown("message.targets"))

	r := weir(t, "", "config", "show", "--output", "json")
	var list []map[string]any
	require.NoError(t, json.Unmarshal([]byte(r.out), &list))
	require.Len(t, list, len(settings.Table()))
	for _, x := range list {
		for _, key := range []string{"name", "value", "source", "default", "flag", "environment", "text", "commands"} {
			assert.Contains(t, x, key)
		}
	}
	t.Setenv("WEIR_DRAN", "1s")
	assert.Contains(t, weir(t, "", "config", "show").err, "WEIR_DRAN in the environment is no setting")
}

func TestWrongSettingsAreExit2(t *testing.T) {
	folder := t.TempDir()
	bad := filepath.Join(folder, "bad.yaml")
	require.NoError(t, os.WriteFile(bad, []byte("drain: 10s\nlisten: 8765\nlimits:\n  at_once: 3\n"), 0o600))
	for _, args := range [][]string{{"config", "check", bad}, {"config", "show", "--config", bad}, {"serve", "--config", bad}, {"doctor", "--config", bad}, {"backup", "--config", bad, folder}} {
		r := weir(t, "", args...)
		assert.Equal(t, 2, r.code, args)
		said := r.out + r.err
		assert.Contains(t, said, bad+":2:9: listen: is no text; need host:port")
		assert.Contains(t, said, bad+":4:3: limits.at_once: is no setting; need one of body, atOnce, queue, waiting")
	}
	good := filepath.Join(folder, "good.yaml")
	require.NoError(t, os.WriteFile(good, []byte("drain: 10s\n"), 0o600))
	r := weir(t, "", "config", "check", good)
	assert.Equal(t, 0, r.code)
	assert.Empty(t, r.out)
	assert.Contains(t, r.err, "fits")
	for _, args := range [][]string{{"config", "check"}, {"config", "check", filepath.Join(folder, "none")}, {"config", "show", "--config", filepath.Join(folder, "none")}, {"config", "show", "--output", "xml"}, {"config", "show", "--drain", "1h"}, {"config", "nope"}} {
		r := weir(t, "", args...)
		assert.Equal(t, 2, r.code, args)
		assert.Empty(t, r.out)
		assert.NotEmpty(t, r.err)
	}
	t.Setenv("WEIR_LOG_LEVEL", "loud")
	r = weir(t, "", "serve")
	assert.Equal(t, 2, r.code)
	assert.Contains(t, r.err, `environment WEIR_LOG_LEVEL: log.level: "loud" is none of them; need debug, info, warn or error`)
}

// Every command that the table names is there and has the flag.
func TestEverySettingIsAFlagOfItsCommands(t *testing.T) {
	root := newRoot(streams{})
	for _, s := range settings.Table() {
		for _, name := range s.Commands {
			c, _, err := root.Find([]string{name})
			require.NoError(t, err)
			require.Equal(t, name, c.Name())
			assert.NotNil(t, c.Flags().Lookup(s.Flag()), "%s --%s", name, s.Flag())
		}
	}
}

func TestManualAndCompletion(t *testing.T) {
	r := weir(t, "", "man")
	require.Equal(t, 0, r.code, r.err)
	assert.Contains(t, r.out, `.TH "WEIR" "1"`)
	r = weir(t, "", "man", "tables", "sign")
	require.Equal(t, 0, r.code, r.err)
	assert.Contains(t, r.out, "--license")
	assert.NotContains(t, r.out, "Auto generated")
	assert.Equal(t, 2, weir(t, "", "man", "nope").code)
	folder := t.TempDir()
	require.Equal(t, 0, weir(t, "", "man", "--folder", folder).code)
	for _, name := range []string{"weir.1", "weir-verify.1", "weir-config-show.1", "weir-backup.1"} {
		assert.FileExists(t, filepath.Join(folder, name))
	}
	assert.Equal(t, 2, weir(t, "", "man", "--folder", filepath.Join(folder, "none")).code)
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		r := weir(t, "", "completion", shell)
		assert.Equal(t, 0, r.code, r.err)
		assert.Contains(t, r.out, "weir")
	}
}

// The commands of the outside contract that stand alone.
func TestTheCommandsOfTheContract(t *testing.T) {
	root := newRoot(streams{})
	root.InitDefaultCompletionCmd()
	for _, name := range []string{"verify", "compute", "serve", "explain", "tables", "backup", "restore", "migrate", "doctor", "config", "version", "completion", "man"} {
		c, _, err := root.Find([]string{name})
		require.NoError(t, err)
		assert.Equal(t, name, c.Name())
	}
}

// A door without settings and one with the settings' defaults are the same.
func TestTheDefaultsAreThoseOfTheDoor(t *testing.T) {
	set, err := settings.Load(settings.Input{})
	require.NoError(t, err)
	want := api.DefaultLimits
	want.Took = 0 // no setting
	assert.Equal(t, want, limits(set.Settings))
}
