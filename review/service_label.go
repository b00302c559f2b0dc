package review

import (
	"context"
	"strings"
)

// CorrectLabel replaces the label data of a specimen, with a reason; what stood there before stays in the history.
func (s *Service) CorrectLabel(ctx context.Context, actor Actor, id string, version int, label Label, withheld Withheld, reason string) (Specimen, error) {
	spec, err := s.store.Specimen(ctx, id)
	if err != nil {
		return Specimen{}, err
	}
	if actor.Person != spec.Owner {
		if err := s.knowsSpecimen(ctx, actor, id); err != nil {
			return Specimen{}, err
		}
	}
	if !May(actor, ActCorrectLabel, spec.Owner) {
		return Specimen{}, forbidden(actor, ActCorrectLabel, spec.Owner)
	}
	if version != AnyVersion && version != spec.Seq {
		return Specimen{}, Errorf(KindStale, "This specimen has changed since you opened it (version %d, now %d). Nothing was stored: look at it again.", version, spec.Seq)
	}
	var p Problems
	label.check(&p)
	withheld.check(&p)
	checkText(&p, "reason", reason, 1, maxNote)
	if err := p.Err(); err != nil {
		return Specimen{}, err
	}
	w := newWriter(s.moment(actor))
	if err := s.relabel(w, &situation{Moment: w.moment, specimen: &spec}, label, withheld, strings.TrimSpace(reason)); err != nil {
		return Specimen{}, err
	}
	return spec, s.commit(ctx, w)
}

// relabel writes a label with a new seal of its withheld part.
func (s *Service) relabel(w *writer, now *situation, label Label, withheld Withheld, reason string) error {
	if now.specimen.Owner != w.moment.Actor.Person && !May(w.moment.Actor, ActCorrectLabel, now.specimen.Owner) {
		return nil // a redetermination's draft leaves the label of somebody else's specimen alone
	}
	sealed, mark, err := seal(w.moment.NewID(), newSalt(), withheld)
	if err != nil {
		return err
	}
	w.batch.Withheld = append(w.batch.Withheld, sealed)
	return w.specimen(now.specimen, &LabelCorrected{Label: label, Seal: mark, Reason: reason})
}
