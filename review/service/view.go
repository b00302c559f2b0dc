package service

import (
	"context"

	"revidit/review"
	"revidit/review/judgement"
)

// SubmissionView is a submission as one actor may see it, with what belongs to it.
type SubmissionView struct {
	Submission review.Submission `json:"submission"`
	Specimen   review.Specimen   `json:"specimen"`
	// Version is that of the evidence (review.EvidenceVersion), on which an act is decided.
	Version int `json:"version" doc:"Version of the evidence: of specimen, photos, observations, name and status. What reviewers say does not move it"`
	// Withheld is the withheld label data: whole for the owner of the specimen and for curators, otherwise only
	// coordinates rounded to a tenth of a degree, for reviewers with elevation and district, with Coarse set.
	Withheld review.Withheld `json:"withheld"`
	Coarse   bool            `json:"coarse"`
	Erased   bool            `json:"erased"` // the withheld data have been erased
	// Assessment is what the actor may see: Sealed tells that it leaves out the verdicts of others, and that they are
	// not in Submission either, until the actor has saved their own.
	Assessment judgement.Assessment `json:"assessment"`
	Sealed     bool                 `json:"sealed"`
	// Today is what is known now of a closed submission, where that differs: Assessment, which leads, is the one that it was
	// closed with.
	Today *judgement.Assessment `json:"today,omitempty"`
	// Needs says what is needed before it settles by itself; empty where the submission is not open or is sealed. Missing is the same in
	// words, which the API fills in.
	Needs   []review.Coded  `json:"needs" nullable:"false" doc:"What is needed before it settles by itself, as codes that begin with missing-"`
	Missing []string        `json:"missing" doc:"needs, in words"`
	Policy  review.Policy   `json:"policy"`
	Allowed []review.Action `json:"allowed"`
	// Own is what the actor may not judge here, and Agreeing are those whose agreement counts, as far as the actor may see it.
	Own      review.Own `json:"own"`
	Agreeing []string   `json:"agreeing" nullable:"false"`
	// Names are of persons, by id; "(name erased)" where it was, and with NoAccount behind it where somebody wrote it by hand.
	Names map[string]string `json:"names"`
	// Determinations are all readable submissions of the specimen, the oldest first.
	Determinations []DeterminationLine `json:"determinations"`
	// Loose is, of a draft that only its owner sees, what was typed and cannot be taken as it is, by field.
	Loose review.Loose `json:"loose,omitempty" doc:"Of a draft: what was typed and cannot be taken as it is, by field"`
	// Unscored: it is part of a series of the actor, who is shown no numbers of how sure its name is; they are 0, and lists of them
	// empty.
	Unscored bool `json:"unscored,omitempty" doc:"Part of a beginner's series of the caller's: no scores are shown, confidence is 0 and the ranking empty"`
	// ForYou: Assessment.Next is what a look by the actor is expected to tell; otherwise by a reviewer of whom nothing
	// else is known.
	ForYou bool `json:"for_you"`
}

// DeterminationLine is one determination in a specimen's history.
type DeterminationLine struct {
	Submission    string               `json:"submission"`
	Group         string               `json:"group"` // of tables
	Determination review.Determination `json:"determination"`
	Status        review.Status        `json:"status"`
	// Name is the name that the specimen has by it: that of the family, or where it was left undetermined the taxon of the
	// tables and the rank at which naming stopped (review.Indet), and Undeterminable why.
	Name           string `json:"name"`
	Undeterminable string `json:"undeterminable,omitempty"`
}

// determinationLine is a line of a submission.
func (s *Service) determinationLine(sub *review.Submission) DeterminationLine {
	line := DeterminationLine{Submission: sub.ID, Group: sub.Group, Determination: sub.Determination, Status: sub.Status, Name: sub.Determination.Family,
		Undeterminable: sub.Undeterminable}
	if builtIn := s.library.BuiltIn(sub.Group); builtIn != nil && sub.Status == review.StatusUndetermined {
		line.Name = review.Indet(builtIn.Tables().Group.Taxon, builtIn.Tables().Group.Rank)
	}
	return line
}

// View returns a submission as the actor may see it.
func (s *Service) View(ctx context.Context, actor review.Actor, id string) (SubmissionView, error) {
	now, err := s.load(ctx, actor, id, AnyVersion)
	if err != nil {
		return SubmissionView{}, err
	}
	return s.view(ctx, actor, now)
}

// ViewDone is View of what an act of the actor has left.
func (s *Service) ViewDone(ctx context.Context, actor review.Actor, d Done) (SubmissionView, error) {
	if d.now == nil {
		return s.View(ctx, actor, d.ID)
	}
	return s.view(ctx, actor, d.now)
}

