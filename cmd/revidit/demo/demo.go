// Package demo fills an empty service with a made-up club: people, trips and specimens of our invention, pictures
// drawn by the program, and submissions in every status. Everything is done by driving review.Service as people
// would, at invented times in the past weeks; no row is written past it.
package demo

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"sort"
	"sync"
	"time"

	"revidit/auth"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/jobs"
	"revidit/review/service"
)

// Password is that of every login of the demo, which holds nothing but invented data.
const Password = "pinned-and-labelled"

// Login is one of the demo's, with the role it shows.
type Login struct{ Name, Login, Role string }

// Logins are one login for each role.
func Logins() []Login {
	var shown []Login
	seen := map[string]bool{}
	for _, p := range cast {
		if seen[p.role] {
			continue
		}
		seen[p.role] = true
		shown = append(shown, Login{Name: p.name, Login: p.login, Role: p.role})
	}
	return shown
}

// Club is what the demo fills.
type Club struct {
	Service  *service.Service
	Accounts *auth.Accounts
	Clock    *Clock
	// Size of the pictures; zero is PictureSize.
	Size Size
	// Progress is told how many of all submissions are done.
	Progress func(done, all int)
}

// Clock is the demo's time: it stands where the scenario puts it and moves a little with every act.
type Clock struct {
	mu  sync.Mutex
	now time.Time
}

// Seeds returns the same dice every time, for review.Options, so that a made-up club does not differ from day to day.
func Seeds() func() string {
	thrown := 0
	return func() string {
		thrown++
		return fmt.Sprintf("made-up-%d", thrown)
	}
}

// IDs returns the same ids every time, in order, for review.Options: dice are thrown for ids.
func IDs() func() string {
	made := 0
	var mu sync.Mutex
	return func() string {
		mu.Lock()
		defer mu.Unlock()
		made++
		return fmt.Sprintf("00000000-0000-7000-8000-%012x", made)
	}
}

// NewClock returns a clock that stands at a time.
func NewClock(at time.Time) *Clock { return &Clock{now: at} }

// Now is the demo's time, a second later at each call so that events keep their order.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(time.Second)
	return c.now
}

// Set moves the clock forward to a time; never back.
func (c *Clock) Set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if at.After(c.now) {
		c.now = at
	}
}

// Start is the time at which the scenario begins, seen from today.
func Start(today time.Time) time.Time { return today.AddDate(0, 0, -firstDay-1) }

// How many days ago the club set a lower rate of rechecks, and of blind looks.
const (
	fewerPanels = 36
	fewerBlind  = 20
)

// released is how many days ago the club changed a table.
const released = 9

// lastRead is how many days ago people last looked through their news.
const lastRead = 10

// firstDay is how many days ago the first submission was made.
const firstDay = 60

// Fill makes the club. It is meant for an empty database, and stops at the first act that the service refuses: the
// scenario is a test of the whole path.
func (c Club) Fill(ctx context.Context, today time.Time) error {
	actors, err := c.people(ctx)
	if err != nil {
		return err
	}
	c.Clock.Set(Start(today))
	if err := c.policy(ctx, actors, 0.5, 0.5, "Agreed at the section's spring meeting: half of all looks blind, and half of all that closes before a panel, for a start."); err != nil {
		return err
	}
	if err := c.submissions(ctx, actors, today); err != nil {
		return err
	}
	c.Clock.Set(today)
	if err := c.nameSpecialists(ctx, actors); err != nil {
		return err
	}
	if err := c.publish(ctx, actors["odile"]); err != nil {
		return err
	}
	judges, err := c.Service.Groups(ctx)
	if err != nil {
		return err
	}
	if err := c.Service.Do(ctx, jobs.Refit(judges[0].Tables().Group.ID), nil); err != nil {
		return err
	}
	if err := c.Service.CatchUp(ctx); err != nil { // so that all figures are there to be looked at
		return err
	}
	return c.readNews(ctx, actors, today)
}

// readNews has everybody read what was older than their last look: it stays in their lists, and what came since is what is told as new.
func (c Club) readNews(ctx context.Context, actors map[string]review.Actor, today time.Time) error {
	for _, p := range cast {
		if err := c.Service.ReadNewsUntil(ctx, actors[p.login], today.AddDate(0, 0, -lastRead)); err != nil {
			return fmt.Errorf("demo: news of %s: %w", p.name, err)
		}
	}
	return nil
}

func (c Club) people(ctx context.Context) (map[string]review.Actor, error) {
	actors := map[string]review.Actor{}
	for _, p := range cast {
		account, err := c.Accounts.Create(ctx, p.login, p.name, review.Role(p.role), Password)
		if err != nil {
			return nil, fmt.Errorf("demo: %s: %w", p.name, err)
		}
		actors[p.login] = review.Actor{Person: account.Person, Name: account.Name, Role: account.Role}
	}
	return actors, nil
}

