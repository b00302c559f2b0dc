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
	v := SubmissionView{Specimen: *now.specimen, Policy: now.policy, Allowed: Allowed(actor, now.submission), Missing: []string{}}
	if v.Withheld, v.Coarse, v.Erased, err = s.withheld(ctx, actor, now.specimen); err != nil {
		return SubmissionView{}, err
	}
	v.Sealed = sealedFrom(actor, now.submission)
	seen := *now.submission
	if v.Sealed {
		seen = unseenOf(seen)
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
	present := now.assess(&v.Submission, siblings)
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
	v.Assessment = now.weighing().assess(former, &v.Submission, now.specimen, siblings)
	return nil
}

// sealedFrom: nobody sees others' verdicts before saving theirs. Owners see them at once (it is how they learn),
// reviewers after their own, everybody when it is closed.
func sealedFrom(actor Actor, s *Submission) bool {
	return !s.Closed() && actor.Person != s.Owner && !s.HasReviewed(actor.Person)
}

// unseenOf is a submission without what others have said about it.
func unseenOf(s Submission) Submission {
	s.Verdicts, s.Opinions, s.Replies, s.Assessment, s.Blind = []Verdict{}, []Opinion{}, []Reply{}, nil, nil
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

// Find lists submissions that the actor may know of.
func (s *Service) Find(ctx context.Context, actor Actor, f SubmissionFilter, page Page) ([]SubmissionLine, string, error) {
	f.Viewer = actor.Person
	if f.Status == StatusDraft {
		f.Owner = actor.Person // drafts are known to their owner alone
	}
	if f.Status != "" && !f.Status.Valid() {
		return nil, "", Invalidf("status", "must be one of draft, open, returned, confirmed, redetermined, undetermined, withdrawn")
	}
	page, err := checkPage(page)
	if err != nil {
		return nil, "", err
	}
	found, next, err := s.store.FindSubmissions(ctx, f, page)
	lines := []SubmissionLine{}
	for _, l := range found {
		if l.Owner != actor.Person {
			l = l.veiled().blindFor(actor)
		}
		if l.Blind && (f.Family != "" || f.Text != "" || f.Doubtful) {
			continue // that it is found would tell the name
		}
		lines = append(lines, l)
	}
	return lines, next, err
}

// veiled leaves out numbers that give away what other reviewers have said of a submission that is not closed.
func (l SubmissionLine) veiled() SubmissionLine {
	if l.Status == StatusOpen || l.Status == StatusReturned {
		l.Confidence, l.Leading, l.Contradictions, l.Sealed = 0, "", 0, true
	}
	return l
}

func checkPage(page Page) (Page, error) {
	if page.Size == 0 {
		page.Size = 50
	}
	if page.Size < 1 || page.Size > 200 {
		return page, Invalidf("size", "must be from 1 to 200")
	}
	if len(page.Cursor) > 500 {
		return page, Invalidf("cursor", "is none that this service gave")
	}
	return page, nil
}

// Queue lists open submissions that the actor may review, the one where a look tells most first.
func (s *Service) Queue(ctx context.Context, actor Actor, f QueueFilter, page Page) ([]QueueLine, string, error) {
	if !May(actor, ActReadQueue, "") {
		return nil, "", forbidden(actor, ActReadQueue, "")
	}
	page, err := checkPage(page)
	if err != nil {
		return nil, "", err
	}
	if f.Weights, err = s.weightsOf(ctx, actor, f.Group); err != nil {
		return nil, "", err
	}
	f.Viewer, f.Rechecks = actor.Person, actor.Role == RoleReviewer
	if f.AsOf.IsZero() {
		f.AsOf = s.moment(actor).Now
	}
	found, next, err := s.store.FindQueue(ctx, f, page)
	lines := []QueueLine{}
	for _, l := range found {
		l.Reason = queueReason(l, f)
		l.SubmissionLine = l.veiled().blindFor(actor)
		if l.Blind && f.Family != "" {
			continue // that it is found would tell the name
		}
		lines = append(lines, l)
	}
	return lines, next, err
}

// Counts are how many submissions stand in each status, drafts only the actor's own.
func (s *Service) Counts(ctx context.Context, actor Actor) (map[Status]int, error) {
	return s.store.CountByStatus(ctx, actor.Person)
}

// People are all persons with an account, for forms that name one.
func (s *Service) People(ctx context.Context) ([]Person, error) {
	return s.store.FindPeople(ctx)
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
	return persons
}
