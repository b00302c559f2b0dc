package service

import (
	"context"
	"maps"
	"slices"
	"time"

	"revidit/review"
)

// Ledger is what waits for a curator's decision, and why. Each list is cut; nothing in it takes longer the more is kept.
type Ledger struct {
	// Proposals are changes of the tables that another curator has proposed, and everybody's where there is one curator alone.
	Proposals     []review.CellProposal `json:"-"`
	MoreProposals bool                  `json:"more_proposals"`
	// Doubts are closed determinations that the release in force puts in doubt, by group.
	Doubts []LedgerDoubts `json:"doubts" nullable:"false"`
	// Parted are closed determinations that a blind panel does not bear out.
	Parted     []SubmissionLine `json:"parted" nullable:"false" doc:"Closed determinations that a complete panel does not bear out, and that no curator has upheld since"`
	MoreParted bool             `json:"more_parted"`
	// Slips are the actor's own drafts of names on old slips.
	Slips     []SubmissionLine `json:"slips" nullable:"false" doc:"The caller's drafts of names that stand on old slips"`
	MoreSlips bool             `json:"more_slips"`
	// People need attention. Unnamed are those whom the policy does not name, by reason.
	People     []review.Attention             `json:"people" nullable:"false" doc:"Persons who need attention, by plain rules"`
	MorePeople bool                           `json:"more_people"`
	Unnamed    map[review.AttentionReason]int `json:"unnamed" doc:"How many more by a rule whom the policy, which shows totals alone, does not name; 1001 stands for more than 1000"`
	Names      map[string]string              `json:"names" doc:"Of the persons in it, by id"`
}

// LedgerDoubts is what the release in force of a group puts in doubt, as a job has last found it, without what was decided since.
type LedgerDoubts struct {
	Group  string            `json:"group"`
	List   []review.Affected `json:"list" nullable:"false"`
	More   bool              `json:"more"`
	MadeAt time.Time         `json:"made_at"`
}

const (
	// ledgerSize is how many lines each list of the ledger has.
	ledgerSize = 10
	// doubtsLooked is how many doubts are looked at for those on which nobody has decided yet.
	doubtsLooked = 50
	// holdsLooked is how many holds are looked at that were left.
	holdsLooked = 200
)

// Ledger is that of a curator.
func (s *Service) Ledger(ctx context.Context, actor review.Actor) (Ledger, error) {
	l := Ledger{Doubts: []LedgerDoubts{}, People: []review.Attention{}, Unnamed: map[review.AttentionReason]int{}}
	if !review.May(actor, review.ActReadLedger, "") {
		return l, review.Forbidden(actor, review.ActReadLedger, "")
	}
	for _, fill := range []func(context.Context, review.Actor, *Ledger) error{s.ledgerProposals, s.ledgerDoubts, s.ledgerLists, s.ledgerPeople} {
		if err := fill(ctx, actor, &l); err != nil {
			return l, err
		}
	}
	var err error
	l.Names, err = s.names(ctx, l.persons())
	return l, err
}

func (l *Ledger) persons() (ids []string) {
	for _, p := range l.Proposals {
		ids = append(ids, p.By)
	}
	for _, a := range l.People {
		ids = append(ids, a.Person)
	}
	return ids
}

func (s *Service) ledgerProposals(ctx context.Context, actor review.Actor, l *Ledger) error {
	alone, err := s.OnlyCurator(ctx, actor)
	if err != nil {
		return err
	}
	notBy := actor.Person
	if alone {
		notBy = ""
	}
	found, err := s.store.WaitingProposals(ctx, notBy, ledgerSize+1)
	l.Proposals, l.MoreProposals = cut(found)
	return err
}

// cut is a list without what does not fit into the ledger.
func cut[T any](list []T) (short []T, more bool) {
	return append([]T{}, list[:min(len(list), ledgerSize)]...), len(list) > ledgerSize
}

// ledgerDoubts reads what a job has found for the releases in force, and looks which of the first still ask for a decision.
func (s *Service) ledgerDoubts(ctx context.Context, _ review.Actor, l *Ledger) error {
	groups, err := s.Groups(ctx)
	if err != nil {
		return err
	}
	for _, judge := range groups {
		group, hash := judge.Tables().Group.ID, judge.Tables().Hash
		effect := review.Effect{List: []review.Affected{}}
		found, err := s.found(ctx, review.FoundDoubts, group, hash, &effect)
		if err != nil {
			return err
		}
		first := slices.DeleteFunc(effect.List, func(a review.Affected) bool { return a.Doubted() == 0 })
		first = first[:min(len(first), doubtsLooked)]
		if len(first) == 0 {
			continue
		}
		doubts := LedgerDoubts{Group: group, MadeAt: found.Made.At}
		standing, err := s.stillInDoubt(ctx, hash, first)
		if err != nil {
			return err
		}
		doubts.List, doubts.More = cut(standing)
		doubts.More = doubts.More || effect.InDoubt > len(first)
		if len(doubts.List) > 0 || doubts.More {
			l.Doubts = append(l.Doubts, doubts)
		}
	}
	return nil
}

