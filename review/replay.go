package review

import (
	"fmt"
	"slices"
)

// ReplaySpecimen returns the specimen that its events make, in order from the first. It fails on a gap in the
// sequence or on an event that is not a specimen's.
func ReplaySpecimen(events []Event) (Specimen, error) {
	var s Specimen
	for _, e := range events {
		if e.Seq != s.Seq+1 {
			return Specimen{}, fmt.Errorf("%s: event %d follows event %d", e.Stream, e.Seq, s.Seq)
		}
		if err := s.apply(e); err != nil {
			return Specimen{}, err
		}
	}
	return s, nil
}

// ReplaySubmission returns the submission that its events make, in order from the first. It fails on a gap in the
// sequence or on an event that is not a submission's.
func ReplaySubmission(events []Event) (Submission, error) {
	var s Submission
	for _, e := range events {
		if e.Seq != s.Seq+1 {
			return Submission{}, fmt.Errorf("%s: event %d follows event %d", e.Stream, e.Seq, s.Seq)
		}
		if err := s.apply(e); err != nil {
			return Submission{}, err
		}
	}
	return s, nil
}

// apply changes s by one event. Slices are copied before they change, so that an earlier value stays what it was.
func (s *Specimen) apply(e Event) error {
	switch c := e.Change.(type) {
	case *SpecimenRegistered:
		*s = Specimen{ID: c.ID, Owner: e.Actor, RegisteredAt: e.At, Label: c.Label, Withholding: c.Withholding,
			Photos: []Photo{}, Observations: []Observation{}}
	case *LabelCorrected:
		s.Label, s.Withholding = c.Label, c.Withholding
	case *PhotosAdded:
		s.Photos = mergePhotos(s.Photos, c.Photos)
	case *ObservationsRecorded:
		s.Observations = append(slices.Clone(s.Observations), c.Observations...)
	case *ObservationWithdrawn:
		s.Observations = slices.Clone(s.Observations)
		if c.Discard {
			s.Observations = slices.DeleteFunc(s.Observations, func(o Observation) bool { return o.ID == c.Observation })
		}
		for i := range s.Observations {
			if s.Observations[i].ID == c.Observation {
				s.Observations[i].Withdrawn = c.Reason
			}
		}
	case *TakenIn:
		s.Origin, s.Slips, s.Described = &Origin{Intake: c.Intake, File: c.File, Source: c.Source, Rest: c.Rest}, c.Slips, c.Described
	case *TakenOut:
		origin := *s.Origin
		origin.Undone = c.Reason
		s.Origin = &origin
	case *PhotosPublished:
		s.publish(e, c)
	case *PhotosUnpublished:
		s.unpublish(c.Photos)
	case *Vouched:
		s.vouch(Vouching{VouchForm: c.VouchForm, By: e.Actor, At: e.At})
	default:
		return fmt.Errorf("%s: event %d is %T, not a specimen's", e.Stream, e.Seq, e.Change)
	}
	s.Seq = e.Seq
	return nil
}

