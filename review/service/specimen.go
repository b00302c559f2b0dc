package service

import (
	"context"

	"revidit/review"
)

// SpecimenView is a specimen as one actor may see it.
type SpecimenView struct {
	Specimen       review.Specimen     `json:"specimen"`
	Withheld       review.Withheld     `json:"withheld"`
	Coarse         bool                `json:"coarse"`
	Erased         bool                `json:"erased"`
	Determinations []DeterminationLine `json:"determinations"`
	// Pile are the ids of the submissions of Determinations as their slips stand on the pin, the uppermost first.
	Pile []string `json:"pile" nullable:"false" doc:"Ids of the submissions as their slips stand on the pin, the uppermost, which is the oldest, first"`
	// Path is how sure each name was over time, as far as the actor may see it.
	Path []review.PathPoint `json:"path" nullable:"false" doc:"How sure each name was over time, with what moved it, as far as the caller may see it"`
	// PathSealed: what was assessed since counts what is sealed from the actor, and is left out of Path.
	PathSealed bool              `json:"path_sealed,omitempty" doc:"The path ends where what is sealed from the caller begins to count"`
	Names      map[string]string `json:"names"`
	// Rest is of what came with a specimen from elsewhere and has no place here, for those who may read all of its label.
	Rest []review.RestValue `json:"rest,omitempty" doc:"What came with it from elsewhere and has no place here, word for word; for those who may read what is withheld"`
}

// Specimen returns a specimen as the actor may see it.
func (s *Service) Specimen(ctx context.Context, actor review.Actor, id string) (SpecimenView, error) {
	b, err := s.store.Basis(ctx, Asked{Specimen: id, Person: actor.Person})
	if err != nil {
		return SpecimenView{}, err
	}
	if err := s.hiddenSpecimen(ctx, actor, &b); err != nil {
		return SpecimenView{}, err
	}
	if err := s.opened(ctx, &b.Opened, actor, b.Specimen.ID, false); err != nil {
		return SpecimenView{}, err
	}
	siblings := b.known()
	spec := review.SpecimenSeenBy(actor, b.Specimen, siblings)
	v := SpecimenView{Specimen: spec}
	persons := []string{spec.Owner}
	for i := range siblings {
		if review.MayRead(actor, &siblings[i]) {
			v.Determinations = append(v.Determinations, s.determinationLine(&siblings[i]))
			persons = append(persons, siblings[i].Determination.Determiner)
		}
	}
	if len(v.Determinations) == 0 && actor.Person != spec.Owner && spec.Origin == nil {
		return SpecimenView{}, review.Errorf(review.KindNotFound, "There is no specimen %s.", id)
	}
	for _, o := range spec.Observations {
		persons = append(persons, o.By)
	}
	if err := s.pathOf(ctx, actor, &b, &v); err != nil {
		return SpecimenView{}, err
	}
	for _, point := range v.Path {
		for _, c := range point.Causes {
			persons = append(persons, c.Actor)
		}
	}
	if v.Withheld, v.Coarse, v.Erased, err = s.withheld(ctx, actor, &spec); err != nil {
		return SpecimenView{}, err
	}
	for i := range spec.Slips {
		persons = append(persons, spec.Slips[i].Determiners...)
	}
	if review.May(actor, review.ActReadWithheld, spec.Owner) {
		if v.Rest, err = s.rest(ctx, &spec); err != nil {
			return SpecimenView{}, err
		}
	}
	v.Names, err = s.namesWith(ctx, b.named(), persons)
	return v, err
}

// pathOf fills how the slips stand on the pin, and how sure each name was over time.
func (s *Service) pathOf(ctx context.Context, actor review.Actor, b *Basis, v *SpecimenView) error {
	past, err := s.past(ctx, &b.Specimen, b.Submissions)
	if err != nil {
		return err
	}
	v.Pile, v.Path = []string{}, past.PathsSeenBy(actor, b.Submissions)
	v.PathSealed = past.SealedSince(actor, b.Submissions) > 0
	for _, sub := range review.InPinOrder(b.known()) {
		if review.MayRead(actor, &sub) {
			v.Pile = append(v.Pile, sub.ID)
		}
	}
	return nil
}

// withheld opens the withheld label data as far as the actor may see them.
func (s *Service) withheld(ctx context.Context, actor review.Actor, spec *review.Specimen) (w review.Withheld, coarse, erased bool, err error) {
	if spec.Withholding.ID == "" {
		return review.Withheld{}, false, false, nil
	}
	found, err := s.store.Withheld(ctx, []string{spec.Withholding.ID})
	if err != nil {
		return review.Withheld{}, false, false, err
	}
	record, ok := found[spec.Withholding.ID]
	if !ok {
		return review.Withheld{}, false, true, nil
	}
	if w, err = record.Open(spec.Withholding); err != nil {
		return review.Withheld{}, false, false, err
	}
	w, whole := w.SeenBy(actor, spec.Owner)
	return w, !whole, false, nil
}
