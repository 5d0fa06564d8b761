package main

import (
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"net/url"
	"path"
	"strings"
	"time"
)

// settled is how long no file of an export without a manifest may have
// changed until it counts as complete. Our own decision, no source.
const settled = 5 * time.Minute

// newestExport finds the export of a night. A folder that holds lines or a
// manifest is the export itself. Else each of its sub-folders that holds some
// is one, but for those whose name begins with a dot or ends in .part or .tmp:
// the newest complete one is taken, by transactionTime of its manifest, else
// by the time its newest file changed; of equal ones the last by name. It is
// complete when every file of its manifest is there, or, without a manifest,
// when no file has changed for five minutes.
func newestExport(files fs.FS, now time.Time) (fs.FS, string, error) {
	list, err := fs.ReadDir(files, ".")
	if err != nil {
		return nil, "", err
	}
	if holdsLines(list) {
		_, complete, err := exportTime(files, list, now)
		if err == nil && !complete {
			if _, err = fs.Stat(files, "manifest.json"); err == nil {
				return files, ".", nil // what is missing is said by the night
			}
			err = errors.New("the export is still being written")
		}
		return files, ".", err
	}
	var best fs.FS
	var name string
	var newest time.Time
	waiting := 0
	for _, d := range list {
		if !d.IsDir() || strings.HasPrefix(d.Name(), ".") || strings.HasSuffix(d.Name(), ".part") || strings.HasSuffix(d.Name(), ".tmp") {
			continue
		}
		one, err := fs.Sub(files, d.Name())
		if err != nil {
			return nil, "", err
		}
		inside, err := fs.ReadDir(one, ".")
		if err != nil {
			return nil, "", err
		}
		if !holdsLines(inside) {
			continue
		}
		at, complete, err := exportTime(one, inside, now)
		switch {
		case err != nil:
			return nil, "", err
		case !complete:
			waiting++
		case best == nil || !at.Before(newest):
			best, name, newest = one, d.Name(), at
		}
	}
	switch {
	case best != nil:
		return best, name, nil
	case waiting > 0:
		return nil, "", errors.New("no export in it is complete yet")
	}
	return nil, "", errors.New("there is no export in it: files such as Patient.ndjson, or folders that hold them")
}

func holdsLines(list []fs.DirEntry) bool {
	for _, d := range list {
		if !d.IsDir() && (d.Name() == "manifest.json" || strings.HasSuffix(d.Name(), ".ndjson") || strings.HasSuffix(d.Name(), ".ndjson.gz")) {
			return true
		}
	}
	return false
}

// exportTime is the time of an export, and whether it is complete.
func exportTime(files fs.FS, list []fs.DirEntry, now time.Time) (time.Time, bool, error) {
	have := map[string]bool{}
	var newest time.Time
	for _, d := range list {
		info, err := d.Info()
		if err != nil {
			return newest, false, err
		}
		have[d.Name()] = true
		if info.ModTime().After(newest) {
			newest = info.ModTime()
		}
	}
	if !have["manifest.json"] {
		return newest, now.Sub(newest) >= settled, nil
	}
	f, err := files.Open("manifest.json")
	if err != nil {
		return newest, false, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, 5<<20))
	if err != nil {
		return newest, false, err
	}
	var m struct {
		TransactionTime string
		Output          []struct{ URL string }
	}
	if json.Unmarshal(data, &m) != nil {
		return newest, false, nil
	}
	at, err := time.Parse(time.RFC3339Nano, m.TransactionTime)
	if err != nil {
		return newest, false, nil
	}
	for _, o := range m.Output {
		u, err := url.Parse(o.URL)
		if err != nil {
			return at, false, nil
		}
		if name := path.Base(u.Path); !have[name] && !have[name+".gz"] {
			return at, false, nil
		}
	}
	return at, true, nil
}
