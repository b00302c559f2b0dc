package review

import (
	"context"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"revidit/review/diagnosis"
)

// PreviewCell says what a change of one cell would do to the determinations that stand. It is refused, with the field,
// where the tables would not be sound any more.
func (s *Service) PreviewCell(ctx context.Context, actor Actor, group string, edit diagnosis.CellEdit) (Effect, error) {
	present, other, err := s.changed(ctx, actor, group, []diagnosis.CellEdit{edit})
	if err != nil {
		return Effect{}, err
	}
	return s.effect(ctx, actor, present, other)
}

// ProposeCell stores a proposed change of one cell for another curator to decide.
func (s *Service) ProposeCell(ctx context.Context, actor Actor, group string, edit diagnosis.CellEdit, reason string) (CellProposal, error) {
	present, _, err := s.changed(ctx, actor, group, []diagnosis.CellEdit{edit})
	if err != nil {
		return CellProposal{}, err
	}
	var p Problems
	checkText(&p, "reason", reason, 1, maxNote)
	if err := p.Err(); err != nil {
		return CellProposal{}, err
	}
	w, made := newWriter(s.moment(actor)), CellProposal{}
	change := &CellProposed{ID: w.moment.NewID(), Group: present.Tables().Group.ID, BaseHash: present.Tables().Hash, Edit: edit, Reason: strings.TrimSpace(reason)}
	if err := w.proposal(&made, change); err != nil {
		return CellProposal{}, err
	}
	return made, s.commit(ctx, w)
}

// changed returns the judge in force and the one that the tables with some edits would give.
func (s *Service) changed(ctx context.Context, actor Actor, group string, edits []diagnosis.CellEdit) (present, other *Judge, err error) {
	if !May(actor, ActEditTables, "") {
		return nil, nil, forbidden(actor, ActEditTables, "")
	}
	present, err = s.Judge(ctx, group)
	if err != nil {
		return nil, nil, err
	}
	edited, err := diagnosis.Edited(present.Tables().Folder(), edits)
	if err != nil {
		return nil, nil, Invalidf("edit", "%s", err)
	}
	other, err = sound(edited)
	return present, other, err
}

// sound loads and lints a folder of tables; what is wrong is told under the field "edit".
func sound(folder fs.FS) (*Judge, error) {
	tables, problems := diagnosis.Load(folder)
	if len(problems) == 0 {
		problems = tables.Lint()
	}
	var p Problems
	for _, problem := range problems {
		p.Addf("edit", "%s", problem)
	}
	if err := p.Err(); err != nil {
		return nil, err
	}
	return NewJudge(tables), nil
}

// effect compares two judges on every determination that stands. Of submissions whose verdicts are closed to the actor
// it counts the observations alone: a preview must not give away what others have said.
func (s *Service) effect(ctx context.Context, actor Actor, present, other *Judge) (Effect, error) {
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return Effect{}, err
	}
	people, err := s.store.Reliability(ctx, present.Tables().Group.ID)
	if err != nil {
		return Effect{}, err
	}
	e := Effect{List: []Affected{}}
	err = s.store.EachDetermination(ctx, present.Tables().Group.ID, func(sub Submission, spec Specimen, siblings []Submission) error {
		e.Looked++
		if sealedFrom(actor, &sub) {
			sub = unseenOf(sub)
		}
		now := &situation{submission: &sub, specimen: &spec, siblings: s.openTo(actor, siblings), policy: policy, people: &people}
		if a, changed := compare(present, other, now); changed {
			e.add(a)
		}
		return nil
	})
	e.finish()
	return e, err
}

