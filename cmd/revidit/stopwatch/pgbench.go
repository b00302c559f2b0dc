package stopwatch

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"revidit/models/pgserver"
)

// script is the recorded transaction for pgbench: the same statements with the same values, but for ids, which are others in each
// transaction.
type script struct {
	text      string
	variables []string // name=value
	photos    int      // uploads that a transaction takes
}

// ids are the texts that identify what a submit has made, photos first.
type ids struct {
	photos, others []string
}

// newScript makes the script of recorded statements. Ids are numbers, which cost pgbench nothing to make: each client
// counts its own in steps.
func newScript(statements []Statement, made ids) script {
	s := script{photos: len(made.photos)}
	var b strings.Builder
	fmt.Fprintf(&b, "\\set n :n + 1\n\\set first (:run + 1) * %d + :client_id * %d + :n * %d\n", ofRun, ofClient, step)
	fresh := map[string]string{}
	name := func(id string) {
		variable := fmt.Sprint("id", len(fresh))
		fmt.Fprintf(&b, "\\set %s :first + %d\n", variable, len(fresh))
		fresh[id] = ":" + variable
	}
	for _, id := range slices.Concat(made.photos, made.others) {
		name(id)
	}
	for _, statement := range statements {
		for _, value := range statement.Values {
			if value != nil && fresh[*value] == "" && made.named(*value) {
				name(*value)
			}
		}
	}
	b.WriteString("BEGIN;\n")
	for _, statement := range statements {
		b.WriteString(placeholder.ReplaceAllStringFunc(oneLine(statement.SQL), func(dollar string) string {
			at, err := strconv.Atoi(dollar[1:])
			if err != nil || at < 1 || at > len(statement.Values) {
				return dollar
			}
			return s.value(statement.Values[at-1], fresh)
		}))
		b.WriteString(";\n")
	}
	b.WriteString("COMMIT;\n")
	s.text = b.String()
	return s
}

// Steps between ids, so that none is made twice.
const (
	ofRun    = 1_000_000_000_000_000
	ofClient = 1_000_000_000_000
	step     = 100
)

// named says whether a text is the name of a stream of something that was made.
func (made ids) named(text string) bool {
	_, id, ok := strings.Cut(text, "/")
	return ok && slices.Contains(made.others, id)
}

var (
	placeholder = regexp.MustCompile(`\$\d+`)
	digest      = regexp.MustCompile(`^\\x[0-9a-f]{64}$`)
)

// oneLine: pgbench ends a statement at a semicolon, wherever lines end.
func oneLine(sql string) string { return strings.Join(strings.Fields(sql), " ") }

// value is how a value stands in the script: as a parameter, as it is in the recorded statement.
func (s *script) value(value *string, fresh map[string]string) string {
	if value == nil {
		return "NULL"
	}
	if *value == "" { // which pgbench takes for no variable at all
		return "''"
	}
	if id, ok := fresh[*value]; ok {
		return id
	}
	if digest.MatchString(*value) { // what makes a job the only one of its kind
		return "sha256(convert_to(:first::text, 'UTF8'))"
	}
	name := fmt.Sprintf("v%d", len(s.variables))
	s.variables = append(s.variables, name+"="+*value)
	return ":" + name
}

// photosOf is a statement that stores as many uploads as so many transactions of each client take.
func (s script) photosOf(run, clients, transactions int) string {
	return fmt.Sprintf(`INSERT INTO uploads (id, sha256, type, width, height, uploader, at)
		SELECT (%d * %d::bigint + c * %d::bigint + n * %d + p)::text, repeat('5e', 32), 'image/jpeg', 1600, 1200, 'pgbench', now()
		FROM generate_series(0, %d) AS c, generate_series(1, %d) AS n, generate_series(0, %d) AS p`,
		run+1, ofRun, ofClient, step, clients-1, transactions, s.photos-1)
}

// run lets pgbench send the script for a time and returns transactions a second.
func (s script) run(ctx context.Context, server *pgserver.Server, url string, run, clients int, last time.Duration) (perSecond float64, err error) {
	folder, err := os.MkdirTemp("", "revidit-pgbench-")
	if err != nil {
		return 0, err
	}
	defer os.RemoveAll(folder)
	file := filepath.Join(folder, "submit.sql")
	if err := os.WriteFile(file, []byte(s.text), 0o600); err != nil {
		return 0, err
	}
	args := []string{"--no-vacuum", "--protocol=prepared", fmt.Sprint("--client=", clients), fmt.Sprint("--time=", int(last.Seconds())),
		"--file=" + file, fmt.Sprint("--define=run=", run), "--define=n=0"}
	for _, v := range s.variables {
		args = append(args, "--define="+v)
	}
	out, err := exec.CommandContext(ctx, filepath.Join(server.Programs, "pgbench"), append(args, url)...).CombinedOutput()
	if err != nil {
		return 0, fmt.Errorf("pgbench: %w\n%s", err, out)
	}
	if strings.Contains(string(out), "processed: 0\n") {
		return 0, fmt.Errorf("%w\n%s", errNoneDone, out)
	}
	found := tps.FindSubmatch(out)
	if found == nil || strings.Contains(string(out), "ERROR") {
		return 0, fmt.Errorf("pgbench: %s", out)
	}
	return strconv.ParseFloat(string(found[1]), 64)
}

var errNoneDone = errors.New("pgbench did not get through one transaction")

var tps = regexp.MustCompile(`tps = ([0-9.]+)`)