// policy sets the rates of blind checks and rechecks with all the rest.
func (c Club) policy(ctx context.Context, actors map[string]review.Actor, blind, rechecks float64, reason string) error {
	policy := review.DefaultPolicy()
	policy.Reviewers, policy.OneSuffices = 2, false // nobody is named yet for most families
	policy.ReliabilityShown = review.ShownNames     // a small section that has agreed to it
	policy.Confidence, policy.BlindRate, policy.RecheckRate, policy.Reason = 0.9, blind, rechecks, reason
	policy.Experts = map[string][]string{"Trogossitidae": {actors["henrike"].Person}}
	_, err := c.Service.SetPolicy(ctx, actors["odile"], service.AnyVersion, policy)
	return err
}

// nameSpecialists is what the club has agreed today: from now on one who knows the family is enough, or the specimen in hand.
func (c Club) nameSpecialists(ctx context.Context, actors map[string]review.Actor) error {
	policy, err := c.Service.Policy(ctx)
	if err != nil {
		return err
	}
	policy.Reviewers, policy.OneSuffices = 0, true
	for login, families := range specialists {
		for _, family := range families {
			policy.Experts[family] = []string{actors[login].Person}
		}
	}
	policy.Reason = "Each larger family has somebody now who knows it. One of them is enough, or whoever has the specimen in hand."
	_, err = c.Service.SetPolicy(ctx, actors["odile"], service.AnyVersion, policy)
	return err
}

// drawn is a specimen with its pictures ready.
type drawn struct {
	specimen specimen
	plan     plan
	pictures []picture
	err      error
}

// appointment is one act at its time.
type appointment struct {
	at time.Time
	do func(ctx context.Context) error
}

// submissions draws all specimens side by side and plays everything that happens to them in the order of time.
func (c Club) submissions(ctx context.Context, actors map[string]review.Actor, today time.Time) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	list := inOrder(slices.Concat(specimens, survey(), series()))
	judge, err := c.Service.Judge(ctx, "")
	if err != nil {
		return err
	}
	ready := drawAll(ctx, list, judge.Tables(), c.size())
	done := 0
	submitted := func() {
		done++
		if c.Progress != nil {
			c.Progress(done, len(list))
		}
	}
	for _, a := range c.agenda(list, actors, today, ready, submitted) {
		c.Clock.Set(a.at)
		if err := a.do(ctx); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// agenda is everything that happens, in order. Submissions come in the order of list, which is that of ready.
func (c Club) agenda(list []specimen, actors map[string]review.Actor, today time.Time, ready <-chan chan drawn, submitted func()) []appointment {
	agenda := []appointment{{morning(today, fewerPanels), func(ctx context.Context) error {
		return c.policy(ctx, actors, 0.5, 0.25, "Enough panels have looked to go on with a quarter.")
	}}, {morning(today, fewerBlind), func(ctx context.Context) error {
		return c.policy(ctx, actors, 0.15, 0.25, "Enough is known of those who look most to go on with fewer blind looks.")
	}}, {morning(today, released), func(ctx context.Context) error {
		return c.release(ctx, actors["odile"])
	}}}
	agenda = append(agenda, c.seriesAgenda(actors, today)...)
	for _, s := range list {
		a := &act{club: c, actors: actors}
		begun := morning(today, s.days)
		agenda = append(agenda, appointment{begun, func(ctx context.Context) error {
			result, ok := <-ready
			if !ok {
				return ctx.Err()
			}
			a.drawn = <-result
			defer submitted()
			return a.told(a.begin(ctx))
		}})
		for i, step := range slices.Concat(courses[s.then], panelSteps(s)) {
			agenda = append(agenda, appointment{evening(begun, i+1, today), func(ctx context.Context) error { return a.told(step(a, ctx)) }})
		}
	}
	sort.SliceStable(agenda, func(i, j int) bool { return agenda[i].at.Before(agenda[j].at) })
	return agenda
}

// morning is an hour some days ago, and of today the present one: what happens first does not depend on the hour at which a demo is made,
// so that dice fall the same way every time.
func morning(today time.Time, days int) time.Time {
	if days == 0 {
		return today
	}
	return today.Truncate(24*time.Hour).AddDate(0, 0, -days).Add(9 * time.Hour)
}

// evening is an hour at which people do such things, some days after; never in the future.
func evening(begun time.Time, days int, today time.Time) time.Time {
	at := begun.Truncate(24*time.Hour).AddDate(0, 0, 2*days-1).Add(19*time.Hour + 17*time.Minute)
	if at.After(today) {
		return today
	}
	return at
}

// drawAll draws on all cores and hands the results out in the order of the list, a few ahead of their use.
func drawAll(ctx context.Context, list []specimen, tables *diagnosis.Tables, size Size) <-chan chan drawn {
	ready := make(chan chan drawn, runtime.GOMAXPROCS(0))
	go func() {
		defer close(ready)
		for i, s := range list {
			result := make(chan drawn, 1)
			select {
			case ready <- result:
			case <-ctx.Done():
				return
			}
			go func() { result <- drawOne(i, s, tables, size) }()
		}
	}()
	return ready
}

func (c Club) size() Size {
	if c.Size == (Size{}) {
		return PictureSize
	}
	return c.Size
}
