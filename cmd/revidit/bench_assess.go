package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"

	"revidit/cmd/revidit/benchmark"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

type benchAssess struct {
	Cases    int    `help:"Cases in the batch that is timed beside scikit-learn." default:"100000" placeholder:"N"`
	Verdicts int    `help:"Verdicts to estimate reliabilities from." default:"1000000" placeholder:"N"`
	Growth   int    `help:"Times the reports and times the families that are timed as well." default:"10" placeholder:"N"`
	Seed     uint64 `help:"Seed of the made-up cases and verdicts." default:"1" placeholder:"N"`
	Python   string `help:"Python that has scikit-learn; empty: python3 of the path, then the system's." placeholder:"PROGRAM"`
	NoPython bool   `help:"Leave out the comparison with scikit-learn."`
}

const (
	assessedCases = 300 // cases of each whole assessment, and of one-by-one posteriors
	people        = 3   // with reports on each observation
	// figureFamilies is how many families us_per_assessment is about; the tables have more, and grow.
	figureFamilies = 100
	batchRounds    = 5
	verdictsEach   = 1000 // by one person, on the average
)

// Validate checks the numbers.
func (c *benchAssess) Validate() error {
	if c.Cases < 1 || c.Verdicts < 1 || c.Growth < 1 {
		return errors.New("--cases, --verdicts and --growth must be above 0; nothing was measured")
	}
	return nil
}

// Run measures and prints, and ends with the line of figures.
func (c *benchAssess) Run(ctx context.Context, io console) error {
	m := measuring{ctx: ctx, out: io.out, command: c, judge: review.NewJudge(diagnosis.Default())}
	fmt.Fprintf(m.out, "%s, %s/%s, %d cores; times are medians of several rounds. Rounds far apart mean that the machine is busy.\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	for _, measure := range []func() error{m.assessments, m.posteriors, m.reliability} {
		if err := measure(); err != nil {
			return err
		}
	}
	fmt.Fprintf(m.out, "\n%s\n", m.figures)
	return nil
}

// measuring is one run.
type measuring struct {
	ctx     context.Context
	out     io.Writer
	command *benchAssess
	judge   *judgement.Judge
	figures assessFigures
}

// assessFigures are the results in short.
type assessFigures struct {
	assessment          benchmark.Cost
	perCase, batch, fit float64 // perCase and batch are 0 where they are not known
}

// String is for a program to read.
func (f assessFigures) String() string {
	return fmt.Sprintf("us_per_assessment=%.1f allocs=%.1f per_case_ratio=%s batch_ratio=%s em_seconds=%.4f",
		f.assessment.Microseconds(), f.assessment.Allocs, orUnknown(f.perCase), orUnknown(f.batch), f.fit)
}

func orUnknown(ratio float64) string {
	if ratio == 0 {
		return "unknown"
	}
	return fmt.Sprintf("%.2f", ratio)
}

func (m *measuring) title(text string) { fmt.Fprintf(m.out, "\n%s\n", text) }

func (m *measuring) line(format string, values ...any) {
	fmt.Fprintf(m.out, "  "+format+"\n", values...)
}

// cases are drawn anew with the same seed, so that the specimens are the same however many people report on them.
func (m *measuring) cases(people int) []judgement.Evidence { return m.casesOf(m.judge, people) }

func (m *measuring) casesOf(judge *judgement.Judge, people int) []judgement.Evidence {
	generator := benchmark.NewGenerator(judge.Tables(), m.command.Seed)
	cases := make([]judgement.Evidence, min(assessedCases, m.command.Cases))
	for i := range cases {
		cases[i] = generator.Evidence(people)
	}
	return cases
}

// assessments times whole ones, with ten times the reports and ten times the families beside them.
func (m *measuring) assessments() error {
	families, growth := len(m.judge.Tables().Families), m.command.Growth
	m.title(fmt.Sprintf("Whole assessment: posterior, contradictions, why, what to check next; %d observations, one core", benchmark.Observations))
	hundred, err := benchmark.Largest(m.judge.Tables(), figureFamilies)
	if err != nil {
		return err
	}
	judge := review.NewJudge(hundred)
	m.figures.assessment, err = m.assess(judge, m.casesOf(judge, people), "the %d largest families, %d people on each observation", figureFamilies, people)
	if err != nil {
		return err
	}
	cases := m.cases(people)
	one, err := m.assess(m.judge, cases, "%d families, %d people on each observation", families, people)
	if err != nil {
		return err
	}
	reports, err := m.assess(m.judge, m.cases(people*growth), "%d families, %d people on each observation", families, people*growth)
	if err != nil {
		return err
	}
	grown, err := benchmark.Multiplied(m.judge.Tables(), growth)
	if err != nil {
		return err
	}
	wide, err := m.assess(review.NewJudge(grown), cases, "%d families, %d people on each observation", len(grown.Families), people)
	if err != nil {
		return err
	}
	m.grown("report", one, reports)
	m.grown("family", one, wide)
	return nil
}

