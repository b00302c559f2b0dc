package service

import (
	"context"
	"slices"
	"time"

	"revidit/review"
	"revidit/review/label"
	"revidit/review/label/sheet"
)

// PrintLabels notes that an actor prints labels, and returns the sheet; SheetFile is its file. What was printed before is printed again
// only where the order says that its printer knows it.
func (s *Service) PrintLabels(ctx context.Context, actor review.Actor, order review.SheetOrder) (review.Sheet, error) {
	return again(ctx, func() (review.Sheet, error) { return s.printOnce(ctx, actor, order) })
}

func (s *Service) printOnce(ctx context.Context, actor review.Actor, order review.SheetOrder) (review.Sheet, error) {
	setter, paper, err := setterOf(order.SheetForm)
	if err != nil {
		return review.Sheet{}, err
	}
	order.Size, order.Paper = setter.Size.ID, paper.ID
	now, err := s.printables(ctx, actor, order)
	if err != nil {
		return review.Sheet{}, err
	}
	m := s.moment(actor)
	for _, k := range now {
		if k.Last != nil {
			m = m.NotBefore(k.Last.At)
		}
	}
	printed, err := review.DecidePrint(m, now, order)
	if err != nil {
		return review.Sheet{}, err
	}
	w := review.NewWriter(m)
	made, err := w.Sheet(printed)
	if err != nil {
		return review.Sheet{}, err
	}
	return made, s.commit(ctx, w)
}

// printables are the labels of an order's specimens that its actor may print, as they are now.
func (s *Service) printables(ctx context.Context, actor review.Actor, order review.SheetOrder) ([]review.Printable, error) {
	var now []review.Printable
	for _, set := range LabelSets {
		ask := LabelAsk{Set: set, SheetForm: order.SheetForm}
		for _, l := range order.Labels {
			if setOf(l.Kind) == set {
				ask.Specimens = append(ask.Specimens, l.Specimen)
			}
		}
		if len(ask.Specimens) == 0 {
			continue
		}
		ask.Specimens = unique(ask.Specimens)
		plan, err := s.planned(ctx, actor, ask)
		if err != nil {
			return nil, err
		}
		for _, l := range plan.Labels {
			now = append(now, l.Printable)
		}
	}
	return now, nil
}

func setOf(kind review.PinLabelKind) LabelSet {
	switch kind {
	case review.PinLocality:
		return SetLocality
	case review.PinCatalogue:
		return SetCatalogue
	}
	return SetSlips
}

// comparePrinted says of which labels the words are others than when they were printed last.
func (s *Service) comparePrinted(ctx context.Context, setter label.Setter, plan *LabelPlan) error {
	var before []review.PrintedLabel
	var at []int
	for i, l := range plan.Labels {
		if l.Last == nil {
			continue
		}
		before, at = append(before, review.PrintedLabel{PinLabel: l.PinLabel, SpecimenSeq: l.Last.SpecimenSeq, SubmissionSeq: l.Last.SubmissionSeq, Place: l.Last.Place}), append(at, i)
		plan.Names[l.Last.By] = ""
	}
	made, err := s.remadeLabels(ctx, setter, before)
	if err != nil {
		return err
	}
	for i, l := range made {
		plan.Labels[at[i]].Changed = !slices.EqualFunc(l.Lines, plan.Labels[at[i]].Label.Lines, func(a, b label.Line) bool { return slices.Equal(a, b) })
	}
	var persons []string
	for id := range plan.Names {
		persons = append(persons, id)
	}
	plan.Names, err = s.names(ctx, persons)
	return err
}

// remadeLabels sets labels as they were when they were printed, from the events until then. A label of which a name or a place was
// erased since lacks it.
func (s *Service) remadeLabels(ctx context.Context, setter label.Setter, labels []review.PrintedLabel) ([]label.Typeset, error) {
	streams := []string{}
	for _, l := range labels {
		streams = append(streams, review.SpecimenStream(l.Specimen))
		if l.Submission != "" {
			streams = append(streams, review.SubmissionStream(l.Submission))
		}
	}
	events := map[string][]review.Event{}
	if len(streams) > 0 {
		history, err := s.store.History(ctx, unique(streams)...)
		if err != nil {
			return nil, err
		}
		for _, e := range history {
			events[e.Stream] = append(events[e.Stream], e.Event)
		}
	}
	made := make([]label.Typeset, 0, len(labels))
	pins := make([]*pin, 0, len(labels))
	for _, l := range labels {
		p, err := pinThen(events, l)
		if err != nil {
			return nil, err
		}
		pins = append(pins, p)
	}
	if err := s.openPins(ctx, pins); err != nil {
		return nil, err
	}
	for i, l := range labels {
		if l.Kind == review.PinIndet {
			if err := s.addName(ctx, pins[i], l.Person); err != nil {
				return nil, err
			}
		}
		one, _ := s.setLabel(setter, pins[i], l)
		made = append(made, one)
	}
	return made, nil
}

// pinThen is what a label was made of.
func pinThen(events map[string][]review.Event, l review.PrintedLabel) (*pin, error) {
	until := func(stream string, seq int) []review.Event {
		return slices.DeleteFunc(slices.Clone(events[stream]), func(e review.Event) bool { return e.Seq > seq })
	}
	spec, err := review.ReplaySpecimen(until(review.SpecimenStream(l.Specimen), l.SpecimenSeq))
	if err != nil || l.Submission == "" {
		return &pin{spec: spec}, err
	}
	sub, err := review.ReplaySubmission(until(review.SubmissionStream(l.Submission), l.SubmissionSeq))
	return &pin{spec: spec, subs: []review.Submission{sub}}, err
}

