package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"weir.example/weir/mapping/policy"
)

// signingWait is how long one signer waits for another.
var signingWait = 5 * time.Second

// addSignature puts a signature into the file beside a policy. The file is
// read again while nobody else may write it, so that of two who sign at once
// neither loses the other's word; a link in its place is refused.
func addSignature(policyFile string, next policy.Signature) error {
	name := signaturesOf(policyFile)
	free, err := reserve(name + ".lock")
	if err != nil {
		return err
	}
	defer free()
	switch info, err := os.Lstat(name); {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return err
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s is a link or no plain file: signatures are written to a file of their own", name)
	}
	have, err := readSignatures(policyFile)
	if err != nil {
		return err
	}
	return replaceFile(name, have.Add(next).Write())
}

// reserve makes a file that only one can make (O_EXCL) and gives what takes it
// away again. One left behind by a program that was ended is named: nobody
// but a person can tell that nobody is signing.
func reserve(name string) (free func(), err error) {
	for end := time.Now().Add(signingWait); ; time.Sleep(20 * time.Millisecond) {
		file, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		switch {
		case err == nil:
			file.Close() // nothing was written to it
			return func() { os.Remove(name) }, nil
		case !errors.Is(err, fs.ErrExist):
			return nil, err
		case time.Now().After(end):
			return nil, fmt.Errorf("%s exists: somebody else is signing; if nobody is, remove it", name)
		}
	}
}

// replaceFile writes beside the file and renames: a power cut leaves the old
// or the new, never half, and a link in its place is not followed.
func replaceFile(name string, data []byte) error {
	next, err := os.CreateTemp(filepath.Dir(name), ".weir-*")
	if err != nil {
		return err
	}
	defer os.Remove(next.Name()) // gone already after the rename
	_, err = bytes.NewReader(data).WriteTo(next)
	if err = errors.Join(err, next.Chmod(0o644), next.Sync(), next.Close()); err != nil {
		return err
	}
	return os.Rename(next.Name(), name)
}