// grown says what the cost of one becomes when there are more of them: the same where it grows in proportion.
func (m *measuring) grown(what string, one, more benchmark.Cost) {
	times := more.Seconds / one.Seconds
	m.line("%d for every %s take %.2f times as long, %.2f times for each.", m.command.Growth, what, times, times/float64(m.command.Growth))
}

func (m *measuring) assess(judge *judgement.Judge, cases []judgement.Evidence, what string, values ...any) (benchmark.Cost, error) {
	cost, err := benchmark.Assessment(m.ctx, judge, cases)
	if err == nil {
		m.line("%s: %.1f µs (rounds %.1f to %.1f), %.1f allocations", fmt.Sprintf(what, values...), cost.Microseconds(), cost.Fastest*1e6, cost.Slowest*1e6, cost.Allocs)
	}
	return cost, err
}

// posteriors times the posterior alone, beside scikit-learn where that is to be had.
func (m *measuring) posteriors() error {
	p := benchmark.NewPosteriors(m.judge, benchmark.NewGenerator(m.judge.Tables(), m.command.Seed), m.command.Cases)
	m.title("Posterior alone, with forms, errors of reading and the shared error; one report on each of " + strings.Join(p.CharacterIDs(), ", "))
	singles := min(assessedCases, p.Count)
	single, err := p.OneByOne(m.ctx, singles)
	if err != nil {
		return err
	}
	m.line("one by one: %.2f µs a case (rounds %.2f to %.2f), %.1f allocations, one core",
		single.Microseconds(), single.Fastest*1e6, single.Slowest*1e6, single.Allocs)
	batch, err := p.Batch(m.ctx, batchRounds)
	if err != nil {
		return err
	}
	m.line("all %d cases: %.3f s (rounds %.3f to %.3f), %.2f µs a case, all cores",
		p.Count, batch.Seconds, batch.Fastest, batch.Slowest, batch.Microseconds()/float64(p.Count))
	if m.command.NoPython {
		m.line("scikit-learn was left out.")
		return nil
	}
	theirs, err := p.ScikitLearn(m.ctx, m.command.Python, singles, batchRounds)
	if errors.Is(err, benchmark.ErrNoScikitLearn) {
		m.line("%v, so nothing stands beside it. On Debian, install the package python3-sklearn and run this again.", err)
		return nil
	}
	if err != nil {
		return err
	}
	difference, err := p.Agrees(theirs.Compared)
	if err != nil {
		return err
	}
	m.figures.perCase, m.figures.batch = theirs.SingleSeconds/single.Seconds, theirs.BatchSeconds/batch.Seconds
	m.line("scikit-learn %s, CategoricalNB, with NumPy %s: %.2f µs a case, %.3f s for all", theirs.Version, theirs.NumPy, theirs.SingleSeconds*1e6, theirs.BatchSeconds)
	m.line("Without forms and errors our posterior equals it to %.0e in %d cases.", difference, len(theirs.Compared))
	m.line("scikit-learn takes %.2f times as long as we do one by one, and %.2f times as long for all.", m.figures.perCase, m.figures.batch)
	return nil
}

// reliability times the estimate of everybody's reliability.
func (m *measuring) reliability() error {
	club := benchmark.NewClub(max(10, m.command.Verdicts/verdictsEach), m.command.Verdicts, m.command.Seed)
	fit, err := club.Fit(m.ctx)
	if err != nil {
		return err
	}
	m.title(fmt.Sprintf("Reliability of %d people from %d verdicts", len(club.Panel.Persons), club.Verdicts))
	how := "converged"
	if !fit.Converged {
		how = "not converged"
	}
	m.line("%.2f s, %d iterations, %s; at most %d MiB of memory held, verdicts included", fit.Seconds, fit.Iterations, how, fit.PeakBytes>>20)
	m.figures.fit = fit.Seconds
	return nil
}
