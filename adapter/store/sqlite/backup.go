package sqlite

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"

	"github.com/ncruces/go-sqlite3/driver"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
)

// Backup writes the store as of one moment to a new file while others go on
// reading and writing. The file is on the disk, and checked, when it has its
// name.
func (s *Store) Backup(ctx context.Context, path string) error {
	path, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	if _, err := os.Lstat(path); !errors.Is(err, os.ErrNotExist) {
		return &adapter.Invalid{What: "a backup never replaces a file"}
	}
	part := path + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	// Made first, so that nobody else can read it while it grows.
	f, err := os.OpenFile(part, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(part) }()
	if err := f.Close(); err != nil {
		return err
	}
	if err := s.b.copyTo(ctx, part); err != nil {
		return fault(err)
	}
	return settle(ctx, part, path)
}

// copyTo writes the state of one moment into an empty file, over a connection
// of its own.
func (b *backend) copyTo(ctx context.Context, path string) error {
	db, err := driver.Open(source(b.path))
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "VACUUM INTO ?1", path)
	return errors.Join(err, db.Close())
}

// check opens a copy and has it checked.
func check(ctx context.Context, path string) error {
	s, err := Open(ctx, path, store.Options{})
	if err != nil {
		return err
	}
	h, err := s.Check(ctx)
	if err := errors.Join(err, s.Close()); err != nil {
		return err
	}
	if len(h.Problems) > 0 {
		return &adapter.Damaged{Kind: "copy"}
	}
	return nil
}

// Restore makes the store at path out of a backup. It never replaces a store.
func Restore(ctx context.Context, backup, path string) error {
	path, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	for _, name := range []string{path, path + "-wal", path + "-shm"} {
		if _, err := os.Lstat(name); !errors.Is(err, os.ErrNotExist) {
			return &adapter.Invalid{What: "a restore never replaces a store: move the old one away, with its -wal and -shm"}
		}
	}
	in, err := os.Open(backup)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }()
	part := path + ".part"
	_ = os.Remove(part)
	out, err := os.OpenFile(part, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(part) }()
	_, err = io.Copy(out, in)
	if err := errors.Join(err, out.Close()); err != nil {
		return err
	}
	return settle(ctx, part, path)
}

// settle checks a finished copy and gives it its name, so that a name never
// stands for a copy that is broken or not yet on the disk.
func settle(ctx context.Context, part, path string) error {
	if err := check(ctx, part); err != nil {
		return err
	}
	if err := syncFile(part); err != nil {
		return err
	}
	if err := os.Rename(part, path); err != nil {
		return err
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
