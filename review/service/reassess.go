package service

import (
	"context"

	"revidit/review"
	"revidit/review/jobs"
)

// reassessedAtOnce is how many submissions are assessed anew in one transaction.
const reassessedAtOnce = 200

// Reassess asks for the open and returned submissions of a group to be assessed with the tables in force, where the
// stored assessment is of others.
func (s *Service) Reassess(ctx context.Context, actor review.Actor, group string) (jobs.Job, error) {
	if !review.May(actor, review.ActEditTables, "") {
		return jobs.Job{}, review.Forbidden(actor, review.ActEditTables, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return jobs.Job{}, err
	}
	job := jobs.Reassess(judge.Tables().Group.ID, judge.Tables().Hash)
	return job, s.ask(ctx, job)
}

// reassessing is the cursor of the job.
type reassessing struct {
	Hash  string `json:"hash"` // of the tables in force when it began
	After string `json:"after"`
	// InPart: something could not be read and was left out.
	InPart bool `json:"in_part,omitempty"`
}

// inPart follows the hash in what is found of a walk that has left something out: it is tried again the next day.
const inPart = " in part"

// reassessSlice assesses the next submissions. A slice in which somebody changes one meanwhile is not stored and done
// again, smaller: that change has assessed it. Before it ends it looks which tables are in force: of others it begins again.
func (s *Service) reassessSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	args, err := jobs.Decode[jobs.Group](slice.Job)
	if err != nil {
		return JobStep{}, err
	}
	judge, err := s.Judge(ctx, args.Group)
	if err != nil {
		return JobStep{}, err
	}
	group, hash := judge.Tables().Group.ID, judge.Tables().Hash
	at := reassessing{Hash: hash}
	if err := decodeCursor(slice, &at); err != nil {
		return JobStep{}, err
	}
	if at.Hash != hash {
		at = reassessing{Hash: hash}
	}
	release, err := s.store.CurrentRelease(ctx, group)
	if err != nil {
		return JobStep{}, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return JobStep{}, err
	}
	people, err := s.reliability(ctx, group)
	if err != nil {
		return JobStep{}, err
	}
	unread := s.unread()
	found, next, err := s.store.FindDeterminations(ctx, DeterminationFilter{Group: group, Waiting: true, Unread: unread.add}, Page{Size: max(reassessedAtOnce>>slice.Try, 1), Cursor: at.After})
	if err != nil {
		return JobStep{}, err
	}
	m := s.moment(itself)
	w := review.NewWriter(m)
	rests := &review.Rests{Versions: map[string]int{}, Policy: policy.Version, Group: group, Release: release}
	for i := range found {
		d := &found[i]
		if d.Submission.Closed() || d.Submission.Assessment != nil && d.Submission.Assessment.TablesHash == hash {
			continue
		}
		rests.Versions[d.Specimen.ID] = review.RecordVersion(&d.Specimen, d.Siblings)
		w.Moment = m.NotBefore(d.Submission.ChangedAt)
		now := review.Dossier{Moment: w.Moment, Submission: &d.Submission, Specimen: &d.Specimen, Siblings: d.Siblings, Policy: policy, People: &people, Judge: judge}
		if err := w.Submission(now.Submission, now.Assessed()); err != nil {
			return JobStep{}, err
		}
	}
	if len(rests.Versions) > 0 {
		w.Batch.Rests = rests
	}
	at.InPart = at.InPart || len(unread.streams) > 0
	step := JobStep{Batch: w.Finished(), Done: slice.Done + len(found), More: next != ""}
	if at.After = next; step.More {
		step.Cursor, err = encode(at)
		return step, err
	}
	with := hash
	if at.InPart {
		with += inPart
	}
	mark, err := new(meter).made(review.FoundReassessed, group, "", m.Now, with)
	step.Batch.Found = []review.Found{mark}
	return step, err
}

// reassessDue: what waits was last assessed with other tables than those in force. For tables that nobody has published, but
// that this program brings along, it asks once: beside a newer program, which brings others, the two would undo each
// other's work for ever.
func (s *Service) reassessDue(ctx context.Context, group, hash string) ([]jobs.Job, error) {
	var with string
	found, err := s.found(ctx, review.FoundReassessed, group, "", &with)
	if err != nil {
		return nil, err
	}
	if with == hash || with == hash+inPart && s.now().Sub(found.Made.At) < RefitEvery {
		return nil, nil
	}
	if builtIn := s.library.BuiltIn(group); builtIn != nil && builtIn.Tables().Hash == hash {
		if _, asked := s.broughtAlong.LoadOrStore(group, true); asked {
			return nil, nil
		}
	}
	return []jobs.Job{jobs.Reassess(group, hash)}, nil
}