func (s *Submission) apply(e Event) error {
	switch c := e.Change.(type) {
	case *Drafted:
		*s = Submission{ID: c.ID, Owner: e.Actor, Status: StatusDraft, DraftedAt: e.At, Follows: c.Follows,
			Verdicts: []Verdict{}, Opinions: []Opinion{}, Returns: []Return{}, Replies: []Reply{}}
		s.propose(c.Proposal)
	case *Revised:
		s.propose(c.Proposal)
	case *Submitted:
		s.Draw, s.Series = c.Draw, c.Series
		s.open(e)
	case *Held:
		s.Hold = &Hold{By: e.Actor, Until: c.Until}
	case *HoldPassedOn:
		s.Hold = &Hold{By: c.To, Until: c.Until}
	case *HoldEnded:
		s.Hold = nil
	case *VerdictsGiven:
		s.Verdicts = mergeVerdicts(s.Verdicts, c.Verdicts)
	case *BlindChecked:
		s.Blind = append(slices.Clone(s.Blind), c.Check)
	case *OpinionGiven:
		s.Opinions = mergeOpinion(s.Opinions, c.Opinion)
	case *SlipReleased:
		at := &e.At
		if c.TakenBack {
			at = nil
		}
		s.Opinions = releaseSlip(s.Opinions, e.Actor, at)
	case *Replied:
		s.Replies = append(slices.Clone(s.Replies), c.Reply)
	case *Returned:
		s.Returns = append(slices.Clone(s.Returns), c.Return)
		s.Status, s.Hold = StatusReturned, nil
	case *Answered:
		s.answer(e, c.Answer)
	case *Assessed:
		assessment := c.Assessment
		if s.Assessment == nil {
			s.Opening = claimOf(assessment)
		}
		s.Assessment, s.Gain, s.Gains = &assessment, c.Gain, c.Gains
	case *Confirmed:
		settlement := c.Settlement
		s.Settlement = &settlement
		s.close(StatusConfirmed, e)
	case *Redetermined:
		s.FollowedBy = c.FollowedBy
		s.close(StatusRedetermined, e)
	case *Undetermined:
		s.Undeterminable, s.UndeterminedBy = c.Reason, e.Actor
		s.close(StatusUndetermined, e)
	case *Withdrawn:
		s.close(StatusWithdrawn, e)
	case *Audited:
		s.Audits = append(slices.Clone(s.Audits), Audit{By: e.Actor, At: e.At, Reason: c.Reason})
	case *Upheld:
		upholding := c.Upholding
		s.Upholding = &upholding
	case *Reopened:
		s.Settlement, s.FollowedBy, s.Recheck, s.Undeterminable, s.UndeterminedBy, s.Upholding, s.Series = nil, "", nil, "", "", nil, ""
		s.open(e)
	case *RecheckDrawn, *PanelOpinionGiven, *PanelLeft:
		s.applyRecheck(e)
	default:
		return fmt.Errorf("%s: event %d is %T, not a submission's", e.Stream, e.Seq, e.Change)
	}
	if NewEvidence(e.Change) {
		s.Evidence++
	}
	s.Seq, s.ChangedAt = e.Seq, e.At
	return nil
}

func (s *Submission) propose(p Proposal) {
	s.Group, s.Specimen, s.Determination, s.Remarks, s.Wider = p.Group, p.Specimen, p.Determination, p.Remarks, p.Wider
	s.Unseen = p.Unseen
	s.Cites, s.Photos = NonNil(p.Cites), NonNil(p.Photos)
}

func (s *Submission) open(e Event) {
	at := e.At
	s.Status, s.OpenedAt, s.ClosedAt, s.Hold = StatusOpen, &at, nil, nil
}

func (s *Submission) close(status Status, e Event) {
	at := e.At
	s.Status, s.ClosedAt, s.Hold = status, &at, nil
}

// answer adds the evidence that an answer brings; a returned submission comes before reviewers again.
func (s *Submission) answer(e Event, a Answer) {
	s.Photos = append(slices.Clone(s.Photos), a.Photos...)
	s.Cites = append(slices.Clone(s.Cites), a.Observations...)
	if s.Status != StatusReturned {
		s.Returns = append(slices.Clone(s.Returns), Return{By: a.By, At: a.At, Answers: []Answer{a}, Answered: true})
		return
	}
	s.Returns = slices.Clone(s.Returns)
	last := &s.Returns[len(s.Returns)-1]
	last.Answers = append(slices.Clone(last.Answers), a)
	last.Answered = true
	s.open(e)
}

func mergePhotos(known, added []Photo) []Photo {
	merged := slices.Clone(known)
	for _, p := range added {
		i := slices.IndexFunc(merged, func(k Photo) bool { return k.ID == p.ID })
		if i < 0 {
			merged = append(merged, p)
			continue
		}
		p.Published = merged[i].Published
		merged[i] = p
	}
	return merged
}

func mergeVerdicts(known, given []Verdict) []Verdict {
	return addVerdicts(slices.Clone(known), given)
}

// addVerdicts is mergeVerdicts into the memory of what is known.
func addVerdicts(merged, given []Verdict) []Verdict {
	for g := range given {
		v := &given[g]
		at := 0
		for at < len(merged) && (merged[at].By != v.By || merged[at].Observation != v.Observation) {
			at++
		}
		if at == len(merged) {
			merged = append(merged, *v)
			continue
		}
		merged[at] = *v
	}
	return merged
}

func mergeOpinion(known []Opinion, given Opinion) []Opinion {
	merged := slices.Clone(known)
	i := slices.IndexFunc(merged, func(k Opinion) bool { return k.By == given.By })
	if i < 0 {
		return append(merged, given)
	}
	merged[i] = given
	return merged
}
