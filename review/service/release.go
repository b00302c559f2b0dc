package service

import (
	"context"
	"errors"
	"io/fs"
	"maps"
	"slices"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/jobs"
	"revidit/review/judgement"
)

// NextRelease is what a curator says of the next release of a group. Base is the hash of the tables that it was decided on;
// empty: whichever are in force.
type NextRelease struct{ Group, Version, Notes, Base string }

// Publish makes the next release of a group from the approved changes, and asks for open submissions to be assessed anew. Closed ones
// stay as they are: PreviewRelease lists which it puts in doubt.
func (s *Service) Publish(ctx context.Context, actor review.Actor, next NextRelease) (review.Release, error) {
	b, err := s.store.Basis(ctx, Asked{Person: actor.Person})
	if err != nil {
		return review.Release{}, err
	}
	approved, edits, err := s.approved(ctx, next.Group)
	if err != nil {
		return review.Release{}, err
	}
	if len(approved) == 0 && review.May(actor, review.ActEditTables, "") {
		return review.Release{}, review.Errorf(review.KindConflict, "No approved change waits for a release of these tables. Nothing was published.")
	}
	present, _, err := s.changed(ctx, actor, &b, next.Group, edits)
	if err != nil {
		return review.Release{}, err
	}
	if next.Base != "" && next.Base != present.Tables().Hash {
		return review.Release{}, errTablesMoved
	}
	alone, err := s.OnlyCurator(ctx, actor)
	if err != nil {
		return review.Release{}, err
	}
	for _, p := range approved {
		if err := p.MayPublish(actor, alone); err != nil {
			return review.Release{}, err
		}
	}
	folder, err := diagnosis.Edited(present.Tables().Folder(), edits)
	if err != nil {
		return review.Release{}, err
	}
	if folder, err = diagnosis.Released(folder, next.Version, next.Notes); err != nil {
		return review.Release{}, review.Invalidf("version", "%s", err)
	}
	return s.publish(ctx, actor, &b, folder, approved)
}

// Import publishes a folder of tables, for example one that another club has exported, as the next release of its
// group. It is one person's act, unlike a change of a cell: Doubted tells afterwards which determinations it puts in
// doubt.
func (s *Service) Import(ctx context.Context, actor review.Actor, folder fs.FS) (review.Release, error) {
	if !review.May(actor, review.ActEditTables, "") {
		return review.Release{}, review.Forbidden(actor, review.ActEditTables, "")
	}
	b, err := s.store.Basis(ctx, Asked{Person: actor.Person})
	if err != nil {
		return review.Release{}, err
	}
	return s.publish(ctx, actor, &b, folder, nil)
}

// publish makes a folder of tables the next release, in place of the one in force in the basis. Where another one has come
// into force meanwhile nothing is published: what was looked at was not what it would replace, and taking its place would
// undo it unseen.
func (s *Service) publish(ctx context.Context, actor review.Actor, b *Basis, folder fs.FS, approved []review.CellProposal) (review.Release, error) {
	judge, err := sound(folder)
	if err != nil {
		return review.Release{}, err
	}
	group := judge.Tables().Group
	files, err := diagnosis.Contents(folder)
	if err != nil {
		return review.Release{}, review.Invalidf("edit", "%s", err)
	}
	former, err := s.store.Releases(ctx, group.ID)
	if err != nil {
		return review.Release{}, err
	}
	if err := s.checkRelease(ctx, b, judge, former); err != nil {
		return review.Release{}, err
	}
	w := review.NewWriter(afterAll(s.moment(actor), former, approved))
	release := review.Release{Group: group.ID, Version: group.Release, Hash: judge.Tables().Hash, Notes: group.Notes, Seq: len(former) + 1,
		By: actor.Person, At: w.Moment.Now, Proposals: []string{}, Files: files}
	for i := range approved {
		release.Proposals = append(release.Proposals, approved[i].ID)
		if approved[i].OwnApproval {
			release.OwnApprovals = append(release.OwnApprovals, approved[i].ID)
		}
		if err := w.Proposal(&approved[i], &review.CellReleased{Release: release.Hash}); err != nil {
			return review.Release{}, err
		}
	}
	w.Batch.Release = &release
	w.Batch.Rests = &review.Rests{Policy: b.Policy.Version, Group: group.ID, Release: b.Releases[group.ID]}
	w.Batch.Events = append(w.Batch.Events, w.Event(review.TablesStream(group.ID), release.Seq, &review.TablesReleased{Release: release}))
	w.Batch.Jobs = []jobs.Job{jobs.Reassess(group.ID, release.Hash), doubtsJob(group.ID, release.Hash)}
	if err := s.commit(ctx, w); !errors.Is(err, ErrRace) {
		return release, err
	}
	return review.Release{}, errTablesMoved
}

