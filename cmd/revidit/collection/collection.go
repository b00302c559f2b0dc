package collection

import (
	"fmt"
	"iter"
	"maps"
	"math/rand/v2"
	"slices"
	"time"

	"revidit/auth"
	"revidit/models"
	"revidit/review"
)

const (
	// years is how long the collection has been growing. Of what was submitted in the last of them a part still waits, as
	// shareOf says; all before is closed. So the backlog grows with the collection: open is a twentieth of it.
	years = 8
	// A collection has a person for so many submissions, within bounds.
	submissionsEach          = 100
	fewestPeople, mostPeople = 100, 10_000
	// reviewersShare of the people review, one in curatorsEach is a curator.
	reviewersShare, curatorsEach = 0.15, 100

	aTrip, aDrawer = 40, 100 // specimens
)

// shareOf says how many of the submissions of the last year are of each kind, in hundredths; the rest is closed.
var shareOf = map[kind]int{kindOpen: 40, kindReturned: 8, kindDraft: 8, kindRecheck: 8}

// curatorID is the curator of the moulds.
const curatorID = "curator"

// Collection is a made-up collection of a size.
type Collection struct {
	moulds      *Moulds
	submissions int
	seed        uint64
	until       time.Time
	hash        string // of everybody's password
	members     []string
	reviewers   []string
	curators    []string
}

// Of returns a collection of at least so many submissions (and not many more) that has grown until a time. Everybody
// has the password that hash is of, and as login their place: member-1, reviewer-1, curator-1 and so on.
func (m *Moulds) Of(submissions int, seed uint64, until time.Time, hash string) *Collection {
	c := &Collection{moulds: m, submissions: submissions, seed: seed, until: until.UTC().Truncate(time.Microsecond), hash: hash}
	people := min(max(submissions/submissionsEach, fewestPeople), mostPeople)
	dice := rand.New(rand.NewPCG(seed, 1))
	start := c.start()
	for i := range people {
		id := newID(start, dice)
		switch {
		case i%curatorsEach == 0:
			c.curators = append(c.curators, id)
		case float64(i%curatorsEach) <= reviewersShare*curatorsEach:
			c.reviewers = append(c.reviewers, id)
		default:
			c.members = append(c.members, id)
		}
	}
	return c
}

func (c *Collection) start() time.Time { return c.until.AddDate(-years, 0, 0) }

// People is how many there are.
func (c *Collection) People() int { return len(c.members) + len(c.reviewers) + len(c.curators) }

// Fillings are everything in the collection, in order of time; told is called with the submissions and events so far.
func (c *Collection) Fillings(told func(submissions, events int)) iter.Seq2[models.Filling, error] {
	return func(yield func(models.Filling, error) bool) {
		if !yield(c.people(), nil) {
			return
		}
		for _, e := range c.moulds.policies {
			if !yield(c.policy(e), nil) {
				return
			}
		}
		if !yield(c.reliability()) {
			return
		}
		dice := rand.New(rand.NewPCG(c.seed, 2))
		submissions, events, late := 0, 0, 0
		for i := 0; submissions < c.submissions; i++ {
			over, of := float64(submissions)/float64(c.submissions), kindClosed
			if over >= 1-1.0/years || submissions+1 == c.submissions { // the last one also where there are few
				of = lateKind(late)
				late++
			}
			f, err := c.specimen(i, of, over, dice)
			if !yield(f, err) {
				return
			}
			submissions, events = submissions+len(f.Submissions), events+len(f.Events)
			if f.Draft != nil {
				submissions++
			}
			told(submissions, events)
		}
		yield(c.Refit())
	}
}

// specimen tells a life of a kind that began when so much of the time, 0 to 1, was over.
func (c *Collection) specimen(i int, k kind, over float64, dice *rand.Rand) (models.Filling, error) {
	of := c.moulds.byKind[k]
	m := of[dice.IntN(len(of))]
	began := c.start().Add(time.Duration(over * float64(c.until.Sub(c.start()))))
	if latest := c.until.Add(-m.lasted); began.After(latest) {
		began = latest
	}
	t := telling{texts: make(map[string]string, len(m.ids)+80), later: wholeMicroseconds(began.Sub(m.began))}
	for _, id := range m.ids {
		t.texts[id] = newID(began, dice)
	}
	for _, seed := range m.seeds {
		t.texts[seed] = newSeed(len(seed), dice)
	}
	for _, day := range m.days {
		at, err := time.Parse(dayLayout, day)
		if err != nil {
			return models.Filling{}, err
		}
		t.texts[day] = at.Add(t.later).Format(dayLayout)
	}
	t.texts[numberMark], t.texts[tripMark] = CatalogueNumber(i), fmt.Sprintf("Excursion %d", i/aTrip)
	t.texts[drawerMark] = fmt.Sprintf("Cabinet %d, drawer %d", i/aDrawer/20, i/aDrawer%20)
	t.cast(c.moulds.members, c.members, dice)
	t.cast(c.moulds.reviewers, c.reviewers, dice)
	t.cast([]string{curatorID}, c.curators, dice)
	f, err := m.filling(&t)
	f.Learnt = map[string]bool{c.moulds.group: true}
	return f, err
}

