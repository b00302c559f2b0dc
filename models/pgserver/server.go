// Package pgserver starts a PostgreSQL server of one's own from the programs of the machine, on the loopback interface,
// for tests and for measurements. It ends with the program that started it, and leaves nothing behind.
package pgserver

import (
	"bytes"
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"sync"
	"syscall"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // registers the driver "pgx"
)

// Server is a running server.
type Server struct {
	URL      string // of the database postgres, for a user who may do anything
	Programs string // folder of the programs that belong to it, such as pgbench

	folder string
	keep   bool
	cmd    *exec.Cmd
	log    *safeBuffer
	exited chan struct{} // closed when the process has ended
}

// ErrNoPrograms: the machine has no PostgreSQL to start.
var ErrNoPrograms = errors.New("no PostgreSQL programs (initdb, postgres) in /usr/lib/postgresql/*/bin or PATH; install the package postgresql")

const startTimeout = 60 * time.Second

// Options say what server it is.
type Options struct {
	// Parent is the folder in which the server makes its own.
	Parent string
	// Settings are those of postgresql.conf, "name=value".
	Settings []string
	// Keep leaves the folder when the server is stopped.
	Keep bool
}

// Throwaway are settings for data that nobody needs after a power cut.
var Throwaway = []string{"fsync=off", "synchronous_commit=off", "full_page_writes=off", "shared_buffers=64MB"}

// Start makes a cluster in a new folder and starts it.
func Start(ctx context.Context, o Options) (*Server, error) {
	programs, err := findPrograms()
	if err != nil {
		return nil, err
	}
	folder, err := os.MkdirTemp(o.Parent, "revidit-postgres-")
	if err != nil {
		return nil, fmt.Errorf("make a folder for PostgreSQL: %w", err)
	}
	s := &Server{Programs: programs, folder: folder, keep: o.Keep, log: &safeBuffer{}, exited: make(chan struct{})}
	if err := s.run(ctx, o.Settings); err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	return s, nil
}

// Data is the folder of the cluster.
func (s *Server) Data() string { return filepath.Join(s.folder, "data") }

func (s *Server) run(ctx context.Context, settings []string) error {
	attributes, err := s.attributes()
	if err != nil {
		return err
	}
	data, secret := s.Data(), rand.Text()
	if err := s.initialize(ctx, filepath.Join(s.Programs, "initdb"), data, secret, attributes); err != nil {
		return err
	}
	port, err := freePort()
	if err != nil {
		return err
	}
	s.URL = (&url.URL{Scheme: "postgres", User: url.UserPassword("revidit", secret), Host: net.JoinHostPort("127.0.0.1", port),
		Path: "/postgres", RawQuery: "sslmode=disable"}).String()
	s.cmd = exec.Command(filepath.Join(s.Programs, "postgres"), "-D", data, "-p", port)
	for _, setting := range append([]string{"listen_addresses=127.0.0.1", "unix_socket_directories=", "max_connections=200"}, settings...) {
		s.cmd.Args = append(s.cmd.Args, "-c", setting)
	}
	s.cmd.SysProcAttr = attributes
	s.cmd.Dir, s.cmd.Stdout, s.cmd.Stderr = s.folder, s.log, s.log
	if err := s.launch(); err != nil {
		return fmt.Errorf("start PostgreSQL: %w", err)
	}
	if err := s.waitUntilReady(ctx); err != nil {
		return errors.Join(err, s.end())
	}
	return nil
}

// launch starts the process on a thread that lives as long as it does: the kernel ends the process when the thread
// that started it ends, and that must not be before the program does.
func (s *Server) launch() error {
	started := make(chan error)
	go func() {
		runtime.LockOSThread()
		err := s.cmd.Start()
		started <- err
		if err == nil {
			s.cmd.Wait() // the way it ended is in the log
			close(s.exited)
		}
	}()
	return <-started
}

// initialize makes the cluster. The password keeps other users of the machine out.
func (s *Server) initialize(ctx context.Context, initdb, data, secret string, attributes *syscall.SysProcAttr) error {
	file := filepath.Join(s.folder, "password")
	if err := os.WriteFile(file, []byte(secret), 0o600); err != nil {
		return fmt.Errorf("make a cluster: %w", err)
	}
	if err := giveTo(file, attributes); err != nil {
		return err
	}
	cmd := exec.CommandContext(ctx, initdb, "-D", data, "--username=revidit", "--pwfile="+file, "--auth=password",
		"--encoding=UTF8", "--locale=C", "--no-sync", "--no-instructions")
	cmd.SysProcAttr, cmd.Dir = attributes, s.folder
	output, err := cmd.CombinedOutput()
	if errors.Is(err, fs.ErrPermission) {
		return fmt.Errorf("the user that PostgreSQL runs as cannot enter %s; name a folder that everybody can enter: %w", s.folder, err)
	}
	if err != nil {
		return fmt.Errorf("initdb: %w\n%s", err, output)
	}
	return nil
}

