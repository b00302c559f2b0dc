package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"runtime"
	"runtime/debug"
	"slices"
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
	folder, changed, err := otherCells(tables, b.cells)
	if err != nil {
		return err
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
	fmt.Fprintf(b.on.out, "  %d cells changed; of %d settled determinations %d touched, %v, in %d groups\n", changed, r.Looked, r.Touched, r.Counts, len(r.Groups))
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

// otherCells are tables with a cell changed in each of the families with the most species: of a character two words change places.
func otherCells(tables *diagnosis.Tables, cells int) (folder fs.FS, changed int, err error) {
	folder = tables.Folder()
	families := slices.Clone(tables.Families)
	slices.SortStableFunc(families, func(a, b diagnosis.Family) int { return b.Species - a.Species })
	asked := slices.Clone(tables.Characters) // what is asked first is what is mostly stated
	slices.SortStableFunc(asked, func(a, b diagnosis.Character) int { return rank(a) - rank(b) })
	for i := range families {
		if changed == cells {
			break
		}
		for c := range asked {
			next, ok, err := otherCell(folder, families[i].Name, asked[(c+i)%len(asked)].ID)
			if err != nil {
				return nil, 0, err
			}
			if ok {
				folder, changed = next, changed+1
				break
			}
		}
	}
	return folder, changed, nil
}

func rank(c diagnosis.Character) int {
	if c.AskFirst {
		return 0
	}
	return 1
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
