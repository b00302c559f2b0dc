package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/user"
	"sync"
	"time"

	"github.com/alecthomas/kong"

	"revidit/auth"
)

// securityFlag names the log of what concerns security, the same for the server and for what a keeper does at the command line.
type securityFlag struct {
	SecurityLog string `help:"File to which a line of JSON is appended of each login, refusal, change of an account, file that leaves the house, and command; empty: the log of the server, and no line of commands." env:"REVIDIT_SECURITY_LOG" type:"path" placeholder:"FILE"`
}

// securityLog is the log in a file, or otherwise where there is none; close ends it.
func (f securityFlag) securityLog(instead io.Writer, otherwise *slog.Logger) (log *slog.Logger, end func() error, err error) {
	if f.SecurityLog == "" {
		return otherwise, func() error { return nil }, nil
	}
	file := &appended{path: f.SecurityLog, instead: instead}
	if err := file.open(); err != nil {
		return nil, nil, fmt.Errorf("the security log cannot be written: %w", err)
	}
	return slog.New(slog.NewJSONHandler(file, &slog.HandlerOptions{ReplaceAttr: inUTC})), file.close, nil
}

func inUTC(_ []string, a slog.Attr) slog.Attr {
	if a.Key == slog.TimeKey {
		a.Value = slog.TimeValue(a.Value.Time().UTC())
	}
	return a
}

// appended is a file that lines are added to, readable by its owner alone. Where a program that keeps logs short has moved it away,
// the next line begins a new one. A line that cannot be written goes where errors go, so that it is not lost in silence.
type appended struct {
	path    string
	instead io.Writer
	mu      sync.Mutex
	file    *os.File
}

func (a *appended) open() error {
	file, err := os.OpenFile(a.path, os.O_WRONLY|os.O_APPEND|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	if a.file != nil {
		a.file.Close() // it was moved away; what was written to it is there
	}
	a.file = file
	return nil
}

func (a *appended) close() error { return a.file.Close() }

// Write adds a line.
func (a *appended) Write(line []byte) (int, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	err := a.stay()
	if err == nil {
		_, err = a.file.Write(line)
	}
	if err != nil {
		fmt.Fprintf(a.instead, "the security log cannot be written: %v. The line: %s", err, line)
	}
	return len(line), err
}

// stay opens the file anew where it is not at its place any more.
func (a *appended) stay() error {
	open, err := a.file.Stat()
	if err != nil {
		return err
	}
	if there, err := os.Stat(a.path); err == nil && os.SameFile(open, there) {
		return nil
	}
	return a.open()
}

// keeper is who sits at the command line, by the name of the system.
func keeper() string {
	if who, err := user.Current(); err == nil {
		return who.Username
	}
	return fmt.Sprint(os.Getuid())
}

// watch has the log told of what the command line does to accounts, where one is named.
func (f securityFlag) watch(accounts *auth.Accounts) (end func() error, err error) {
	log, end, err := f.securityLog(os.Stderr, slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, err
	}
	accounts.WatchChanges(func(_ context.Context, what auth.Happening, login string) {
		log.Warn("security", "event", string(what), "account", login, "by", "keeper "+keeper())
	})
	return end, nil
}

// tellCommand adds a line of a command, without what was given to it, where a log is named; serve and demo have lines of their own.
func tellCommand(chosen *kong.Context, on console, began time.Time, failed error) {
	var flag securityFlag
	for _, f := range chosen.Flags() {
		if f.Name == "security-log" {
			flag.SecurityLog, _ = chosen.FlagValue(f).(string)
		}
	}
	if flag.SecurityLog == "" {
		return
	}
	log, end, err := flag.securityLog(on.err, nil)
	if err != nil {
		fmt.Fprintln(on.err, "revidit:", err)
		return
	}
	defer end()
	log.Info("security", "event", "command", "command", commandName(chosen), "by", "keeper "+keeper(), "failed", failed != nil,
		"seconds", int(time.Since(began).Seconds()))
}

// commandName is "user role", without arguments.
func commandName(chosen *kong.Context) string {
	if node := chosen.Selected(); node != nil {
		return node.Path()
	}
	return ""
}
