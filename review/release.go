package review

import "time"

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
	// OwnApprovals are those of Proposals that were approved by who proposed them, the only curator then.
	OwnApprovals []string `json:"own_approvals,omitempty"`
	// Files are the folder of tables, by name. They stand beside the events; the hash ties them together.
	Files map[string]string `json:"-"`
}

// TablesStream is the stream of the releases of a group.
func TablesStream(group string) string { return "tables/" + group }

// TablesReleased publishes a release of a group.
type TablesReleased struct {
	Release Release `json:"release"`
}

func (*TablesReleased) EventKind() string { return "tables-released" }

func init() {
	newChange["tables-released"] = func() Change { return &TablesReleased{} }
}
