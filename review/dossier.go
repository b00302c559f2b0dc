package review

import (
	"runtime"
	"slices"

	"revidit/review/judgement"
)

// Dossier is everything that a decision about one submission looks at.
type Dossier struct {
	Moment
	Submission *Submission
	Specimen   *Specimen
	Opened     Opening      // what the actor has been shown of the specimen before
	Siblings   []Submission // all submissions of the specimen and the actor's drafts of it, this one included as it was
	// Draft is the one that is looked at, where that is a row; Submission is what it would become, Specimen is as it shows
	// it, and Registered as events make it.
	Draft      *Draft
	Registered Specimen
	Named      []Person // determiners written by hand in the actor's drafts, who are no persons yet
	Policy     Policy
	Series     []Series     // of the submissions of the specimen, and that of the actor which runs
	InSeries   int          // submissions in the latter
	People     *Reliability // what is known of people who report on this group; nil: the roles only
	Seed       func() string
	Judge      *judgement.Judge // of the submission's group, at the release in force
	Rests      *Rests           // as it was read; nil in memory, where nothing else moves
}

// Write turns a decision into events, and adds the assessment and the settlement that follow from it.
func (now *Dossier) Write(w *Writer, made Decision) error {
	if made.Draft != nil {
		now.Save(w, *made.Draft)
		return nil
	}
	w.Batch.Rests, w.Batch.Touched = now.Rests, made.Touched
	for _, c := range made.Specimen {
		if err := w.Specimen(now.Specimen, c); err != nil {
			return err
		}
	}
	for _, c := range made.Submission {
		if err := now.assessBefore(w, c); err != nil {
			return err
		}
		if err := now.change(w, c); err != nil {
			return err
		}
	}
	if !slices.ContainsFunc(made.Submission, asksAnew) {
		return nil
	}
	if err := w.Submission(now.Submission, now.Assessed()); err != nil {
		return err
	}
	if slices.ContainsFunc(made.Submission, maySettle) && now.Submission.Status == StatusOpen && len(now.MissingFor(now.Submission)) == 0 {
		return now.change(w, &Confirmed{Settlement: now.settlement()})
	}
	return nil
}

// assessBefore: what somebody closes is closed on what is true now. Label, reliability or another submission of the specimen
// may have changed since it was last assessed.
func (now *Dossier) assessBefore(w *Writer, c Change) error {
	if !closes(c) || now.Submission.OpenedAt == nil || now.Submission.Closed() {
		return nil
	}
	return w.Submission(now.Submission, now.Assessed())
}

// change writes one change of the submission, with what chance adds to it, and of a settlement with its number.
func (now *Dossier) change(w *Writer, c Change) error {
	if confirmed, ok := c.(*Confirmed); ok {
		confirmed.Settlement.Confidence = now.Submission.Assessment.Confidence
	}
	if submitted, ok := c.(*Submitted); ok {
		submitted.Series = now.takesPart()
	}
	if submitted, ok := c.(*Submitted); ok && submitted.Series == "" && now.Policy.BlindRate > 0 {
		if seed := now.Seed(); seed != "" {
			submitted.Draw = &Draw{Rate: now.Policy.BlindRate, Seed: seed}
		}
	}
	if err := w.Submission(now.Submission, c); err != nil {
		return err
	}
	if drawn, ok := now.recheck(c); ok {
		return w.Submission(now.Submission, drawn)
	}
	return nil
}

// asksAnew says whether the confidence has to be computed again after a change: the evidence is another one, or it may
// settle.
func asksAnew(c Change) bool {
	switch c.(type) {
	case *Submitted, *BlindChecked, *Answered, *Reopened:
		return true
	}
	return maySettle(c)
}

// maySettle: a submission settles on what reviewers say, not when it is opened or answered.
func maySettle(c Change) bool {
	switch c.(type) {
	case *VerdictsGiven, *OpinionGiven, *Replied:
		return true
	}
	return false
}

func closes(c Change) bool {
	switch c.(type) {
	case *Confirmed, *Redetermined, *Undetermined, *Withdrawn:
		return true
	}
	return false
}

// Assessed is the event of an assessment now. The gain counts what reviewers said: a queue that did not would send people
// to cases that others have cleared up. Who has not looked is shown the order alone, not the numbers.
func (now *Dossier) Assessed() *Assessed {
	assessment := now.assess(now.Submission, now.Siblings)
	gains := gainsOf(assessment, now.Judge.Tables(), now.Submission.looks(now.Specimen))
	return &Assessed{Assessment: assessment.Brief(), Gain: gains[0].Gain, Gains: gains, Machine: machine}
}

// machine is the type of machine that this program computes on.
const machine = runtime.GOARCH

// weighing is by what the reports of this situation are weighed where a judge assesses them.
func (now *Dossier) weighing(j *judgement.Judge) Weighing {
	return Weighing{People: now.People, List: now.Policy.Prior(j.Tables()), Policy: now.Policy.Version}
}

// assess judges a submission of the specimen, and says by which versions.
func (now *Dossier) assess(s *Submission, siblings []Submission) judgement.Assessment {
	return now.weighing(now.Judge).Assess(now.Judge, s, now.Specimen, siblings)
}

// AssessFor is assess for the one who asks: where that person reviews, what to check next is what a look by themself
// would tell. What is stored is for a reviewer of whom nothing else is known.
func (now *Dossier) AssessFor(j *judgement.Judge, s *Submission, siblings []Submission) judgement.Assessment {
	w := now.weighing(j)
	if May(now.Actor, ActReadQueue, "") {
		look := now.People.Look(now.Actor.Person, now.Actor.Role, j.Tables())
		w.look = &look
	}
	return w.Assess(j, s, now.Specimen, siblings)
}

// Shown is the assessment that the actor may see of the submission as it stands.
func (now *Dossier) Shown() judgement.Assessment {
	seen := SeenBy(now.Actor, *now.Submission)
	return now.AssessFor(now.Judge, &seen, OpenTo(now.Actor, now.Siblings))
}

// Standing are the cited observations that nobody has taken back.
func (now *Dossier) Standing() []string {
	ids := []string{}
	for _, id := range now.Submission.Cites {
		if o, ok := now.Specimen.Observation(id); ok && o.Withdrawn == "" {
			ids = append(ids, id)
		}
	}
	return ids
}
