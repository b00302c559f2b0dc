package service

import (
	"context"
	"slices"
	"strings"

	"revidit/review"
)

// CorrectLabel replaces the label data of a specimen, with a reason; what stood there before stays in the history.
func (s *Service) CorrectLabel(ctx context.Context, actor review.Actor, id string, version int, label review.Label, withheld review.Withheld, reason string) (review.Specimen, error) {
	return again(ctx, func() (review.Specimen, error) {
		return s.correctOnce(ctx, actor, id, version, label, withheld, reason)
	})
}

func (s *Service) correctOnce(ctx context.Context, actor review.Actor, id string, version int, label review.Label, withheld review.Withheld, reason string) (review.Specimen, error) {
	b, err := s.store.Basis(ctx, Asked{Specimen: id, Person: actor.Person})
	if err != nil {
		return review.Specimen{}, err
	}
	spec := b.Specimen
	known := func(sub review.Submission) bool { return review.MayRead(actor, &sub) }
	if actor.Person != spec.Owner && !slices.ContainsFunc(b.Submissions, known) {
		return review.Specimen{}, review.Errorf(review.KindNotFound, "There is no such specimen.")
	}
	if !review.May(actor, review.ActCorrectLabel, spec.Owner) {
		return review.Specimen{}, review.Forbidden(actor, review.ActCorrectLabel, spec.Owner)
	}
	if version != AnyVersion && version != spec.Seq {
		return review.Specimen{}, review.Errorf(review.KindStale, "This specimen has changed since you opened it (version %d, now %d). Nothing was stored: look at it again.", version, spec.Seq)
	}
	var p review.Problems
	label.Check(&p)
	withheld.Check(&p)
	review.CheckText(&p, "reason", reason, 1, review.MaxNote)
	if err := p.Err(); err != nil {
		return review.Specimen{}, err
	}
	w := review.NewWriter(s.moment(actor).NotBefore(b.Last))
	if err := s.relabel(w, &review.Dossier{Moment: w.Moment, Specimen: &spec}, label, withheld, strings.TrimSpace(reason)); err != nil {
		return review.Specimen{}, err
	}
	return spec, s.commit(ctx, w)
}

// relabel writes a label, and its withheld part as a new record.
func (s *Service) relabel(w *review.Writer, now *review.Dossier, label review.Label, withheld review.Withheld, reason string) error {
	if now.Specimen.Owner != w.Moment.Actor.Person && !review.May(w.Moment.Actor, review.ActCorrectLabel, now.Specimen.Owner) {
		return nil // a redetermination's draft leaves the label of somebody else's specimen alone
	}
	record, mark, err := review.Withhold(w.Moment.NewID(), newSalt(), withheld)
	if err != nil {
		return err
	}
	w.Batch.Withheld = append(w.Batch.Withheld, record)
	return w.Specimen(now.Specimen, &review.LabelCorrected{Label: label, Withholding: mark, Reason: reason})
}
