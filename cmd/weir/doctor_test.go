package main

import (
	"encoding/json"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/settings"
	"weir.example/weir/adapter/store/storetest"
)

// examined is what the doctor says, by what was looked at. Of several lines
// of one check the worst counts.
func examined(t *testing.T, args ...string) (map[string]symptom, int) {
	t.Helper()
	withoutTestSettings(t)
	r := weir(t, "", append([]string{"doctor", "--output", "json"}, args...)...)
	var list []symptom
	require.NoError(t, json.Unmarshal([]byte(r.out), &list), r.err)
	out := map[string]symptom{}
	for _, x := range list {
		assert.NotEmpty(t, x.Says)
		assert.Equal(t, x.State != signOK, x.Do != "", "%s: what is not ok says what to do, and only that", x.Check)
		if out[x.Check].State != signWrong {
			out[x.Check] = x
		}
	}
	return out, r.code
}

func TestDoctor(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "weir.db")
	at := []string{"--store", "sqlite:" + path, "--listen", "127.0.0.1:0"}
	with := func(more ...string) (map[string]symptom, int) { return examined(t, append(more, at...)...) }
	site := signedSite(t)

	got, code := with("--policy", site)
	assert.Equal(t, 2, code)
	assert.Equal(t, signWrong, got["store"].State)
	assert.Contains(t, got["store"].Do, "bring back")
	assert.NoFileExists(t, path, "the doctor changes nothing")

	s, err := openStore(t.Context(), settings.Settings{Store: "sqlite:" + path}, opening{make: true, key: true})
	require.NoError(t, err)
	require.NoError(t, s.Commit(t.Context(), storetest.Order(1, testClock)))
	got, code = with("--policy", site, "--read-all", "--retention-days", "365") // while it is open
	assert.Equal(t, 0, code, "%+v", got)
	for _, check := range []string{"settings", "policy", "tables", "zones", "store", "retention", "content", "clock", "file", "key", "disk", "listen"} {
		assert.Equal(t, signOK, got[check].State, check)
	}
	assert.Contains(t, got["store"].Says, "synchronous full")
	assert.Contains(t, got["store"].Says, "journal_mode wal")
	assert.Contains(t, got["retention"].Says, "0 records")
	require.NoError(t, s.Close())

	got, code = with()
	assert.Equal(t, 2, code)
	assert.Equal(t, signWrong, got["tables"].State, "nobody signed the shipped tables")
	require.NoError(t, os.Chmod(path+".key", 0o640))
	require.NoError(t, os.Chmod(path, 0o644))
	got, code = with("--policy", site)
	assert.Equal(t, 2, code)
	assert.Contains(t, got["key"].Do, "chmod 600")
	assert.Contains(t, got["file"].Do, "chmod 600")
	require.NoError(t, os.Chmod(path, 0o600))
	require.NoError(t, os.WriteFile(path+".key", []byte("x"), 0o600))
	require.NoError(t, os.Chmod(path+".key", 0o600))
	got, _ = with("--policy", site)
	assert.Equal(t, signWrong, got["key"].State)

	s, err = openStore(t.Context(), settings.Settings{Store: "sqlite:" + path}, opening{})
	require.NoError(t, err)
	require.NoError(t, s.Commit(t.Context(), storetest.Order(2, testClock.Add(skew+time.Second))))
	require.NoError(t, s.Close())
	got, code = with("--policy", site)
	assert.Equal(t, 2, code)
	assert.Contains(t, got["clock"].Says, "before the newest entry")

	got, code = with("--policy", filepath.Join(folder, "none.yaml"))
	assert.Equal(t, 2, code)
	assert.Equal(t, signWrong, got["policy"].State)
	t.Setenv("WEIR_LISTN", "x")
	got, code = with("--policy", site)
	assert.Equal(t, 2, code)
	assert.Contains(t, got["settings"].Says, "WEIR_LISTN")
}

// A database that cannot be reached may be reached at the next try.
func TestDoctorWithoutADatabaseServer(t *testing.T) {
	got, code := examined(t, "--policy", signedSite(t), "--listen", "127.0.0.1:0", "--store", "postgres://weir@127.0.0.1:1/weir?sslmode=disable")
	assert.Equal(t, 5, code, "%+v", got)
	assert.Equal(t, signWrong, got["store"].State)
	assert.Equal(t, signUnknown, got["disk"].State)
}

func TestDoctorOnPostgres(t *testing.T) {
	address := freshPostgres(t)
	got, code := examined(t, "--policy", signedSite(t), "--listen", "127.0.0.1:0", "--store", address)
	assert.Equal(t, 2, code)
	assert.Contains(t, got["store"].Says, "is empty")
	filled(t, address, 1)
	got, code = examined(t, "--policy", signedSite(t), "--listen", "127.0.0.1:0", "--store", address)
	assert.Equal(t, 0, code, "%+v", got)
	assert.Contains(t, got["store"].Says, "fsync on")
}

