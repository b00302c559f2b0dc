package service

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/jobs"
	"revidit/review/judgement"
)

// comparing is a walk through all determinations of a group with two judges each.
type comparing struct {
	group  string
	policy review.Policy
	people review.Reliability
	// judges are what to compare for a determination; false where it takes no part.
	judges func(*Determined) (before, after *judgement.Judge, ok bool, err error)
	// seenBy is who sees the result: of what is sealed from them observations count alone. Nil: all counts.
	seenBy *review.Actor
	unread *unreadRecords
	// inDoubt is called for each determination that is put in doubt; nil: for none.
	inDoubt func(*review.Submission)
}

func (s *Service) comparing(ctx context.Context, group string) (c comparing, err error) {
	c.group = group
	if c.policy, err = s.store.Policy(ctx); err != nil {
		return c, err
	}
	c.people, err = s.reliability(ctx, group)
	return c, err
}

// add takes determinations into an effect.
func (s *Service) addTo(e *review.Effect, c *comparing, found []Determined) error {
	for i := range found {
		d := &found[i]
		e.Looked++
		before, after, ok, err := c.judges(d)
		if review.KindOf(err) == review.KindDamaged { // the tables that it was closed with
			c.unread.add("release/" + d.Submission.Assessment.TablesHash)
			continue
		}
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		if c.seenBy != nil {
			if review.SealedFrom(*c.seenBy, &d.Submission) {
				d.Submission = review.UnseenOf(d.Submission)
			}
			d.Siblings = review.OpenTo(*c.seenBy, d.Siblings)
		}
		now := &review.Dossier{Submission: &d.Submission, Specimen: &d.Specimen, Siblings: d.Siblings, Policy: c.policy, People: &c.people}
		if a, changed := now.Compare(before, after); changed {
			e.Add(a)
			if c.inDoubt != nil && len(a.Because) > 0 {
				c.inDoubt(&d.Submission)
			}
		}
	}
	return nil
}

// effectAtOnce is the effect on a small collection; errUnmade where it is not small.
func (s *Service) effectAtOnce(ctx context.Context, c *comparing) (review.Effect, error) {
	var m meter
	m.begin()
	e := review.Effect{List: []review.Affected{}, Policy: c.policy.Version, Reliability: c.people.Version}
	unread := s.unread()
	c.unread = unread
	found, next, err := s.store.FindDeterminations(ctx, DeterminationFilter{Group: c.group, Unread: unread.add}, Page{Size: atOnce})
	if err != nil {
		return e, err
	}
	if next != "" {
		return e, errUnmade
	}
	err = s.addTo(&e, c, found)
	e.Finish()
	m.end()
	e.Unread = unread.streams
	e.MadeAt, e.TookMS = s.moment(itself).Now, m.Spent.Milliseconds()
	return e, err
}

// walking is the cursor of a walk; the effect so far stands in a review.Found.
type walking struct {
	After       string `json:"after"`
	Policy      int    `json:"policy"`
	Reliability int    `json:"reliability"`
	meter
}

