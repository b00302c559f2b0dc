package review

import (
	"revidit/review/judgement"
)

// Case is the life of one submission in memory: the same decisions, assessments and settlement as in Service, with
// nothing stored. It is for rehearsals with made-up specimens. A Case is used by one goroutine at a time.
type Case struct{ now Dossier }

// Club is what decides about a Case beside the case itself.
type Club struct {
	Judge  *judgement.Judge
	Policy Policy
	// People is what is known of those who report; nil: the roles only. It may be replaced between acts.
	People *Reliability
	// Seed is as in Options.
	Seed func() string
}

// OpenCase registers a specimen and puts a determination of it before reviewers, citing all its observations and
// photos. The specimen and its observations have their ids and persons already. m is the owner's.
func OpenCase(m Moment, club *Club, spec Specimen, d Determination) (*Case, error) {
	c := &Case{now: Dossier{Moment: m, Submission: &Submission{}, Specimen: &spec, Policy: club.Policy, People: club.People,
		Seed: club.Seed, Judge: club.Judge}}
	p := Proposal{Group: club.Judge.Tables().Group.ID, Specimen: spec.ID, Determination: d, Cites: ObservationIDs(spec.Observations), Photos: photoIDs(spec.Photos)}
	w := NewWriter(m)
	if err := w.Submission(c.now.Submission, &Drafted{ID: m.NewID(), Proposal: p}); err != nil {
		return nil, err
	}
	if err := c.now.Complete(); err != nil {
		return nil, err
	}
	return c, c.now.Write(w, Decision{Submission: []Change{&Submitted{}}})
}

// Submission is how the case stands.
func (c *Case) Submission() *Submission { return c.now.Submission }

// Specimen is the specimen of the case.
func (c *Case) Specimen() *Specimen { return c.now.Specimen }

// Asked is the observation that an actor is to look at blind now, and false where there is none.
func (c *Case) Asked(actor Actor) (Observation, bool) {
	return drawnBlind(actor, c.now.Submission, c.now.Specimen, nil, c.now.Judge.Tables())
}

// BlindCheck is Service.BlindCheck.
func (c *Case) BlindCheck(m Moment, club *Club, form BlindForm) error {
	return c.act(m, club, func(now *Dossier) (Decision, error) {
		asked, err := now.Asked()
		if err != nil {
			return Decision{}, err
		}
		return DecideBlind(m, now.Submission, asked, form, now.Judge)
	})
}

// Review is Service.Review; as there, it is refused to whom the case is still hidden.
func (c *Case) Review(m Moment, club *Club, form ReviewForm) error {
	return c.act(m, club, func(now *Dossier) (Decision, error) {
		if err := now.Hidden(); err != nil {
			return Decision{}, err
		}
		return DecideReview(now, form)
	})
}

// Reply is Service.Reply.
func (c *Case) Reply(m Moment, club *Club, form ReplyForm) error {
	return c.act(m, club, func(now *Dossier) (Decision, error) {
		return DecideReply(now, form, now.Shown().Contradictions)
	})
}

// Undetermine is Service.Undetermine.
func (c *Case) Undetermine(m Moment, club *Club, reason string) error {
	return c.act(m, club, func(now *Dossier) (Decision, error) {
		return DecideUndetermine(m, now.Submission, reason)
	})
}

func (c *Case) act(m Moment, club *Club, decide func(*Dossier) (Decision, error)) error {
	c.now.Moment, c.now.Policy, c.now.People = m, club.Policy, club.People
	made, err := decide(&c.now)
	if err != nil {
		return err
	}
	return c.now.Write(NewWriter(m), made)
}

// Assess judges the case as it stands, with what the club knows now.
func (c *Case) Assess(club *Club) judgement.Assessment {
	c.now.Policy, c.now.People = club.Policy, club.People
	return c.now.assess(c.now.Submission, nil)
}

// Gain is what a look by somebody is expected to tell at most, in bits, and at which region of the body, as the queue
// orders by it.
func (c *Case) Gain(weights map[string]float64) (gain float64, region string) {
	return weighedGain(c.now.Submission.Gains, weights)
}

// Closed returns the case for learning, and false where it is still open.
func (c *Case) Closed() (Closed, bool) {
	return ClosedOf(c.now.Specimen, []Submission{*c.now.Submission})
}
