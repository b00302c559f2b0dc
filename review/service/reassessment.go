package service

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io/fs"
	"slices"
	"sync"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/jobs"
	"revidit/review/judgement"
)

// ReassessmentForm says against what all settled determinations are weighed; what it leaves out stays as it is in force.
type ReassessmentForm struct {
	Group string
	// Release is the version or hash of tables that were published, or Approved; Folder are tables that nobody has published.
	Release string
	Folder  fs.FS
	// Policy is the version of one that was in force, Proposed one that nobody has set, and Confidence another confidence for either.
	Policy     *int
	Proposed   *review.Policy
	Confidence float64
	// Reliability is the version of a snapshot of what people are like.
	Reliability *int
}

// Approved is the release that the approved changes would make.
const Approved = "approved"

// PrepareReassessment stores what is asked, and returns the job that finds it out. One that is under way is gone on with; of one that
// was made the answer stands until the new one is there.
func (s *Service) PrepareReassessment(ctx context.Context, actor review.Actor, form ReassessmentForm) (key string, job jobs.Job, err error) {
	return s.prepareReassessment(ctx, actor, form, false)
}

// AskReassessment is PrepareReassessment for a job that another process does.
func (s *Service) AskReassessment(ctx context.Context, actor review.Actor, form ReassessmentForm) (key string, err error) {
	key, _, err = s.prepareReassessment(ctx, actor, form, true)
	return key, err
}

func (s *Service) prepareReassessment(ctx context.Context, actor review.Actor, form ReassessmentForm, queue bool) (string, jobs.Job, error) {
	if !review.May(actor, review.ActReassess, "") {
		return "", jobs.Job{}, review.Forbidden(actor, review.ActReassess, "")
	}
	of, scales, err := s.reweighing(ctx, form)
	if err != nil {
		return "", jobs.Job{}, err
	}
	key, err := keyOf(of)
	if err != nil {
		return "", jobs.Job{}, err
	}
	s.scales.keep(key, scales)
	job := jobs.Reweigh(jobs.Reweighed{Group: of.Group, Key: key})
	found, err := s.store.Found(ctx, review.FoundReassessment, of.Group, key)
	if err != nil {
		return "", jobs.Job{}, err
	}
	w := review.NewWriter(s.moment(itself))
	if found.Partial == nil {
		found.TouchedAt = w.Moment.Now
		if found.Partial, err = encode(reweighed{Reassessment: review.NewReassessment(key, of)}); err != nil {
			return "", jobs.Job{}, err
		}
		w.Batch.Found = []review.Found{found}
	}
	if queue {
		w.Batch.Jobs = []jobs.Job{job}
	}
	return key, job, s.commit(ctx, w)
}

func keyOf(of review.Reweighing) (string, error) {
	text, err := encode(of)
	digest := sha256.Sum256(text)
	return hex.EncodeToString(digest[:16]), err
}

// reweighing is what a form asks, with what it is weighed by.
func (s *Service) reweighing(ctx context.Context, form ReassessmentForm) (of review.Reweighing, r *review.Reweigher, err error) {
	from, err := s.inForce(ctx, form.Group)
	if err != nil {
		return of, nil, err
	}
	to := from
	of.Group = from.Judge.Tables().Group.ID
	var edits []diagnosis.CellEdit
	if to.Judge, edits, err = s.otherTables(ctx, form, from.Judge); err != nil {
		return of, nil, err
	}
	if len(edits) > 0 {
		if of.Edits, err = encode(edits); err != nil {
			return of, nil, err
		}
	}
	policy, err := s.otherPolicy(ctx, form, from.Policy)
	if err != nil {
		return of, nil, err
	}
	to.Policy = policy
	if policy.Version == review.ProposedPolicy {
		of.Policy = &policy
	}
	if form.Reliability != nil {
		if to.People, err = s.peopleAt(ctx, of.Group, *form.Reliability); err != nil {
			return of, nil, err
		}
	}
	of.From, of.To = standardOf(from), standardOf(to)
	if of.From == of.To {
		return of, nil, review.Errorf(review.KindInvalid, "These are the tables, the policy and the reliability in force: there is nothing to compare. Name other ones.")
	}
	return of, review.NewReweigher(from, to), nil
}

func standardOf(s review.Scales) review.Standard {
	t := s.Judge.Tables()
	return review.Standard{Tables: t.Hash, Release: t.Group.Release, Policy: s.Policy.Version, Reliability: s.People.Version}
}

// inForce is what determinations are weighed by now.
func (s *Service) inForce(ctx context.Context, group string) (scales review.Scales, err error) {
	if scales.Judge, err = s.Judge(ctx, group); err != nil {
		return scales, err
	}
	if scales.Policy, err = s.store.Policy(ctx); err != nil {
		return scales, err
	}
	people, err := s.reliability(ctx, scales.Judge.Tables().Group.ID)
	scales.People = &people
	return scales, err
}