func TestDoctorOnAddresses(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer func() { _ = l.Close() }()
	other := httptest.NewServer(http.NotFoundHandler())
	defer other.Close()
	outside, inside, stop := start(t)
	strip := func(a string) string { return strings.TrimSuffix(strings.TrimPrefix(a, "http://"), "/fhir") }
	for _, x := range []struct{ listen, inner, state string }{
		{strip(outside), strip(inside), signOK}, {strip(other.URL), "", signWrong}, {"0.0.0.0:1", "", signWrong}, {"127.0.0.1:0", strip(other.URL), signWrong},
	} {
		got, _ := examined(t, "--listen", x.listen, "--inner", x.inner)
		if x.inner == "" || x.state == signOK {
			assert.Equal(t, x.state, got["listen"].State, "%+v", got["listen"])
		}
		if x.inner != "" {
			assert.Equal(t, x.state, got["inner"].State, "%+v", got["inner"])
		}
	}
	assert.Zero(t, stop())
}

func TestMigrate(t *testing.T) {
	kinds(t, func(t *testing.T, fresh func(*testing.T) string) {
		address := fresh(t)
		if path, ok := strings.CutPrefix(address, "sqlite:"); ok {
			assert.Equal(t, 2, weir(t, "", "migrate", "--store", address).code, "a slip in a path makes no store")
			require.NoError(t, os.WriteFile(path, nil, 0o600))
		}
		for range 2 {
			r := weir(t, "", "migrate", "--dry-run", "--store", address)
			assert.Equal(t, 1, r.code, "steps are due: %s", r.err)
			assert.Contains(t, r.out, "nothing was changed")
		}
		codes := make(chan int, 4)
		for range 4 {
			go func() {
				c := child(t, "weir", "migrate", "--store", address)
				_ = c.Run()
				codes <- c.ProcessState.ExitCode()
			}()
		}
		for range 4 {
			assert.Zero(t, <-codes, "four at once")
		}
		r := weir(t, "", "migrate", "--dry-run", "--store", address)
		assert.Equal(t, 0, r.code)
		assert.Contains(t, r.out, "nothing to do")
		assert.Equal(t, 0, weir(t, "", "migrate", "--store", address).code)
		filled(t, address, 1)
	})
}

// Records are erased when their newest entry is older than the setting, and
// not a day before.
func TestRetention(t *testing.T) {
	s, err := openStore(t.Context(), settings.Settings{Store: "sqlite:" + filepath.Join(t.TempDir(), "weir.db")}, opening{make: true})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	for n := range retentionBatch + 10 {
		require.NoError(t, s.Commit(t.Context(), storetest.Order(n, testClock)))
	}
	require.NoError(t, s.Commit(t.Context(), storetest.Order(1000, testClock.AddDate(0, 0, 10))))
	n := 0
	id := func() string { n++; return "erased-" + time.Duration(n).String() }
	erased := func(days int, now time.Time) int {
		got, err := retainOnce(t.Context(), s, days, now, id)
		require.NoError(t, err)
		return got
	}
	year := testClock.AddDate(0, 0, 365)
	assert.Zero(t, erased(0, year.AddDate(100, 0, 0)), "for ever")
	assert.Zero(t, erased(365, year))
	assert.Equal(t, retentionBatch+10, erased(365, year.Add(time.Microsecond)))
	assert.Zero(t, erased(365, year.Add(time.Microsecond)))
	h, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, h.Problems)
	assert.Equal(t, int64(1), h.Rows["order_head"])
	assert.Equal(t, int64(2*(retentionBatch+10)+1), h.Rows["audit"], "what was done stays, and that it was erased")
}

// signedSite is a site's policy whose tables somebody has signed.
func signedSite(t *testing.T) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "site.yaml")
	require.NoError(t, os.WriteFile(file, []byte("pharmacy:\n  name: Example Home Infusion\nhome:\n  zone: America/New_York\n"), 0o600))
	r := weir(t, "", "tables", "sign", "--policy", file, "--name", "J. Example", "--role", "pharmacist", "--license", "EX 000000")
	require.Equal(t, 0, r.code, r.err)
	return file
}

// withoutTestSettings takes out of the environment what tests are steered by:
// it begins like a setting and is none.
func withoutTestSettings(t *testing.T) {
	for _, name := range []string{"WEIR_UPDATE", "WEIR_STORE_ROUNDS", "WEIR_STORE_KILLS", "WEIR_RESTORE_ORDERS"} {
		if value, ok := os.LookupEnv(name); ok {
			require.NoError(t, os.Unsetenv(name))
			t.Cleanup(func() { _ = os.Setenv(name, value) })
		}
	}
}