// effectSlice goes on with a walk until the slice has taken its time.
func (s *Service) effectSlice(ctx context.Context, slice jobs.Slice, c *comparing, kind review.FoundKind, key string) (JobStep, error) {
	at := walking{Policy: c.policy.Version, Reliability: c.people.Version}
	if err := decodeCursor(slice, &at); err != nil {
		return JobStep{}, err
	}
	e := review.Effect{List: []review.Affected{}}
	former, err := s.store.Found(ctx, kind, c.group, key)
	if err != nil {
		return JobStep{}, err
	}
	if slice.Cursor == nil || !s.reads(&former, former.DecodePartial, &e) {
		at = walking{Policy: c.policy.Version, Reliability: c.people.Version}
		if slice.Total, err = s.standing(ctx, c.group); err != nil {
			return JobStep{}, err
		}
	}
	at.begin()
	unread := s.unread()
	unread.streams, c.unread = e.Unread, unread
	more := true
	for more && !slice.Enough() {
		found, next, err := s.store.FindDeterminations(ctx, DeterminationFilter{Group: c.group, Unread: unread.add}, Page{Size: atOnce, Cursor: at.After})
		if err == nil {
			err = s.addTo(&e, c, found)
		}
		if err != nil {
			return JobStep{}, err
		}
		at.After, more = next, next != ""
		at.look()
		if slice.Stop == nil {
			break // nobody says when it is enough
		}
	}
	at.end()
	e.Unread = unread.streams
	now := s.moment(itself).Now
	step := JobStep{Done: e.Looked, Total: max(slice.Total, e.Looked), More: more}
	if more {
		former.TouchedAt = now
		if former.Partial, err = encode(e); err != nil {
			return step, err
		}
		step.Batch.Found = []review.Found{former}
		step.Cursor, err = encode(at)
		return step, err
	}
	e.Finish()
	e.Policy, e.Reliability = at.Policy, at.Reliability
	made, err := at.made(kind, c.group, key, now, e)
	step.Batch.Found = []review.Found{made}
	return step, err
}

// standing is how many determinations of a group stand.
func (s *Service) standing(ctx context.Context, group string) (int, error) {
	counts, err := s.store.CountDeterminations(ctx, group)
	total := 0
	for _, n := range counts {
		total += n
	}
	return total, err
}

// stored is the effect that a job has found, with the job that finds it anew where one does.
func (s *Service) stored(ctx context.Context, kind review.FoundKind, group, key string, job jobs.Job) (review.Effect, error) {
	e := review.Effect{List: []review.Affected{}}
	found, err := s.found(ctx, kind, group, key, &e)
	if err != nil {
		return e, err
	}
	dated := found.Dated()
	dated.Unread = e.Unread
	e.Dated = dated
	e.Walk, err = s.walkOf(ctx, job)
	return e, err
}

// preview says what other tables would do. Of a collection that is not small a job finds it out: it is asked for where
// that was not found out yet, or under another policy.
func (s *Service) preview(ctx context.Context, actor review.Actor, present, other *judgement.Judge, edits []diagnosis.CellEdit) (review.Effect, error) {
	c, err := s.comparing(ctx, present.Tables().Group.ID)
	if err != nil {
		return review.Effect{}, err
	}
	c.judges, c.seenBy = always(present, other), &actor
	if e, err := s.effectAtOnce(ctx, &c); err != errUnmade {
		return e, err
	}
	job, err := previewJob(present, edits, c.policy.Version)
	if err != nil {
		return review.Effect{}, err
	}
	e, err := s.stored(ctx, review.FoundPreview, c.group, job.Key, job)
	if err != nil || e.Walk != nil || !e.MadeAt.IsZero() {
		return e, err
	}
	if err := s.ask(ctx, job); err != nil {
		return e, err
	}
	e.Walk, err = s.walkOf(ctx, job)
	return e, err
}

func always(before, after *judgement.Judge) func(*Determined) (*judgement.Judge, *judgement.Judge, bool, error) {
	return func(*Determined) (*judgement.Judge, *judgement.Judge, bool, error) { return before, after, true, nil }
}

// previewJob is the job that finds out what edits of the tables in force would do, under a policy.
func previewJob(present *judgement.Judge, edits []diagnosis.CellEdit, policy int) (jobs.Job, error) {
	change := jobs.Change{Group: present.Tables().Group.ID, Base: present.Tables().Hash}
	var err error
	if change.Edits, err = encode(edits); err != nil {
		return jobs.Job{}, err
	}
	named, err := encode([]any{change, policy})
	if err != nil {
		return jobs.Job{}, err
	}
	digest := sha256.Sum256(named)
	return jobs.Preview(change, hex.EncodeToString(digest[:16])), nil
}

