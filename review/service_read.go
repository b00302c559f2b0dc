package review

import (
	"context"
	"math"
	"slices"
	"sort"
)

// SubmissionView is a submission as one actor may see it, with what belongs to it.
type SubmissionView struct {
	Submission Submission `json:"submission"`
	Specimen   Specimen   `json:"specimen"`
	// Withheld is the withheld label data: whole for the owner of the specimen and for curators, otherwise only
	// coordinates rounded to a tenth of a degree, with Coarse set.
	Withheld Withheld `json:"withheld"`
	Coarse   bool     `json:"coarse"`
	Erased   bool     `json:"erased"` // the withheld data have been erased
	// Assessment is what the actor may see: Sealed tells that it leaves out the verdicts of others, and that they are
	// not in Submission either, until the actor has saved their own.
	Assessment Assessment `json:"assessment"`
	Sealed     bool       `json:"sealed"`
	// Today is the assessment with the tables in force, where a closed submission was assessed with others: those lead.
	Today *Assessment `json:"today,omitempty"`
	// Missing says what is needed before it settles by itself; empty where the submission is not open or is sealed.
	Missing []string          `json:"missing"`
	Policy  Policy            `json:"policy"`
	Allowed []Action          `json:"allowed"`
	Names   map[string]string `json:"names"` // of persons, by id; "(name erased)" where it was
	// Determinations are all readable submissions of the specimen, the oldest first.
	Determinations []DeterminationLine `json:"determinations"`
	// ForYou: Assessment.Next is what a look by the actor is expected to tell; otherwise by a reviewer of whom nothing
	// else is known.
	ForYou bool `json:"for_you"`
}

// DeterminationLine is one determination in a specimen's history.
type DeterminationLine struct {
	Submission    string        `json:"submission"`
	Group         string        `json:"group"` // of tables
	Determination Determination `json:"determination"`
	Status        Status        `json:"status"`
}

// View returns a submission as the actor may see it.
func (s *Service) View(ctx context.Context, actor Actor, id string) (SubmissionView, error) {
	now, err := s.load(ctx, actor, id, AnyVersion)
	if err != nil {
		return SubmissionView{}, err
	}
	v := SubmissionView{Specimen: *now.specimen, Policy: now.policy, Allowed: Allowed(actor, now.submission), Missing: []string{},
		ForYou: May(actor, ActReadQueue, "")}
	if v.Withheld, v.Coarse, v.Erased, err = s.withheld(ctx, actor, now.specimen); err != nil {
		return SubmissionView{}, err
	}
	v.Sealed = sealedFrom(actor, now.submission)
	seen := *now.submission
	if v.Sealed {
		own := slices.DeleteFunc(slices.Clone(seen.Blind), func(b BlindCheck) bool { return b.By != actor.Person })
		seen = unseenOf(seen)
		seen.Blind = own
	}
	seen.Draw = nil
	v.Submission = seen
	if err := s.assessView(ctx, &v, now, s.openTo(actor, now.siblings)); err != nil {
		return SubmissionView{}, err
	}
	if seen.Status == StatusOpen && !v.Sealed {
		v.Missing = append(v.Missing, now.policy.Missing(now.submission)...)
	}
	for i := range now.siblings {
		if mayRead(actor, &now.siblings[i]) {
			sub := &now.siblings[i]
			v.Determinations = append(v.Determinations, DeterminationLine{Submission: sub.ID, Group: sub.Group, Determination: sub.Determination, Status: sub.Status})
		}
	}
	v.Names, err = s.names(ctx, personsOf(&v))
	return v, err
}

// assessView fills the assessment that the actor may see. A closed submission keeps the tables that it was closed with;
// what those in force say of it stands beside.
func (s *Service) assessView(ctx context.Context, v *SubmissionView, now *situation, siblings []Submission) error {
	present := now.assessFor(now.judge, &v.Submission, siblings)
	stored := v.Submission.Assessment
	if !v.Submission.Closed() || stored == nil || stored.TablesHash == present.TablesHash {
		v.Assessment = present
		return nil
	}
	v.Today = &present
	former, err := s.judgeOfHash(ctx, stored.TablesHash)
	if KindOf(err) == KindNotFound {
		v.Assessment = *stored // built-in tables of an earlier program: what was shown then is kept, shortened
		return nil
	}
	if err != nil {
		return err
	}
	v.Assessment = now.assessFor(former, &v.Submission, siblings)
	return nil
}

