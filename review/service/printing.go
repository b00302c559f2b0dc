package service

import (
	"context"
	"slices"
	"time"

	"revidit/review"
	"revidit/review/label"
	"revidit/review/label/sheet"
)

// LabelSet is which labels somebody wants to print together: those of one size on one sheet.
type LabelSet string

// Sets of labels.
const (
	SetLocality  LabelSet = "locality"
	SetSlips     LabelSet = "slips" // of determinations: det., conf. and indet., as they stand on the pin
	SetCatalogue LabelSet = "catalogue"
)

// LabelSets are all of them.
var LabelSets = []LabelSet{SetLocality, SetSlips, SetCatalogue}

// LabelAsk is of which specimens which labels are wanted, and how large.
type LabelAsk struct {
	Set       LabelSet
	Specimens []string // at most review.MostLabels
	review.SheetForm
}

// PlannedLabel is a label as it would be printed now.
type PlannedLabel struct {
	review.Printable
	Label label.Typeset `json:"label"`
	// Changed: it was printed before, in other words.
	Changed bool `json:"changed,omitempty"`
}

// LeftOut is why a specimen has no label.
type LeftOut string

// Reasons.
const (
	LeftOutUnknown  LeftOut = "unknown"   // it is not there, not submitted yet, or not for the one who asks
	LeftOutBlind    LeftOut = "blind"     // who asks is to look at it blind first
	LeftOutNothing  LeftOut = "nothing"   // nothing of its label is known that could be printed
	LeftOutNoNumber LeftOut = "no-number" // it has no catalogue number
	LeftOutErased   LeftOut = "erased"    // the name of who signs was erased
)

// LeftOutSpecimen is a specimen of which a label is not printed.
type LeftOutSpecimen struct {
	Specimen string  `json:"specimen"`
	Number   string  `json:"number,omitempty"`
	Why      LeftOut `json:"why" enum:"unknown,blind,nothing,no-number,erased"`
}

// LabelPlan is what would be printed.
type LabelPlan struct {
	Set     LabelSet          `json:"set" enum:"locality,slips,catalogue"`
	Size    label.Size        `json:"-"`
	Paper   label.Paper       `json:"-"`
	Labels  []PlannedLabel    `json:"labels" nullable:"false"`
	LeftOut []LeftOutSpecimen `json:"left_out" nullable:"false"`
	Names   map[string]string `json:"names"` // of who printed before
}

// pin is a specimen with all that its labels are made of, as somebody may see it.
type pin struct {
	spec     review.Specimen
	subs     []review.Submission // in the order of the slips
	withheld review.Withheld     // whole: PlaceShown cuts it
	hidden   bool                // something of the withheld part is known
	names    map[string]string   // of those who sign; without those that were erased
}

// PlanLabels says what would be printed for an actor, what would be shortened, and what was printed before.
func (s *Service) PlanLabels(ctx context.Context, actor review.Actor, ask LabelAsk) (LabelPlan, error) {
	plan, err := s.planned(ctx, actor, ask)
	if err != nil {
		return plan, err
	}
	setter := label.Setter{Metrics: sheet.Type{}, Size: plan.Size}
	return plan, s.comparePrinted(ctx, setter, &plan)
}

// planned is PlanLabels without what stood on labels that were printed before.
func (s *Service) planned(ctx context.Context, actor review.Actor, ask LabelAsk) (LabelPlan, error) {
	plan := LabelPlan{Set: ask.Set, Labels: []PlannedLabel{}, LeftOut: []LeftOutSpecimen{}, Names: map[string]string{}}
	if !review.May(actor, review.ActPrintLabels, "") {
		return plan, review.Forbidden(actor, review.ActPrintLabels, "")
	}
	setter, paper, err := setterOf(ask.SheetForm)
	if err != nil {
		return plan, err
	}
	plan.Size, plan.Paper = setter.Size, paper
	var p review.Problems
	if !slices.Contains(LabelSets, ask.Set) {
		p.Addf("set", "must be locality, slips or catalogue")
	}
	if len(ask.Specimens) > review.MostLabels {
		p.Addf("specimen", "choose %d at most for one sheet", review.MostLabels)
	}
	if err := p.Err(); err != nil {
		return plan, err
	}
	printed, err := s.store.Printed(ctx, ask.Specimens)
	if err != nil {
		return plan, err
	}
	for _, id := range unique(ask.Specimens) {
		if err := s.planSpecimen(ctx, actor, id, setter, printed, &plan); err != nil {
			return plan, err
		}
	}
	return plan, nil
}

