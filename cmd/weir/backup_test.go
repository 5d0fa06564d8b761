package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/settings"
	"weir.example/weir/adapter/store/storetest"
)

// child starts this test as a program of its own.
func child(t *testing.T, as string, args ...string) *exec.Cmd {
	c := exec.Command(os.Args[0], args...)
	c.Env = append(os.Environ(), asProgram+"="+as)
	c.Stderr = os.Stderr
	return c
}

var postgresServer = sync.OnceValues(storetest.StartServer)

// postgresStarted says that there is a server to be stopped at the end.
var postgresStarted atomic.Bool

func sum(data []byte) string { return fmt.Sprintf("%d bytes %x", len(data), sha256.Sum256(data)) }

// freshPostgres is the address of an empty database of a real server.
func freshPostgres(t *testing.T) string {
	t.Helper()
	server, err := postgresServer()
	if errors.Is(err, storetest.ErrNoServer) && !storetest.Required() {
		t.Skip("no PostgreSQL")
	}
	require.NoError(t, err)
	postgresStarted.Store(true)
	return asURL(server.Fresh(t))
}

// asURL is a list of settings of a database as an address.
func asURL(list string) string {
	words := map[string]string{}
	for _, w := range strings.Fields(list) {
		name, value, _ := strings.Cut(w, "=")
		words[name] = value
	}
	return "postgres://" + words["user"] + "@/" + words["dbname"] + "?host=" + url.QueryEscape(words["host"])
}

func kinds(t *testing.T, test func(*testing.T, func(*testing.T) string)) {
	t.Run("sqlite", func(t *testing.T) {
		test(t, func(t *testing.T) string { return "sqlite:" + filepath.Join(t.TempDir(), "weir.db") })
	})
	t.Run("postgres", func(t *testing.T) { test(t, freshPostgres) })
}

// While a program of its own writes, backups are made, restored and compared
// with a store that holds the same orders and was written in peace.
func TestBackupWhileOthersWrite(t *testing.T) {
	kinds(t, func(t *testing.T, fresh func(*testing.T) string) {
		address, folder := fresh(t), t.TempDir()
		writing := child(t, "writer", address)
		said, err := writing.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, writing.Start())
		defer func() { _ = writing.Process.Kill(); _ = writing.Wait() }()
		var told atomic.Int64
		first := make(chan struct{})
		go func() {
			for lines := bufio.NewScanner(said); lines.Scan(); {
				n, _ := strconv.ParseInt(lines.Text(), 10, 64)
				if told.Store(n + 1); n == 20 {
					close(first)
				}
			}
		}()
		<-first

		quiet := "sqlite:" + filepath.Join(t.TempDir(), "quiet.db")
		s, err := openStore(t.Context(), settings.Settings{Store: quiet}, opening{make: true})
		require.NoError(t, err)
		defer func() { require.NoError(t, s.Close()) }()
		written := 0
		for n := range 3 {
			file := filepath.Join(folder, "backup"+strconv.Itoa(n))
			before := told.Load()
			r := weir(t, "", "backup", "--store", address, file)
			after := told.Load()
			require.Equal(t, 0, r.code, r.err)
			assert.Equal(t, file+"\n", r.out)
			assert.Greater(t, after, before, "others went on writing")
			info, err := os.Stat(file)
			require.NoError(t, err)
			assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())

			again := fresh(t)
			r = weir(t, "", "restore", "--store", again, file)
			require.Equal(t, 0, r.code, r.err)
			got, rows := content(t, again)
			held := int(rows["order_head"])
			assert.Contains(t, r.err, "order_head "+strconv.Itoa(held))
			assert.GreaterOrEqual(t, int64(held), before, "what was acknowledged before is in it")
			assert.LessOrEqual(t, int64(held), after+1)
			for ; written < held; written++ {
				require.NoError(t, s.Commit(t.Context(), storetest.Order(written, testClock)))
			}
			var want bytes.Buffer
			require.NoError(t, s.Export(t.Context(), &want))
			require.Equal(t, sum(want.Bytes()), sum(got), "a backup is the state after %d orders, byte for byte as lines", held)

			r = weir(t, "", "restore", "--store", again, file)
			assert.Equal(t, 2, r.code, "never over a store: %s", r.err)
			r = weir(t, "", "backup", "--store", address, file)
			assert.Equal(t, 2, r.code, "never over a file: %s", r.err)
			t.Logf("backup %d: %d orders, %d bytes; %d written meanwhile", n, held, info.Size(), after-before)
		}
		left, err := filepath.Glob(filepath.Join(folder, "*.part*"))
		require.NoError(t, err)
		assert.Empty(t, left)
	})
}