// SheetView is a sheet that was printed.
type SheetView struct {
	review.Sheet
	Pieces int               `json:"pieces" doc:"Pieces of paper"`
	Pages  int               `json:"pages"`
	Names  map[string]string `json:"names"`
}

// Sheet is one that the actor may read: curators all, others their own.
func (s *Service) Sheet(ctx context.Context, actor review.Actor, id string) (SheetView, error) {
	found, err := s.store.Sheet(ctx, id)
	if err != nil {
		return SheetView{}, err
	}
	if !review.May(actor, review.ActReadSheet, found.By) {
		return SheetView{}, review.Errorf(review.KindNotFound, "There is no sheet %s.", id)
	}
	v := SheetView{Sheet: found}
	for _, l := range found.Labels {
		v.Pieces += l.Copies
	}
	setter, paper, err := setterOf(found.SheetForm)
	if err != nil {
		return v, err
	}
	v.Pages = sheet.Pages(paper, setter.Size, v.Pieces)
	v.Names, err = s.names(ctx, []string{found.By})
	return v, err
}

// mostSheets is how many a list of sheets has.
const mostSheets = 50

// Sheets are the latest that the actor may read.
func (s *Service) Sheets(ctx context.Context, actor review.Actor) (sheets []review.Sheet, names map[string]string, err error) {
	person := actor.Person
	if actor.Role == review.RoleCurator {
		person = ""
	}
	if sheets, err = s.store.FindSheets(ctx, person, mostSheets); err != nil {
		return nil, nil, err
	}
	var persons []string
	for _, one := range sheets {
		persons = append(persons, one.By)
	}
	names, err = s.names(ctx, persons)
	return sheets, names, err
}

// SheetFile is a sheet as PDF, with the words that it was printed with: of what was stored by then. Whoever may no longer see a place
// that stands on it does not get it again.
func (s *Service) SheetFile(ctx context.Context, actor review.Actor, id string, words sheet.Words) ([]byte, error) {
	v, err := s.Sheet(ctx, actor, id)
	if err != nil {
		return nil, err
	}
	if err := s.stillSeen(ctx, actor, v.Labels); err != nil {
		return nil, err
	}
	setter, paper, err := setterOf(v.SheetForm)
	if err != nil {
		return nil, err
	}
	labels, err := s.remadeLabels(ctx, setter, v.Labels)
	if err != nil {
		return nil, err
	}
	drawn := sheet.Sheet{Paper: paper, Size: setter.Size, Words: words, At: v.At}
	for i, l := range v.Labels {
		drawn.Pieces = append(drawn.Pieces, sheet.Piece{Label: labels[i], Copies: l.Copies})
	}
	return drawn.PDF()
}

// stillSeen refuses who may see less of a place today than stands on a sheet.
func (s *Service) stillSeen(ctx context.Context, actor review.Actor, labels []review.PrintedLabel) error {
	for _, l := range labels {
		if l.Place == "" || l.Place == review.PlaceCoarse {
			continue
		}
		spec, err := s.store.Specimen(ctx, l.Specimen)
		if err != nil {
			return err
		}
		if now := review.PlaceSeenBy(actor, spec.Owner); now != l.Place && now != review.PlaceWhole {
			return review.Errorf(review.KindForbidden, "This sheet shows exact places that you may not see any more. A curator can print it.")
		}
	}
	return nil
}

// printedOf are the events of all sheets with labels of a specimen, cut to those.
func (s *Service) printedOf(ctx context.Context, actor review.Actor, specimen string, sealed bool) ([]review.Placed, error) {
	sheets, err := s.store.SheetsOf(ctx, specimen)
	if err != nil || len(sheets) == 0 {
		return nil, err
	}
	var streams []string
	for _, id := range sheets {
		streams = append(streams, review.SheetStream(id))
	}
	events, err := s.store.History(ctx, streams...)
	if err != nil {
		return nil, err
	}
	var of []review.Placed
	for _, e := range events {
		printed, ok := e.Change.(*review.SheetPrinted)
		if !ok {
			continue
		}
		if cut := printed.OfSpecimen(specimen, sealed, actor.Person); len(cut.Labels) > 0 {
			e.Change = cut
			of = append(of, e)
		}
	}
	return of, nil
}

// SpecimenSheet is when labels of a specimen were printed.
type SpecimenSheet struct {
	By     string                `json:"by"`
	At     time.Time             `json:"at"`
	Labels []review.PrintedLabel `json:"labels" nullable:"false"`
}

// printedThen are the labels of a specimen that had been printed at a moment.
func (s *Service) printedThen(ctx context.Context, p *loadedPast, position int64) ([]SpecimenSheet, error) {
	events, err := s.printedOf(ctx, p.actor, p.now.Specimen.ID, review.SealedFrom(p.actor, p.now.Submission))
	printed := []SpecimenSheet{}
	for _, e := range events {
		if c, ok := e.Change.(*review.SheetPrinted); ok && e.Position > 0 && e.Position <= position {
			printed = append(printed, SpecimenSheet{By: e.Actor, At: e.At, Labels: c.Labels})
		}
	}
	return printed, err
}
