package service

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"slices"

	"revidit/review"
	"revidit/review/jobs"
)

// mostPicked bounds how many single determinations are picked at once; of groups there are no more than a page shows.
const mostPicked = 500

// Picking is what a curator picks from a reassessment: whole groups, and single determinations.
type Picking struct {
	Groups      []review.TouchGroup
	Submissions []string
	Reason      string
}

// picked are the arguments of the job that opens the reviews.
type picked struct {
	Group string       `json:"group"`
	Key   string       `json:"key"`
	By    review.Actor `json:"by"`
	Picking
}

// OpenReviews asks for reviews of what a curator has picked. Each is opened once; what is not settled any more, or was settled after the
// reassessment was made, is left alone.
func (s *Service) OpenReviews(ctx context.Context, actor review.Actor, group, key string, p Picking) error {
	job, err := s.PrepareReviews(ctx, actor, group, key, p)
	if err != nil {
		return err
	}
	return s.ask(ctx, job)
}

// PrepareReviews is the job that opens what was picked.
func (s *Service) PrepareReviews(ctx context.Context, actor review.Actor, group, key string, p Picking) (job jobs.Job, err error) {
	r, err := s.Reassessment(ctx, actor, group, key)
	if err != nil {
		return job, err
	}
	if r.MadeAt.IsZero() {
		return job, review.Errorf(review.KindConflict, "This is still being worked out. Nothing was changed: pick when it is done.")
	}
	var problems review.Problems
	review.CheckText(&problems, "reason", p.Reason, 1, review.MaxNote)
	if len(p.Groups)+len(p.Submissions) == 0 {
		problems.Addf("picked", "pick what is to be reviewed")
	}
	if len(p.Submissions) > mostPicked {
		problems.Addf("picked", "pick at most %d single determinations at once", mostPicked)
	}
	for _, g := range p.Groups {
		if !slices.ContainsFunc(r.Groups, func(known review.TouchedByCause) bool {
			return known.Effect == g.Effect && known.Cause.Key() == g.Cause
		}) {
			problems.Addf("picked", "there is no such group")
			break
		}
	}
	if err := problems.Err(); err != nil {
		return job, err
	}
	args := picked{Group: r.Of.Group, Key: key, By: actor, Picking: p}
	text, err := encode(args)
	if err != nil {
		return job, err
	}
	digest := sha256.Sum256(text)
	return jobs.OpenReviews(jobs.Reweighed{Group: args.Group, Key: key}, hex.EncodeToString(digest[:8]), args), nil
}

// openingReviews is the cursor of the job.
type openingReviews struct {
	At    int    `json:"at"`    // of the groups; behind them come the single ones
	After string `json:"after"` // submission of the group
}

// openedAtOnce is how many reviews a slice opens between two looks whether it has taken its time.
const openedAtOnce = 20

// openReviewsSlice opens the next reviews, each in a transaction of its own that also notes it.
func (s *Service) openReviewsSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	args, err := jobs.Decode[picked](slice.Job)
	if err != nil {
		return JobStep{}, err
	}
	made, err := s.store.Found(ctx, review.FoundReassessment, args.Group, args.Key)
	if err != nil || made.Made == nil {
		return JobStep{}, err // it is being made anew: what was picked was picked from what is gone
	}
	var at openingReviews
	if err := decodeCursor(slice, &at); err != nil {
		return JobStep{}, err
	}
	done := slice.Done
	for at.At < len(args.Groups) {
		g := args.Groups[at.At]
		found, err := s.store.FindTouched(ctx, args.Key, g.Effect, g.Cause, at.After, openedAtOnce)
		if err != nil {
			return JobStep{}, err
		}
		for _, t := range found {
			if t.Opened {
				continue
			}
			if err := s.openReview(ctx, args, t.Submission, made.Made); err != nil {
				return JobStep{}, err
			}
		}
		done += len(found)
		if at.After = ""; len(found) < openedAtOnce {
			at.At++
		} else {
			at.After = found[len(found)-1].Submission
		}
		if slice.Stop == nil || slice.Enough() {
			cursor, err := encode(at)
			return JobStep{Cursor: cursor, Done: done, More: true}, err
		}
	}
	for _, id := range args.Submissions {
		if err := s.openReview(ctx, args, id, made.Made); err != nil {
			return JobStep{}, err
		}
	}
	return JobStep{Done: done + len(args.Submissions)}, nil
}

// openReview reopens one. What has changed since is no error: there is nothing to open then.
func (s *Service) openReview(ctx context.Context, args picked, id string, made *review.Making) error {
	_, err := s.act(ctx, args.By, id, AnyVersion, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideReopenFor(now.Moment, now.Submission, args.Reason, args.Key, made.At)
	})
	switch review.KindOf(err) {
	case review.KindConflict, review.KindForbidden, review.KindNotFound:
		return nil
	}
	return err
}