// A backup of either store goes into either.
func TestBackupsGoFromStoreToStore(t *testing.T) {
	lite, server := "sqlite:"+filepath.Join(t.TempDir(), "weir.db"), freshPostgres(t)
	for _, address := range []string{lite, server} {
		filled(t, address, 5)
	}
	want, _ := content(t, lite)
	for from, to := range map[string]string{lite: freshPostgres(t), server: "sqlite:" + filepath.Join(t.TempDir(), "new.db")} {
		folder := t.TempDir()
		r := weir(t, "", "backup", "--store", from, "--output", "json", folder)
		require.Equal(t, 0, r.code, r.err)
		var said struct {
			Name    string
			Bytes   int64
			Rows    map[string]int64
			Checked bool
		}
		require.NoError(t, json.Unmarshal([]byte(r.out), &said))
		assert.Equal(t, "weir-20261110T192000Z", strings.TrimSuffix(strings.TrimSuffix(filepath.Base(said.Name), ".db"), ".ndjson"))
		assert.Equal(t, int64(5), said.Rows["order_head"])
		assert.True(t, said.Checked && said.Bytes > 1000)
		r = weir(t, "", "restore", "--store", to, said.Name)
		require.Equal(t, 0, r.code, r.err)
		got, _ := content(t, to)
		assert.Equal(t, sum(want), sum(got))
	}
}

// A copy with one byte changed is refused, and leaves no store.
func TestADamagedBackupIsRefused(t *testing.T) {
	folder := t.TempDir()
	address := "sqlite:" + filepath.Join(folder, "weir.db")
	filled(t, address, 30)
	require.Equal(t, 0, weir(t, "", "backup", "--store", address, filepath.Join(folder, "good")).code)
	beside, err := os.ReadFile(filepath.Join(folder, "good.sha256"))
	require.NoError(t, err)
	data, err := os.ReadFile(filepath.Join(folder, "good"))
	require.NoError(t, err)
	assert.Equal(t, fmt.Sprintf("%x  good\n", sha256.Sum256(data)), string(beside))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "alone"), data, 0o600))
	r := weir(t, "", "restore", "--store", "sqlite:"+filepath.Join(folder, "from-alone"), filepath.Join(folder, "alone"))
	assert.Equal(t, 0, r.code, r.err)
	assert.Contains(t, r.err, "bytes could not be compared")
	lines, _ := content(t, address)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "lines"), lines, 0o600))
	for _, name := range []string{"good", "lines"} {
		data, err := os.ReadFile(filepath.Join(folder, name))
		require.NoError(t, err)
		for i, at := range []int{len(data) / 3, len(data) / 2, len(data) - 40} {
			bad := bytes.Clone(data)
			for j := range min(64, len(bad)-at) { // a slip of the disk
				bad[at+j] ^= 0x15
			}
			file, to := filepath.Join(folder, name+strconv.Itoa(i)), filepath.Join(folder, "to")
			require.NoError(t, os.WriteFile(file, bad, 0o600))
			if name == "good" { // SQLite itself has no sum over a page
				beside, err := os.ReadFile(filepath.Join(folder, "good.sha256"))
				require.NoError(t, err)
				require.NoError(t, os.WriteFile(file+".sha256", beside, 0o600))
			}
			r := weir(t, "", "restore", "--store", "sqlite:"+to, file)
			assert.Equal(t, 3, r.code, "%s %d: %s", name, i, r.err)
			assert.NoFileExists(t, to)
		}
	}
}

// kill -9 at any moment of a backup or a restore leaves no half file under
// its name, and nothing that is in the way of the next one.
func TestABackupThatIsKilled(t *testing.T) {
	folder := t.TempDir()
	address := "sqlite:" + filepath.Join(folder, "weir.db")
	filled(t, address, 300)
	whole := filepath.Join(folder, "whole")
	require.Equal(t, 0, weir(t, "", "backup", "--store", address, whole).code)
	for what, args := range map[string][]string{
		"backup":  {"backup", "--store", address, filepath.Join(folder, "killed")},
		"restore": {"restore", "--store", "sqlite:" + filepath.Join(folder, "killed"), whole},
	} {
		name := filepath.Join(folder, "killed")
		began := time.Now()
		require.NoError(t, child(t, "weir", args...).Run())
		usual := time.Since(began)
		require.NoError(t, os.Remove(name))
		const kills = 12
		ended, beside := 0, 0
		for n := range kills {
			c := child(t, "weir", args...)
			c.Stderr = nil
			require.NoError(t, c.Start())
			time.Sleep(usual * time.Duration(n+1) / (kills + 1))
			_ = c.Process.Kill()
			if c.Wait() == nil {
				ended++
			}
			left, err := filepath.Glob(name + ".part*")
			require.NoError(t, err)
			beside += min(1, len(left))
			if _, err := os.Stat(name); err != nil {
				continue
			}
			_, rows := content(t, "sqlite:"+name)
			assert.Equal(t, int64(300), rows["order_head"], "half a file under the final name")
			require.NoError(t, os.Remove(name))
		}
		assert.Positive(t, beside, "none was killed at work")
		r := weir(t, "", args...)
		require.Equal(t, 0, r.code, r.err)
		require.NoError(t, os.Remove(name))
		left, err := filepath.Glob(filepath.Join(folder, "*.part*"))
		require.NoError(t, err)
		assert.Empty(t, left)
		t.Logf("%s: %d kills within %s: %d with a part beside, %d had ended, 0 half files", what, kills, usual.Round(time.Millisecond), beside, ended)
	}
}

