package review

import (
	"fmt"
	"time"
)

// ArchiveHandedOver: somebody took an archive of the collection out of the house. It stands in a stream of its own. What was in it is
// told by the digest of the file, and by the version of the policy that made its places coarse; titles and addresses that were typed for
// it are in the file alone.
type ArchiveHandedOver struct {
	ID         string `json:"id"`
	Format     string `json:"format" doc:"darwin-core-archive"`
	SHA256     string `json:"sha256" doc:"Of the file"`
	License    string `json:"license" doc:"IRI"`
	Policy     int    `json:"policy" doc:"Version of the policy by which places were made coarse"`
	Collectors bool   `json:"collectors,omitempty" doc:"It names collectors"`
	// Occurrences, Identifications and Media are how many rows it has.
	Occurrences     int `json:"occurrences"`
	Identifications int `json:"identifications"`
	Media           int `json:"media"`
}

// EventKind implements Change.
func (*ArchiveHandedOver) EventKind() string { return "archive-handed-over" }

func init() {
	newChange["archive-handed-over"] = func() Change { return &ArchiveHandedOver{} }
}

// HandoverStream is the stream of an archive that was handed over: one event.
func HandoverStream(id string) string { return "handover/" + id }

// Handover is an archive that was handed over.
type Handover struct {
	ArchiveHandedOver
	By string    `json:"by"` // person
	At time.Time `json:"at"`
}

// HandoverOf is what an event of such a stream tells.
func HandoverOf(e Event) (Handover, error) {
	c, ok := e.Change.(*ArchiveHandedOver)
	if !ok || e.Seq != 1 {
		return Handover{}, fmt.Errorf("%s: event %d is %T, not that of an archive that was handed over", e.Stream, e.Seq, e.Change)
	}
	return Handover{ArchiveHandedOver: *c, By: e.Actor, At: e.At}, nil
}

// Handover writes that an archive leaves the house.
func (w *Writer) Handover(c *ArchiveHandedOver) {
	w.Batch.Events = append(w.Batch.Events, w.Event(HandoverStream(c.ID), 1, c))
}
