package sqlite

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"

	"github.com/ncruces/go-sqlite3/driver"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// Copied is what a backup or a restore has made.
type Copied struct {
	store.Status
	// Health is what a check of the copy found. Of a copy with an older
	// schema SQLite alone has checked pages, indexes and references, and
	// rows are not counted.
	Health adapter.Health
	// Compared says that the bytes restored have the SHA-256 that stood beside
	// the backup. Of the rows alone not every byte has a hash.
	Compared bool
}

// Backup writes the store as of one moment to a new file while others go on
// reading and writing. The file is on the disk, and checked, when it has its
// name.
func (s *Store) Backup(ctx context.Context, path string) error {
	_, err := BackUp(ctx, s.b.path, path)
	return err
}

// BackUp is Backup of the store in the file at from, which other programs may
// have open. The schema may be an older one.
//
// It is VACUUM INTO and not the page by page interface for backups, which
// begins anew with every commit of another program, and takes along what was
// erased. Its SHA-256 stands beside it, as sha256sum -c reads it.
func BackUp(ctx context.Context, from, to string) (Copied, error) {
	if _, err := Look(ctx, from); err != nil {
		return Copied{}, err
	}
	withSum := func(ctx context.Context, part string) (Copied, error) {
		out, err := check(ctx, part)
		if err != nil {
			return out, err
		}
		return out, writeSum(part, to)
	}
	return produce(ctx, to, "a backup never replaces a file", withSum, func(part string) error {
		db, err := driver.Open(source(from))
		if err != nil {
			return fault(err)
		}
		_, err = db.ExecContext(ctx, "VACUUM INTO ?1", part)
		return fault(errors.Join(err, db.Close()))
	})
}

// Restore makes the store at path out of a backup. It never replaces a store.
func Restore(ctx context.Context, backup, path string) (Copied, error) {
	in, err := os.Open(backup)
	if err != nil {
		return Copied{}, err
	}
	defer func() { _ = in.Close() }()
	for _, name := range []string{backup + "-wal", backup + "-journal"} {
		if _, err := os.Lstat(name); err == nil {
			return Copied{}, &adapter.Invalid{What: "the backup is a store that is open or was not closed, as its -wal or -journal says: make a backup of it"}
		}
	}
	want, err := readSum(backup)
	if err != nil {
		return Copied{}, err
	}
	sum := sha256.New()
	done, err := produce(ctx, path, occupied, check, func(part string) error {
		out, err := os.OpenFile(part, os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		_, err = io.Copy(io.MultiWriter(out, sum), reading{ctx, in})
		if err := errors.Join(err, out.Close()); err != nil {
			return err
		}
		if want != "" && want != hex.EncodeToString(sum.Sum(nil)) {
			return &adapter.Damaged{Kind: "copy"}
		}
		return nil
	})
	done.Compared = want != ""
	return done, err
}

const occupied = "a restore never replaces a store: move the old one away, with its -wal and -shm"

// Fill makes the store at path out of what fill writes into it. It never
// replaces a store, and one that was not filled to its end never stands there.
func Fill(ctx context.Context, path string, fill func(*Store) error) (Copied, error) {
	return produce(ctx, path, occupied, check, func(part string) error {
		s, err := Open(ctx, part, store.Options{})
		if err != nil {
			return err
		}
		return errors.Join(fill(s), s.Close())
	})
}

// WriteCopy writes what export of any store gives, its lines, to a new file.
// To check them they are read into a store beside the file, which is checked
// and removed.
func WriteCopy(ctx context.Context, path string, export func(io.Writer) error) (Copied, error) {
	readBack := func(ctx context.Context, part string) (out Copied, err error) {
		in, err := os.Open(part)
		if err != nil {
			return out, err
		}
		defer func() { _ = in.Close() }()
		s, err := Open(ctx, part+reread, store.Options{})
		if err != nil {
			return out, err
		}
		if err := errors.Join(s.Import(ctx, in), s.Close()); err != nil {
			return out, err
		}
		return check(ctx, part+reread)
	}
	return produce(ctx, path, "a backup never replaces a file", readBack, func(part string) error {
		out, err := os.OpenFile(part, os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		return errors.Join(export(out), out.Close())
	})
}

// reread ends the name of the store that a copy is read into to check it.
const reread = "-read"

// reading ends with its context.
type reading struct {
	ctx context.Context
	io.Reader
}

func (r reading) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, fault(err)
	}
	return r.Reader.Read(p)
}

// sides are the files that SQLite keeps beside one.
var sides = []string{"", "-wal", "-shm", "-journal"}

// produce has write fill an empty file beside path, that nobody else can read,
// checks it and gives it its name, so that a name never stands for a copy
// that is broken or not yet on the disk. What a program that was ended left
// beside path is removed.
func produce(ctx context.Context, path, taken string, check func(context.Context, string) (Copied, error), write func(part string) error) (Copied, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return Copied{}, err
	}
	part := path + ".part"
	free, err := alone(ctx, part+".lock")
	if err != nil {
		return Copied{}, err
	}
	defer free()
	for _, side := range sides {
		if _, err := os.Lstat(path + side); !errors.Is(err, os.ErrNotExist) {
			return Copied{}, &adapter.Invalid{What: taken}
		}
	}
	clear := func() (err error) {
		for _, name := range []string{part, part + reread} {
			for _, side := range sides {
				if gone := os.Remove(name + side); gone != nil && !errors.Is(gone, os.ErrNotExist) {
					err = errors.Join(err, gone)
				}
			}
		}
		return err
	}
	if err := clear(); err != nil {
		return Copied{}, err
	}
	defer func() { _ = clear() }()
	f, err := os.OpenFile(part, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return Copied{}, err
	}
	if err := f.Close(); err != nil {
		return Copied{}, err
	}
	if err := write(part); err != nil {
		return Copied{}, err
	}
	out, err := check(ctx, part)
	if err != nil {
		return out, err
	}
	return out, settle(part, path, taken)
}

// check opens a copy and has it checked.
func check(ctx context.Context, path string) (out Copied, err error) {
	if out.Status, err = Look(ctx, path); err != nil {
		return out, err
	}
	if out.Have == 0 {
		return out, &adapter.Foreign{What: "there is no store in the file"}
	}
	if out.Due() > 0 {
		db, err := driver.Open(source(path, "query_only(1)", "trusted_schema(0)"))
		if err != nil {
			return out, fault(err)
		}
		out.Health.Problems, err = (&backend{reader: db}).Verify(ctx)
		if err := errors.Join(err, db.Close()); err != nil {
			return out, err
		}
	} else {
		s, err := Open(ctx, path, store.Options{})
		if err != nil {
			return out, err
		}
		out.Health, err = s.Check(ctx)
		if err := errors.Join(err, s.Close()); err != nil {
			return out, err
		}
	}
	if len(out.Health.Problems) > 0 {
		return out, &adapter.Damaged{Kind: "copy"}
	}
	return out, nil
}

// settle gives a finished copy its name, which nothing has had before.
func settle(part, path, taken string) error {
	if err := syncFile(part); err != nil {
		return err
	}
	err := os.Link(part, path)
	if errors.Is(err, os.ErrExist) {
		return &adapter.Invalid{What: taken}
	}
	if err != nil { // a file system without links
		if _, err := os.Lstat(path); !errors.Is(err, os.ErrNotExist) {
			return &adapter.Invalid{What: taken}
		}
		if err := os.Rename(part, path); err != nil {
			return err
		}
	}
	return syncFile(filepath.Dir(path))
}

func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