func unique(ids []string) []string {
	var once []string
	for _, id := range ids {
		if !slices.Contains(once, id) {
			once = append(once, id)
		}
	}
	return once
}

// setterOf sets labels of the size of a form.
func setterOf(f review.SheetForm) (label.Setter, label.Paper, error) {
	var p review.Problems
	size, ok := label.SizeOf(f.Size)
	if !ok {
		p.Addf("size", "is none of the sizes that there are")
	}
	paper, ok := label.PaperOf(f.Paper)
	if !ok {
		p.Addf("paper", "must be a4 or letter")
	}
	return label.Setter{Metrics: sheet.Type{}, Size: size}, paper, p.Err()
}

// planSpecimen adds the labels of one specimen, or why it has none.
func (s *Service) planSpecimen(ctx context.Context, actor review.Actor, id string, setter label.Setter, printed map[review.PinLabel]review.Printed, plan *LabelPlan) error {
	pin, err := s.pinOf(ctx, actor, id, plan.Set == SetSlips)
	if err != nil {
		why, known := leftOutBy(err)
		if !known {
			return err
		}
		plan.LeftOut = append(plan.LeftOut, LeftOutSpecimen{Specimen: id, Why: why})
		return nil
	}
	labels, err := s.labelsOf(ctx, actor, pin, plan.Set)
	if err != nil {
		return err
	}
	out := func(why LeftOut) {
		plan.LeftOut = append(plan.LeftOut, LeftOutSpecimen{Specimen: id, Number: pin.spec.Label.CatalogueNumber, Why: why})
	}
	for _, l := range labels {
		made, why := s.setLabel(setter, pin, l)
		if why != "" {
			out(why)
			continue
		}
		l.Nth = 1
		planned := PlannedLabel{Printable: review.Printable{PrintedLabel: l, Number: pin.spec.Label.CatalogueNumber}, Label: made}
		if before, ok := printed[l.PinLabel]; ok {
			planned.Last, planned.Nth = &before, before.Times+1
		}
		plan.Labels = append(plan.Labels, planned)
	}
	if len(labels) == 0 {
		out(LeftOutNothing)
	}
	return nil
}

// leftOutBy says why a specimen that cannot be read has no label; false where it is another kind of error.
func leftOutBy(err error) (LeftOut, bool) {
	switch review.KindOf(err) {
	case review.KindNotFound:
		return LeftOutUnknown, true
	case review.KindBlind:
		return LeftOutBlind, true
	}
	return "", false
}

// pinOf reads what the labels of a specimen are made of. Slips tell names and what others have said, so that it is recorded who was
// shown them.
func (s *Service) pinOf(ctx context.Context, actor review.Actor, id string, slips bool) (*pin, error) {
	b, err := s.store.Basis(ctx, Asked{Specimen: id, Person: actor.Person})
	if err != nil {
		return nil, err
	}
	if err := s.hiddenSpecimen(ctx, actor, &b); err != nil {
		return nil, err
	}
	known := b.known()
	p := &pin{spec: review.SpecimenSeenBy(actor, b.Specimen, known)}
	others := false
	for i := range known {
		if review.MayRead(actor, &known[i]) {
			p.subs, others = append(p.subs, known[i]), others || review.ShowsOthers(actor, &known[i])
		}
	}
	if len(p.subs) == 0 && actor.Person != p.spec.Owner {
		return nil, review.Errorf(review.KindNotFound, "There is no specimen %s.", id)
	}
	if slips {
		if err := s.opened(ctx, &b.Opened, actor, b.Specimen.ID, others); err != nil {
			return nil, err
		}
	}
	p.subs = review.InPinOrder(p.subs)
	return p, s.openPins(ctx, []*pin{p})
}

// openPins reads what is withheld of specimens, and the names of those who sign.
func (s *Service) openPins(ctx context.Context, pins []*pin) error {
	var seals, persons []string
	for _, p := range pins {
		seals = append(seals, p.spec.Withholding.ID)
		for i := range p.subs {
			persons = append(persons, p.subs[i].Determination.Determiner)
			for _, o := range p.subs[i].Opinions {
				persons = append(persons, o.By)
			}
		}
	}
	records, err := s.store.Withheld(ctx, unique(seals))
	if err != nil {
		return err
	}
	people, err := s.store.People(ctx, unique(persons))
	if err != nil {
		return err
	}
	for _, p := range pins {
		p.names = map[string]string{}
		for id, person := range people {
			p.names[id] = person.Name
		}
		record, ok := records[p.spec.Withholding.ID]
		if !ok {
			continue
		}
		if p.withheld, err = record.Open(p.spec.Withholding); err != nil {
			return err
		}
		p.hidden = p.withheld != (review.Withheld{})
	}
	return nil
}

