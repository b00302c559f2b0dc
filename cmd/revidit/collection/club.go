// Package collection makes up collections of any size for measurements. A few hundred lives of specimens are lived
// through with the real service by the made-up people of package nature: submitted, looked at, disputed, returned,
// answered, confirmed, determined anew, rechecked. Each of them is then told again and again with other ids, people,
// times and labels, so that a million submissions have events and assessments as the service makes them.
package collection

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"github.com/google/uuid"

	"revidit/cmd/revidit/simulator/nature"
	"revidit/models"
	"revidit/models/blob"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/service"
)

// begin is when the first life begins. Times are moved when lives are told again, so that any would do.
var begin = time.Date(2001, 3, 1, 8, 0, 0, 0, time.UTC)

// club lives a few lives in a database of its own.
type club struct {
	db      *models.DB
	service *service.Service
	judge   *judgement.Judge
	world   *nature.World
	dice    *rand.Rand
	now     time.Time
	again   bool // what is lived now is to be drawn for a recheck
}

func newClub(db *models.DB, seed uint64, specimens int) *club {
	tables := diagnosis.Default()
	c := &club{db: db, judge: review.NewJudge(tables), dice: rand.New(rand.NewPCG(seed, 7)), now: begin,
		world: nature.New(tables, nature.Options{Seed: seed, Specimens: specimens, WrongCells: nature.UsuallyWrongCells})}
	c.service = service.NewService(db, &blob.Mem{}, service.NewLibrary(tables), service.Options{
		Now: func() time.Time { return c.now }, NewID: c.newID, Seed: c.newSeed})
	return c
}

// newID is random and the same for the same seed; no two texts of a life may be alike unless they mean the same.
func (c *club) newID() string {
	var id uuid.UUID
	for i := range id {
		id[i] = byte(c.dice.UintN(256))
	}
	return id.String()
}

// rate is that of rechecks of lives that are to be drawn.
const rate = 0.5

// newSeed throws the dice as the service does, until they fall as a life wants them.
func (c *club) newSeed() string {
	for {
		seed := c.newID()
		if !c.again || (review.Draw{Rate: rate, Seed: seed}).Drawn("recheck") {
			return seed
		}
	}
}

// actor is a person of the world. Members come first, then reviewers, then one curator.
func (c *club) actor(person int) review.Actor {
	if person == len(c.world.People) {
		return review.Actor{Person: curatorID, Name: curatorID, Role: review.RoleCurator}
	}
	p := &c.world.People[person]
	role := review.RoleMember
	if p.Reviewer {
		role = review.RoleReviewer
	}
	return review.Actor{Person: p.ID, Name: p.ID, Role: role}
}

func (c *club) curator() review.Actor { return c.actor(len(c.world.People)) }

// wait lets time pass, up to some days.
func (c *club) wait(days int) {
	c.now = c.now.Add(time.Duration(1 + c.dice.Int64N(int64(days)*int64(24*time.Hour)))).Truncate(time.Microsecond)
}

// course is how far a life goes.
type course int

const (
	asDraft course = iota
	unseen         // nobody has looked yet
	begun          // one has looked
	sentBack
	answered // and waits again
	settled  // goes on until it is closed
	takenBack
	drawnAgain // closed, and part of a panel has looked
	rechecked  // closed, and a panel has looked
)

// courses are the lives in turn: so many are of each kind.
var courses = []course{asDraft, unseen, unseen, begun, begun, answered, sentBack, drawnAgain,
	rechecked, settled, settled, settled, settled, settled, settled, settled, settled, settled, settled, takenBack,
	asDraft, unseen, begun, settled, settled, settled, settled, settled, settled, settled, settled, settled, settled}

// live leads the life of one specimen, and returns what it began with.
func (c *club) live(ctx context.Context, i int) (form review.SubmissionForm, submission string, err error) {
	c.wait(3)
	goes := courses[i%len(courses)]
	if err := c.agree(ctx, i, goes); err != nil {
		return form, "", err
	}
	if form, err = c.form(ctx, i); err != nil {
		return form, "", err
	}
	owner, begin := c.actor(c.world.Specimens[i].Owner), c.service.SubmitNew
	if goes == asDraft {
		begin = c.service.Draft
	}
	s, err := begin(ctx, owner, form, "")
	if err != nil || goes == asDraft {
		return form, s.ID, err
	}
	l := &life{club: c, specimen: i, id: s.ID}
	return form, s.ID, l.lead(ctx, goes)
}