func (s *Service) view(ctx context.Context, actor review.Actor, now *review.Dossier) (v SubmissionView, err error) {
	if err := s.openedSubmission(ctx, actor, now); err != nil {
		return SubmissionView{}, err
	}
	v = SubmissionView{Specimen: review.SpecimenSeenBy(actor, *now.Specimen, withSubmission(now.Siblings, *now.Submission)), Version: now.Version(), Policy: now.Policy, Allowed: now.Allowed(), Own: now.Own(), Needs: []review.Coded{}, Missing: []string{},
		ForYou: review.May(actor, review.ActReadQueue, "")}
	if v.Withheld, v.Coarse, v.Erased, err = s.withheldIn(ctx, actor, now); err != nil {
		return SubmissionView{}, err
	}
	if now.Draft != nil {
		v.Loose = now.Draft.Loose
	}
	v.Sealed, v.Unscored = review.SealedFrom(actor, now.Submission), review.Unscored(actor, now.Submission)
	v.Submission = review.SeenBy(actor, *now.Submission)
	v.Agreeing = review.NonNil(v.Submission.Agreeing(now.Siblings))
	v.Submission.Photos = review.PhotosSeenIn(&v.Specimen, v.Submission.Photos)
	v.assess(now)
	if v.Submission.Status == review.StatusOpen && !v.Sealed {
		shown := v.Submission
		shown.Assessment = &v.Assessment
		v.Needs = append(v.Needs, now.MissingFor(&shown)...)
	}
	for i := range now.Siblings {
		if review.MayRead(actor, &now.Siblings[i]) {
			v.Determinations = append(v.Determinations, s.determinationLine(&now.Siblings[i]))
		}
	}
	v.Names, err = s.namesWith(ctx, now.Named, personsOf(&v))
	return v, err
}

// LabelElsewhere says whether it is a draft of a registered specimen, with which the label stands. Drafts of a time when they
// were events have changed it themselves.
func (v *SubmissionView) LabelElsewhere() bool { return v.Submission.Saves > 0 && v.Specimen.Seq > 0 }

// withheldIn is withheld of the specimen of a dossier. What a draft holds of a specimen that is not registered is its owner's.
func (s *Service) withheldIn(ctx context.Context, actor review.Actor, now *review.Dossier) (w review.Withheld, coarse, erased bool, err error) {
	if now.Draft != nil && !now.Draft.Registered {
		return now.Draft.Withheld, false, false, nil
	}
	return s.withheld(ctx, actor, now.Specimen)
}

// assess fills the assessment that the actor may see. A closed submission keeps the one that it was closed with, which lists
// show as well; today's stands beside it where it says something else.
func (v *SubmissionView) assess(now *review.Dossier) {
	present := now.Shown()
	if v.Unscored {
		v.Assessment, v.Submission.Assessment = present.Unscored(), nil
		return
	}
	if closed := v.Submission.Assessment; v.Submission.Closed() && closed != nil {
		v.Assessment, v.ForYou = *closed, false
		if closed.TablesHash != present.TablesHash || judgement.DifferenceOf(*closed, present).Noticeable {
			v.Today = &present
		}
		return
	}
	v.Assessment = present
	if len(review.OpenTo(now.Actor, now.Siblings)) < len(now.Siblings) {
		// What is stored counts what others said of another determination of the specimen.
		v.Submission.Assessment, v.Submission.Gain, v.Submission.Gains = nil, 0, nil
	}
}

// personsOf are all whom a view names.
func personsOf(v *SubmissionView) []string {
	persons := []string{v.Submission.Owner, v.Specimen.Owner, v.Policy.By}
	for _, named := range v.Policy.Experts {
		persons = append(persons, named...)
	}
	for _, d := range v.Determinations {
		persons = append(persons, d.Determination.Determiner)
	}
	for _, o := range v.Specimen.Observations {
		persons = append(persons, o.By)
	}
	for _, verdict := range v.Submission.Verdicts {
		persons = append(persons, verdict.By)
	}
	for _, o := range v.Submission.Opinions {
		persons = append(persons, o.By)
	}
	for _, r := range v.Submission.Returns {
		persons = append(persons, r.By)
	}
	for _, r := range v.Submission.Replies {
		persons = append(persons, r.By)
	}
	if v.Submission.Hold != nil {
		persons = append(persons, v.Submission.Hold.By)
	}
	for _, a := range v.Submission.Audits {
		persons = append(persons, a.By)
	}
	if v.Submission.Upholding != nil {
		persons = append(persons, v.Submission.Upholding.By)
	}
	if v.Submission.Settlement != nil {
		persons = append(persons, v.Submission.Settlement.By)
	}
	for _, b := range v.Submission.Blind {
		persons = append(persons, b.By)
	}
	if v.Submission.Recheck != nil {
		for _, o := range v.Submission.Recheck.Opinions {
			persons = append(persons, o.By)
		}
	}
	return persons
}
