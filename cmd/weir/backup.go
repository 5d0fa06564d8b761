package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/settings"
	"weir.example/weir/adapter/store/sqlite"
)

func newBackup(s streams) *cobra.Command {
	var output string
	c := &cobra.Command{
		Use: "backup FILE|FOLDER", Short: "Write the whole store, as of one moment, to a new file while others go on working",
		Long: "backup writes the store to FILE, or to a file in FOLDER that is named by the time. It never replaces\n" +
			"a file. The file gets its name only when it is on the disk and was read and checked; it can be read\n" +
			"by its owner only. A store in SQLite gives an SQLite file with its SHA-256 in a file beside it, one in\n" +
			"PostgreSQL gives lines of JSON that end with their SHA-256; weir restore reads both into either. The name of the file is written to standard output.\n" +
			"The settings, the policy with its signatures and the key of cursors are not in it.",
		Example: "  weir backup /backups/\n  weir backup --store sqlite:/var/lib/weir/weir.db monday.db",
		Args:    exactly(1, 1, "backup needs one FILE to write, or a FOLDER that is there"),
	}
	from := addSettings(c, "backup")
	c.Flags().StringVar(&output, "output", "text", "text or json")
	c.RunE = func(c *cobra.Command, args []string) error {
		set, err := from.load(s)
		if err != nil {
			return err
		}
		at, err := locate(set.Settings)
		if err != nil {
			return err
		}
		if err := textOrJSON(output); err != nil {
			return err
		}
		to, err := backupName(args[0], at, s.now())
		if err != nil {
			return err
		}
		began := time.Now()
		done, err := backUp(c.Context(), set.Settings, at, to)
		if err != nil {
			return copyFailed(done, err)
		}
		return report(s, output, "backup", to, done, time.Since(began))
	}
	return c
}

func textOrJSON(output string) error {
	if output != "text" && output != "json" {
		return usageError{fmt.Errorf("--output %q: need text or json", output)}
	}
	return nil
}

// backupName is the file to be written: the one named, or one in the folder
// that is named by the clock.
func backupName(name string, at location, now time.Time) (string, error) {
	info, err := os.Stat(name)
	switch {
	case name == "" || name == "-":
		return "", usageError{errors.New("backup needs a file: what was written is read again to check it")}
	case err == nil && info.IsDir():
		ending := ".db"
		if at.path == "" {
			ending = ".ndjson"
		}
		return filepath.Join(name, "weir-"+now.UTC().Format("20060102T150405Z")+ending), nil
	case strings.HasSuffix(name, "/"):
		return "", usageError{fmt.Errorf("%s: there is no such folder", name)}
	}
	if _, err := os.Stat(filepath.Dir(name)); err != nil {
		return "", usageError{fmt.Errorf("%s: the folder is not there", name)}
	}
	return name, nil
}

func backUp(ctx context.Context, set settings.Settings, at location, to string) (sqlite.Copied, error) {
	if at.path != "" {
		done, err := sqlite.BackUp(ctx, at.path, to)
		var off *adapter.Unavailable
		switch {
		case errors.Is(err, fs.ErrNotExist):
			err = at.explain(err)
		case errors.As(err, &off) && ctx.Err() == nil:
			err = fmt.Errorf("%s could not be written, or the store not be read (is there room on the disk?): %w", to, err)
		}
		return done, err
	}
	s, err := openStore(ctx, set, opening{})
	if err != nil {
		return sqlite.Copied{}, err
	}
	done, err := sqlite.WriteCopy(ctx, to, func(w io.Writer) error { return s.Export(ctx, w) })
	return done, errors.Join(err, s.Close())
}

func newRestore(s streams) *cobra.Command {
	var output string
	c := &cobra.Command{
		Use: "restore FILE", Short: "Make the store out of a backup, where there is none yet",
		Long: "restore reads FILE, written by weir backup, into the store that the settings name. It never touches a\n" +
			"store that is there: an SQLite file must not exist, a PostgreSQL database must be empty. What was\n" +
			"restored is checked before it is in place, and counted. A backup of either kind of store goes into either.",
		Example: "  weir restore monday.db\n  weir restore --store postgres://weir@localhost/weir monday.db",
		Args:    exactly(1, 1, "restore needs one FILE that weir backup has written"),
	}
	into := addSettings(c, "restore")
	c.Flags().StringVar(&output, "output", "text", "text or json")
	c.RunE = func(c *cobra.Command, args []string) error {
		set, err := into.load(s)
		if err != nil {
			return err
		}
		at, err := locate(set.Settings)
		if err != nil {
			return err
		}
		if err := textOrJSON(output); err != nil {
			return err
		}
		began := time.Now()
		done, err := restore(c.Context(), s, set.Settings, at, args[0])
		if err != nil {
			return copyFailed(done, err)
		}
		return report(s, output, "restored", at.shown, done, time.Since(began))
	}
	return c
}

