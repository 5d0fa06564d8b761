package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/settings"
)

// Least free room on the disk of an SQLite store: its own size again, for a
// backup beside it, and what a busy day writes.
const leastRoom = 1 << 30

// skew is how far a stored time may be ahead of the clock: two machines.
const skew = 2 * time.Minute

func lookAtStore(ctx context.Context, s streams, set settings.Settings, deep bool) []symptom {
	at, err := locate(set)
	if err != nil {
		return []symptom{judge("store", err, "", "correct the setting"), lookAtClock(s.now(), time.Time{}, nil)}
	}
	out := []symptom{}
	status, err := at.look(ctx)
	switch {
	case err != nil:
		do := "correct the setting, or make or bring back the store"
		var off *adapter.Unavailable
		if errors.As(err, &off) {
			do = "look whether the database runs and lets this user in; then try again"
		}
		out = append(out, judge("store", err, "", do))
	case status.Have == 0:
		out = append(out, symptom{Check: "store", State: signWrong, Says: at.shown + " is empty", Do: "weir serve sets it up, weir restore brings a store back"})
	case status.Due() > 0:
		out = append(out, symptom{Check: "store", State: signWrong, Says: fmt.Sprintf("%s has schema %d and this program needs %d: %d steps are due", at.shown, status.Have, status.Need, status.Due()), Do: "weir backup, then weir migrate"})
	default:
		newest, more := lookInside(ctx, set, at, status.Have, s.now(), deep)
		out = append(out, more...)
		out = append(out, lookAtClock(s.now(), newest, nil))
		return append(out, lookAtFiles(set, at)...)
	}
	out = append(out, lookAtClock(s.now(), time.Time{}, errors.New("no store to compare it with")))
	return append(out, lookAtFiles(set, at)...)
}

// lookInside opens the store, which refuses settings that could lose an
// acknowledged order, and gives the time of its newest audit row.
func lookInside(ctx context.Context, set settings.Settings, at location, schema int64, now time.Time, deep bool) (newest time.Time, out []symptom) {
	s, err := openStore(ctx, set, opening{})
	if err != nil {
		return newest, []symptom{judge("store", err, "", "set the database so that a commit waits for the disk")}
	}
	defer func() { _ = s.Close() }()
	facts, err := s.Facts(ctx)
	says := fmt.Sprintf("%s: schema %d", at.shown, schema)
	for _, f := range facts {
		says += ", " + f[0] + " " + f[1]
	}
	out = append(out, judge("store", err, says, "look at the database's own log"))
	rows, err := s.Audit(ctx, adapter.AuditFilter{}, adapter.Page{Limit: 1})
	if err != nil {
		out = append(out, judge("store", err, "", "look at the database's own log"))
	} else if len(rows.Rows) > 0 {
		newest = rows.Rows[0].At
	}
	if set.Retention.Days > 0 {
		old, err := s.Expired(ctx, now.Add(-time.Duration(set.Retention.Days)*24*time.Hour), 1000)
		out = append(out, judge("retention", err, fmt.Sprintf("%d records (at most 1,000 are counted) are older than %d days; weir serve erases them", len(old), set.Retention.Days), "look at the database's own log"))
	}
	if deep {
		health, err := s.Check(ctx)
		if err == nil && len(health.Problems) > 0 {
			err = errors.New(strings.Join(health.Problems, "; "))
		}
		out = append(out, judge("content", err, fmt.Sprintf("everything was read and fits together: %d orders, %d resources, %d audit rows", health.Rows["order_head"], health.Rows["resource"], health.Rows["audit"]),
			"stop the server, keep the files as they are, and bring back the last backup elsewhere to compare"))
	}
	return newest, out
}

// lookAtClock compares the clock with when the program was made and with the
// newest time in the store.
func lookAtClock(now, newest time.Time, none error) symptom {
	x := symptom{Check: "clock", State: signOK, Says: now.UTC().Format(time.RFC3339)}
	const do = "set the clock (a time service): start times, expiry and what is overdue rest on it"
	switch {
	case now.Year() < 2026 || now.Year() > 2100 || now.Before(buildDay(now).Add(-skew)):
		return symptom{Check: "clock", State: signWrong, Says: x.Says + " is before this program was made, or long after", Do: do}
	case newest.After(now.Add(skew)):
		return symptom{Check: "clock", State: signWrong, Says: fmt.Sprintf("%s is before the newest entry of the store, %s", x.Says, newest.UTC().Format(time.RFC3339)), Do: do}
	case none != nil:
		x.Says += "; " + none.Error()
	}
	return x
}

// lookAtFiles looks at who may open the files, and at the room on the disk.
func lookAtFiles(set settings.Settings, at location) []symptom {
	var out []symptom
	private := func(check, name, missing string) {
		mode, err := modeOf(name)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			if missing != "" {
				out = append(out, judge(check, nil, missing, ""))
			}
		case err != nil:
			out = append(out, judge(check, cause(err), "", "let the user who runs the program read it"))
		case mode&0o077 != 0:
			out = append(out, symptom{Check: check, State: signWrong, Says: fmt.Sprintf("others may open %s (mode %04o)", name, mode), Do: "chmod 600 " + name})
		default:
			out = append(out, judge(check, nil, fmt.Sprintf("%s is opened by its owner only", name), ""))
		}
	}
	if at.path != "" {
		private("file", at.path, "")
	}
	name, err := keyFile(set, at)
	if err != nil {
		out = append(out, judge("key", err, "", "set cursorKeyFile"))
	} else {
		private("key", name, "none yet: weir serve makes "+name)
		if _, err := os.Stat(name); err == nil {
			if _, err := readKey(name); err != nil {
				out = append(out, judge("key", err, "", "remove the file: weir serve makes a new one, and only open lists begin anew"))
			}
		}
	}
	if at.path == "" {
		return append(out, symptom{Check: "disk", State: signUnknown, Says: "the disk of the database server is not seen from here", Do: "look at it there"})
	}
	return append(out, lookAtRoom(at.path))
}

func lookAtRoom(path string) symptom {
	free, err := freeRoom(filepath.Dir(path))
	if err != nil {
		return symptom{Check: "disk", State: signUnknown, Says: "free room cannot be told", Do: "look at the disk of " + filepath.Dir(path)}
	}
	size := int64(0)
	for _, side := range []string{"", "-wal"} {
		if info, err := os.Stat(path + side); err == nil {
			size += info.Size()
		}
	}
	x := symptom{Check: "disk", State: signOK, Says: fmt.Sprintf("%d MiB free beside a store of %d MiB", free>>20, size>>20)}
	if free < leastRoom || free < 2*size {
		x.State, x.Do = signWrong, "make room: 1 GiB, and twice the size of the store, should be free"
	}
	return x
}
