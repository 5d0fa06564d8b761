//go:build unix

package sqlite

import (
	"context"
	"errors"
	"os"
	"syscall"
	"time"

	"weir.example/weir/adapter"
)

// alone waits until no other program, and nobody else in this one, holds the
// lock of that name, and gives what lets it go. The system lets it go for a
// program that was ended; the file is taken away with it.
func alone(ctx context.Context, name string) (free func(), err error) {
	for {
		f, err := os.OpenFile(name, os.O_CREATE|os.O_RDWR, 0o600)
		if err != nil {
			return nil, err
		}
		err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		if err == nil && same(f, name) {
			return func() { _ = os.Remove(name); _ = f.Close() }, nil
		}
		_ = f.Close() // somebody has it, or it went with its owner
		if err != nil && !errors.Is(err, syscall.EWOULDBLOCK) && !errors.Is(err, syscall.EINTR) {
			return nil, err
		}
		select {
		case <-ctx.Done():
			return nil, &adapter.Unavailable{Code: "another program holds " + name, Cause: ctx.Err()}
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// same says that a name still stands for the file that is open.
func same(f *os.File, name string) bool {
	open, err := f.Stat()
	if err != nil {
		return false
	}
	named, err := os.Lstat(name)
	return err == nil && os.SameFile(open, named)
}
