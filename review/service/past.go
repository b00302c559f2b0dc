package service

import (
	"context"
	"fmt"
	"time"

	"revidit/review"
	"revidit/review/judgement"
)

// When is a moment of the past: a position in the order of all events, or a time, which stands for the last position before it.
// The zero value is the last position of all.
type When struct {
	Position int64
	Before   time.Time
}

// Then is a submission as it stood at a moment.
type Then struct {
	Position int64 `json:"position" doc:"The moment: what stands here and before in the order of all events has happened"`
	// Last is the last event until then of the submission, its specimen or another submission of that.
	Last LastEvent `json:"last" doc:"The last event until then of the submission, its specimen or another submission of that"`
	// Earlier and Later are the moments beside it at which an act on the specimen or its submissions was done; 0 where there is none.
	Earlier int64 `json:"earlier,omitempty" doc:"The moment before the last act; left out where the submission had not begun then"`
	Later   int64 `json:"later,omitempty" doc:"The moment after the next act; left out where there is none"`
	// View is what the actor may see of it today, as it stood. Nothing can be done to it.
	View SubmissionView `json:"then"`
	// Remade says how View.Assessment came about; nil where it was computed without what is sealed from the actor today, or where
	// none was stored.
	Remade *review.Remade `json:"remade,omitempty" doc:"How the assessment came about; left out where it was computed without what is sealed from the caller today, or where none was stored"`
	// Printed are the labels of the specimen that had been printed, in order, as far as the actor may see them today.
	Printed []SpecimenSheet `json:"printed" nullable:"false" doc:"Labels of the specimen that had been printed, in order, as far as the caller may see them today"`
	// Shown is what pages computed at that moment of what was open still, where that was noticeably another number than the one
	// stored: label, people or another submission of the specimen had changed since.
	Shown *judgement.Assessment `json:"shown,omitempty" doc:"What pages computed at that moment of what was still open, where it differed noticeably from what was stored last"`
}

// LastEvent is an event that ends a moment.
type LastEvent struct {
	Position int64     `json:"position"`
	At       time.Time `json:"at"`
}

// AsOf returns a submission as it stood at a moment, as far as the actor may see it today.
func (s *Service) AsOf(ctx context.Context, actor review.Actor, id string, when When) (Then, error) {
	past, err := s.pastOf(ctx, actor, id)
	if err != nil {
		return Then{}, err
	}
	return s.then(ctx, past, when)
}

// Between returns a submission as it stood at two moments, the earlier first, and what is another thing at the latter.
func (s *Service) Between(ctx context.Context, actor review.Actor, id string, from, to When) (d Difference, err error) {
	past, err := s.pastOf(ctx, actor, id)
	if err != nil {
		return d, err
	}
	if d.From, err = s.then(ctx, past, from); err != nil {
		return d, err
	}
	if d.To, err = s.then(ctx, past, to); err != nil {
		return d, err
	}
	if d.From.Position > d.To.Position {
		d.From, d.To = d.To, d.From
	}
	d.Changed = review.ChangedBetween(d.From.pictured(), d.To.pictured())
	return d, nil
}

// Difference is a submission at two moments, and what is another thing at the latter.
type Difference struct {
	From    Then           `json:"from"`
	To      Then           `json:"to"`
	Changed review.Changed `json:"changed"`
}

// pictured is what of a moment is compared.
func (t *Then) pictured() review.Pictured {
	p := review.Pictured{Submission: &t.View.Submission, Specimen: &t.View.Specimen}
	if t.View.Submission.OpenedAt != nil {
		p.Assessment = &t.View.Assessment
	}
	return p
}

// loadedPast is what has happened to a specimen, with how it stands now: by that it is decided what the actor may see.
type loadedPast struct {
	review.Past
	actor review.Actor
	now   *review.Dossier
	last  int64
}

func (s *Service) pastOf(ctx context.Context, actor review.Actor, id string) (*loadedPast, error) {
	now, err := s.load(ctx, actor, id, AnyVersion)
	if err != nil {
		return nil, err
	}
	if now.Draft != nil {
		return nil, review.Errorf(review.KindNotFound, "What stands in a draft belongs to no history yet: it begins when the draft is submitted. Nothing was changed.")
	}
	if err := s.openedSubmission(ctx, actor, now); err != nil {
		return nil, err
	}
	last, err := s.store.LastPosition(ctx)
	if err != nil {
		return nil, err
	}
	past, err := s.past(ctx, now.Specimen, now.Siblings)
	return &loadedPast{Past: past, actor: actor, now: now, last: last}, err
}