// errTablesMoved: other tables came into force, or a change was decided, while these were being published.
var errTablesMoved = review.Errorf(review.KindConflict, "The tables in force, the approved changes or the policy have just been changed by somebody else. Nothing was published: look at what is in force now, and publish again if it is still what you want.")

// afterAll is a moment that is not before anything that a release follows.
func afterAll(m review.Moment, former []review.Release, approved []review.CellProposal) review.Moment {
	for i := range former {
		m = m.NotBefore(former[i].At)
	}
	for i := range approved {
		m = m.NotBefore(approved[i].ChangedAt())
	}
	return m
}

// checkRelease refuses an unknown group, a version that was used before, and a release that changes nothing.
func (s *Service) checkRelease(ctx context.Context, b *Basis, judge *judgement.Judge, former []review.Release) error {
	group := judge.Tables().Group
	present, err := s.judgeIn(ctx, b, group.ID)
	if review.KindOf(err) == review.KindNotFound {
		return review.Invalidf("group", "%q is not a group of tables here", group.ID)
	}
	if err != nil {
		return err
	}
	if present.Tables().Hash == judge.Tables().Hash {
		return review.Errorf(review.KindConflict, "These are the tables in force. Nothing was published.")
	}
	for _, r := range former {
		if r.Version == group.Release {
			return review.Invalidf("version", "%s has been published before; releases never change, so give another one", group.Release)
		}
		if r.Hash == judge.Tables().Hash {
			return review.Invalidf("version", "these tables were published before, as %s", r.Version)
		}
	}
	if present.Tables().Group.Release == group.Release {
		return review.Invalidf("version", "%s is the version in force; give another one", group.Release)
	}
	return s.checkFamilies(ctx, judge)
}

// checkFamilies refuses tables that lack a family under which a determination stands, even as an old name: nobody could
// say any more how sure that determination is.
func (s *Service) checkFamilies(ctx context.Context, judge *judgement.Judge) error {
	counts, err := s.store.CountDeterminations(ctx, judge.Tables().Group.ID)
	if err != nil {
		return err
	}
	var p review.Problems
	for _, family := range slices.Sorted(maps.Keys(counts)) {
		if _, _, ok := judge.Tables().Resolve(family); !ok {
			p.Addf("families", "%d determinations stand under %s, which these tables have neither as a family nor as an old name", counts[family], family)
		}
	}
	return p.Err()
}

// Releases of a group, the latest first; everybody may read them.
func (s *Service) Releases(ctx context.Context, group string) ([]review.Release, map[string]string, error) {
	releases, err := s.store.Releases(ctx, group)
	if err != nil {
		return nil, nil, err
	}
	var persons []string
	for _, r := range releases {
		persons = append(persons, r.By)
	}
	names, err := s.names(ctx, persons)
	return releases, names, err
}

// Folder returns the folder of tables of a release by its hash; an empty hash is the one in force.
func (s *Service) Folder(ctx context.Context, group, hash string) (fs.FS, error) {
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return nil, err
	}
	if hash != "" && hash != judge.Tables().Hash {
		judge, err = s.judgeOfHash(ctx, hash)
	}
	if err != nil {
		return nil, err
	}
	return judge.Tables().Folder(), nil
}