// Reassessments of a group, the latest first, without their groups.
func (s *Service) Reassessments(ctx context.Context, actor review.Actor, group string) ([]review.Reassessment, error) {
	if !review.May(actor, review.ActReassess, "") {
		return nil, review.Forbidden(actor, review.ActReassess, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return nil, err
	}
	const most = 50
	found, err := s.store.FindFound(ctx, review.FoundReassessment, judge.Tables().Group.ID, most)
	if err != nil {
		return nil, err
	}
	var all []review.Reassessment
	for i := range found {
		r, err := s.reassessment(ctx, &found[i])
		if err != nil {
			return nil, err
		}
		all = append(all, r)
	}
	return all, nil
}

// reassessment reads what was found, or of one that was never made what it would be of; with how far it has come.
func (s *Service) reassessment(ctx context.Context, f *review.Found) (review.Reassessment, error) {
	r := review.NewReassessment(f.Key, review.Reweighing{Group: f.Group})
	if f.Made != nil && s.reads(f, f.Decode, &r) {
		r.Dated = withUnread(f.Dated(), r.Unread)
	}
	if f.Partial == nil {
		return r, nil
	}
	var under reweighed
	if s.reads(f, f.DecodePartial, &under) && f.Made == nil {
		r.Of = under.Of
	}
	r.Walk = &review.Walk{Done: under.Rows, Total: under.Total}
	walk, err := s.walkOf(ctx, jobs.Reweigh(jobs.Reweighed{Group: f.Group, Key: f.Key}))
	if walk != nil {
		r.Walk.Error, r.Walk.Failed = walk.Error, walk.Failed
	}
	return r, err
}

func withUnread(d review.Dated, unread []string) review.Dated {
	d.Unread = unread
	return d
}

// Reassessment is one of a group by its key, with how many reviews were opened of it.
func (s *Service) Reassessment(ctx context.Context, actor review.Actor, group, key string) (review.Reassessment, error) {
	if !review.May(actor, review.ActReassess, "") {
		return review.Reassessment{}, review.Forbidden(actor, review.ActReassess, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return review.Reassessment{}, err
	}
	found, err := s.store.Found(ctx, review.FoundReassessment, judge.Tables().Group.ID, key)
	if err != nil {
		return review.Reassessment{}, err
	}
	if found.Made == nil && found.Partial == nil {
		return review.Reassessment{}, review.Errorf(review.KindNotFound, "There is no such reassessment of these tables, or it is older than thirty days and was removed: ask for it again.")
	}
	r, err := s.reassessment(ctx, &found)
	if err != nil {
		return r, err
	}
	opened, err := s.store.CountTouchedOpened(ctx, key)
	for i := range r.Groups {
		g := &r.Groups[i]
		g.Opened = opened[review.TouchGroup{Effect: g.Effect, Cause: g.Cause.Key()}]
	}
	return r, err
}

// TouchedLine is a determination that a change would touch, as a list shows it.
type TouchedLine struct {
	review.Touched
	CatalogueNumber string
	Family          string
	Status          review.Status
}

// Touched lists a group of a reassessment, behind a submission; next is the last one, empty at the end.
func (s *Service) Touched(ctx context.Context, actor review.Actor, group, key string, of review.TouchGroup, after string) (lines []TouchedLine, next string, err error) {
	if _, err := s.Reassessment(ctx, actor, group, key); err != nil {
		return nil, "", err
	}
	const size = 50
	found, err := s.store.FindTouched(ctx, key, of.Effect, of.Cause, after, size)
	if err != nil {
		return nil, "", err
	}
	ids := make([]string, len(found))
	for i, t := range found {
		ids[i] = t.Submission
	}
	unread := s.unread()
	submissions, err := s.store.SubmissionsWith(ctx, ids, unread.add)
	if err != nil {
		return nil, "", err
	}
	specimens := make([]string, 0, len(submissions))
	for _, sub := range submissions {
		specimens = append(specimens, sub.Specimen)
	}
	numbers, err := s.store.CatalogueNumbers(ctx, specimens)
	if err != nil {
		return nil, "", err
	}
	for _, t := range found {
		sub, read := submissions[t.Submission]
		if !read {
			continue
		}
		lines = append(lines, TouchedLine{Touched: t, CatalogueNumber: numbers[sub.Specimen], Family: sub.Determination.Family, Status: sub.Status})
	}
	if len(found) == size {
		next = found[size-1].Submission
	}
	return lines, next, nil
}

// NamesOf are the names of the persons among the causes of a reassessment.
func (s *Service) NamesOf(ctx context.Context, r review.Reassessment) (map[string]string, error) {
	var persons []string
	for _, g := range r.Groups {
		if g.Cause.Person != "" {
			persons = append(persons, g.Cause.Person)
		}
	}
	return s.names(ctx, persons)
}
