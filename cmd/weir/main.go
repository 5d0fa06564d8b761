// Command weir judges home-infusion orders. It reads flags and settings and
// wires the parts together; nothing here can be wrong about a dose.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"

	"weir.example/weir/adapter"
)

// Exit codes of the outside contract.
const (
	exitFound      = 1 // findings at or above --fail-on
	exitUsage      = 2 // wrong use or configuration
	exitUnreadable = 3 // input unreadable or not FHIR R4
	exitSomeFailed = 4 // some rows failed
	exitAgain      = 5 // try again: database, network
	exitInterrupt  = 130
)

// exit is an outcome that is not an error to be printed: what had to be said
// was said.
type exit struct{ code int }

func (e exit) Error() string { return fmt.Sprint("exit ", e.code) }

// usageError is wrong use: exit 2.
type usageError struct{ error }

// unreadableError is input that cannot be read: exit 3.
type unreadableError struct{ error }

// Unwrap gives what stands behind it.
func (e unreadableError) Unwrap() error { return e.error }

// streams is what a command may read and write. Data goes to out, words to
// err.
type streams struct {
	in       io.Reader
	out, err io.Writer
	terminal bool // out is a terminal
	now      func() time.Time
}

func main() {
	tuneMemory()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second signal ends the program at once
	code := run(ctx, os.Args[1:], streams{in: os.Stdin, out: os.Stdout, err: os.Stderr, terminal: isTerminal(os.Stdout), now: time.Now})
	stop()
	os.Exit(code)
}

// run executes one command line and returns the exit code.
func run(ctx context.Context, args []string, s streams) int {
	root := newRoot(s)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	var e exit
	var usage usageError
	var unreadable unreadableError
	var off *adapter.Unavailable
	switch {
	case err == nil:
		return 0
	case errors.As(err, &e):
		return e.code
	case ctx.Err() != nil:
		return exitInterrupt
	case errors.As(err, &usage):
		fmt.Fprintf(s.err, "weir: %v\n", usage.error)
		return exitUsage
	case errors.As(err, &unreadable):
		fmt.Fprintf(s.err, "weir: %v\n", unreadable.error)
		return exitUnreadable
	case errors.As(err, &off), errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EIO):
		fmt.Fprintf(s.err, "weir: %v\n", err)
		return exitAgain
	}
	fmt.Fprintf(s.err, "weir: %v\n", err)
	return exitUsage
}

func isTerminal(f *os.File) bool {
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0 && os.Getenv("TERM") != "dumb"
}