// attributes are how the processes run: as a user without rights where the program runs as root, which PostgreSQL refuses.
func (s *Server) attributes() (*syscall.SysProcAttr, error) {
	attributes := boundToParent()
	if os.Getuid() != 0 {
		return attributes, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		found, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, errUID := strconv.ParseUint(found.Uid, 10, 32)
		gid, errGID := strconv.ParseUint(found.Gid, 10, 32)
		if err := errors.Join(errUID, errGID); err != nil {
			return nil, fmt.Errorf("user %s: %w", name, err)
		}
		attributes.Credential = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
		return attributes, giveTo(s.folder, attributes)
	}
	return nil, errors.New("PostgreSQL does not run as root, and this machine has no user postgres or nobody to run it as")
}

func giveTo(path string, attributes *syscall.SysProcAttr) error {
	if attributes.Credential == nil {
		return nil
	}
	return os.Chown(path, int(attributes.Credential.Uid), int(attributes.Credential.Gid))
}

func (s *Server) waitUntilReady(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, startTimeout)
	defer cancel()
	db, err := sql.Open("pgx", s.URL)
	if err != nil {
		return fmt.Errorf("reach PostgreSQL: %w", err)
	}
	defer db.Close()
	for {
		if err = db.PingContext(ctx); err == nil {
			return nil
		}
		select {
		case <-s.exited:
			return fmt.Errorf("PostgreSQL ended while it started:\n%s", s.log)
		case <-ctx.Done():
			return fmt.Errorf("PostgreSQL does not answer: %w\n%s", err, s.log)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// Stop ends the server, dropping its connections, and removes the folder unless it is to be kept.
func (s *Server) Stop() error {
	err := s.end()
	if s.keep {
		return err
	}
	return errors.Join(err, os.RemoveAll(s.folder))
}

// CreateDatabase makes an empty database on the server of a URL and returns the URL of it.
func CreateDatabase(ctx context.Context, server, name string) (string, error) {
	base, err := url.Parse(server)
	if err != nil {
		return "", errors.New("the database URL is none") // without the text: it may hold a password
	}
	admin, err := sql.Open("pgx", server)
	if err != nil {
		return "", fmt.Errorf("reach PostgreSQL: %w", err)
	}
	defer admin.Close()
	if _, err := admin.ExecContext(ctx, "CREATE DATABASE "+name+" TEMPLATE template0"); err != nil {
		return "", fmt.Errorf("create the database %s: %w", name, err)
	}
	base.Path = "/" + name
	return base.String(), nil
}

func (s *Server) end() error {
	// An interrupt is PostgreSQL's fast shutdown: it does not wait for clients.
	if err := s.cmd.Process.Signal(os.Interrupt); err != nil && !errors.Is(err, os.ErrProcessDone) {
		return err
	}
	<-s.exited
	return nil
}

// findPrograms returns the folder of the newest PostgreSQL's programs.
func findPrograms() (string, error) {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if err != nil {
		return "", err
	}
	slices.SortFunc(found, func(a, b string) int { return majorOf(b) - majorOf(a) })
	if inPath, err := exec.LookPath("initdb"); err == nil {
		found = append(found, inPath)
	}
	for _, initdb := range found {
		folder := filepath.Dir(initdb)
		if _, err := os.Stat(filepath.Join(folder, "postgres")); err == nil {
			return folder, nil
		}
	}
	return "", ErrNoPrograms
}

// majorOf is the 15 of /usr/lib/postgresql/15/bin/initdb, or 0.
func majorOf(initdb string) int {
	major, err := strconv.Atoi(filepath.Base(filepath.Dir(filepath.Dir(initdb))))
	if err != nil {
		return 0
	}
	return major
}

func freePort() (string, error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", fmt.Errorf("find a free port: %w", err)
	}
	_, port, err := net.SplitHostPort(listener.Addr().String())
	return port, errors.Join(err, listener.Close())
}

// safeBuffer is a buffer that may be read while a process writes to it.
type safeBuffer struct {
	mu     sync.Mutex
	buffer bytes.Buffer
}

func (b *safeBuffer) Write(data []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buffer.Write(data)
}

func (b *safeBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buffer.String()
}

// Signal sends a signal to the server and to all processes that it has started, such as SIGSTOP, after which it takes
// connections and answers nothing, and SIGCONT.
func (s *Server) Signal(signal syscall.Signal) error {
	others, err := childrenOf(s.cmd.Process.Pid)
	if err != nil {
		return err
	}
	errs := []error{s.cmd.Process.Signal(signal)}
	for _, pid := range others {
		if err := syscall.Kill(pid, signal); err != nil && !errors.Is(err, syscall.ESRCH) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}
