package benchmark

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Posteriors are cases that all state the same characters, which is all that a classifier without missing characters
// can take, and their posterior with everything that our model has: forms, errors of reading and the shared error.
type Posteriors struct {
	Table *Table
	Count int
	// States of all cases, one byte each, case after case.
	States []byte

	model *confidence.Model
	// stated is what is observed, by character and state.
	stated [][]confidence.Observation
}

// NewPosteriors draws cases from the forms of the tables.
func NewPosteriors(judge *judgement.Judge, g *Generator, count int) *Posteriors {
	p := &Posteriors{Table: NewTable(judge.Tables(), Observations), Count: count, model: judge.Model()}
	for _, c := range p.Table.Characters {
		var states []confidence.Observation
		for _, s := range c.States {
			e := judgement.Evidence{Stated: []judgement.Stated{{Character: c.ID, State: s.ID}}}
			states = append(states, judge.Observations(e)...)
		}
		p.stated = append(p.stated, states)
	}
	for range count {
		p.States = append(p.States, g.states(p.Table)...)
	}
	return p
}

// states are one specimen's.
func (g *Generator) states(t *Table) []byte {
	_, form := g.form()
	out := make([]byte, len(t.Characters))
	for i, c := range t.Characters {
		p := t.P[i][len(t.P[i])-1]
		if cell := form.Cells[c.ID]; cell != nil {
			p = cell.P
		}
		out[i] = byte(g.pick(p))
	}
	return out
}

// observe fills in what is observed on one case.
func (p *Posteriors) observe(i int, observations []confidence.Observation) {
	for c, state := range p.States[i*len(observations) : (i+1)*len(observations)] {
		observations[c] = p.stated[c][state]
	}
}

func (p *Posteriors) buffer() []confidence.Observation {
	return make([]confidence.Observation, len(p.Table.Characters))
}

// OneByOne times the first cases, each by itself, on one core.
func (p *Posteriors) OneByOne(ctx context.Context, count int) (Cost, error) {
	observations, out := p.buffer(), make([]float64, p.model.Hypotheses())
	return perUnit(ctx, count, func() {
		for i := range count {
			p.observe(i, observations)
			p.model.Probabilities(observations, confidence.AnySex, nil, out)
		}
	})
}

// part is how many cases a core takes at a time.
const part = 256

// Batch times all cases at once on all cores, as one unit of work. Its result, every probability of every case, is made
// anew each time.
func (p *Posteriors) Batch(ctx context.Context, times int) (Cost, error) {
	var seconds []float64
	for range times {
		if err := ctx.Err(); err != nil {
			return Cost{}, err
		}
		runtime.GC()
		start := time.Now()
		p.all()
		seconds = append(seconds, time.Since(start).Seconds())
	}
	return costOf(seconds), nil
}

func (p *Posteriors) all() []float64 {
	classes := p.model.Hypotheses()
	result := make([]float64, p.Count*classes)
	var next atomic.Int64
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			observations := p.buffer()
			for {
				end := int(next.Add(part))
				if end-part >= p.Count {
					return
				}
				for i := end - part; i < min(end, p.Count); i++ {
					p.observe(i, observations)
					row := result[i*classes : (i+1)*classes : (i+1)*classes]
					p.model.Probabilities(observations, confidence.AnySex, nil, row)
				}
			}
		})
	}
	workers.Wait()
	return result
}

// mostDifference is what our posterior of the same table may differ by from that of the classifier.
const mostDifference = 1e-9

// Agrees compares probabilities of the first cases from elsewhere with our own model of the plain table, and returns
// the largest difference; one above 1e-9 is an error, because then two different things were timed.
func (p *Posteriors) Agrees(theirs [][]float64) (difference float64, err error) {
	model, err := p.Table.Model()
	if err != nil {
		return 0, err
	}
	for i, want := range theirs {
		var observations []confidence.Observation
		for c := range p.Table.Characters {
			state := int(p.States[i*len(p.Table.Characters)+c])
			report := confidence.Report{State: state, Better: confidence.NoState, Accuracy: 1}
			observations = append(observations, confidence.Observation{Character: c, Reports: []confidence.Report{report}})
		}
		for h, got := range model.Posterior(observations, confidence.AnySex, nil).P {
			difference = max(difference, math.Abs(got-want[h]))
		}
	}
	if !(difference <= mostDifference) {
		return difference, fmt.Errorf("the posterior of the same table differs by %v from that of scikit-learn; nothing was compared", difference)
	}
	return difference, nil
}

// CharacterIDs are the characters that the cases state.
func (p *Posteriors) CharacterIDs() []string {
	return ids(p.Table.Characters)
}

func ids(characters []*diagnosis.Character) []string {
	out := make([]string, len(characters))
	for i, c := range characters {
		out[i] = c.ID
	}
	return out
}