// stillInDoubt are those of some determinations on which nobody has decided since they were put in doubt.
func (s *Service) stillInDoubt(ctx context.Context, hash string, doubted []review.Affected) ([]review.Affected, error) {
	ids := make([]string, len(doubted))
	for i, a := range doubted {
		ids[i] = a.Submission
	}
	now, err := s.store.SubmissionsWith(ctx, ids, s.unread().add)
	return slices.DeleteFunc(doubted, func(a review.Affected) bool {
		sub, ok := now[a.Submission]
		return !ok || !sub.StandsInDoubt(hash)
	}), err
}

func (s *Service) ledgerLists(ctx context.Context, actor review.Actor, l *Ledger) (err error) {
	var next string
	if l.Parted, next, err = s.Find(ctx, actor, SubmissionFilter{Parted: true}, Page{Size: ledgerSize}); err != nil {
		return err
	}
	l.MoreParted = next != ""
	l.Slips, next, err = s.Find(ctx, actor, SubmissionFilter{Slips: true}, Page{Size: ledgerSize})
	l.MoreSlips = next != ""
	return err
}

func (s *Service) ledgerPeople(ctx context.Context, actor review.Actor, l *Ledger) error {
	left, err := s.store.LeftHolds(ctx, s.moment(actor).Now.Add(-review.LeftAfter), holdsLooked)
	if err != nil {
		return err
	}
	late, err := s.store.LateSeries(ctx, s.moment(actor).Now.Add(-review.LeftAfter), holdsLooked)
	if err != nil {
		return err
	}
	people := append(mentorsAway(late), leftHeld(left)...)
	disabled, err := s.store.DisabledOwners(ctx, ledgerSize+1)
	if err != nil {
		return err
	}
	for _, person := range disabled {
		people = append(people, review.Attention{Person: person, Why: review.AttentionDisabled})
	}
	below, err := s.readBelow(ctx, l)
	if err != nil {
		return err
	}
	l.People, l.MorePeople = cut(append(people, below...))
	return nil
}

// mentorsAway are the mentors for whom beginners wait.
func mentorsAway(late []LateAnswer) (people []review.Attention) {
	for _, a := range late {
		at := slices.IndexFunc(people, func(p review.Attention) bool { return p.Person == a.Mentor })
		if at < 0 {
			since := a.Since
			people = append(people, review.Attention{Person: a.Mentor, Why: review.AttentionMentorAway, Since: &since, Submission: a.Submission})
			at = len(people) - 1
		}
		people[at].Count++
	}
	return people
}

// leftHeld are the persons who left holds, who did so first first.
func leftHeld(left []LeftHold) (people []review.Attention) {
	for _, h := range left {
		at := slices.IndexFunc(people, func(a review.Attention) bool { return a.Person == h.Person })
		if at < 0 {
			since := h.Until
			people = append(people, review.Attention{Person: h.Person, Why: review.AttentionLeftHeld, Since: &since, Submission: h.Submission})
			at = len(people) - 1
		}
		people[at].Count++
	}
	return people
}

// readBelow are the persons who read below what their role begins with, or their number where the policy shows no names.
func (s *Service) readBelow(ctx context.Context, l *Ledger) (people []review.Attention, err error) {
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return nil, err
	}
	groups, err := s.Groups(ctx)
	if err != nil {
		return nil, err
	}
	most := ledgerSize + 1
	if !policy.ShowsNames() {
		most = MostCounted + 1
	}
	unnamed := map[string]bool{}
	for _, judge := range groups {
		group := judge.Tables().Group.ID
		below, err := s.store.ReadBelow(ctx, group, most)
		if err != nil {
			return nil, err
		}
		for _, person := range slices.Sorted(maps.Keys(below)) {
			unnamed[person] = true
			people = append(people, review.Attention{Person: person, Why: review.AttentionReadsBelow, Group: group,
				Regions: below[person].ReadsBelow(), Count: below[person].Reports()})
		}
	}
	if policy.ShowsNames() {
		return people, nil
	}
	if len(unnamed) > 0 {
		l.Unnamed[review.AttentionReadsBelow] = min(len(unnamed), MostCounted+1)
	}
	return nil, nil
}
