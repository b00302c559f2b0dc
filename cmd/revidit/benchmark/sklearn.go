package benchmark

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

//go:embed categorical_nb.py
var script string

// ErrNoScikitLearn: there is no Python with scikit-learn on this machine.
var ErrNoScikitLearn = errors.New("there is no python3 with scikit-learn here")

// notInstalled is the exit code of the script where scikit-learn is missing.
const notInstalled = 3

// pythons are tried in order: a Python of somebody's own often comes before the system's, which has the packages.
var pythons = []string{"python3", "/usr/bin/python3"}

// ScikitLearn is what CategoricalNB of scikit-learn took for the same table and cases.
type ScikitLearn struct {
	Version       string      `json:"sklearn"`
	NumPy         string      `json:"numpy"`
	SingleSeconds float64     `json:"single_seconds"` // one call for one case
	BatchSeconds  float64     `json:"batch_seconds"`  // one call for all
	Compared      [][]float64 `json:"compared"`       // probabilities of the first cases
}

// request is table.json of the script.
type request struct {
	LogPrior []float64     `json:"log_prior"`
	Features [][][]float64 `json:"features"`
	Count    int           `json:"count"`
	Singles  int           `json:"singles"`
	Compared int           `json:"compared"`
	Rounds   int           `json:"rounds"`
}

// ScikitLearn times CategoricalNB: so many calls with one case, and the given number of rounds with all cases. python is
// a program to run; with "" it is the python3 of the path or else the system's.
func (p *Posteriors) ScikitLearn(ctx context.Context, python string, singles, rounds int) (ScikitLearn, error) {
	folder, err := os.MkdirTemp("", "revidit-bench-")
	if err != nil {
		return ScikitLearn{}, err
	}
	defer os.RemoveAll(folder)
	table, err := json.Marshal(request{LogPrior: p.Table.LogPrior(), Features: p.Table.P, Count: p.Count,
		Singles: singles, Compared: min(singles, 100), Rounds: rounds})
	if err != nil {
		return ScikitLearn{}, err
	}
	if err := os.WriteFile(filepath.Join(folder, "table.json"), table, 0o600); err != nil {
		return ScikitLearn{}, err
	}
	if err := os.WriteFile(filepath.Join(folder, "cases.bin"), p.States, 0o600); err != nil {
		return ScikitLearn{}, err
	}
	candidates := pythons
	if python != "" {
		candidates = []string{python}
	}
	for _, python := range candidates {
		answer, err := runScript(ctx, python, folder)
		if !errors.Is(err, ErrNoScikitLearn) {
			return answer, err
		}
	}
	return ScikitLearn{}, ErrNoScikitLearn
}

func runScript(ctx context.Context, python, folder string) (answer ScikitLearn, err error) {
	if _, err := exec.LookPath(python); err != nil {
		return answer, ErrNoScikitLearn
	}
	var said bytes.Buffer
	cmd := exec.CommandContext(ctx, python, "-", folder)
	cmd.Stdin, cmd.Stderr = strings.NewReader(script), &said
	out, err := cmd.Output()
	var exit *exec.ExitError
	if errors.As(err, &exit) && exit.ExitCode() == notInstalled {
		return answer, ErrNoScikitLearn
	}
	if err != nil {
		return answer, fmt.Errorf("scikit-learn could not be timed: %w: %s", err, strings.TrimSpace(said.String()))
	}
	if err := json.Unmarshal(out, &answer); err != nil {
		return answer, fmt.Errorf("the answer of scikit-learn cannot be read: %w", err)
	}
	return answer, nil
}