// past is what has happened to a specimen and to its submissions, no further than how they were read.
func (s *Service) past(ctx context.Context, spec *review.Specimen, submissions []review.Submission) (review.Past, error) {
	read := map[string]int{review.SpecimenStream(spec.ID): spec.Seq}
	streams := []string{review.SpecimenStream(spec.ID)}
	for i := range submissions {
		stream := review.SubmissionStream(submissions[i].ID)
		read[stream], streams = submissions[i].Seq, append(streams, stream)
	}
	history, err := s.store.History(ctx, streams...)
	if err != nil {
		return review.Past{}, err
	}
	var events []review.Placed
	for _, e := range history {
		if e.Seq <= read[e.Stream] {
			events = append(events, e)
		}
	}
	return review.PastOf(events), nil
}

// position is that of a moment, no later than the last of all.
func (s *Service) position(ctx context.Context, p *loadedPast, when When) (int64, error) {
	switch {
	case !when.Before.IsZero():
		return s.store.PositionBefore(ctx, when.Before)
	case when.Position == 0:
		return p.last, nil
	case when.Position < 0 || when.Position > p.last:
		return 0, review.Errorf(review.KindNotFound, "There is no event at position %d yet: the last one is at %d.", when.Position, p.last)
	}
	return when.Position, nil
}

func (s *Service) then(ctx context.Context, p *loadedPast, when When) (Then, error) {
	position, err := s.position(ctx, p, when)
	if err != nil {
		return Then{}, err
	}
	id := p.now.Submission.ID
	record, err := p.At(position)
	if err != nil {
		return Then{}, err
	}
	if record.Submission(id) == nil {
		return Then{}, review.Errorf(review.KindNotFound, "This submission had not begun at that moment, position %d: its first event stands at %d.", position, p.First(id))
	}
	t := Then{Position: position, Last: LastEvent{Position: record.Last.Position, At: record.Last.At}}
	t.Earlier, t.Later = p.Beside(id, position)
	spec := review.SpecimenSeenBy(p.actor, *p.now.Specimen, p.now.Siblings)
	seen := record.SeenThen(p.actor, id, spec, p.now.Siblings)
	t.View = s.thenView(p, &record, &seen)
	if err := s.assessThen(ctx, p, &t, &record, &seen); err != nil {
		return Then{}, err
	}
	if t.Printed, err = s.printedThen(ctx, p, position); err != nil {
		return Then{}, err
	}
	persons := personsOf(&t.View)
	for _, printed := range t.Printed {
		persons = append(persons, printed.By)
	}
	t.View.Names, err = s.namesWith(ctx, nil, persons)
	return t, err
}

// thenView is the view of a submission of the past without its assessment: to look at, not to act on.
func (s *Service) thenView(p *loadedPast, record *review.Record, seen *review.PastView) SubmissionView {
	v := SubmissionView{Submission: seen.Submission, Specimen: seen.Specimen, Sealed: seen.Sealed, Unscored: seen.Unscored,
		Version: review.EvidenceVersion(record.Submission(seen.Submission.ID), &record.Specimen), Needs: []review.Coded{}, Missing: []string{}, Allowed: []review.Action{}}
	v.Agreeing = review.NonNil(v.Submission.Agreeing(seen.Open.Submissions))
	for i := range record.Submissions {
		for k := range p.now.Siblings {
			if p.now.Siblings[k].ID == record.Submissions[i].ID && review.MayRead(p.actor, &p.now.Siblings[k]) {
				v.Determinations = append(v.Determinations, s.determinationLine(&record.Submissions[i]))
			}
		}
	}
	return v
}

