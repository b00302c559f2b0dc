// Package simulator tries the service on a made-up club: it drives the real workflow of package review with specimens
// and people of package nature, and measures what comes out against the truth, which only nature knows.
package simulator

import (
	"context"
	"fmt"
	"time"

	"revidit/cmd/revidit/simulator/nature"
	"revidit/review"
	"revidit/review/audit"
	"revidit/review/judgement"
)

// learnEvery is how many closed specimens are taken in together. The service takes each by itself, which gives the same
// to within what Reliability.Add forgets.
const learnEvery = 100

// begin is when the made-up club opens.
var begin = time.Date(2026, 1, 2, 8, 0, 0, 0, time.UTC)

// club is one course of events in one world.
type club struct {
	world  *nature.World
	judge  *judgement.Judge
	asked  [][]int // characters stated, by specimen
	policy review.Policy
	people review.Reliability
	cases  []review.Case
	desk   desk
	now    time.Time
	ids    int
	// numbers are the places of specimens by id.
	numbers map[string]int
	told    func() // of each closed specimen

	closed  []review.Closed // taken in
	waiting []review.Closed // closed, not taken in yet
	open    int

	spent   int   // verdicts
	rightAt []int // by specimen, the verdicts spent when its top name last became right; -1 while it is wrong
	tally   tally
}

// desk hands out what to look at next.
type desk interface {
	// next is the open case that a reviewer takes, and false where there is none for this reviewer.
	next(reviewer int) (int, bool)
	// changed is told that a case was looked at, or closed.
	changed(specimen int)
	// learned is told that more is known about people.
	learned()
}

func newClub(world *nature.World, judge *judgement.Judge, asked [][]int, closed func()) (*club, error) {
	c := &club{world: world, judge: judge, asked: asked, policy: review.DefaultPolicy(), people: review.NewReliability(judge.Tables().Group.ID),
		cases: make([]review.Case, len(world.Specimens)), rightAt: make([]int, len(world.Specimens)), now: begin, told: closed, tally: tally{},
		numbers: map[string]int{}}
	c.policy.Reviewers, c.policy.OneSuffices = 2, false // nobody of the world is named for a family, and all look at photos
	c.policy.List = world.List
	for i := range world.Specimens {
		if err := c.submit(i); err != nil {
			return nil, fmt.Errorf("submit specimen %d: %w", i, err)
		}
	}
	return c, nil
}

// actor is a person of the world as the service knows them.
func (c *club) actor(person int) review.Actor {
	p := &c.world.People[person]
	role := review.RoleMember
	if p.Reviewer {
		role = review.RoleReviewer
	}
	return review.Actor{Person: p.ID, Name: p.ID, Role: role}
}

func (c *club) moment(person int) review.Moment {
	c.now = c.now.Add(time.Second)
	return review.Moment{Actor: c.actor(person), Now: c.now, NewID: c.newID}
}

func (c *club) newID() string {
	c.ids++
	return fmt.Sprintf("id-%d", c.ids)
}

// service is the club for an act on one specimen. What is drawn by chance for a specimen is the same in every course of
// events.
func (c *club) service(specimen int) *review.Club {
	return &review.Club{Judge: c.judge, Policy: c.policy, People: &c.people,
		Seed: func() string { return fmt.Sprintf("%d/%d", c.world.Seed, specimen) }}
}

func (c *club) submit(i int) error {
	s := &c.world.Specimens[i]
	m := c.moment(s.Owner)
	spec := review.Specimen{ID: fmt.Sprintf("specimen-%d", i), Owner: m.Actor.Person, RegisteredAt: m.Now,
		Label: review.Label{CatalogueNumber: fmt.Sprint(i + 1)}}
	c.numbers[spec.ID] = i
	photos := map[string]string{}
	for _, character := range c.asked[i] {
		view := c.world.Photo(i, character)
		if _, taken := photos[view]; !taken && view != "" {
			photos[view] = fmt.Sprintf("p-%d-%s", i, view)
			spec.Photos = append(spec.Photos, review.Photo{ID: photos[view], View: view, By: m.Actor.Person, At: m.Now})
		}
		spec.Observations = append(spec.Observations, review.Observation{ID: fmt.Sprintf("o-%d-%d", i, character),
			Character: c.judge.Tables().Characters[character].ID, State: c.world.Reading(i, s.Owner, character), Photo: photos[view],
			Sureness: review.Sure, By: m.Actor.Person, Role: m.Actor.Role, At: m.Now})
	}
	made, err := review.OpenCase(m, c.service(i), spec, review.Determination{Family: s.Proposed, Determiner: m.Actor.Person, DeterminedOn: "2026-01-02"})
	if err != nil {
		return err
	}
	c.cases[i] = *made
	c.open++
	c.rightAt[i] = -1
	c.follow(i)
	return nil
}

// top is the most probable name of a case as the service has it.
func (c *club) top(i int) string { return c.cases[i].Submission().Assessment.Ranking[0].Family }

// follow notes whether the top name of a specimen is right now.
func (c *club) follow(i int) { c.noted(i, c.top(i)) }

func (c *club) noted(i int, top string) {
	switch {
	case top != c.world.Specimens[i].True:
		c.rightAt[i] = -1
	case c.rightAt[i] < 0:
		c.rightAt[i] = c.spent
	}
}

// run lets reviewers work until every case is closed.
func (c *club) run(ctx context.Context, d desk) error {
	c.desk = d
	idle := 0
	for turn := 0; c.open > 0; turn++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		reviewer := c.world.Turn(turn)
		i, ok := d.next(reviewer)
		if !ok {
			if idle++; idle > 10000 {
				return fmt.Errorf("%d cases are open that nobody takes", c.open)
			}
			continue
		}
		idle = 0
		if err := c.look(i, reviewer); err != nil {
			return fmt.Errorf("specimen %d, reviewer %d: %w", i, reviewer, err)
		}
		d.changed(i)
	}
	return c.finish()
}

// take keeps a closed case for learning.
func (c *club) take(i int) error {
	closed, ok := c.cases[i].Closed()
	if !ok {
		return fmt.Errorf("it is not closed")
	}
	c.open--
	c.told()
	c.waiting = append(c.waiting, closed)
	if len(c.waiting) < learnEvery {
		return nil
	}
	return c.learn()
}

func (c *club) learn() error {
	learned, _, err := audit.Learn(c.judge, c.people, c.waiting, c.policy.List, c.now)
	if err != nil {
		return err
	}
	c.people = learned
	for i := range c.waiting {
		c.count(&c.waiting[i])
	}
	c.closed, c.waiting = append(c.closed, c.waiting...), nil
	c.tally.reached(&c.people)
	c.desk.learned()
	return nil
}

func (c *club) refit() error {
	fitted, err := audit.Refit(c.judge, c.people, c.closed, c.policy.List, c.now)
	c.people = fitted
	return err
}

// finish takes in the rest and weighs everything together, as the service does in the night.
func (c *club) finish() error {
	if err := c.learn(); err != nil {
		return err
	}
	return c.refit()
}
