package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/terminal"
	"weir.example/weir/mapping/finding"
)

// verify judges all files in parallel and writes the answers in the order of
// the input, each as soon as those before it are written.
func verify(ctx context.Context, s streams, f verifyFlags, files []string) error {
	request, err := f.request(s)
	if err != nil {
		return usageError{err}
	}
	output := f.output
	if output == "" {
		output = "fhir"
		if s.terminal {
			output = "table"
		}
	}
	if !slices.Contains(outputs, output) {
		return usageError{fmt.Errorf("--output %q: need one of %s", output, strings.Join(outputs, ", "))}
	}
	in := &inputs{in: s.in, request: request, workers: runtime.GOMAXPROCS(0)}
	defer in.close()
	if err := in.look(files); err != nil {
		return usageError{err}
	}
	out := adapter.NewWriter(s.out, output, len(files) > 1)
	if output == "table" {
		out = terminal.NewTable(s.out, s.terminal && !f.noColor && os.Getenv("NO_COLOR") == "")
	}
	t := newTally(s, f, len(files) > 1)
	err = adapter.JudgeAll(ctx, in.workers, in.jobs(ctx), out, t.add)
	t.progress.clear()
	switch {
	case err != nil && ctx.Err() != nil:
		if !f.quiet {
			fmt.Fprintf(s.err, "weir: interrupted after %d answers; each one written is whole, and what is not there was not judged\n", t.judged+t.unreadable)
		}
		return exit{exitInterrupt}
	case err != nil:
		return usageError{err}
	}
	if err := out.Close(); err != nil {
		return usageError{err}
	}
	if !f.quiet {
		in.sayLeft(s)
	}
	return t.outcome()
}

// mostBytes bounds what is read from one file before any of it is parsed.
const mostBytes = 50<<20 + 1

// inputs are the documents of a command line. Files are opened one at a time.
type inputs struct {
	in      io.Reader
	request adapter.Request
	workers int
	files   []argument
	open    io.Closer
	folders []*adapter.Folder
}

type argument struct {
	name   string
	folder bool
}

// lines says whether a file holds a document a line; its name tells.
func (i argument) lines() bool { return strings.HasSuffix(i.name, ".ndjson") }

// look settles what each argument is, before anything is written.
func (in *inputs) look(names []string) error {
	for _, name := range names {
		one := argument{name: name}
		if name != "-" {
			info, err := os.Stat(name)
			if err != nil {
				return err
			}
			one.folder = info.IsDir()
		}
		in.files = append(in.files, one)
	}
	return nil
}

// jobs gives the documents of all arguments in turn.
func (in *inputs) jobs(ctx context.Context) adapter.Jobs {
	var lists []adapter.Jobs
	for i, one := range in.files {
		at := adapter.Row{Document: i + 1, File: filepath.Base(one.name)}
		lists = append(lists, later(func() (adapter.Jobs, error) { return in.begin(ctx, one, at) }))
	}
	return adapter.Follow(lists...)
}

// later begins a list when its first job is asked for.
func later(begin func() (adapter.Jobs, error)) adapter.Jobs {
	var list adapter.Jobs
	return func() (adapter.Job, error) {
		if list == nil {
			var err error
			if list, err = begin(); err != nil {
				return adapter.Job{}, err
			}
		}
		return list()
	}
}

func (in *inputs) begin(ctx context.Context, one argument, at adapter.Row) (adapter.Jobs, error) {
	switch {
	case one.folder:
		return in.folder(ctx, one, at)
	case !one.lines():
		data, err := read(in.in, one.name)
		return single(adapter.DocumentJob(data, at, in.request)), err
	}
	in.close()
	file, err := os.Open(one.name)
	if err != nil {
		return nil, err
	}
	in.open = file
	return adapter.LineJobs(file, at, in.request), nil
}

func (in *inputs) close() {
	if in.open != nil {
		_ = in.open.Close() // it was only read
	}
	in.open = nil
}

// folder opens a folder so that no name in it leads out of it.
func (in *inputs) folder(ctx context.Context, one argument, at adapter.Row) (adapter.Jobs, error) {
	root, err := os.OpenRoot(one.name)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	folder, err := adapter.OpenFolder(ctx, root.FS(), in.request, in.workers)
	var whole adapter.FolderFault
	if errors.As(err, &whole) {
		at.Folder = true
		return single(adapter.Job{Row: at, Work: func() adapter.Answer { return adapter.Answer{Faults: []finding.Finding{whole.Finding}} }}), nil
	}
	if err != nil {
		return nil, err
	}
	in.folders = append(in.folders, folder)
	return folder.Jobs(at, in.request), nil
}

func single(job adapter.Job) adapter.Jobs {
	given := false
	return func() (adapter.Job, error) {
		if given {
			return adapter.Job{}, io.EOF
		}
		given = true
		return job, nil
	}
}

// read reads one whole file, "-" for standard input.
func read(in io.Reader, name string) ([]byte, error) {
	if name == "-" {
		return io.ReadAll(io.LimitReader(in, mostBytes))
	}
	file, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	if info, err := file.Stat(); err == nil && info.IsDir() {
		return nil, fmt.Errorf("%s is a folder; a file is needed here", name)
	}
	return io.ReadAll(io.LimitReader(file, mostBytes))
}

// sayLeft lists what of folders no order leads to, by type.
func (in *inputs) sayLeft(s streams) {
	for _, f := range in.folders {
		for _, l := range f.Left {
			fmt.Fprintf(s.err, "weir: not used: %d %s: %s\n", l.Count, l.Type, l.Reason)
		}
		if n := len(f.Files); n > 0 {
			fmt.Fprintf(s.err, "weir: not read: %d files of the folder that are not named Type[.PART].ndjson[.gz]\n", n)
		}
	}
}