// assessFor is assess for the one who asks: where that person reviews, what to check next is what a look by themself
// would tell. What is stored is for a reviewer of whom nothing else is known.
func (now *situation) assessFor(j *Judge, s *Submission, siblings []Submission) Assessment {
	w := now.weighing()
	if May(now.Actor, ActReadQueue, "") {
		look := now.people.Look(now.Actor.Person, now.Actor.Role, j.Tables())
		w.look = &look
	}
	return w.assess(j, s, now.specimen, siblings)
}

// sealedFrom: nobody sees others' verdicts before saving theirs. Owners see them at once (it is how they learn),
// reviewers after their own, everybody when it is closed.
func sealedFrom(actor Actor, s *Submission) bool {
	return !s.Closed() && actor.Person != s.Owner && !s.HasReviewed(actor.Person)
}

// unseenOf is a submission without what others have said about it.
func unseenOf(s Submission) Submission {
	s.Verdicts, s.Opinions, s.Replies, s.Assessment, s.Blind = []Verdict{}, []Opinion{}, []Reply{}, nil, nil
	s.Gain, s.Gains = 0, nil
	return s
}

func (s *Service) openTo(actor Actor, siblings []Submission) []Submission {
	var open []Submission
	for _, sub := range siblings {
		if !sealedFrom(actor, &sub) {
			open = append(open, sub)
		}
	}
	return open
}

// withheld opens the withheld label data as far as the actor may see them.
func (s *Service) withheld(ctx context.Context, actor Actor, spec *Specimen) (w Withheld, coarse, erased bool, err error) {
	if spec.Seal.ID == "" {
		return Withheld{}, false, false, nil
	}
	found, err := s.store.Withheld(ctx, []string{spec.Seal.ID})
	if err != nil {
		return Withheld{}, false, false, err
	}
	sealed, ok := found[spec.Seal.ID]
	if !ok {
		return Withheld{}, false, true, nil
	}
	if w, err = sealed.Open(spec.Seal); err != nil {
		return Withheld{}, false, false, err
	}
	if May(actor, ActReadWithheld, spec.Owner) {
		return w, false, false, nil
	}
	return w.coarse(), true, false, nil
}

// coarse keeps coordinates to a tenth of a degree (about 11 km of latitude) and drops the rest.
func (w Withheld) coarse() Withheld {
	return Withheld{Latitude: tenth(w.Latitude), Longitude: tenth(w.Longitude)}
}

func tenth(x *float64) *float64 {
	if x == nil {
		return nil
	}
	rounded := math.Round(*x*10) / 10
	return &rounded
}

// SpecimenView is a specimen as one actor may see it.
type SpecimenView struct {
	Specimen       Specimen            `json:"specimen"`
	Withheld       Withheld            `json:"withheld"`
	Coarse         bool                `json:"coarse"`
	Erased         bool                `json:"erased"`
	Determinations []DeterminationLine `json:"determinations"`
	Names          map[string]string   `json:"names"`
}

// Specimen returns a specimen as the actor may see it.
func (s *Service) Specimen(ctx context.Context, actor Actor, id string) (SpecimenView, error) {
	spec, err := s.store.Specimen(ctx, id)
	if err != nil {
		return SpecimenView{}, err
	}
	siblings, err := s.store.SubmissionsOf(ctx, id)
	if err != nil {
		return SpecimenView{}, err
	}
	if err := s.hiddenSpecimen(ctx, actor, &spec, siblings); err != nil {
		return SpecimenView{}, err
	}
	v := SpecimenView{Specimen: spec}
	persons := []string{spec.Owner}
	for i := range siblings {
		if mayRead(actor, &siblings[i]) {
			d := siblings[i].Determination
			v.Determinations = append(v.Determinations, DeterminationLine{Submission: siblings[i].ID, Group: siblings[i].Group, Determination: d, Status: siblings[i].Status})
			persons = append(persons, d.Determiner)
		}
	}
	if len(v.Determinations) == 0 && actor.Person != spec.Owner {
		return SpecimenView{}, Errorf(KindNotFound, "There is no specimen %s.", id)
	}
	for _, o := range spec.Observations {
		persons = append(persons, o.By)
	}
	if v.Withheld, v.Coarse, v.Erased, err = s.withheld(ctx, actor, &spec); err != nil {
		return SpecimenView{}, err
	}
	v.Names, err = s.names(ctx, persons)
	return v, err
}