// assessThen fills the assessment: what was stored, with all of it computed again; and where others have said what is sealed from
// the actor, what could be computed without that.
func (s *Service) assessThen(ctx context.Context, p *loadedPast, t *Then, record *review.Record, seen *review.PastView) error {
	formerly := formerly{service: s}
	present, lacks, err := formerly.at(ctx, seen.Submission.Group, t.Position)
	if err != nil {
		return err
	}
	t.View.Policy = present.Policy
	weighed := seen.Submission
	weighed.Photos = record.Submission(weighed.ID).Photos
	e, ok := p.Assessed(weighed.ID, t.Position)
	if seen.Unscored || ok && p.CountsSealed(e, p.actor, p.now.Siblings) {
		t.View.Submission.Assessment, t.View.Submission.Gain, t.View.Submission.Gains = nil, 0, nil
		if lacks == "" {
			t.View.Assessment = present.Assess(&seen.Open, &weighed)
		}
		if seen.Unscored {
			t.View.Assessment = t.View.Assessment.Unscored()
		}
		return nil
	}
	if !ok {
		return nil
	}
	a, made, err := formerly.remake(ctx, p.Past, e)
	if err != nil {
		return err
	}
	t.View.Assessment, t.Remade = a, &made
	if lacks == "" && weighed.OpenedAt != nil && !weighed.Closed() {
		if shown := present.Assess(&seen.Open, &weighed); judgement.DifferenceOf(a, shown).Noticeable {
			t.Shown = &shown
		}
	}
	return nil
}

// formerly remembers what was in force, while somebody looks at the past.
type formerly struct {
	service  *Service
	policies []review.Event
	people   map[string]review.Reliability
}

// at is what was in force for a group at a moment; lacks says that its tables are not here any more.
func (f *formerly) at(ctx context.Context, group string, position int64) (by review.Scales, lacks review.StoredWhy, err error) {
	var seqs [3]int
	for i, stream := range []string{review.TablesStream(group), review.ReliabilityStream(group), review.PolicyStream} {
		if seqs[i], err = f.service.store.SeqAt(ctx, stream, position); err != nil {
			return by, "", err
		}
	}
	hash := ""
	if seqs[0] > 0 {
		releases, err := f.service.store.Releases(ctx, group)
		if err != nil {
			return by, "", err
		}
		for _, r := range releases {
			if r.Seq == seqs[0] {
				hash = r.Hash
			}
		}
	} else if builtIn := f.service.library.BuiltIn(group); builtIn != nil {
		hash = builtIn.Tables().Hash
	}
	return f.by(ctx, group, hash, seqs[1], seqs[2])
}

// by is what has these versions.
func (f *formerly) by(ctx context.Context, group, hash string, people, policy int) (by review.Scales, lacks review.StoredWhy, err error) {
	if by.Policy, err = f.policy(ctx, policy); err != nil {
		return by, "", err
	}
	by.Judge, err = f.service.judgeOfHash(ctx, hash)
	if review.KindOf(err) == review.KindNotFound {
		return by, review.StoredTables, nil
	}
	if err != nil {
		return by, "", err
	}
	key := fmt.Sprint(group, "/", people)
	known, ok := f.people[key]
	if !ok {
		if known, err = f.service.store.ReliabilityAt(ctx, group, people); err != nil {
			return by, "", err
		}
		if f.people == nil {
			f.people = map[string]review.Reliability{}
		}
		f.people[key] = known
	}
	by.People = &known
	return by, "", nil
}

// policy is that of a version; 0 is the one that the program starts with.
func (f *formerly) policy(ctx context.Context, version int) (review.Policy, error) {
	policy, ok, err := f.policyIfAny(ctx, version)
	if err == nil && !ok {
		err = review.Fault(review.KindDamaged, fmt.Errorf("there is no event %d of the policy", version), "Version %d of the policy is not in the history. The keeper of this server looks with revidit verify what else is gone, and restores a backup.", version)
	}
	return policy, err
}

// policyIfAny is that of a version, false where there was none.
func (f *formerly) policyIfAny(ctx context.Context, version int) (review.Policy, bool, error) {
	if version == 0 {
		return review.DefaultPolicy(), true, nil
	}
	if len(f.policies) < version {
		var err error
		if f.policies, err = f.service.store.Events(ctx, review.PolicyStream); err != nil {
			return review.Policy{}, false, err
		}
	}
	if version < 0 || version > len(f.policies) {
		return review.Policy{}, false, nil
	}
	set, ok := f.policies[version-1].Change.(*review.PolicySet)
	if !ok {
		return review.Policy{}, false, nil
	}
	return set.Policy, true, nil
}

// remake makes the assessment of an event again, by the versions that it names.
func (f *formerly) remake(ctx context.Context, past review.Past, e review.Placed) (judgement.Assessment, review.Remade, error) {
	stored := e.Change.(*review.Assessed).Assessment
	by, lacks, err := f.by(ctx, stored.Group, stored.TablesHash, stored.Reliability, stored.Policy)
	if err != nil {
		return judgement.Assessment{}, review.Remade{}, err
	}
	return past.Remake(e, by, lacks)
}
