package main

import (
	"bytes"
	"context"
	"encoding/json"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/store/storetest"
	"weir.example/weir/testdata/orders"
)

const doorOrder = "../../testdata/door/order.json"

// The order that the README sends is the first document of the examples as a
// transaction. WEIR_UPDATE=1 writes it anew.
func TestTheOrderOfTheReadmeIsTheExample(t *testing.T) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	var text bytes.Buffer
	require.NoError(t, json.Indent(&text, []byte(asTransaction(t, string(f.Document), "POST")), "", " "))
	text.WriteByte('\n')
	if os.Getenv("WEIR_UPDATE") != "" {
		require.NoError(t, os.MkdirAll(filepath.Dir(doorOrder), 0o755))
		require.NoError(t, os.WriteFile(doorOrder, text.Bytes(), 0o644))
	}
	have, err := os.ReadFile(doorOrder)
	require.NoError(t, err)
	assert.Equal(t, text.String(), string(have))
}

// The commands of "Try the door" do what it says, typed into a shell as they
// stand; only the port is another.
func TestTheDoorOfTheReadme(t *testing.T) {
	shell, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("no shell")
	}
	if _, err := exec.LookPath("curl"); err != nil && !storetest.Required() {
		t.Skip("no curl")
	}
	withoutTestSettings(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	_, free, _ := net.SplitHostPort(l.Addr().String())
	require.NoError(t, l.Close())
	folder := t.TempDir()
	self, err := filepath.Abs(os.Args[0])
	require.NoError(t, err)
	require.NoError(t, os.Mkdir(filepath.Join(folder, "bin"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "bin", "weir"), []byte("#!"+shell+"\n"+asProgram+"=weir exec '"+self+"' \"$@\"\n"), 0o700))

	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	c := exec.CommandContext(ctx, shell, "-eu", "-c", "trap 'kill $! 2>/dev/null' EXIT\n"+strings.ReplaceAll(block(t, "Try the door", "sh"), "8765", free)+"\ntrap - EXIT"+"\necho \"folder $d\"\n")
	c.Dir = "../.."
	c.Env = append(os.Environ(), "TMPDIR="+folder, "WEIR_LISTEN=127.0.0.1:"+free, "PATH="+filepath.Join(folder, "bin")+string(os.PathListSeparator)+os.Getenv("PATH"))
	c.WaitDelay = 5 * time.Second
	var out bytes.Buffer
	c.Stdout, c.Stderr = &out, &out
	require.NoError(t, c.Run(), out.String())
	for _, want := range []string{"listening on", "change-not-applied", "Review a change that was not applied", "It is stored", "here 105 doses planned", `"cancelled"`} {
		assert.Contains(t, out.String(), want)
	}
	_, rest, found := strings.Cut(out.String(), "folder ")
	require.True(t, found)
	made := strings.TrimSpace(rest)
	for name, want := range map[string]string{"answer.json": "201 Created", "stopped.json": `"status":"stopped"`, "judged.json": "MedicationDispense", "worklist.html": "<html"} {
		text, err := os.ReadFile(filepath.Join(made, name))
		require.NoError(t, err)
		assert.Contains(t, string(text), want, name)
	}
}