// Ctrl-C leaves nothing behind.
func TestABackupThatIsInterrupted(t *testing.T) {
	folder := t.TempDir()
	address := "sqlite:" + filepath.Join(folder, "weir.db")
	filled(t, address, 100)
	require.Equal(t, 0, weir(t, "", "backup", "--store", address, filepath.Join(folder, "good")).code)
	for _, args := range [][]string{{"backup", "--store", address, filepath.Join(folder, "new")}, {"restore", "--store", "sqlite:" + filepath.Join(folder, "new"), filepath.Join(folder, "good")}} {
		for _, after := range []time.Duration{0, 5 * time.Millisecond, 20 * time.Millisecond, 50 * time.Millisecond} {
			ctx, cancel := context.WithTimeout(t.Context(), after)
			var out, errs bytes.Buffer
			code := run(ctx, args, streams{in: strings.NewReader(""), out: &out, err: &errs, now: func() time.Time { return testClock }})
			cancel()
			if code == 0 { // it was quicker
				require.NoError(t, os.Remove(filepath.Join(folder, "new")))
				continue
			}
			assert.Equal(t, 130, code, errs.String())
			assert.Empty(t, out.String())
			assert.NoFileExists(t, filepath.Join(folder, "new"))
			left, err := filepath.Glob(filepath.Join(folder, "*.part*"))
			require.NoError(t, err)
			assert.Empty(t, left)
		}
	}
}

// Two at once to one name: one writes it, the other is refused.
func TestTwoBackupsAtOnce(t *testing.T) {
	folder := t.TempDir()
	address := "sqlite:" + filepath.Join(folder, "weir.db")
	filled(t, address, 50)
	codes := make(chan int, 4)
	for range 4 {
		go func() { codes <- weir(t, "", "backup", "--store", address, filepath.Join(folder, "one")).code }()
	}
	count := map[int]int{}
	for range 4 {
		count[<-codes]++
	}
	assert.Equal(t, map[int]int{0: 1, 2: 3}, count)
	_, rows := content(t, "sqlite:"+filepath.Join(folder, "one"))
	assert.Equal(t, int64(50), rows["order_head"])
}

// WEIR_RESTORE_ORDERS measures a restore of so many orders (about 33 kB each).
func TestRestoreTime(t *testing.T) {
	orders, err := strconv.Atoi(os.Getenv("WEIR_RESTORE_ORDERS"))
	if err != nil {
		t.Skip("set WEIR_RESTORE_ORDERS to measure")
	}
	kinds(t, func(t *testing.T, fresh func(*testing.T) string) {
		address, folder := fresh(t), t.TempDir()
		s, err := openStore(t.Context(), settings.Settings{Store: address}, opening{make: true})
		require.NoError(t, err)
		var wait sync.WaitGroup
		for w := range 32 {
			wait.Go(func() {
				for n := w; n < orders; n += 32 {
					assert.NoError(t, s.Commit(t.Context(), storetest.Order(n, testClock)))
				}
			})
		}
		wait.Wait()
		require.NoError(t, s.Close())
		file, again := filepath.Join(folder, "backup"), fresh(t)
		began := time.Now()
		require.Equal(t, 0, weir(t, "", "backup", "--store", address, file).code)
		backup := time.Since(began)
		info, err := os.Stat(file)
		require.NoError(t, err)
		began = time.Now()
		require.Equal(t, 0, weir(t, "", "restore", "--store", again, file).code)
		t.Logf("%d orders, %d MB: backup %s, restore %s, both checked", orders, info.Size()/1e6, backup.Round(time.Millisecond), time.Since(began).Round(time.Millisecond))
	})
}