// labelsOf are the labels that a specimen has of a set, as they stand on the pin.
func (s *Service) labelsOf(ctx context.Context, actor review.Actor, p *pin, set LabelSet) ([]review.PrintedLabel, error) {
	of := review.PrintedLabel{PinLabel: review.PinLabel{Specimen: p.spec.ID}, Copies: 1, SpecimenSeq: p.spec.Seq}
	switch set {
	case SetLocality:
		of.Kind, of.Place = review.PinLocality, review.PlaceSeenBy(actor, p.spec.Owner)
		return []review.PrintedLabel{of}, nil
	case SetCatalogue:
		of.Kind = review.PinCatalogue
		return []review.PrintedLabel{of}, nil
	}
	var slips []review.PrintedLabel
	for i := range p.subs {
		sub := &p.subs[i]
		if sub.OpenedAt == nil || sub.Status == review.StatusWithdrawn {
			continue
		}
		of.Kind, of.Submission, of.Person, of.SubmissionSeq = review.PinDetermination, sub.ID, "", sub.Seq
		slips = append(slips, of)
		for _, o := range sub.PrintedOpinions(actor, p.subs) {
			of.Kind, of.Person = review.PinOpinion, o.By
			slips = append(slips, of)
		}
		if sub.Status != review.StatusUndetermined {
			continue
		}
		by, err := s.leftUndetermined(ctx, sub.ID)
		if err != nil {
			return nil, err
		}
		of.Kind, of.Person = review.PinIndet, by
		slips = append(slips, of)
		if err := s.addName(ctx, p, by); err != nil {
			return nil, err
		}
	}
	return slips, nil
}

// leftUndetermined is who has closed a submission as one that cannot be named.
func (s *Service) leftUndetermined(ctx context.Context, submission string) (string, error) {
	events, err := s.store.Events(ctx, review.SubmissionStream(submission))
	if err != nil {
		return "", err
	}
	by := ""
	for _, e := range events {
		if _, ok := e.Change.(*review.Undetermined); ok {
			by = e.Actor
		}
	}
	return by, nil
}

func (s *Service) addName(ctx context.Context, p *pin, person string) error {
	people, err := s.store.People(ctx, []string{person})
	if err == nil {
		p.names[person] = people[person].Name
	}
	return err
}

// setLabel sets a label of a pin, or says why there is none.
func (s *Service) setLabel(setter label.Setter, p *pin, l review.PrintedLabel) (made label.Typeset, why LeftOut) {
	switch l.Kind {
	case review.PinLocality:
		x := label.LocalityOf(p.spec.Label, l.Place.Shown(p.withheld), l.Place != review.PlaceWhole && p.hidden)
		if x.Empty() {
			return made, LeftOutNothing
		}
		return setter.Locality(x), ""
	case review.PinCatalogue:
		if p.spec.Label.CatalogueNumber == "" {
			return made, LeftOutNoNumber
		}
		return setter.Catalogue(p.spec.Label.CatalogueNumber), ""
	}
	at := slices.IndexFunc(p.subs, func(sub review.Submission) bool { return sub.ID == l.Submission })
	if at < 0 {
		return made, LeftOutUnknown
	}
	sub := &p.subs[at]
	person := l.Person
	if l.Kind == review.PinDetermination {
		person = sub.Determination.Determiner
	}
	if p.names[person] == "" {
		return made, LeftOutErased
	}
	slip, ok := s.slip(sub, l, p.names[person])
	if !ok {
		return made, LeftOutUnknown
	}
	return setter.Slip(slip), ""
}

// slip is what the slip of an act says; false where the act is none any more.
func (s *Service) slip(sub *review.Submission, l review.PrintedLabel, name string) (label.Slip, bool) {
	switch l.Kind {
	case review.PinDetermination:
		return label.Determination(&sub.Determination, name), true
	case review.PinIndet:
		builtIn := s.library.BuiltIn(sub.Group)
		if builtIn == nil || sub.ClosedAt == nil {
			return label.Slip{}, false
		}
		group := builtIn.Tables().Group
		return label.Indet(review.Indet(group.Taxon, group.Rank), name, sub.ClosedAt.Format(time.DateOnly)), true
	}
	o, ok := sub.SlipOf(l.Person)
	return label.Opinion(&o, &sub.Determination, name, o.At.Format(time.DateOnly)), ok
}
