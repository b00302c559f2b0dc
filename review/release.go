package review

import (
	"time"

	"revidit/review/diagnosis"
)

// Release is one published state of the tables of a group. It never changes; its hash is that of its files.
type Release struct {
	Group     string    `json:"group"`
	Version   string    `json:"version"`
	Hash      string    `json:"hash"`
	Notes     string    `json:"notes"`
	Seq       int       `json:"seq"` // in the stream of the group: 1 is the first that was published here
	By        string    `json:"by"`
	At        time.Time `json:"at"`
	Proposals []string  `json:"proposals"` // ids of the changes that it took in
	// Files are the folder of tables, by name. They stand beside the events; the hash ties them together.
	Files map[string]string `json:"-"`
}

// TablesStream is the stream of the releases of a group.
func TablesStream(group string) string { return "tables/" + group }

// Changes of the tables.
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
	}
	// CellReleased: a release has taken it in.
	CellReleased struct {
		Release string `json:"release"` // hash
	}
	// TablesReleased publishes a release of a group.
	TablesReleased struct {
		Release Release `json:"release"`
	}
)

func (*CellProposed) EventKind() string        { return "cell-proposed" }
func (*CellProposalDecided) EventKind() string { return "cell-proposal-decided" }
func (*CellReleased) EventKind() string        { return "cell-released" }
func (*TablesReleased) EventKind() string      { return "tables-released" }

func init() {
	for _, make := range []func() Change{
		func() Change { return &CellProposed{} }, func() Change { return &CellProposalDecided{} },
		func() Change { return &CellReleased{} }, func() Change { return &TablesReleased{} },
	} {
		newChange[make().EventKind()] = make
	}
}
