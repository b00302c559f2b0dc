// Command revidit is a determination-review service for insect clubs and museum sections: pages, an API and the
// command line in one program.
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

	"github.com/alecthomas/kong"

	"revidit/review/service"
)

// version is set by the linker for a release.
var version = "0.1.0-dev"

// commands are those of the command line; kong makes the help from the tags.
type commands struct {
	Demo    demoCommand    `cmd:"" help:"Serve a made-up club with its submissions, to try everything."`
	Serve   serveCommand   `cmd:"" help:"Serve a club's pages and API."`
	Migrate migrateCommand `cmd:"" help:"Bring a database to the schema of this program."`
	Lint    tablesCheck    `cmd:"" help:"Another name of tables check."`
	Assess  assessCommand  `cmd:"" help:"Assess specimens: JSON lines on standard input, JSON lines on standard output."`
	Tables  tablesCommand  `cmd:"" help:"Check the diagnosis tables, and export and import their releases."`
	Bench   benchCommand   `cmd:"" help:"Measure on this machine what the documentation claims."`
	User    userCommand    `cmd:"" help:"Add people and change their roles and passwords."`

	Keys    keysCommand    `cmd:"" help:"Rotate the keys that sign tokens, without ending logins."`
	Machine machineCommand `cmd:"" help:"Give tokens to programs that act for themselves, and revoke them."`

	Reassess  reassessCommand  `cmd:"" help:"Assess open submissions anew with the tables in force, or tell what other tables, another policy or another reliability would do to what is settled."`
	Key       keyCommand       `cmd:"" help:"Print a dichotomous key to the families of a region as PDF."`
	Labels    labelsCommand    `cmd:"" help:"Say which labels of specimens would be printed, and with --out print them as PDF."`
	Refit     refitCommand     `cmd:"" help:"Weigh all reports on closed specimens together: how reliable people are."`
	Backup    backupCommand    `cmd:"" help:"Copy a club, while it is served, into a folder from which every change shows."`
	Restore   restoreCommand   `cmd:"" help:"Put a copy into an empty place, or check it."`
	Export    exportCommand    `cmd:"" help:"Write the whole history to a file that revidit verify checks."`
	Archive   archiveCommand   `cmd:"" help:"Write Darwin Core archives for others, and take in those of others."`
	Inventory inventoryCommand `cmd:"" aliases:"collection" help:"Take in the table of an old collection, CSV or XLSX."`
	Prove     proveCommand     `cmd:"" help:"Prove that one event stands in the history, or that it only grew."`
	Verify    verifyCommand    `cmd:"" help:"Check, offline, an export or a proof of the history against a public key."`
	Rebuild   rebuildCommand   `cmd:"" help:"Make all rows of the database again from the events, and say what differed."`
	Dump      dumpCommand      `cmd:"" help:"Write all that rebuild makes from the events to a file, so that it can be compared byte for byte with another time or database."`
	Sbom      sbomCommand      `cmd:"" help:"Write what this program is built of, as a bill of materials (CycloneDX, JSON)."`
	Remake    remakeCommand    `cmd:"" help:"Compute every assessment of the past again from what is stored, and say which come out otherwise."`

	Version kong.VersionFlag `help:"Print the version."`
}

// console is where a command reads and writes, so that tests can hold it.
type console struct {
	in       io.Reader
	out, err io.Writer
}

// exitError ends the program with a code after everything has been said.
type exitError struct{ code int }

func (e exitError) Error() string { return fmt.Sprintf("exit code %d", e.code) }

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], console{in: os.Stdin, out: os.Stdout, err: os.Stderr}))
}

// run is the whole program: 0 for success, 1 when something is wrong, 2 when the command line is.
func run(ctx context.Context, args []string, io console) int {
	ctx = service.Unhurried(ctx)
	var cli commands
	exit := -1
	parser, err := kong.New(&cli, kong.Name("revidit"),
		kong.Description("Determination review for insect clubs and museum sections."),
		kong.Vars{"version": version}, kong.Writers(io.out, io.err), kong.Exit(func(code int) { exit = code }),
		kong.BindTo(ctx, (*context.Context)(nil)), kong.Bind(io))
	if err != nil {
		fmt.Fprintln(io.err, "revidit:", err)
		return 2
	}
	chosen, err := parser.Parse(args)
	if exit >= 0 {
		return exit
	}
	if err != nil {
		fmt.Fprintln(io.err, "revidit:", err)
		fmt.Fprintln(io.err, "Run revidit --help for the commands.")
		return 2
	}
	began := time.Now()
	err = chosen.Run()
	tellCommand(chosen, io, began, err)
	var code exitError
	if errors.As(err, &code) {
		return code.code
	}
	if err != nil {
		fmt.Fprintln(io.err, "revidit:", err)
		return 1
	}
	return 0
}
