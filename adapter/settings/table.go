package settings

import (
	"fmt"
	"math"
	"net"
	"net/url"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Commands that open the store.
var storing = []string{"serve", "reconcile", "recall", "backup", "restore", "migrate", "doctor"}

var served = []string{"serve", "doctor"}

var table = []Setting{
	{Name: "listen", Kind: Address, Default: "127.0.0.1:8765", Commands: served,
		Text: "address of the FHIR door; on this machine only, as there is no sign-in yet", Need: "host:port, for example 127.0.0.1:8765",
		set: text(func(s *Settings) *string { return &s.Listen }, address)},
	{Name: "inner", Kind: Address, Default: "", Commands: served,
		Text: "address of /livez, /readyz and /metrics, on this machine only; empty: none", Need: "host:port, for example 127.0.0.1:8766, or nothing",
		set: text(func(s *Settings) *string { return &s.Inner }, optional(address))},
	{Name: "public", Kind: Text, Default: "", Commands: served,
		Text: "address as clients see it, before /fhir; empty: the one that is listened on", Need: "an address with scheme and host, for example https://orders.example.org, without user, ? or #",
		set: func(s *Settings, v []string) (err error) { s.Public, err = public(v[0]); return err }},
	{Name: "policy", Kind: File, Default: "", Commands: []string{"serve", "reconcile", "recall", "doctor"},
		Text: "the site's policy (YAML), with its signatures beside it; empty: the shipped defaults", Need: "the name of a file",
		set: text(func(s *Settings) *string { return &s.Policy }, nil)},
	{Name: "store", Kind: Text, Default: "sqlite:{data}/weir.db", Commands: storing,
		Text: "where the record is kept: sqlite:PATH or postgres://USER@HOST/DATABASE; never with a password", Need: "sqlite:PATH or postgres://USER@HOST/DATABASE, without a password in it",
		set: text(func(s *Settings) *string { return &s.Store }, storeAddress)},
	{Name: "storePasswordFile", Kind: File, Default: "", Commands: storing, Secret: true,
		Text: "file that holds the password of the PostgreSQL database and nothing else; empty: what the server's own password file (.pgpass) says", Need: "the name of a file",
		set: text(func(s *Settings) *string { return &s.StorePasswordFile }, nil)},
	{Name: "cursorKeyFile", Kind: File, Default: "", Commands: []string{"serve", "doctor"}, Secret: true,
		Text: "file that holds the key by which cursors of lists are sealed; made when there is none; empty: beside the SQLite file, else cursor.key in the data folder", Need: "the name of a file",
		set: text(func(s *Settings) *string { return &s.CursorKeyFile }, nil)},
	{Name: "retention.days", Kind: Number, Default: "0", Commands: []string{"serve", "doctor"},
		Text: "days a patient's record is kept after its newest entry, then it is erased but for its audit rows; 0: for ever", Need: "a whole number of days, 0 for ever or 365 to 36500",
		set: func(s *Settings, v []string) (err error) {
			s.Retention.Days, err = whole(v[0], 0, 36500)
			if err == nil && s.Retention.Days > 0 && s.Retention.Days < 365 {
				err = fmt.Errorf("%d days is less than a year", s.Retention.Days)
			}
			return err
		}},
	{Name: "limits.body", Kind: Size, Default: "50MiB", Commands: []string{"serve"},
		Text: "the largest body of a request", Need: "a size from 1MiB to 1GiB, for example 50MiB",
		set: func(s *Settings, v []string) (err error) {
			s.Limits.Body, err = size(v[0], 1<<20, 1<<30)
			return err
		}},
	{Name: "limits.atOnce", Kind: Number, Default: "32", Commands: []string{"serve"},
		Text: "documents judged at one time; the rest wait", Need: "a whole number from 1 to 1024",
		set: func(s *Settings, v []string) (err error) { s.Limits.AtOnce, err = whole(v[0], 1, 1024); return err }},
	{Name: "limits.queue", Kind: Number, Default: "256", Commands: []string{"serve"},
		Text: "how many documents may wait; the next is told at once to come again", Need: "a whole number from 1 to 65536",
		set: func(s *Settings, v []string) (err error) { s.Limits.Queue, err = whole(v[0], 1, 65536); return err }},
	{Name: "limits.waiting", Kind: Duration, Default: "5s", Commands: []string{"serve"},
		Text: "how long a request waits for its turn before it is told to come again", Need: "a length of time from 10ms to 1m, for example 5s",
		set: func(s *Settings, v []string) (err error) {
			s.Limits.Waiting, err = length(v[0], 10*time.Millisecond, time.Minute)
			return err
		}},
	{Name: "drain", Kind: Duration, Default: "20s", Commands: []string{"serve"},
		Text: "how long a stop waits for requests that run", Need: "a length of time from 1s to 2m, for example 20s",
		set: func(s *Settings, v []string) (err error) {
			s.Drain, err = length(v[0], time.Second, 2*time.Minute)
			return err
		}},
	{Name: "workers", Kind: Number, Default: "0", Commands: []string{"serve"},
		Text: "background jobs worked on at one time, also those that other processes asked for; 0: as many as there are processors", Need: "a whole number from 0 to 256",
		set: func(s *Settings, v []string) (err error) { s.Workers, err = whole(v[0], 0, 256); return err }},
	{Name: "night.folder", Kind: File, Default: "", Commands: []string{"serve"},
		Text: "folder with the hospital's newest export, or with a folder for each: the newest complete one is compared with the record each night; empty: no night", Need: "the name of a folder",
		set: text(func(s *Settings) *string { return &s.Night.Folder }, nil)},
	{Name: "night.at", Kind: Text, Default: "", Commands: []string{"serve"},
		Text: "when the night runs, by the clock of the policy's home.zone; a night that was missed is made up at once; empty: no night", Need: "hours and minutes from 00:00 to 23:59, for example 02:30, or nothing",
		set: text(func(s *Settings) *string { return &s.Night.At }, optional(clock))},
	{Name: "log.level", Kind: Word, Default: "info", Commands: []string{"serve"},
		Text: "what the log on standard error holds", Need: "debug, info, warn or error",
		set: text(func(s *Settings) *string { return &s.Log.Level }, oneOf("debug", "info", "warn", "error"))},
	{Name: "log.format", Kind: Word, Default: "json", Commands: []string{"serve"},
		Text: "how the log is written", Need: "json or text",
		set: text(func(s *Settings) *string { return &s.Log.Format }, oneOf("json", "text"))},
	{Name: "message.targets", Kind: Many, Default: "", Commands: []string{"serve", "doctor"},
		Text: "where messages may be sent: scheme, host and port of each allowed response-url; empty: nowhere", Need: "addresses such as https://ehr.example.org:8443, without path, user, ? or #; http only for this machine",
		set: func(s *Settings, v []string) (err error) { s.Message.Targets, err = targets(v); return err }},
}

// text sets a text that is checked first.
func text(at func(*Settings) *string, check func(string) error) func(*Settings, []string) error {
	return func(s *Settings, v []string) error {
		if check != nil {
			if err := check(v[0]); err != nil {
				return err
			}
		}
		if strings.ContainsFunc(v[0], func(r rune) bool { return r < 0x20 || r == 0x7f }) {
			return fmt.Errorf("it holds a control character")
		}
		*at(s) = v[0]
		return nil
	}
}

func optional(check func(string) error) func(string) error {
	return func(v string) error {
		if v == "" {
			return nil
		}
		return check(v)
	}
}

func oneOf(words ...string) func(string) error {
	return func(v string) error {
		if !slices.Contains(words, v) {
			return fmt.Errorf("%q is none of them", v)
		}
		return nil
	}
}

func clock(v string) error {
	if _, err := time.Parse("15:04", v); err != nil || len(v) != len("15:04") {
		return fmt.Errorf("%q is no time of day", v)
	}
	return nil
}

func address(v string) error {
	_, port, err := net.SplitHostPort(v)
	if err != nil {
		return fmt.Errorf("%q is no address", v)
	}
	if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 {
		return fmt.Errorf("%q has no port from 0 to 65535", v)
	}
	return nil
}

// public refuses what could not stand before a path of ours.
func public(v string) (string, error) {
	if v == "" {
		return "", nil
	}
	u, err := url.Parse(v)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Hostname() == "" || u.User != nil || u.RawQuery != "" || u.ForceQuery || strings.Contains(v, "#") {
		return "", fmt.Errorf("it is no such address")
	}
	return strings.TrimRight(v, "/"), nil
}

// storeAddress never repeats what it refuses: a password may stand in it.
func storeAddress(v string) error {
	if path, ok := strings.CutPrefix(v, "sqlite:"); ok {
		if path == "" || strings.HasPrefix(path, "//") || filepath.Clean(path) == "." || strings.HasSuffix(path, "/") {
			return fmt.Errorf("there is no file after \"sqlite:\" in it")
		}
		return nil
	}
	if !strings.HasPrefix(v, "postgres://") && !strings.HasPrefix(v, "postgresql://") {
		return fmt.Errorf("it begins neither with sqlite: nor with postgres://")
	}
	u, err := url.Parse(v)
	if err != nil {
		return fmt.Errorf("the address of the database cannot be read")
	}
	if _, has := u.User.Password(); has || u.Query().Has("password") || u.Query().Has("sslpassword") {
		return fmt.Errorf("a password stands in it, where others on this machine can read it: put it into a file and name that with storePasswordFile")
	}
	return nil
}

func whole(v string, least, most int) (int, error) {
	n, err := strconv.Atoi(v)
	if err != nil || n < least || n > most {
		return 0, fmt.Errorf("%q is no such number", v)
	}
	return n, nil
}

func length(v string, least, most time.Duration) (time.Duration, error) {
	d, err := time.ParseDuration(v)
	if err != nil || d < least || d > most {
		return 0, fmt.Errorf("%q is no such length of time", v)
	}
	return d, nil
}

// size reads 50MiB: a whole number and a unit of 1,024.
func size(v string, least, most int64) (int64, error) {
	for _, unit := range []struct {
		name string
		size int64
	}{{"KiB", 1 << 10}, {"MiB", 1 << 20}, {"GiB", 1 << 30}} {
		if digits, ok := strings.CutSuffix(v, unit.name); ok {
			n, err := strconv.ParseInt(digits, 10, 64)
			if err == nil && n >= 0 && n <= math.MaxInt64/unit.size && n*unit.size >= least && n*unit.size <= most {
				return n * unit.size, nil
			}
		}
	}
	return 0, fmt.Errorf("%q is no such size", v)
}