// DecideCell approves or refuses a proposed change, or withdraws it. Nobody approves or refuses their own; only who
// proposed it withdraws it.
func (s *Service) DecideCell(ctx context.Context, actor Actor, id string, version int, status ProposalStatus, reason string) (CellProposal, error) {
	if !May(actor, ActEditTables, "") {
		return CellProposal{}, forbidden(actor, ActEditTables, "")
	}
	proposal, err := s.store.CellProposal(ctx, id)
	if err != nil {
		return CellProposal{}, err
	}
	if version != AnyVersion && version != proposal.Seq {
		return CellProposal{}, Errorf(KindStale, "This proposal has changed since you opened it. Nothing was stored: look at it again.")
	}
	if err := proposal.mayBecome(status, actor); err != nil {
		return CellProposal{}, err
	}
	var p Problems
	checkText(&p, "reason", reason, 1, maxNote)
	if err := p.Err(); err != nil {
		return CellProposal{}, err
	}
	w := newWriter(s.moment(actor))
	if err := w.proposal(&proposal, &CellProposalDecided{Status: status, Reason: strings.TrimSpace(reason)}); err != nil {
		return CellProposal{}, err
	}
	return proposal, s.commit(ctx, w)
}

// mayBecome checks a decision against the proposal's status and the two-curators rule.
func (p *CellProposal) mayBecome(status ProposalStatus, actor Actor) error {
	if p.Status != ProposalOpen && !(p.Status == ProposalApproved && status != ProposalApproved) {
		return Errorf(KindConflict, "This proposal is %s already. Nothing was changed.", p.Status)
	}
	switch status {
	case ProposalApproved, ProposalRefused:
		if actor.Person == p.By {
			return Errorf(KindForbidden, "This proposal is your own: another curator must decide on it.")
		}
		return nil
	case ProposalWithdrawn:
		if actor.Person != p.By {
			return Errorf(KindForbidden, "Only who proposed it can withdraw it; refuse it instead.")
		}
		return nil
	}
	return Invalidf("status", "must be approved, refused or withdrawn")
}

// PreviewRelease says what the approved changes of a group would do together, with their number.
func (s *Service) PreviewRelease(ctx context.Context, actor Actor, group string) (Effect, []CellProposal, error) {
	approved, edits, err := s.approved(ctx, group)
	if err != nil {
		return Effect{}, nil, err
	}
	present, other, err := s.changed(ctx, actor, group, edits)
	if err != nil {
		return Effect{}, nil, err
	}
	effect, err := s.effect(ctx, actor, present, other)
	return effect, approved, err
}

// approved are the approved proposals of a group, the first approved first: of two for one cell the later one holds.
func (s *Service) approved(ctx context.Context, group string) ([]CellProposal, []diagnosis.CellEdit, error) {
	approved, err := s.store.FindCellProposals(ctx, group, ProposalApproved)
	if err != nil {
		return nil, nil, err
	}
	slices.SortStableFunc(approved, func(a, b CellProposal) int { return a.DecidedAt.Compare(*b.DecidedAt) })
	edits := []diagnosis.CellEdit{}
	for _, p := range approved {
		edits = append(edits, p.Edit)
	}
	return approved, edits, nil
}

// Publish makes the next release of a group from the approved changes, and assesses open submissions anew. Closed ones
// stay as they are: PreviewRelease lists which it puts in doubt.
func (s *Service) Publish(ctx context.Context, actor Actor, group, version, notes string) (Release, error) {
	approved, edits, err := s.approved(ctx, group)
	if err != nil {
		return Release{}, err
	}
	if len(approved) == 0 && May(actor, ActEditTables, "") {
		return Release{}, Errorf(KindConflict, "No approved change waits for a release of these tables. Nothing was published.")
	}
	present, _, err := s.changed(ctx, actor, group, edits)
	if err != nil {
		return Release{}, err
	}
	folder, err := diagnosis.Edited(present.Tables().Folder(), edits)
	if err != nil {
		return Release{}, err
	}
	if folder, err = diagnosis.Released(folder, version, notes); err != nil {
		return Release{}, Invalidf("version", "%s", err)
	}
	return s.publish(ctx, actor, folder, approved)
}

