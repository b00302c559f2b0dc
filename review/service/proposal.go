package service

import (
	"context"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// PreviewCell says what a change of one cell would do to the determinations that stand. It is refused, with the field,
// where the tables would not be sound any more.
func (s *Service) PreviewCell(ctx context.Context, actor review.Actor, group string, edit diagnosis.CellEdit) (review.Effect, error) {
	present, other, err := s.changedNow(ctx, actor, group, []diagnosis.CellEdit{edit})
	if err != nil {
		return review.Effect{}, err
	}
	return s.preview(ctx, actor, present, other, []diagnosis.CellEdit{edit})
}

// ProposeCell stores a proposed change of one cell for another curator to decide.
func (s *Service) ProposeCell(ctx context.Context, actor review.Actor, group string, edit diagnosis.CellEdit, reason string) (review.CellProposal, error) {
	present, _, err := s.changedNow(ctx, actor, group, []diagnosis.CellEdit{edit})
	if err != nil {
		return review.CellProposal{}, err
	}
	var p review.Problems
	review.CheckText(&p, "reason", reason, 1, review.MaxNote)
	if err := p.Err(); err != nil {
		return review.CellProposal{}, err
	}
	w, made := review.NewWriter(s.moment(actor)), review.CellProposal{}
	change := &review.CellProposed{ID: w.Moment.NewID(), Group: present.Tables().Group.ID, BaseHash: present.Tables().Hash, Edit: edit, Reason: strings.TrimSpace(reason)}
	if err := w.Proposal(&made, change); err != nil {
		return review.CellProposal{}, err
	}
	return made, s.commit(ctx, w)
}

// changedNow is changed with what is in force now.
func (s *Service) changedNow(ctx context.Context, actor review.Actor, group string, edits []diagnosis.CellEdit) (present, other *judgement.Judge, err error) {
	b, err := s.store.Basis(ctx, Asked{Person: actor.Person})
	if err != nil {
		return nil, nil, err
	}
	return s.changed(ctx, actor, &b, group, edits)
}

// changed returns the judge in force in the basis and the one that the tables with some edits would give.
func (s *Service) changed(ctx context.Context, actor review.Actor, b *Basis, group string, edits []diagnosis.CellEdit) (present, other *judgement.Judge, err error) {
	if !review.May(actor, review.ActEditTables, "") {
		return nil, nil, review.Forbidden(actor, review.ActEditTables, "")
	}
	present, err = s.judgeIn(ctx, b, group)
	if err != nil {
		return nil, nil, err
	}
	edited, err := diagnosis.Edited(present.Tables().Folder(), edits)
	if err != nil {
		return nil, nil, review.Invalidf("edit", "%s", err)
	}
	other, err = sound(edited)
	return present, other, err
}

// sound loads and lints a folder of tables; what is wrong is told under the field "edit".
func sound(folder fs.FS) (*judgement.Judge, error) {
	tables, problems := diagnosis.Load(folder)
	if len(problems) == 0 {
		problems = tables.Lint()
	}
	var p review.Problems
	for _, problem := range problems {
		p.Addf("edit", "%s", problem)
	}
	if err := p.Err(); err != nil {
		return nil, err
	}
	return review.NewJudge(tables), nil
}

// DecideCell approves or refuses a proposed change, or withdraws it. Nobody approves or refuses their own, unless they
// are the club's only curator: then it is marked as approved by who proposed it. Only who proposed it withdraws it.
func (s *Service) DecideCell(ctx context.Context, actor review.Actor, id string, version int, status review.ProposalStatus, reason string) (review.CellProposal, error) {
	if !review.May(actor, review.ActEditTables, "") {
		return review.CellProposal{}, review.Forbidden(actor, review.ActEditTables, "")
	}
	proposal, err := s.store.CellProposal(ctx, id)
	if err != nil {
		return review.CellProposal{}, err
	}
	if version != AnyVersion && version != proposal.Seq {
		return review.CellProposal{}, review.Errorf(review.KindStale, "This proposal has changed since you opened it. Nothing was stored: look at it again.")
	}
	alone, err := s.OnlyCurator(ctx, actor)
	if err != nil {
		return review.CellProposal{}, err
	}
	if err := proposal.MayBecome(status, actor, alone); err != nil {
		return review.CellProposal{}, err
	}
	var p review.Problems
	review.CheckText(&p, "reason", reason, 1, review.MaxNote)
	if err := p.Err(); err != nil {
		return review.CellProposal{}, err
	}
	w := review.NewWriter(s.moment(actor).NotBefore(proposal.ChangedAt()))
	decided := &review.CellProposalDecided{Status: status, Reason: strings.TrimSpace(reason),
		OwnApproval: status == review.ProposalApproved && proposal.By == actor.Person}
	if err := w.Proposal(&proposal, decided); err != nil {
		return review.CellProposal{}, err
	}
	return proposal, s.commit(ctx, w)
}

// CellProposals lists the proposed changes of a group, the latest first, with the names of the persons in them.
func (s *Service) CellProposals(ctx context.Context, actor review.Actor, group string, status review.ProposalStatus) ([]review.CellProposal, map[string]string, error) {
	if !review.May(actor, review.ActEditTables, "") {
		return nil, nil, review.Forbidden(actor, review.ActEditTables, "")
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
func (s *Service) CellProposal(ctx context.Context, actor review.Actor, id string) (review.CellProposal, map[string]string, error) {
	if !review.May(actor, review.ActEditTables, "") {
		return review.CellProposal{}, nil, review.Forbidden(actor, review.ActEditTables, "")
	}
	p, err := s.store.CellProposal(ctx, id)
	if err != nil {
		return review.CellProposal{}, nil, err
	}
	names, err := s.names(ctx, []string{p.By, p.DecidedBy})
	return p, names, err
}

// PreviewRelease says what the approved changes of a group would do together, with their number.
func (s *Service) PreviewRelease(ctx context.Context, actor review.Actor, group string) (review.Effect, []review.CellProposal, error) {
	approved, edits, err := s.approved(ctx, group)
	if err != nil {
		return review.Effect{}, nil, err
	}
	present, other, err := s.changedNow(ctx, actor, group, edits)
	if err != nil {
		return review.Effect{}, nil, err
	}
	effect, err := s.preview(ctx, actor, present, other, edits)
	return effect, approved, err
}

// approved are the approved proposals of a group, the first approved first: of two for one cell the later one holds.
func (s *Service) approved(ctx context.Context, group string) ([]review.CellProposal, []diagnosis.CellEdit, error) {
	approved, err := s.store.FindCellProposals(ctx, group, review.ProposalApproved)
	if err != nil {
		return nil, nil, err
	}
	if approved, err = s.asDecided(ctx, approved); err != nil {
		return nil, nil, err
	}
	edits := []diagnosis.CellEdit{}
	for _, p := range approved {
		edits = append(edits, p.Edit)
	}
	return approved, edits, nil
}

// asDecided are proposals in the order in which the last event of each was stored, which is what decided it.
func (s *Service) asDecided(ctx context.Context, proposals []review.CellProposal) ([]review.CellProposal, error) {
	of := map[string]review.CellProposal{} // by stream
	for _, p := range proposals {
		of[review.ProposalStream(p.ID)] = p
	}
	events, err := s.store.History(ctx, slices.Collect(maps.Keys(of))...)
	if err != nil {
		return nil, err
	}
	ordered := make([]review.CellProposal, 0, len(of))
	for _, e := range events {
		if p := of[e.Stream]; p.Seq == e.Seq {
			ordered = append(ordered, p)
		}
	}
	return ordered, nil
}
