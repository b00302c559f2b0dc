package review

// Case is the life of one submission in memory: the same decisions, assessments and settlement as in Service, with
// nothing stored. It is for rehearsals with made-up specimens. A Case is used by one goroutine at a time.
type Case struct{ now situation }

// Club is what decides about a Case beside the case itself.
type Club struct {
	Judge  *Judge
	Policy Policy
	// People is what is known of those who report; nil: the roles only. It may be replaced between acts.
	People *Reliability
	// Seed is as in Options.
	Seed func() string
}

// OpenCase registers a specimen and puts a determination of it before reviewers, citing all its observations and
// photos. The specimen and its observations have their ids and persons already. m is the owner's.
func OpenCase(m Moment, club *Club, spec Specimen, d Determination) (*Case, error) {
	c := &Case{now: situation{Moment: m, submission: &Submission{}, specimen: &spec, policy: club.Policy, people: club.People,
		seed: club.Seed, judge: club.Judge}}
	p := Proposal{Group: club.Judge.Tables().Group.ID, Specimen: spec.ID, Determination: d, Cites: observationIDs(spec.Observations), Photos: photoIDs(spec.Photos)}
	w := newWriter(m)
	if err := w.submission(c.now.submission, &Drafted{ID: m.NewID(), Proposal: p}); err != nil {
		return nil, err
	}
	if err := c.now.complete(); err != nil {
		return nil, err
	}
	return c, c.now.write(w, decision{submission: []Change{&Submitted{}}})
}

// Submission is how the case stands.
func (c *Case) Submission() *Submission { return c.now.submission }

// Specimen is the specimen of the case.
func (c *Case) Specimen() *Specimen { return c.now.specimen }

// Asked is the observation that an actor is to look at blind now, and false where there is none.
func (c *Case) Asked(actor Actor) (Observation, bool) {
	return drawnBlind(actor, c.now.submission, c.now.specimen, nil, c.now.judge.Tables())
}

// BlindCheck is Service.BlindCheck.
func (c *Case) BlindCheck(m Moment, club *Club, form BlindForm) error {
	return c.act(m, club, func(now *situation) (decision, error) {
		asked, err := now.asked()
		if err != nil {
			return decision{}, err
		}
		return decideBlind(m, now.submission, asked, form, now.judge)
	})
}

// Review is Service.Review; as there, it is refused to whom the case is still hidden.
func (c *Case) Review(m Moment, club *Club, form ReviewForm) error {
	return c.act(m, club, func(now *situation) (decision, error) {
		if err := now.hidden(); err != nil {
			return decision{}, err
		}
		return decideReview(m, now.submission, now.specimen, form, now.judge)
	})
}

// Reply is Service.Reply.
func (c *Case) Reply(m Moment, club *Club, form ReplyForm) error {
	return c.act(m, club, func(now *situation) (decision, error) {
		return decideReply(m, now.submission, form)
	})
}

// Undetermine is Service.Undetermine.
func (c *Case) Undetermine(m Moment, club *Club, reason string) error {
	return c.act(m, club, func(now *situation) (decision, error) {
		return decideUndetermine(m, now.submission, reason)
	})
}

func (c *Case) act(m Moment, club *Club, decide func(*situation) (decision, error)) error {
	c.now.Moment, c.now.policy, c.now.people = m, club.Policy, club.People
	made, err := decide(&c.now)
	if err != nil {
		return err
	}
	return c.now.write(newWriter(m), made)
}

// Assess judges the case as it stands, with what the club knows now.
func (c *Case) Assess(club *Club) Assessment {
	c.now.policy, c.now.people = club.Policy, club.People
	return c.now.assess(c.now.submission, nil)
}

// Gain is what a look by somebody is expected to tell at most, in bits, and at which region of the body, as the queue
// orders by it.
func (c *Case) Gain(weights map[string]float64) (gain float64, region string) {
	return weighedGain(c.now.submission.Gains, weights)
}

// Closed returns the case for learning, and false where it is still open.
func (c *Case) Closed() (Closed, bool) {
	return closedOf(c.now.specimen, []Submission{*c.now.submission})
}