// Import publishes a folder of tables, for example one that another club has exported, as the next release of its
// group. It is one person's act, unlike a change of a cell: Doubted tells afterwards which determinations it puts in
// doubt.
func (s *Service) Import(ctx context.Context, actor Actor, folder fs.FS) (Release, error) {
	if !May(actor, ActEditTables, "") {
		return Release{}, forbidden(actor, ActEditTables, "")
	}
	return s.publish(ctx, actor, folder, nil)
}

// Doubted compares, for every determination that stands, the tables that it was last assessed with and those in force:
// what the releases since then have changed, those put in doubt first.
func (s *Service) Doubted(ctx context.Context, actor Actor, group string) (Effect, error) {
	if !May(actor, ActEditTables, "") {
		return Effect{}, forbidden(actor, ActEditTables, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return Effect{}, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return Effect{}, err
	}
	people, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return Effect{}, err
	}
	e := Effect{List: []Affected{}}
	err = s.store.EachDetermination(ctx, judge.Tables().Group.ID, func(sub Submission, spec Specimen, siblings []Submission) error {
		e.Looked++
		if !sub.Closed() || sub.Assessment == nil || sub.Assessment.TablesHash == judge.Tables().Hash {
			return nil
		}
		former, err := s.judgeOfHash(ctx, sub.Assessment.TablesHash)
		if KindOf(err) == KindNotFound {
			return nil // built-in tables of an earlier program, which nobody has published here
		}
		if err != nil {
			return err
		}
		now := &situation{submission: &sub, specimen: &spec, siblings: siblings, policy: policy, people: &people}
		if a, changed := compare(former, judge, now); changed {
			e.add(a)
		}
		return nil
	})
	e.finish()
	return e, err
}

func (s *Service) publish(ctx context.Context, actor Actor, folder fs.FS, approved []CellProposal) (Release, error) {
	judge, err := sound(folder)
	if err != nil {
		return Release{}, err
	}
	group := judge.Tables().Group
	files, err := diagnosis.Contents(folder)
	if err != nil {
		return Release{}, Invalidf("edit", "%s", err)
	}
	former, err := s.store.Releases(ctx, group.ID)
	if err != nil {
		return Release{}, err
	}
	if err := s.checkRelease(ctx, judge, former); err != nil {
		return Release{}, err
	}
	w := newWriter(s.moment(actor))
	release := Release{Group: group.ID, Version: group.Release, Hash: judge.Tables().Hash, Notes: group.Notes, Seq: len(former) + 1,
		By: actor.Person, At: w.moment.Now, Proposals: []string{}, Files: files}
	for i := range approved {
		release.Proposals = append(release.Proposals, approved[i].ID)
		if err := w.proposal(&approved[i], &CellReleased{Release: release.Hash}); err != nil {
			return Release{}, err
		}
	}
	w.batch.Release = &release
	w.batch.Events = append(w.batch.Events, w.event(TablesStream(group.ID), release.Seq, &TablesReleased{Release: release}))
	if err := s.commit(ctx, w); err != nil {
		return Release{}, err
	}
	if _, err := s.Reassess(ctx, actor, group.ID); err != nil {
		return release, fmt.Errorf("release %s is published, but open submissions were not all assessed anew (revidit reassess does it): %w", release.Version, err)
	}
	return release, nil
}

// checkRelease refuses an unknown group, a version that was used before, and a release that changes nothing.
func (s *Service) checkRelease(ctx context.Context, judge *Judge, former []Release) error {
	group := judge.Tables().Group
	present, err := s.Judge(ctx, group.ID)
	if KindOf(err) == KindNotFound {
		return Invalidf("group", "%q is not a group of tables here", group.ID)
	}
	if err != nil {
		return err
	}
	if present.Tables().Hash == judge.Tables().Hash {
		return Errorf(KindConflict, "These are the tables in force. Nothing was published.")
	}
	for _, r := range former {
		if r.Version == group.Release {
			return Invalidf("version", "%s has been published before; releases never change, so give another one", group.Release)
		}
		if r.Hash == judge.Tables().Hash {
			return Invalidf("version", "these tables were published before, as %s", r.Version)
		}
	}
	if present.Tables().Group.Release == group.Release {
		return Invalidf("version", "%s is the version in force; give another one", group.Release)
	}
	return s.checkFamilies(ctx, judge)
}