// previewSlice counts of submissions whose verdicts are sealed from anybody the observations alone: it does not know who
// will look at the preview, which must not give away what others have said.
func (s *Service) previewSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	args, err := jobs.Decode[jobs.Change](slice.Job)
	if err != nil {
		return JobStep{}, err
	}
	var edits []diagnosis.CellEdit
	if err := json.Unmarshal(args.Edits, &edits); err != nil {
		return JobStep{}, err
	}
	present, err := s.Judge(ctx, args.Group)
	if err != nil {
		return JobStep{}, err
	}
	if present.Tables().Hash != args.Base {
		return JobStep{}, nil // nobody asks for it any more: these tables are not in force
	}
	edited, err := diagnosis.Edited(present.Tables().Folder(), edits)
	if err != nil {
		return JobStep{}, err
	}
	other, err := sound(edited)
	if err != nil {
		return JobStep{}, err
	}
	c, err := s.comparing(ctx, args.Group)
	if err != nil {
		return JobStep{}, err
	}
	c.judges, c.seenBy = always(present, other), &review.Actor{Role: review.RoleCurator}
	return s.effectSlice(ctx, slice, &c, review.FoundPreview, slice.Key)
}

// Doubted compares, for every determination that stands, the tables that it was last assessed with and those in force:
// what the releases since then have changed, those put in doubt first. Of a collection that is not small it is what a
// job has found.
func (s *Service) Doubted(ctx context.Context, actor review.Actor, group string) (review.Effect, error) {
	if !review.May(actor, review.ActEditTables, "") {
		return review.Effect{}, review.Forbidden(actor, review.ActEditTables, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return review.Effect{}, err
	}
	c, err := s.doubting(ctx, judge)
	if err != nil {
		return review.Effect{}, err
	}
	if e, err := s.effectAtOnce(ctx, &c); err != errUnmade {
		return e, err
	}
	hash := judge.Tables().Hash
	return s.stored(ctx, review.FoundDoubts, c.group, hash, doubtsJob(c.group, hash))
}

func doubtsJob(group, hash string) jobs.Job { return jobs.Doubts(jobs.Pair{Group: group, To: hash}) }

// doubting compares the tables of each closed determination with those in force.
func (s *Service) doubting(ctx context.Context, judge *judgement.Judge) (comparing, error) {
	c, err := s.comparing(ctx, judge.Tables().Group.ID)
	c.judges = func(d *Determined) (*judgement.Judge, *judgement.Judge, bool, error) {
		sub := &d.Submission
		if !sub.Closed() || sub.Assessment == nil || sub.Assessment.TablesHash == judge.Tables().Hash {
			return nil, nil, false, nil
		}
		former, err := s.judgeOfHash(ctx, sub.Assessment.TablesHash)
		if review.KindOf(err) == review.KindNotFound {
			return nil, nil, false, nil // built-in tables of an earlier program, which nobody has published here
		}
		return former, judge, err == nil, err
	}
	return c, err
}

func (s *Service) doubtsSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	args, err := jobs.Decode[jobs.Pair](slice.Job)
	if err != nil {
		return JobStep{}, err
	}
	judge, err := s.Judge(ctx, args.Group)
	if err != nil || judge.Tables().Hash != args.To {
		return JobStep{}, err // another release is in force, with a job of its own
	}
	c, err := s.doubting(ctx, judge)
	if err != nil {
		return JobStep{}, err
	}
	var news []review.News
	c.inDoubt = func(sub *review.Submission) {
		news = append(news, review.DoubtedNews(sub, args.To, s.moment(itself).Now))
	}
	step, err := s.effectSlice(ctx, slice, &c, review.FoundDoubts, args.To)
	step.Batch.News = news
	return step, err
}

// doubtsDue: the release in force was not compared with the former ones yet.
func (s *Service) doubtsDue(ctx context.Context, group, hash string) ([]jobs.Job, error) {
	releases, err := s.store.Releases(ctx, group)
	if err != nil || !slices.ContainsFunc(releases, func(r review.Release) bool { return r.Hash == hash }) {
		return nil, err
	}
	found, err := s.found(ctx, review.FoundDoubts, group, hash, &review.Effect{})
	if err != nil || found.Made != nil {
		return nil, err
	}
	return []jobs.Job{doubtsJob(group, hash)}, nil
}
