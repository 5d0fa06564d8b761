package sqlite

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"weir.example/weir/adapter"
)

// sumEnding ends the name of the file with the SHA-256 of a backup.
const sumEnding = ".sha256"

// writeSum writes the SHA-256 of a finished copy beside the name it will get.
func writeSum(part, path string) error {
	in, err := os.Open(part)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }()
	sum := sha256.New()
	if _, err := io.Copy(sum, in); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".weir-*")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(f.Name()) }() // gone already after the rename
	_, err = fmt.Fprintf(f, "%x  %s\n", sum.Sum(nil), filepath.Base(path))
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path+sumEnding)
}

// readSum is the SHA-256 that stands beside a backup, "" for none.
func readSum(path string) (string, error) {
	data, err := os.ReadFile(path + sumEnding)
	if errors.Is(err, os.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	sum, _, _ := strings.Cut(string(data), " ")
	if len(sum) != 64 {
		return "", &adapter.Invalid{What: "the copy has a file beside it that does not hold its SHA-256"}
	}
	return sum, nil
}