// agree sets the policy that a life of its kind needs: mostly one reviewer is enough, and what is to be rechecked can be
// drawn.
func (c *club) agree(ctx context.Context, i int, goes course) error {
	present, err := c.service.Policy(ctx)
	if err != nil {
		return err
	}
	wanted := review.DefaultPolicy()
	wanted.Reason, wanted.Reviewers, wanted.OneSuffices, wanted.RecheckRate = "made up", 1, false, 0
	wanted.Confidence, wanted.List = 0.6, c.world.List
	if c.again = goes == drawnAgain || goes == rechecked; c.again {
		wanted.RecheckRate = rate
	}
	if present.Reviewers == wanted.Reviewers && present.RecheckRate == wanted.RecheckRate {
		return nil
	}
	_, err = c.service.SetPolicy(ctx, c.curator(), service.AnyVersion, wanted)
	return err
}

// What an owner states besides what they notice first: what the service asks for, a few at once.
const askedFor = 4

// stated are the characters that are stated of a specimen, by place in the tables.
func (c *club) stated(i int) []int {
	s := &c.world.Specimens[i]
	stated := s.First
	e := judgement.Evidence{Family: s.Proposed, Look: judgement.Look{Reader: judgement.Member, Accuracy: review.RoleAccuracy(review.RoleMember)}}
	for _, at := range stated {
		e.Stated = append(e.Stated, judgement.Stated{Character: c.judge.Tables().Characters[at].ID, State: c.world.Reading(i, s.Owner, at)})
	}
	for k, next := range c.judge.Assess(e).Next {
		if k < askedFor {
			stated = append(stated, c.judge.Tables().CharacterIndex(next.Character))
		}
	}
	return stated
}

// mostPhotos are taken of a specimen: from above, from below and of what is telling. Of what else is stated there is none.
const mostPhotos = 3

func (c *club) form(ctx context.Context, i int) (review.SubmissionForm, error) {
	s := &c.world.Specimens[i]
	day, latitude, longitude := c.now.AddDate(0, -1, 0).Format("2006-01-02"), 47+c.dice.Float64(), 11+c.dice.Float64()
	form := review.SubmissionForm{Family: s.Proposed, Label: review.Label{CatalogueNumber: numberMark, Country: "Nordland", Province: "Sudmark",
		CollectedFrom: day, Trip: tripMark, Method: "pitfall trap", Stage: "adult", Count: 1, Preparation: "pinned", StoragePlace: drawerMark},
		Withheld: review.Withheld{VerbatimLabel: "Nordland, Sudmark\nAlder carr\n" + day, Locality: "Alder carr", Latitude: &latitude, Longitude: &longitude, Collector: "A. Member"}}
	photos := map[string]string{}
	for _, at := range c.stated(i) {
		view := c.world.Photo(i, at)
		if _, taken := photos[view]; !taken && view != "" && len(photos) < mostPhotos {
			id, err := c.upload(ctx, c.actor(s.Owner))
			if err != nil {
				return form, err
			}
			photos[view] = id
			form.Photos = append(form.Photos, review.PhotoForm{Photo: id, View: view})
		}
		form.Observations = append(form.Observations, review.ObservationForm{Character: c.judge.Tables().Characters[at].ID,
			State: c.world.Reading(i, s.Owner, at), Sureness: review.Sure, Photo: photos[view]})
	}
	return form, nil
}

// upload stores the row of a photo as the service does; of its bytes nothing is measured.
func (c *club) upload(ctx context.Context, owner review.Actor) (string, error) {
	id := c.newID()
	sum := strings.ReplaceAll(c.newID()+c.newID(), "-", "")
	return id, c.db.SaveUpload(ctx, review.Upload{Photo: review.Photo{ID: id, SHA256: sum, Type: "image/jpeg", Width: 1600, Height: 1200, By: owner.Person, At: c.now}})
}

// told says whose life failed.
func told(i int, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("made-up life %d: %w", i, err)
}