// CatalogueNumber is that of specimen i.
func CatalogueNumber(i int) string { return fmt.Sprintf("NSM-%08d", i+1) }

// lateKind is what became of submission i of the last year, mixed evenly so that a small collection has its share too.
func lateKind(i int) kind {
	n := i * 37 % 100
	for _, k := range []kind{kindOpen, kindReturned, kindDraft, kindRecheck} {
		if n -= shareOf[k]; n < 0 {
			return k
		}
	}
	return kindClosed
}

// cast gives each person of a mould a person of the collection, no two the same.
func (t *telling) cast(parts, people []string, dice *rand.Rand) {
	first := dice.IntN(len(people))
	for i, part := range parts {
		t.texts[part] = people[(first+i)%len(people)]
	}
}

// castAlways is cast for what is told once.
func (c *Collection) castAlways() *telling {
	t := &telling{texts: map[string]string{}, later: wholeMicroseconds(c.start().Sub(begin))}
	dice := rand.New(rand.NewPCG(c.seed, 3))
	t.cast(c.moulds.members, c.members, dice)
	t.cast(c.moulds.reviewers, c.reviewers, dice)
	t.cast([]string{curatorID}, c.curators, dice)
	return t
}

func (c *Collection) people() (f models.Filling) {
	for _, kind := range []struct {
		role review.Role
		ids  []string
	}{{review.RoleMember, c.members}, {review.RoleReviewer, c.reviewers}, {review.RoleCurator, c.curators}} {
		for i, id := range kind.ids {
			f.Accounts = append(f.Accounts, auth.Account{Person: id, Name: fmt.Sprintf("%s %d", kind.role, i+1), Login: Login(kind.role, i),
				Role: kind.role, PasswordHash: c.hash, CreatedAt: c.start()})
			f.Events = append(f.Events, review.Event{Stream: review.AccountStream(id), Seq: 1, At: c.start(), Actor: review.ProgramActor,
				Role: review.RoleCurator, Change: &review.AccountAdded{Role: kind.role}})
		}
	}
	return f
}

// Login is that of person i of a role.
func Login(role review.Role, i int) string { return fmt.Sprintf("%s-%d", role, i+1) }

// policy is one of those of the moulds, which the assessments name.
func (c *Collection) policy(e review.Event) (f models.Filling) {
	told := c.castAlways()
	e.At, e.Actor, e.Change = c.start(), told.text(e.Actor), told.change(e.Change)
	set := e.Change.(*review.PolicySet)
	set.Policy.At = e.At
	f.Events, f.Policy = []review.Event{e}, &set.Policy
	return f
}

// refitted is the version of the reliability that takes in everything there is.
func (c *Collection) refitted() int { return len(c.moulds.reliability) + 1 }

// reliability is what was learnt in the moulds, whose versions the assessments name.
func (c *Collection) reliability() (f models.Filling, err error) {
	told := c.castAlways()
	for _, e := range c.moulds.reliability {
		e.At, e.Actor, e.Change = c.start(), told.text(e.Actor), told.change(e.Change)
		f.Events = append(f.Events, e)
	}
	return f, nil
}

// Refit is what ends the collection: everybody was learnt about at once, from everything that was closed, and each is like somebody of the
// moulds.
func (c *Collection) Refit() (f models.Filling, err error) {
	known, err := review.ReplayReliability(c.moulds.group, c.moulds.reliability)
	if err != nil {
		return f, err
	}
	known.Added, known.Refitted = []string{}, c.until
	known.Specimens, known.Items = known.Specimens*c.submissions/1000, known.Items*c.submissions/1000
	like := known.People
	known.People = map[string]review.PersonKnown{}
	spread := func(role review.Role, people []string) {
		ids := slices.DeleteFunc(slices.Sorted(maps.Keys(like)), func(id string) bool { return like[id].Role != role })
		for i, id := range people {
			if len(ids) > 0 {
				known.People[id] = like[ids[i%len(ids)]]
			}
		}
	}
	spread(review.RoleMember, c.members)
	spread(review.RoleReviewer, c.reviewers)
	stream := review.ReliabilityStream(c.moulds.group)
	refitted := review.Event{Stream: stream, Seq: c.refitted(), At: c.until, Actor: c.curators[0], Role: review.RoleCurator, Change: &review.ReliabilityRefitted{Reliability: known}}
	f.Events = []review.Event{refitted}
	whole, err := review.ReplayReliability(c.moulds.group, f.Events)
	f.Reliability = &whole
	return f, err
}

// wholeMicroseconds are what events are stored with: rows that know more than those are not what the events make.
func wholeMicroseconds(d time.Duration) time.Duration { return d.Truncate(time.Microsecond) }
