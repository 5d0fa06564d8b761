package main

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/settings"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/postgres"
	"weir.example/weir/adapter/store/sqlite"
)

// kept is a store that is open.
type kept interface {
	adapter.Store
	adapter.Keeper
	// Facts are what its safety rests on, by name.
	Facts(ctx context.Context) ([][2]string, error)
}

// location is where a store is: a file, or a database with its password.
type location struct {
	shown   string // as the setting says it
	path    string // SQLite, else ""
	address string // PostgreSQL
}

// locate reads where the store is, and the file with its password.
func locate(set settings.Settings) (location, error) {
	if path, ok := strings.CutPrefix(set.Store, "sqlite:"); ok {
		path, err := filepath.Abs(path)
		return location{shown: set.Store, path: path}, err
	}
	if set.StorePasswordFile == "" {
		return location{shown: set.Store, address: set.Store}, nil
	}
	data, err := secret("storePasswordFile", set.StorePasswordFile)
	if err != nil {
		return location{}, err
	}
	u, err := url.Parse(set.Store)
	if err != nil {
		return location{}, usageError{errors.New("store: the address of the database cannot be read")}
	}
	u.User = url.UserPassword(u.User.Username(), data)
	return location{shown: set.Store, address: u.String()}, nil
}

// secret reads a file that holds one line. Neither its name, which may be the
// secret typed in the wrong place, nor its content is in an error.
func secret(setting, name string) (string, error) {
	info, err := os.Stat(name)
	if err != nil {
		return "", usageError{fmt.Errorf("%s: the file it names cannot be read (%w)", setting, cause(err))}
	}
	if info.Mode().Perm()&0o007 != 0 {
		return "", usageError{fmt.Errorf("%s: everybody on this machine may open the file it names: chmod 600", setting)}
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return "", usageError{fmt.Errorf("%s: the file it names cannot be read (%w)", setting, cause(err))}
	}
	text := strings.TrimRight(string(data), "\r\n")
	if text == "" || len(text) > 4096 || strings.ContainsAny(text, "\r\n\x00") {
		return "", usageError{fmt.Errorf("%s: the file it names must hold one line and nothing else", setting)}
	}
	return text, nil
}

// cause is an error of the file system without the name it was about.
func cause(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	return err
}

// opening says what may happen to a store when it is opened.
type opening struct {
	make    bool // it is set up where there is none
	migrate bool // an older schema is brought up to date
	key     bool // its cursors are given out, so it needs its key
}

// openStore opens the store that the settings name. Wrong settings and what is
// no store are usageErrors; what may be tried again is *adapter.Unavailable.
func openStore(ctx context.Context, set settings.Settings, o opening) (kept, error) {
	at, err := locate(set)
	if err != nil {
		return nil, err
	}
	options := store.Options{Migrate: o.migrate}
	if at.path != "" {
		if err := at.room(o.make); err != nil {
			return nil, err
		}
	}
	if o.key {
		if options.Key, err = cursorKey(set, at); err != nil {
			return nil, err
		}
	}
	if at.path != "" {
		s, err := sqlite.Open(ctx, at.path, options)
		if err != nil {
			return nil, at.explain(err)
		}
		return s, nil
	}
	s, err := postgres.Open(ctx, at.address, options)
	if err != nil {
		return nil, at.explain(err)
	}
	return s, nil
}

// room demands that the file is there or may be made. Of folders only our own
// is made: another that is missing is a slip in the name.
func (at location) room(mayMake bool) error {
	_, err := os.Stat(at.path)
	if err == nil {
		return nil
	}
	if !errors.Is(err, fs.ErrNotExist) || !mayMake {
		return at.explain(err)
	}
	own, err := dataFolder()
	if err == nil && filepath.Dir(at.path) == own {
		if err := os.MkdirAll(own, 0o700); err != nil {
			return usageError{err}
		}
	}
	if _, err := os.Stat(filepath.Dir(at.path)); err != nil {
		return usageError{fmt.Errorf("store %s: the folder is not there: make it, or name another", at.shown)}
	}
	return nil
}

// look says how far the schema is, and changes nothing.
func (at location) look(ctx context.Context) (store.Status, error) {
	var status store.Status
	var err error
	if at.path != "" {
		status, err = sqlite.Look(ctx, at.path)
	} else {
		status, err = postgres.Look(ctx, at.address)
	}
	if err == nil && status.Have > status.Need {
		err = &adapter.SchemaNewer{What: "store", Have: status.Have, Know: status.Need}
	}
	return status, at.explain(err)
}

// explain says which store an error is about, and what is wrong use.
func (at location) explain(err error) error {
	var off *adapter.Unavailable
	switch {
	case err == nil:
		return nil
	case errors.As(err, &off):
		return fmt.Errorf("store %s: %w", at.shown, err)
	case errors.Is(err, fs.ErrNotExist):
		return usageError{fmt.Errorf("store %s: it is not there. weir serve makes one, weir restore brings one back", at.shown)}
	}
	return usageError{fmt.Errorf("store %s: %w", at.shown, err)}
}

// keyFile is where the key of cursors is. It is a file beside the store and
// not in it: so it is in no backup and no copy, and a store that is brought
// back elsewhere gets a new one; all that is lost is where an open list went
// on. Several servers of one database must be given the same file.
func keyFile(set settings.Settings, at location) (string, error) {
	switch {
	case set.CursorKeyFile != "":
		return set.CursorKeyFile, nil
	case at.path != "":
		return at.path + ".key", nil
	}
	folder, err := dataFolder()
	return filepath.Join(folder, "cursor.key"), err
}

// cursorKey reads the key of cursors, and makes it the first time.
func cursorKey(set settings.Settings, at location) (key [32]byte, err error) {
	name, err := keyFile(set, at)
	if err != nil {
		return key, usageError{err}
	}
	if _, err := os.Stat(name); errors.Is(err, fs.ErrNotExist) {
		if set.CursorKeyFile == "" {
			if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
				return key, usageError{err}
			}
		}
		if err := makeKey(name); err != nil {
			return key, usageError{fmt.Errorf("cursorKeyFile: no key can be made there (%w)", cause(err))}
		}
	}
	return readKey(name)
}

func readKey(name string) (key [32]byte, err error) {
	text, err := secret("cursorKeyFile", name)
	if err != nil {
		return key, err
	}
	data, err := hex.DecodeString(text)
	if err != nil || len(data) != len(key) {
		return key, usageError{errors.New("cursorKeyFile: the file it names must hold 64 hexadecimal digits; remove it, and a new one is made")}
	}
	return [32]byte(data), nil
}

// makeKey makes a key file whole or not at all; of two that do so at once one
// wins, and both read the same.
func makeKey(name string) error {
	var key [32]byte
	if _, err := rand.Read(key[:]); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(name), ".weir-*") // read by its owner only
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = fmt.Fprintf(f, "%x\n", key)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Link(f.Name(), name); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return nil
}
