package review

import (
	"fmt"
	"time"

	"revidit/review/diagnosis"
)

// ProposalStream is the stream of a proposed change of a cell.
func ProposalStream(id string) string { return "cell-proposal/" + id }

// ProposalStatus is where a proposed change of a cell stands.
type ProposalStatus string

const (
	// ProposalOpen: waits for another curator. Left by approve, refuse and withdraw.
	ProposalOpen ProposalStatus = "open"
	// ProposalApproved: another curator agrees; the next release takes it in.
	ProposalApproved ProposalStatus = "approved"
	ProposalRefused  ProposalStatus = "refused"
	// ProposalWithdrawn: who proposed it took it back.
	ProposalWithdrawn ProposalStatus = "withdrawn"
	// ProposalReleased: it is part of a release.
	ProposalReleased ProposalStatus = "released"
)

// CellProposal is a proposed change of one cell of the tables.
type CellProposal struct {
	ID       string             `json:"id"`
	Seq      int                `json:"seq"`
	Group    string             `json:"group"`
	BaseHash string             `json:"base_hash"` // release that it was proposed against
	Edit     diagnosis.CellEdit `json:"edit"`
	Reason   string             `json:"reason"`
	Status   ProposalStatus     `json:"status"`
	By       string             `json:"by"`
	At       time.Time          `json:"at"`
	// DecidedBy approved or refused it (or withdrew it), with the words of DecisionReason.
	DecidedBy      string     `json:"decided_by,omitempty"`
	DecidedAt      *time.Time `json:"decided_at,omitempty"`
	DecisionReason string     `json:"decision_reason,omitempty"`
	// OwnApproval: who proposed it approved it too, as the only curator that the club had then.
	OwnApproval bool   `json:"own_approval,omitempty"`
	Release     string `json:"release,omitempty"` // hash
}

// Changes of a proposal.
type (
	// CellProposed begins a proposal.
	CellProposed struct {
		ID       string             `json:"id"`
		Group    string             `json:"group"`
		BaseHash string             `json:"base_hash"`
		Edit     diagnosis.CellEdit `json:"edit"`
		Reason   string             `json:"reason"`
	}
	// CellProposalDecided approves, refuses or withdraws it.
	CellProposalDecided struct {
		Status ProposalStatus `json:"status"`
		Reason string         `json:"reason"`
		// OwnApproval: approved by who proposed it, the only curator then.
		OwnApproval bool `json:"own_approval,omitempty"`
	}
	// CellReleased: a release has taken it in.
	CellReleased struct {
		Release string `json:"release"` // hash
	}
)

func (*CellProposed) EventKind() string        { return "cell-proposed" }
func (*CellProposalDecided) EventKind() string { return "cell-proposal-decided" }
func (*CellReleased) EventKind() string        { return "cell-released" }

func init() {
	for _, make := range []func() Change{
		func() Change { return &CellProposed{} }, func() Change { return &CellProposalDecided{} }, func() Change { return &CellReleased{} },
	} {
		newChange[make().EventKind()] = make
	}
}

// ChangedAt is when the last event was, but for that of a release, after which none follows.
func (p *CellProposal) ChangedAt() time.Time {
	if p.DecidedAt != nil {
		return *p.DecidedAt
	}
	return p.At
}

// MayBecome checks a decision against the proposal's status and the two-curators rule. alone: the club has no other
// curator than the actor, who may then approve a change of their own, so that its tables can be changed at all.
func (p *CellProposal) MayBecome(status ProposalStatus, actor Actor, alone bool) error {
	if p.Status != ProposalOpen && !(p.Status == ProposalApproved && status != ProposalApproved) {
		return Errorf(KindConflict, "This proposal is %s already. Nothing was changed.", p.Status)
	}
	switch status {
	case ProposalApproved, ProposalRefused:
		if actor.Person == p.By && !(alone && status == ProposalApproved) {
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

// MayPublish: where there is another curator by now, a change that was approved by its own proposer is not published by
// that person too: another curator publishes it or refuses it.
func (p *CellProposal) MayPublish(actor Actor, alone bool) error {
	if !p.OwnApproval || p.By != actor.Person || alone {
		return nil
	}
	return Errorf(KindForbidden, "You proposed the change of %s in %s and approved it yourself when the club had no other curator. It has one now: nothing was published; another curator must publish it or refuse it.",
		p.Edit.Character, p.Edit.Family)
}

func (p *CellProposal) apply(e Event) error {
	switch c := e.Change.(type) {
	case *CellProposed:
		*p = CellProposal{ID: c.ID, Group: c.Group, BaseHash: c.BaseHash, Edit: c.Edit, Reason: c.Reason, Status: ProposalOpen,
			By: e.Actor, At: e.At}
	case *CellProposalDecided:
		at := e.At
		p.Status, p.DecidedBy, p.DecidedAt, p.DecisionReason = c.Status, e.Actor, &at, c.Reason
		p.OwnApproval = c.OwnApproval
	case *CellReleased:
		p.Status, p.Release = ProposalReleased, c.Release
	default:
		return fmt.Errorf("%s: event %d is %T, not a cell proposal's", e.Stream, e.Seq, e.Change)
	}
	p.Seq = e.Seq
	return nil
}

// ReplayCellProposal returns the proposed change of a cell that its events make, in order from the first.
func ReplayCellProposal(events []Event) (CellProposal, error) {
	var p CellProposal
	for _, e := range events {
		if e.Seq != p.Seq+1 {
			return CellProposal{}, fmt.Errorf("%s: event %d follows event %d", e.Stream, e.Seq, p.Seq)
		}
		if err := p.apply(e); err != nil {
			return CellProposal{}, err
		}
	}
	return p, nil
}
