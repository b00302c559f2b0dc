package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"revidit/cmd/revidit/collection"
	"revidit/models"
	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

type benchReassess struct {
	Rows  int `help:"Settled determinations of the made-up collection, at least." default:"100000" placeholder:"N"`
	Cells int `help:"Cells that the other tables have otherwise, of as many families." default:"5" placeholder:"N"`
}

// timedAtMost determinations have their posteriors timed, spread over all; of more it is worked out from these.
const timedAtMost = 100_000

// Validate checks the numbers.
func (c *benchReassess) Validate() error {
	if c.Rows < 1 || c.Cells < 1 {
		return errors.New("--rows and --cells must be above 0; nothing was measured")
	}
	return nil
}

// Run fills a PostgreSQL of its own, copies what reassessing reads and writes, times the bare posteriors, and reassesses.
func (c *benchReassess) Run(ctx context.Context, on console) error {
	return onOwnPostgres(ctx, "reassess", func(_ string, db *models.DB) error {
		if err := c.fill(ctx, on, db); err != nil {
			return err
		}
		b := reassessBench{on: on, cells: c.Cells, db: db, service: service.NewService(db, nil, service.NewLibrary(diagnosis.All()...), service.Options{})}
		return b.measure(ctx)
	})
}

func (c *benchReassess) fill(ctx context.Context, on console, db *models.DB) error {
	moulds, err := collection.Live(ctx, 1, fewestLives, func(int, int) {})
	if err != nil {
		return err
	}
	progress := newProgress(on, "Making up, in ten thousands")
	return db.Fill(ctx, c.settled(moulds.Of(tooMany*c.Rows, 1, time.Now(), ""), progress))
}

// tooMany times as many submissions are told of as are wanted: what is not settled is left out.
const tooMany = 10

// settled are the specimens of a collection of which a determination is settled, as many as are wanted.
func (c *benchReassess) settled(all *collection.Collection, progress func(done, all int)) iter.Seq2[models.Filling, error] {
	return func(yield func(models.Filling, error) bool) {
		n, told := 0, 0
		for f, err := range all.Fillings(func(int, int) {}) {
			settled := 0
			for i := range f.Submissions {
				if f.Submissions[i].Status == review.StatusConfirmed {
					settled++
				}
			}
			if err == nil && len(f.Specimens) > 0 && settled == 0 {
				continue
			}
			if !yield(f, err) {
				return
			}
			if n += settled; n >= c.Rows {
				yield(all.Refit())
				return
			}
			if n/10_000 > told {
				told = n / 10_000
				progress(told, c.Rows/10_000)
			}
		}
	}
}

// reassessBench is one run.
type reassessBench struct {
	on      console
	cells   int
	db      *models.DB
	service *service.Service
}

// curatorOfBench is who asks.
var curatorOfBench = review.Actor{Person: "bench", Name: "bench", Role: review.RoleCurator}

