package benchmark

import (
	"context"
	"math/rand/v2"
	"runtime/debug"
	"runtime/metrics"
	"slices"
	"time"

	"revidit/review/confidence"
)

const (
	regions        = 10
	verdictsOnItem = 4
	blindShare     = 0.2 // of the reviewers' reports
)

// Club is a made-up club and what its people have said.
type Club struct {
	Panel    confidence.Panel
	Items    []confidence.Item
	Verdicts int

	random    *rand.Rand
	accuracy  []float64 // by person
	anchoring []float64
}

// NewClub makes about the given number of verdicts, four on each item: one states, three see that or look blind. People
// are right in 0.7 to 0.95 of their looks; their role says 0.8.
func NewClub(people, verdicts int, seed uint64) *Club {
	c := &Club{random: rand.New(rand.NewPCG(seed, 2))}
	c.Panel = confidence.Panel{Regions: regions, Roles: []confidence.Role{confidence.RoleOf(0.8, 0.3, 10)}, Persons: make([]int, people)}
	for region := range regions {
		for _, states := range []int{2, 4, 5} {
			c.Panel.Characters = append(c.Panel.Characters, confidence.Character{States: states})
			c.Panel.Region = append(c.Panel.Region, region)
		}
	}
	for range people {
		c.accuracy = append(c.accuracy, 0.7+0.25*c.random.Float64())
		c.anchoring = append(c.anchoring, 0.1+0.5*c.random.Float64())
	}
	for range max(1, verdicts/verdictsOnItem) {
		c.Items = append(c.Items, c.item())
		c.Verdicts += verdictsOnItem
	}
	return c
}

func (c *Club) item() confidence.Item {
	character := c.random.IntN(len(c.Panel.Characters))
	states := c.Panel.Characters[character].States
	item := confidence.Item{Character: character, Prior: slices.Repeat([]float64{1 / float64(states)}, states)}
	state := c.random.IntN(states)
	people := c.people()
	shown := c.read(people[0], state, states)
	item.Verdicts = append(item.Verdicts, confidence.Verdict{Person: people[0], State: shown, Better: confidence.NoState})
	for _, person := range people[1:] {
		item.Verdicts = append(item.Verdicts, c.verdict(person, shown, c.read(person, state, states)))
	}
	return item
}

// people are as many different ones as report on an item.
func (c *Club) people() []int {
	var people []int
	for len(people) < verdictsOnItem {
		if person := c.random.IntN(len(c.accuracy)); !slices.Contains(people, person) {
			people = append(people, person)
		}
	}
	return people
}

func (c *Club) verdict(person, shown, read int) confidence.Verdict {
	v := confidence.Verdict{Person: person, State: shown, Better: confidence.NoState}
	switch {
	case c.random.Float64() < blindShare:
		v.Blind, v.State = true, read
	case read == shown || c.random.Float64() < c.anchoring[person]:
		v.Kind = confidence.Confirmed
	default:
		v.Kind, v.Better = confidence.Disputed, read
	}
	return v
}

func (c *Club) read(person, state, states int) int {
	if c.random.Float64() < c.accuracy[person] {
		return state
	}
	return (state + 1 + c.random.IntN(states-1)) % states
}

// Fit is what one estimate of everybody's reliability took.
type Fit struct {
	Seconds    float64
	Iterations int
	Converged  bool
	// PeakBytes is the most memory that the program held at a time, the verdicts themselves with it.
	PeakBytes uint64
}

// Fit estimates the reliability of everybody from all verdicts, with all cores.
func (c *Club) Fit(ctx context.Context) (Fit, error) {
	if err := ctx.Err(); err != nil {
		return Fit{}, err
	}
	debug.FreeOSMemory()
	peak := watchMemory()
	start := time.Now()
	r, err := confidence.FitReliability(c.Panel, c.Items, confidence.ReliabilityOptions{})
	seconds := time.Since(start).Seconds()
	held := peak()
	if err != nil {
		return Fit{}, err
	}
	return Fit{Seconds: seconds, Iterations: len(r.LogPosterior), Converged: r.Converged, PeakBytes: held}, nil
}

// watchMemory looks every few milliseconds how much memory is held until its result is called, which returns the most.
func watchMemory() (peak func() uint64) {
	stop, result := make(chan struct{}), make(chan uint64)
	go func() {
		ticker := time.NewTicker(5 * time.Millisecond)
		defer ticker.Stop()
		most := heldMemory()
		for {
			select {
			case <-ticker.C:
				most = max(most, heldMemory())
			case <-stop:
				result <- max(most, heldMemory())
				return
			}
		}
	}()
	return func() uint64 { close(stop); return <-result }
}

// heldMemory is what the runtime has from the system and has not given back, in bytes.
func heldMemory() uint64 {
	samples := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
	metrics.Read(samples)
	return samples[0].Value.Uint64() - samples[1].Value.Uint64()
}