// History is what has happened to a submission and its specimen, the oldest first.
type History struct {
	Entries []HistoryEntry    `json:"entries"`
	Names   map[string]string `json:"names"`
}

// HistoryEntry is one event. Hidden events are those that the actor may not read yet: their change is left out.
type HistoryEntry struct {
	Stream string `json:"stream"`
	Seq    int    `json:"seq"`
	At     string `json:"at"` // RFC 3339, UTC, microseconds
	Actor  string `json:"actor"`
	Role   Role   `json:"role"`
	Kind   string `json:"kind"`
	Change Change `json:"change,omitempty"`
	Hidden bool   `json:"hidden,omitempty"`
}

// HistoryOf returns the events of a submission and of its specimen in the order in which they happened.
func (s *Service) HistoryOf(ctx context.Context, actor Actor, id string) (History, error) {
	now, err := s.load(ctx, actor, id, AnyVersion)
	if err != nil {
		return History{}, err
	}
	events, err := s.store.Events(ctx, SubmissionStream(id))
	if err != nil {
		return History{}, err
	}
	ofSpecimen, err := s.store.Events(ctx, SpecimenStream(now.specimen.ID))
	if err != nil {
		return History{}, err
	}
	events = append(ofSpecimen, events...)
	sort.SliceStable(events, func(i, j int) bool { return events[i].At.Before(events[j].At) })
	sealed := sealedFrom(actor, now.submission)
	h := History{Entries: []HistoryEntry{}}
	persons := []string{now.submission.Determination.Determiner}
	for _, e := range events {
		if submitted, ok := e.Change.(*Submitted); ok && !now.submission.Closed() {
			e.Change = submitted.withoutDraw()
		}
		h.Entries = append(h.Entries, historyEntry(e, sealed && e.Actor != actor.Person))
		persons = append(persons, e.Actor, determinerIn(e.Change))
	}
	h.Names, err = s.names(ctx, persons)
	return h, err
}

// withoutDraw leaves out the dice, by which one could work out who is to look blind.
func (*Submitted) withoutDraw() Change { return &Submitted{} }

// determinerIn is the person whom an event names as determiner, or "".
func determinerIn(c Change) string {
	switch c := c.(type) {
	case *Drafted:
		return c.Determination.Determiner
	case *Revised:
		return c.Determination.Determiner
	}
	return ""
}

func historyEntry(e Event, sealed bool) HistoryEntry {
	entry := HistoryEntry{Stream: e.Stream, Seq: e.Seq, At: e.At.UTC().Format("2006-01-02T15:04:05.000000Z"), Actor: e.Actor,
		Role: e.Role, Kind: e.Change.EventKind(), Change: e.Change}
	if sealed && tellsOpinion(e.Change) {
		entry.Change, entry.Hidden = nil, true
	}
	return entry
}

// tellsOpinion says whether an event gives away what a reviewer thinks.
func tellsOpinion(c Change) bool {
	switch c.(type) {
	case *VerdictsGiven, *OpinionGiven, *BlindChecked, *Replied, *Assessed:
		return true
	}
	return false
}

// Counts are how many submissions stand in each status, drafts only the actor's own.
func (s *Service) Counts(ctx context.Context, actor Actor) (map[Status]int, error) {
	return s.store.CountByStatus(ctx, actor.Person)
}

// mostPeople is how many a list of people has.
const mostPeople = 50

// People are the first persons with an account, by name, that a filter lets through: for forms that name one.
func (s *Service) People(ctx context.Context, f PeopleFilter) ([]Person, error) {
	return s.store.FindPeople(ctx, f, mostPeople)
}

// Names of persons, by id; "(name erased)" where it was.
func (s *Service) Names(ctx context.Context, ids []string) (map[string]string, error) {
	return s.names(ctx, ids)
}

const erasedName = "(name erased)"

func (s *Service) names(ctx context.Context, ids []string) (map[string]string, error) {
	slices.Sort(ids)
	ids = slices.DeleteFunc(slices.Compact(ids), func(id string) bool { return id == "" })
	people, err := s.store.People(ctx, ids)
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	for _, id := range ids {
		names[id] = erasedName
		if p, ok := people[id]; ok && p.Name != "" {
			names[id] = p.Name
		}
	}
	return names, nil
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