func (s *Service) otherTables(ctx context.Context, form ReassessmentForm, present *judgement.Judge) (*judgement.Judge, []diagnosis.CellEdit, error) {
	group := present.Tables().Group.ID
	switch {
	case form.Folder != nil:
		other, err := sound(form.Folder)
		if err == nil && other.Tables().Group.ID != group {
			err = review.Invalidf("release", "these are tables of %s, not of %s", other.Tables().Group.ID, group)
		}
		return other, nil, err
	case form.Release == "" || form.Release == present.Tables().Hash || form.Release == present.Tables().Group.Release:
		return present, nil, nil
	case form.Release == Approved:
		_, edits, err := s.approved(ctx, group)
		if err == nil && len(edits) == 0 {
			err = review.Invalidf("release", "no approved change waits for a release of these tables")
		}
		if err != nil {
			return nil, nil, err
		}
		other, err := edited(present, edits)
		return other, edits, err
	}
	releases, err := s.store.Releases(ctx, group)
	if err != nil {
		return nil, nil, err
	}
	at := slices.IndexFunc(releases, func(r review.Release) bool { return r.Hash == form.Release || r.Version == form.Release })
	if at < 0 {
		return nil, nil, review.Invalidf("release", "no release %q of these tables was published here", form.Release)
	}
	other, err := s.judgeOfHash(ctx, releases[at].Hash)
	return other, nil, err
}

// edited are tables as edits would make them.
func edited(present *judgement.Judge, edits []diagnosis.CellEdit) (*judgement.Judge, error) {
	folder, err := diagnosis.Edited(present.Tables().Folder(), edits)
	if err != nil {
		return nil, err
	}
	return sound(folder)
}

func (s *Service) otherPolicy(ctx context.Context, form ReassessmentForm, present review.Policy) (review.Policy, error) {
	policy := present
	if form.Policy != nil {
		known, ok, err := (&formerly{service: s}).policyIfAny(ctx, *form.Policy)
		if err == nil && !ok {
			err = review.Invalidf("policy", "there was never a policy of version %d", *form.Policy)
		}
		if err != nil {
			return policy, err
		}
		policy = known
	}
	if form.Proposed != nil {
		policy = *form.Proposed
		policy.Version = review.ProposedPolicy
	}
	if form.Confidence != 0 && form.Confidence != policy.Confidence {
		policy.Confidence, policy.Version = form.Confidence, review.ProposedPolicy
	}
	if policy.Version == review.ProposedPolicy {
		if policy.Reason == "" {
			policy.Reason = "tried"
		}
		return policy, policy.Check()
	}
	return policy, nil
}

// peopleAt is the reliability of a version.
func (s *Service) peopleAt(ctx context.Context, group string, version int) (*review.Reliability, error) {
	present, err := s.reliability(ctx, group)
	if err != nil || present.Version == version {
		return &present, err
	}
	events, err := s.store.Events(ctx, review.ReliabilityStream(group))
	if err != nil {
		return nil, err
	}
	if version < 0 || version > len(events) {
		return nil, review.Invalidf("reliability", "there was never a version %d; the present one is %d", version, len(events))
	}
	made, err := review.ReplayReliability(group, events[:version])
	return &made, err
}

// lastScales are those of the reassessment that this process has weighed last: to make them takes seconds.
type lastScales struct {
	mu  sync.Mutex
	key string
	r   *review.Reweigher
}

func (l *lastScales) keep(key string, r *review.Reweigher) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.key, l.r = key, r
}

func (l *lastScales) of(key string) *review.Reweigher {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.key != key {
		return nil
	}
	return l.r
}

// reweigher makes what a stored question is weighed by, as it was when it was asked.
func (s *Service) reweigher(ctx context.Context, key string, of review.Reweighing) (*review.Reweigher, error) {
	if r := s.scales.of(key); r != nil {
		return r, nil
	}
	from, err := s.scalesOf(ctx, of.Group, of.From)
	if err != nil {
		return nil, err
	}
	to := from
	switch {
	case len(of.Edits) > 0:
		var edits []diagnosis.CellEdit
		if err := json.Unmarshal(of.Edits, &edits); err != nil {
			return nil, err
		}
		to.Judge, err = edited(from.Judge, edits)
	case of.To.Tables != of.From.Tables:
		to.Judge, err = s.tablesOf(ctx, of.Group, of.To.Tables)
	}
	if err != nil {
		return nil, err
	}
	if of.Policy != nil {
		to.Policy = *of.Policy
	} else if to.Policy, err = (&formerly{service: s}).policy(ctx, of.To.Policy); err != nil {
		return nil, err
	}
	if of.To.Reliability != of.From.Reliability {
		if to.People, err = s.peopleAt(ctx, of.Group, of.To.Reliability); err != nil {
			return nil, err
		}
	}
	r := review.NewReweigher(from, to)
	s.scales.keep(key, r)
	return r, nil
}

func (s *Service) scalesOf(ctx context.Context, group string, by review.Standard) (scales review.Scales, err error) {
	if scales.Judge, err = s.tablesOf(ctx, group, by.Tables); err != nil {
		return scales, err
	}
	if scales.Policy, err = (&formerly{service: s}).policy(ctx, by.Policy); err != nil {
		return scales, err
	}
	scales.People, err = s.peopleAt(ctx, group, by.Reliability)
	return scales, err
}

// tablesOf are those in force, those that the program brings, or a release.
func (s *Service) tablesOf(ctx context.Context, group, hash string) (*judgement.Judge, error) {
	if builtIn := s.library.BuiltIn(group); builtIn != nil && builtIn.Tables().Hash == hash {
		return builtIn, nil
	}
	return s.judgeOfHash(ctx, hash)
}