// restore reads a backup of either kind into a store of either kind, and says
// where an SQLite file came without its SHA-256.
func restore(ctx context.Context, s streams, set settings.Settings, at location, from string) (sqlite.Copied, error) {
	unsummed := func(yes bool) {
		if yes {
			fmt.Fprintf(s.err, "weir: there is no %s.sha256: its rows were checked, its bytes could not be compared\n", from)
		}
	}
	in, err := os.Open(from)
	if err != nil {
		return sqlite.Copied{}, usageError{err}
	}
	defer func() { _ = in.Close() }()
	head := make([]byte, 16)
	n, _ := io.ReadFull(in, head)
	file := bytes.Equal(head[:n], []byte("SQLite format 3\x00"))
	if at.path != "" {
		if _, err := os.Stat(at.path); errors.Is(err, fs.ErrNotExist) {
			if err := at.room(true); err != nil {
				return sqlite.Copied{}, err
			}
		}
		if file {
			done, err := sqlite.Restore(ctx, from, at.path)
			unsummed(err == nil && !done.Compared)
			return done, err
		}
		return sqlite.Fill(ctx, at.path, func(s *sqlite.Store) error { return s.Import(ctx, in) })
	}
	if file {
		folder, err := os.MkdirTemp("", "weir-restore-") // read by its owner only
		if err != nil {
			return sqlite.Copied{}, err
		}
		defer os.RemoveAll(folder)
		lines, done, err := asLines(ctx, from, folder)
		if err != nil {
			return done, err
		}
		unsummed(!done.Compared)
		defer func() { _ = lines.Close() }()
		in = lines
	}
	into, err := openStore(ctx, set, opening{make: true})
	if err != nil {
		return sqlite.Copied{}, err
	}
	var out sqlite.Copied
	if err = into.Import(ctx, in); err == nil {
		if out.Health, err = into.Check(ctx); err == nil && len(out.Health.Problems) > 0 {
			err = &adapter.Damaged{Kind: "copy"}
		}
	}
	return out, errors.Join(err, into.Close())
}

// asLines turns a backup of an SQLite store into lines.
func asLines(ctx context.Context, from, folder string) (*os.File, sqlite.Copied, error) {
	path := filepath.Join(folder, "weir.db")
	done, err := sqlite.Restore(ctx, from, path)
	if err != nil {
		return nil, done, err
	}
	s, err := openStore(ctx, settings.Settings{Store: "sqlite:" + path}, opening{})
	if err != nil {
		return nil, done, err
	}
	out, err := os.OpenFile(filepath.Join(folder, "lines"), os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	if err != nil {
		return nil, done, errors.Join(err, s.Close())
	}
	return out, done, errors.Join(s.Export(ctx, out), s.Close())
}

// copyFailed says what is wrong with a copy. Damaged input is input that
// cannot be read.
func copyFailed(done sqlite.Copied, err error) error {
	var damaged *adapter.Damaged
	var foreign *adapter.Foreign
	var invalid *adapter.Invalid
	var off *adapter.Unavailable
	switch {
	case errors.As(err, &damaged) && len(done.Health.Problems) > 0:
		return unreadableError{errors.New("the copy does not hold together: " + strings.Join(done.Health.Problems, "; "))}
	case errors.As(err, &damaged):
		return unreadableError{errors.New("the copy is not the one that was written: its bytes do not have their SHA-256")}
	case errors.As(err, &foreign), errors.As(err, &off) && strings.Contains(off.Code, "malformed"):
		return unreadableError{err}
	case errors.As(err, &invalid) && strings.Contains(invalid.What, " of the copy ") || errors.As(err, &invalid) && strings.HasPrefix(invalid.What, "the copy "):
		return unreadableError{err}
	}
	return err
}

// report says what was copied: the name as data, the counts as words, or both
// as JSON.
func report(s streams, output, what, name string, done sqlite.Copied, took time.Duration) error {
	size := int64(0)
	if info, err := os.Stat(name); err == nil {
		size = info.Size()
	}
	if output == "json" {
		data, err := json.MarshalIndent(map[string]any{"name": name, "bytes": size, "schema": done.Have, "rows": done.Health.Rows, "checked": true}, "", "  ")
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(s.out, "%s\n", data)
		return err
	}
	var counts []string
	for _, table := range slices.Sorted(maps.Keys(done.Health.Rows)) {
		if n := done.Health.Rows[table]; n > 0 {
			counts = append(counts, fmt.Sprintf("%s %d", table, n))
		}
	}
	switch {
	case done.Health.Rows == nil:
		counts = []string{fmt.Sprintf("schema %d, older than this program's %d: rows are not counted; weir migrate brings it up to date", done.Have, done.Need)}
	case len(counts) == 0:
		counts = []string{"no rows"}
	}
	fmt.Fprintf(s.err, "weir: %s, checked, in %s: %s\n", what, took.Round(time.Millisecond), strings.Join(counts, ", "))
	_, err := fmt.Fprintln(s.out, name)
	return err
}
