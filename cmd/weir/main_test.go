package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"weir.example/weir/adapter/settings"
	"weir.example/weir/adapter/store/storetest"
)

// asProgram makes this test a program: "weir" runs a command line, "writer"
// writes orders into a store until it is ended, and says each.
const asProgram = "CHILD_OF_A_TEST"

// ofJobs is how long a job may take in such a program, so that work of one
// that was killed is not waited for as long as a night has.
const ofJobs = "CHILD_JOB_TIME"

func TestMain(m *testing.M) { os.Exit(testMain(m)) }

func testMain(m *testing.M) int {
	switch os.Getenv(asProgram) {
	case "weir": // as main does, by a clock that stands still
		ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
		defer stop()
		if d, err := time.ParseDuration(os.Getenv(ofJobs)); err == nil {
			jobTime = d
		}
		return run(ctx, os.Args[1:], streams{in: os.Stdin, out: os.Stdout, err: os.Stderr, now: func() time.Time { return testClock }})
	case "writer":
		return writer(os.Args[1])
	}
	// No test reads or writes what belongs to whoever runs it.
	folder, err := os.MkdirTemp("", "weir-test-")
	if err != nil {
		return 1
	}
	defer os.RemoveAll(folder)
	for _, name := range []string{"XDG_DATA_HOME", "XDG_CONFIG_HOME"} {
		if err := os.Setenv(name, filepath.Join(folder, name)); err != nil {
			return 1
		}
	}
	defer func() {
		if postgresStarted.Load() {
			if server, err := postgresServer(); err == nil {
				_ = server.Close()
			}
		}
	}()
	return m.Run()
}

func writer(address string) int {
	s, err := openStore(context.Background(), settings.Settings{Store: address}, opening{make: true})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	for n := 0; ; n++ {
		if err := s.Commit(context.Background(), storetest.Order(n, testClock)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		time.Sleep(15 * time.Millisecond)
		fmt.Println(n) // told only after the store has said that it is durable
	}
}
