package simulator

import (
	"context"
	"fmt"

	"revidit/cmd/revidit/simulator/nature"
	"revidit/review/judgement"
)

// Result is what came out in one world.
type Result struct {
	Seed      uint64
	Specimens []Specimen
	Figures   Figures
	Signs     Signs
}

// Run lets one world go through the service, and the same world again with cases in order of arrival. Equal options give
// equal results. closed is told each time that a specimen is closed, twice for each of them.
func Run(ctx context.Context, judge *judgement.Judge, o nature.Options, closed func()) (Result, error) {
	world := nature.New(judge.Tables(), o)
	asked, err := interview(ctx, world, judge)
	if err != nil {
		return Result{}, err
	}
	result, err := ours(ctx, judge, world, asked, closed)
	if err != nil {
		return Result{}, fmt.Errorf("seed %d: %w", o.Seed, err)
	}
	other, err := newClub(world, judge, asked, closed)
	if err == nil {
		err = other.run(ctx, &arrival{club: other})
	}
	if err != nil {
		return Result{}, fmt.Errorf("seed %d, in order of arrival: %w", o.Seed, err)
	}
	for i, at := range other.lastRight() {
		result.Specimens[i].LooksArrival = at
	}
	result.Figures.SpentArrival = other.spent
	return result, result.Figures.measure(result.Specimens, o.Seed)
}

// RunOurs is Run without order of arrival, of which Result then says that it never gets anywhere. closed is told once for
// each specimen.
func RunOurs(ctx context.Context, judge *judgement.Judge, o nature.Options, closed func()) (Result, error) {
	world := nature.New(judge.Tables(), o)
	asked, err := interview(ctx, world, judge)
	if err != nil {
		return Result{}, err
	}
	result, err := ours(ctx, judge, world, asked, closed)
	if err != nil {
		return Result{}, fmt.Errorf("seed %d: %w", o.Seed, err)
	}
	return result, result.Figures.measure(result.Specimens, o.Seed)
}

func ours(ctx context.Context, judge *judgement.Judge, world *nature.World, asked [][]int, closed func()) (Result, error) {
	c, err := newClub(world, judge, asked, closed)
	if err != nil {
		return Result{}, err
	}
	if err := c.run(ctx, newQueue(c)); err != nil {
		return Result{}, err
	}
	result := Result{Seed: world.Seed, Specimens: c.outcomes()}
	result.Figures.Spent = c.spent
	result.Figures.reliability(c)
	result.Signs, err = c.signs()
	return result, err
}
