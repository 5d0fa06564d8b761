package storetest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// Server is a private PostgreSQL on a socket in a folder of its own, with
// the settings of a fresh installation, so that a commit waits for the disk.
type Server struct {
	folder string
	bin    string
	as     *syscall.Credential // nil: as we are
	run    *exec.Cmd
	hold   io.WriteCloser // closing it stops the server at once
	number atomic.Int64
}

// Required says that a missing PostgreSQL is a failure and no reason to skip.
func Required() bool { return os.Getenv("CI") != "" }

// ErrNoServer says that no PostgreSQL is installed.
var ErrNoServer = errors.New("no PostgreSQL found in /usr/lib/postgresql/*/bin or on the path")

// StartServer starts a server. A server does not run as root: then it runs as
// the user postgres or nobody.
func StartServer() (*Server, error) {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if len(found) == 0 {
		path, err := exec.LookPath("initdb")
		if err != nil {
			return nil, ErrNoServer
		}
		if path, err = filepath.EvalSymlinks(path); err != nil {
			return nil, err
		}
		found = []string{path}
	}
	s := &Server{bin: filepath.Dir(found[len(found)-1])}
	var err error
	if s.folder, err = os.MkdirTemp("", "weir-pg"); err != nil {
		return nil, err
	}
	if os.Getuid() == 0 {
		u, err := user.Lookup("postgres")
		if err != nil {
			if u, err = user.Lookup("nobody"); err != nil {
				return nil, err
			}
		}
		uid, _ := strconv.ParseUint(u.Uid, 10, 32)
		gid, _ := strconv.ParseUint(u.Gid, 10, 32)
		s.as = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
		if err := os.Chown(s.folder, int(uid), int(gid)); err != nil {
			return nil, err
		}
	}
	init := s.command(filepath.Join(s.bin, "initdb"), "-D", s.data(), "--auth=trust", "--username=weir", "--no-sync", "--encoding=UTF8", "--locale=C.UTF-8")
	if out, err := init.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("initdb: %w: %s", err, out)
	}
	return s, s.Start()
}

func (s *Server) data() string { return filepath.Join(s.folder, "data") }

func (s *Server) command(name string, args ...string) *exec.Cmd {
	c := exec.Command(name, args...)
	c.Dir = s.folder
	if s.as != nil {
		c.SysProcAttr = &syscall.SysProcAttr{Credential: s.as}
	}
	return c
}

// Start runs the server again after a Stop, below a shell that stops it when we
// are gone. It waits until it answers.
func (s *Server) Start() error {
	log, err := os.OpenFile(filepath.Join(s.folder, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer func() { _ = log.Close() }()
	s.run = s.command("/bin/sh", "-c", `"$@" & server=$!; read -r end; kill -QUIT $server; wait $server`, "sh",
		filepath.Join(s.bin, "postgres"), "-D", s.data(), "-c", "listen_addresses=", "-c", "unix_socket_directories="+s.folder, "-c", "max_connections=100")
	s.run.Stdout, s.run.Stderr = log, log
	if s.hold, err = s.run.StdinPipe(); err != nil {
		return err
	}
	if err := s.run.Start(); err != nil {
		return err
	}
	for end := time.Now().Add(time.Minute); ; time.Sleep(20 * time.Millisecond) {
		c, err := pgx.Connect(context.Background(), s.Address("postgres"))
		if err == nil {
			return c.Close(context.Background())
		}
		if time.Now().After(end) {
			text, _ := os.ReadFile(filepath.Join(s.folder, "log"))
			return fmt.Errorf("the server did not start: %w: %s", err, text)
		}
	}
}

// Log is what the server has written into its log.
func (s *Server) Log() (string, error) {
	text, err := os.ReadFile(filepath.Join(s.folder, "log"))
	return string(text), err
}

// Address is where a database of the server is.
func (s *Server) Address(database string) string {
	return fmt.Sprintf("host=%s user=weir dbname=%s", s.folder, database)
}

// Stop ends the server as a crash does: at once, without a checkpoint.
func (s *Server) Stop() {
	_ = s.hold.Close()
	_ = s.run.Wait()
}

// Close stops the server and removes its folder.
func (s *Server) Close() error {
	s.Stop()
	return os.RemoveAll(s.folder)
}

// Fresh makes an empty database.
func (s *Server) Fresh(tb testing.TB) string {
	name := fmt.Sprint("t", s.number.Add(1))
	if err := s.Do("CREATE DATABASE " + name); err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		if err := s.Do("DROP DATABASE " + name + " WITH (FORCE)"); err != nil {
			tb.Error(err)
		}
	})
	return s.Address(name)
}

// Do runs one statement in the server's own database.
func (s *Server) Do(sql string) error {
	ctx := context.Background()
	c, err := pgx.Connect(ctx, s.Address("postgres"))
	if err != nil {
		return err
	}
	_, err = c.Exec(ctx, sql)
	return errors.Join(err, c.Close(ctx))
}

// Settle starts the server again when it was stopped, and waits until no
// store is connected.
func (s *Server) Settle(stopped bool) error {
	if stopped {
		if err := s.Start(); err != nil {
			return err
		}
	}
	for range 500 {
		c, err := pgx.Connect(context.Background(), s.Address("postgres"))
		if err != nil {
			return err
		}
		var n int
		err = c.QueryRow(context.Background(), "SELECT count(*) FROM pg_stat_activity WHERE application_name = 'weir'").Scan(&n)
		if err := errors.Join(err, c.Close(context.Background())); err != nil {
			return err
		}
		if n == 0 {
			return nil
		}
		time.Sleep(20 * time.Millisecond)
	}
	return errors.New("somebody is still connected")
}
