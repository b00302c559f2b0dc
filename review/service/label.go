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

func staleSpecimen(version, now int) error {
	return review.Errorf(review.KindStale, "This specimen has changed since you opened it (version %d, now %d). Nothing was stored: look at it again.", version, now)
}

func (s *Service) correctOnce(ctx context.Context, actor review.Actor, id string, version int, label review.Label, withheld review.Withheld, reason string) (review.Specimen, error) {
	b, err := s.store.Basis(ctx, Asked{Specimen: id, Person: actor.Person})
	if err != nil {
		return review.Specimen{}, err
	}
	spec := b.Specimen
	known := func(sub review.Submission) bool { return review.MayRead(actor, &sub) }
	if actor.Person != spec.Owner && spec.Origin == nil && !slices.ContainsFunc(b.Submissions, known) {
		return review.Specimen{}, review.Errorf(review.KindNotFound, "There is no such specimen.")
	}
	if !review.May(actor, review.ActCorrectLabel, spec.Owner) {
		return review.Specimen{}, review.Forbidden(actor, review.ActCorrectLabel, spec.Owner)
	}
	stale, err := s.relabelledSince(ctx, &spec, version)
	if err != nil {
		return review.Specimen{}, err
	}
	if stale {
		return review.Specimen{}, staleSpecimen(version, spec.Seq)
	}
	var p review.Problems
	label.Check(&p)
	withheld.Check(&p)
	review.CheckText(&p, "reason", reason, 1, review.MaxNote)
	if err := p.Err(); err != nil {
		return review.Specimen{}, err
	}
	w := review.NewWriter(s.moment(actor).NotBefore(b.Last))
	if err := s.relabel(ctx, w, &review.Dossier{Moment: w.Moment, Specimen: &spec}, &label, &withheld, strings.TrimSpace(reason)); err != nil {
		return review.Specimen{}, err
	}
	if len(w.Batch.Events) == 0 {
		return spec, nil
	}
	return spec, s.commit(ctx, w)
}

// relabelledSince says whether a version of a specimen is none of the present label: photos and observations move the version
// too, and no label.
func (s *Service) relabelledSince(ctx context.Context, spec *review.Specimen, version int) (bool, error) {
	if version == AnyVersion || version == spec.Seq {
		return false, nil
	}
	if version < 1 || version > spec.Seq {
		return true, nil
	}
	events, err := s.store.Events(ctx, review.SpecimenStream(spec.ID))
	if err != nil {
		return false, err
	}
	return slices.ContainsFunc(events[min(version, len(events)):], func(e review.Event) bool {
		_, label := e.Change.(*review.LabelCorrected)
		return label
	}), nil
}

// relabel writes a label, and its withheld part as a new record. A part that is nil stays as it is; where nothing changes,
// nothing is written.
func (s *Service) relabel(ctx context.Context, w *review.Writer, now *review.Dossier, label *review.Label, withheld *review.Withheld, reason string) error {
	if now.Specimen.Owner != w.Moment.Actor.Person && !review.May(w.Moment.Actor, review.ActCorrectLabel, now.Specimen.Owner) {
		return nil // an older draft leaves the label of somebody else's specimen alone
	}
	former := now.Specimen
	change := &review.LabelCorrected{Label: former.Label, Withholding: former.Withholding, Reason: reason}
	if label != nil {
		change.Label = *label
	}
	if withheld != nil {
		record, mark, err := review.Withhold(w.Moment.NewID(), newSalt(), *withheld)
		if err != nil {
			return err
		}
		same, err := s.withholds(ctx, former, record)
		if err != nil {
			return err
		}
		if !same {
			w.Batch.Withheld = append(w.Batch.Withheld, record)
			change.Withholding = mark
		}
	}
	if change.Label == former.Label && change.Withholding == former.Withholding {
		return nil
	}
	return w.Specimen(now.Specimen, change)
}

// withholds says whether the withheld data of a specimen are those of a record.
func (s *Service) withholds(ctx context.Context, spec *review.Specimen, record review.WithheldRecord) (bool, error) {
	found, err := s.store.Withheld(ctx, []string{spec.Withholding.ID})
	return found[spec.Withholding.ID].Body == record.Body, err
}