// checkFamilies refuses tables that lack a family under which a determination stands, even as an old name: nobody could
// say any more how sure that determination is.
func (s *Service) checkFamilies(ctx context.Context, judge *Judge) error {
	lacking := map[string]int{}
	err := s.store.EachDetermination(ctx, judge.Tables().Group.ID, func(sub Submission, _ Specimen, _ []Submission) error {
		if _, _, ok := judge.Tables().Resolve(sub.Determination.Family); !ok {
			lacking[sub.Determination.Family]++
		}
		return nil
	})
	if err != nil || len(lacking) == 0 {
		return err
	}
	var p Problems
	for _, family := range slices.Sorted(maps.Keys(lacking)) {
		p.Addf("families", "%d determinations stand under %s, which these tables have neither as a family nor as an old name", lacking[family], family)
	}
	return p.Err()
}

// Reassess computes the open and returned submissions of a group anew with the tables in force, where the stored
// assessment is of others, and returns how many it has. A submission that somebody changes meanwhile is left: that change assesses it.
func (s *Service) Reassess(ctx context.Context, actor Actor, group string) (int, error) {
	if !May(actor, ActEditTables, "") {
		return 0, forbidden(actor, ActEditTables, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return 0, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return 0, err
	}
	people, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return 0, err
	}
	var due []situation
	m := s.moment(actor)
	err = s.store.EachDetermination(ctx, judge.Tables().Group.ID, func(sub Submission, spec Specimen, siblings []Submission) error {
		stale := sub.Assessment == nil || sub.Assessment.TablesHash != judge.Tables().Hash
		if stale && !sub.Closed() {
			due = append(due, situation{Moment: m, submission: &sub, specimen: &spec, siblings: siblings, policy: policy, people: &people, judge: judge})
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	done := 0
	for i := range due {
		switch err := s.reassess(ctx, &due[i]); {
		case KindOf(err) == KindConflict:
		case err != nil:
			return done, fmt.Errorf("reassess %s: %w", due[i].submission.ID, err)
		default:
			done++
		}
	}
	return done, nil
}

func (s *Service) reassess(ctx context.Context, now *situation) error {
	w := newWriter(now.Moment)
	if err := w.submission(now.submission, now.assessed()); err != nil {
		return err
	}
	return s.commit(ctx, w)
}

// CellProposals lists the proposed changes of a group, the latest first, with the names of the persons in them.
func (s *Service) CellProposals(ctx context.Context, actor Actor, group string, status ProposalStatus) ([]CellProposal, map[string]string, error) {
	if !May(actor, ActEditTables, "") {
		return nil, nil, forbidden(actor, ActEditTables, "")
	}
	proposals, err := s.store.FindCellProposals(ctx, group, status)
	if err != nil {
		return nil, nil, err
	}
	var persons []string
	for _, p := range proposals {
		persons = append(persons, p.By, p.DecidedBy)
	}
	names, err := s.names(ctx, persons)
	return proposals, names, err
}

// CellProposal returns one proposed change with the names of the persons in it.
func (s *Service) CellProposal(ctx context.Context, actor Actor, id string) (CellProposal, map[string]string, error) {
	if !May(actor, ActEditTables, "") {
		return CellProposal{}, nil, forbidden(actor, ActEditTables, "")
	}
	p, err := s.store.CellProposal(ctx, id)
	if err != nil {
		return CellProposal{}, nil, err
	}
	names, err := s.names(ctx, []string{p.By, p.DecidedBy})
	return p, names, err
}

// Releases of a group, the latest first; everybody may read them.
func (s *Service) Releases(ctx context.Context, group string) ([]Release, map[string]string, error) {
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
