package review

// EvidenceVersion is the version of what somebody was shown who decides about a submission: the specimen with its label,
// photos and observations, the name, and where the submission stands. It is a whole number from 1 on; what reviewers say
// does not move it, so that two who look at the same time do not stand in each other's way.
func EvidenceVersion(s *Submission, spec *Specimen) int {
	const phases = 4 // told by the remainder, so that a version of one is never one of another
	n, phase := spec.Seq+s.Evidence, 0
	switch {
	case s.OpenedAt == nil:
		n = spec.Seq + s.Seq + s.Saves // nobody but its owner changes a draft
	case s.Status == StatusReturned:
		phase = 1
	case s.Closed():
		phase = 2
	default:
		phase = 3
	}
	return phases*n + phase
}

// Version is the version of the evidence.
func (now *Dossier) Version() int { return EvidenceVersion(now.Submission, now.Specimen) }

// OnlySaid says whether a change of a submission is no more than what people say of it or do about it, and leaves the
// version of the evidence alone.
func OnlySaid(c Change) bool {
	switch c.(type) {
	case *VerdictsGiven, *OpinionGiven, *BlindChecked, *Replied, *Assessed, *Held, *HoldEnded, *HoldPassedOn, *RecheckDrawn, *PanelOpinionGiven, *PanelLeft,
		*Audited, *Upheld, *SlipReleased:
		return true
	}
	return false
}