func (b *reassessBench) measure(ctx context.Context) error {
	fmt.Fprintf(b.on.out, "%s, %s/%s, %d cores\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	tables := diagnosis.Default()
	of, err := b.mostStated(ctx)
	if err != nil {
		return err
	}
	folder, changed, err := otherCells(tables, of, b.cells)
	if err != nil {
		return err
	}
	if len(changed) < b.cells {
		return fmt.Errorf("only %d of %d cells could be changed; nothing was measured", len(changed), b.cells)
	}
	key, job, err := b.service.PrepareReassessment(ctx, curatorOfBench, service.ReassessmentForm{Group: tables.Group.ID, Folder: folder})
	if err != nil {
		return err
	}
	debug.FreeOSMemory()
	forgetPeak()
	progress := newProgress(b.on, "Weighed anew")
	began, spent := time.Now(), processTime()
	if err := b.service.Do(ctx, job, func(step service.JobStep) { progress(step.Done/100_000, step.Total/100_000) }); err != nil {
		return err
	}
	total, peak := time.Since(began), peakBytes()
	spent = processTime() - spent
	r, err := b.service.Reassessment(ctx, curatorOfBench, tables.Group.ID, key)
	if err != nil {
		return err
	}
	fmt.Fprintf(b.on.out, "  cells changed: %s\n  of %d settled determinations %d stay as they are for certain, %d touched, %v, in %d groups\n", strings.Join(changed, ", "), r.Looked, r.Same, r.Touched, r.Counts, len(r.Groups))
	if r.Touched == 0 {
		return errors.New("the other tables touch nothing, so that it was not measured what finding causes and storing rows take")
	}
	out, in, err := b.db.CopyReassessed(ctx)
	if err != nil {
		return err
	}
	each, err := b.posteriors(ctx, r)
	if err != nil {
		return err
	}
	copied, posterior := out.Took+in.Took, time.Duration(float64(each)*2*float64(r.Looked))
	fmt.Fprintf(b.on.out, "  COPY out %d rows, %.1f MB: %.3f s; COPY in %d rows, %.1f MB: %.3f s\n", out.Rows, float64(out.Bytes)/1e6, out.Took.Seconds(), in.Rows, float64(in.Bytes)/1e6, in.Took.Seconds())
	fmt.Fprintf(b.on.out, "  bare posteriors %.2f µs each, two of each determination: by the present tables and by the other ones\n", float64(each)/1e3)
	base := copied.Seconds() + posterior.Seconds()/float64(runtime.GOMAXPROCS(0))
	fmt.Fprintf(b.on.out, "  reassessing took %.3f s of the processor in %.3f s, without PostgreSQL\n", spent.Seconds(), total.Seconds())
	fmt.Fprintf(b.on.out, "\nrows=%d copy_s=%.3f posterior_cpu_s=%.3f total_s=%.3f ratio=%.2f peak_mib=%d\n", r.Looked, copied.Seconds(), posterior.Seconds(),
		total.Seconds(), total.Seconds()/base, peak>>20)
	return nil
}

// stated is a character that is stated of settled specimens of a family, and of how many.
type stated struct {
	family, character string
	n                 int
}

// lookedAt is of how many rows it is counted what is stated.
const lookedAt = 20_000

// mostStated are the characters that are stated of settled determinations, those first that are stated of most of one family: a change of
// their cells concerns as many as a change can.
func (b *reassessBench) mostStated(ctx context.Context) ([]stated, error) {
	rows, _, err := b.db.FindGrounds(ctx, "", lookedAt)
	if err != nil {
		return nil, err
	}
	reader, counts := review.NewGroundsReader(), map[stated]int{}
	var spec review.Specimen
	for i := range rows {
		if rows[i].Submission == "" {
			if spec, err = reader.Specimen(&rows[i]); err != nil {
				return nil, err
			}
			continue
		}
		sub, err := reader.Submission(&rows[i])
		if err != nil {
			return nil, err
		}
		if sub.Status != review.StatusConfirmed {
			continue
		}
		for _, o := range spec.Observations {
			if slices.Contains(sub.Cites, o.ID) {
				counts[stated{family: sub.Determination.Family, character: o.Character}]++
			}
		}
	}
	var most []stated
	for s, n := range counts {
		s.n = n
		most = append(most, s)
	}
	slices.SortFunc(most, func(x, y stated) int {
		return cmp.Or(cmp.Compare(y.n, x.n), cmp.Compare(x.family, y.family), cmp.Compare(x.character, y.character))
	})
	return most, nil
}

// otherCells are tables with a cell changed in each of the families of which most is stated: of a character two words change places.
func otherCells(tables *diagnosis.Tables, of []stated, cells int) (folder fs.FS, changed []string, err error) {
	folder = tables.Folder()
	done := map[string]bool{}
	for _, s := range of {
		if len(changed) == cells {
			break
		}
		if done[s.family] {
			continue
		}
		next, ok, err := otherCell(folder, s.family, s.character)
		if err != nil {
			return nil, nil, err
		}
		if ok {
			folder, changed, done[s.family] = next, append(changed, s.character+" of "+s.family), true
		}
	}
	return folder, changed, nil
}

// otherCell is the folder with one cell changed, and false where it has none that can be.
func otherCell(folder fs.FS, family, character string) (fs.FS, bool, error) {
	edit, written, err := diagnosis.Written(folder, family, "", character)
	if err != nil || !written || len(edit.States) < 2 || edit.States[0].Word == edit.States[1].Word {
		return nil, false, err
	}
	edit.States[0].Word, edit.States[1].Word = edit.States[1].Word, edit.States[0].Word
	next, err := diagnosis.Edited(folder, []diagnosis.CellEdit{edit})
	if err != nil {
		return nil, false, err
	}
	loaded, problems := diagnosis.Load(next)
	return next, len(problems) == 0 && len(loaded.Lint()) == 0, nil
}

// posteriors is the time of the processor that one bare posterior takes.
func (b *reassessBench) posteriors(ctx context.Context, r review.Reassessment) (time.Duration, error) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	const page = 4000
	every := max(r.Looked/timedAtMost, 1)
	var spent time.Duration
	n, p := 0, &confidence.Posterior{}
	for at, after := 0, ""; ; at++ {
		rows, next, err := b.db.FindGrounds(ctx, after, page)
		if err != nil {
			return 0, err
		}
		if at%every == 0 {
			var bare []service.Bare
			if err := b.service.BareOf(ctx, r.Of.Group, r.Key, rows, func(e service.Bare) { bare = append(bare, e) }); err != nil {
				return 0, err
			}
			began := threadTime()
			for i := range bare {
				bare[i].Model.FillPosteriorOf(p, bare[i].Evidence)
			}
			spent, n = spent+threadTime()-began, n+len(bare)
		}
		if after = next; next == "" {
			return spent / time.Duration(max(n, 1)), nil
		}
	}
}
