package jobs

import (
	"encoding/json"
	"fmt"
	"slices"
)

const (
	// KindLearn takes what has been closed or rechecked in a group into what is known of its people. Enters: an act that
	// closes a submission or completes a panel. Leaves: the snapshot of reliability, with the event behind it. A crash
	// leaves the snapshot before. Derived from: closed submissions that the snapshot has not counted.
	KindLearn Kind = "learn"
	// KindRefit weighs all reports on a group together again. Enters: time, or a curator. Leaves: a new snapshot of
	// reliability. A crash leaves the snapshot before; the slices so far are in the cursor. Derived from: a snapshot with
	// reports that came after its last refit, when that is too old.
	KindRefit Kind = "refit"
	// KindReassess assesses the open and returned submissions of a group with the tables in force. Enters: a release, or a
	// curator. Leaves: an event and a new row for each submission that changes. A crash leaves some on the former tables,
	// after the cursor. Derived from: open submissions whose assessment names another release than the one in force.
	KindReassess Kind = "reassess"
	// KindPreview tells what a change of tables would do to all determinations that stand. Enters: a curator who looks at
	// a change. Leaves: the effect, kept by tables, policy and reliability. A crash leaves no effect, and the counts so far
	// in the cursor. Derived from: its arguments alone; a lost one is asked for again by the page that waits for it.
	KindPreview Kind = "preview"
	// KindDoubts finds the determinations that one release doubts and another did not. Enters: a release. Leaves: rows for
	// the pair. A crash leaves the rows before the cursor. Derived from: pairs of releases in use without such rows.
	KindDoubts Kind = "doubts"
	// KindReweigh tells what other tables, another policy or another reliability would do to all that is settled. Enters: a curator who
	// asks. Leaves: the finding, with a row for each determination that would be touched. A crash leaves those so far, with the place
	// where the next slice goes on. Derived from: its finding under way; a lost one is asked for again by who waits for it.
	KindReweigh Kind = "reweigh"
	// KindOpenReviews opens reviews of determinations that a curator has picked from a reassessment. Enters: that curator. Leaves: an
	// event for each. A crash leaves some of them; one that was opened is not opened again. Derived from: its arguments alone.
	KindOpenReviews Kind = "open-reviews"
	// KindTakeIn takes in the specimens of a plan that a curator has accepted. Enters: that curator. Leaves: specimens with their events.
	// A crash leaves some of them, with the row where the next slice goes on. Derived from: its arguments and the rows of the plan.
	KindTakeIn Kind = "take-in"
	// KindTakeBack takes back what an intake has brought. Enters: a curator. Leaves: an event for each specimen. A crash leaves some; one
	// that was taken back is not taken back again. Derived from: its arguments and the rows of the plan.
	KindTakeBack Kind = "take-back"
	// KindFigures makes a dated snapshot of figures that do not add up from parts, such as agreement or calibration.
	// Enters: time, or a curator. Leaves: the snapshot. A crash leaves the snapshot before. Derived from: closed
	// submissions after a snapshot that is too old.
	KindFigures Kind = "figures"
	// KindSweepPhotos sets photo bytes aside that no row names, and removes what was set aside long ago. Enters: time.
	// Leaves: fewer files, and the time of the sweep. A crash leaves some of them. Derived from: the time of the last sweep.
	KindSweepPhotos Kind = "sweep-photos"
	// KindCompletePhotos makes what photos of earlier programs lack: the middle copy, and what they look like. Enters: time. Leaves: bytes, and a
	// look for each. A crash leaves some of them. Derived from: photos without a look.
	KindCompletePhotos Kind = "complete-photos"
	// KindExpire removes uploads that no specimen took, idempotency keys, logins that have run out, and rows of jobs that
	// have ended, where they are too old. Enters: time. Leaves: fewer rows, and the time of the look. A crash leaves some of
	// them. Derived from: the time of the last look.
	KindExpire Kind = "expire"
	// KindMail makes letters of news for those who are due one, and sends what waits. Enters: time, or somebody who chooses an
	// address. Leaves: letters, each made once for its news, and sent. A crash leaves letters that are sent by the next run; one
	// that was under way is sent again as the same message. Derived from: news after the last letter, letters that were not sent.
	KindMail Kind = "mail"
	// KindCheck reads the database through and says whether it is sound. Enters: a process that begins, and time. Leaves: what
	// was found. A crash leaves what was found before. Derived from: the time of the last check.
	KindCheck Kind = "check"
	// KindProof brings the tree of all events up to the last one and signs what it is. Enters: time. Leaves: tiles and a
	// checkpoint. A crash leaves a shorter tree. Derived from: events behind the newest checkpoint.
	KindProof Kind = "proof"
	// KindSendCheckpoint brings the newest checkpoint outside the database. Enters: time. Leaves: a file, a letter or a call
	// elsewhere, and the time. A crash may send the same one again, which says the same. Derived from: the time of the last one.
	KindSendCheckpoint Kind = "send-checkpoint"
)

// ranks of the kinds: of two that wait, the one with the lower rank begins first. 1 to 4.
var ranks = map[Kind]int{
	KindLearn:          1, // quick, and the next act is weighed by it
	KindReassess:       2,
	KindPreview:        2, // somebody waits for it
	KindMail:           2, // somebody waits for it
	KindReweigh:        2, // somebody waits for it
	KindOpenReviews:    2,
	KindTakeIn:         2, // somebody waits for it
	KindTakeBack:       2,
	KindDoubts:         3,
	KindFigures:        3,
	KindRefit:          3,
	KindSweepPhotos:    4,
	KindExpire:         4,
	KindCompletePhotos: 4,
	KindCheck:          4,
	KindProof:          3,
	KindSendCheckpoint: 3,
}

// Rank of a kind, 1 to 4: of two jobs that wait, the one with the lower rank begins first.
func (k Kind) Rank() int { return ranks[k] }

// Kinds are all kinds, in the order of their names.
func Kinds() []Kind {
	kinds := make([]Kind, 0, len(ranks))
	for k := range ranks {
		kinds = append(kinds, k)
	}
	slices.Sort(kinds)
	return kinds
}

// Group are the arguments of a job about one group of tables.
type Group struct {
	Group string `json:"group"`
}

// Pair are the arguments of KindDoubts: hashes of two releases of a group.
type Pair struct {
	Group string `json:"group"`
	From  string `json:"from"`
	To    string `json:"to"`
}

// Change are the arguments of KindPreview: edits of the tables of a group with a hash, in the JSON of their package.
type Change struct {
	Group string          `json:"group"`
	Base  string          `json:"base"` // hash of the release that is edited
	Edits json.RawMessage `json:"edits"`
}

// Which are the arguments of KindFigures.
type Which struct {
	Group string `json:"group"`
	Which string `json:"which"` // for example "agreement"
	// Period is that of the figures, as text (review.Period.Key); empty: all of the collection, as it is.
	Period string `json:"period,omitempty"`
}

// Learn is the job of KindLearn for a group.
func Learn(group string) Job { return Job{Kind: KindLearn, Key: group, Args: encoded(Group{group})} }

// Refit is the job of KindRefit for a group.
func Refit(group string) Job { return Job{Kind: KindRefit, Key: group, Args: encoded(Group{group})} }

// Reassess is the job of KindReassess for a group; release is the hash of the tables in force.
func Reassess(group, release string) Job {
	return Job{Kind: KindReassess, Key: group, Wanted: release, Args: encoded(Group{group})}
}

// Preview is the job of KindPreview. digest names the change, and whatever else the effect rests on.
func Preview(c Change, digest string) Job {
	return Job{Kind: KindPreview, Key: c.Group + "/" + digest, Args: encoded(c)}
}

// Reweighed are the arguments of KindReweigh.
type Reweighed struct {
	Group string `json:"group"`
	Key   string `json:"key"` // of the finding
}

// Reweigh is the job of KindReweigh.
func Reweigh(r Reweighed) Job {
	return Job{Kind: KindReweigh, Key: r.Group + "/" + r.Key, Args: encoded(r)}
}

// OpenReviews is the job of KindOpenReviews. digest names what was picked, by whom.
func OpenReviews(r Reweighed, digest string, picked any) Job {
	return Job{Kind: KindOpenReviews, Key: r.Group + "/" + r.Key + "/" + digest, Args: encoded(picked)}
}

// TakeIn is the job of KindTakeIn for an intake.
func TakeIn(intake string, args any) Job {
	return Job{Kind: KindTakeIn, Key: intake, Args: encoded(args)}
}

// TakeBack is the job of KindTakeBack for an intake.
func TakeBack(intake string, args any) Job {
	return Job{Kind: KindTakeBack, Key: intake, Args: encoded(args)}
}

// Doubts is the job of KindDoubts for two releases of a group.
func Doubts(p Pair) Job {
	return Job{Kind: KindDoubts, Key: p.Group + "/" + p.From + "/" + p.To, Args: encoded(p)}
}

// Figures is the job of KindFigures.
func Figures(w Which) Job {
	key := w.Group + "/" + w.Which
	if w.Period != "" {
		key += "/" + w.Period
	}
	return Job{Kind: KindFigures, Key: key, Args: encoded(w)}
}

// SweepPhotos is the job of KindSweepPhotos.
func SweepPhotos() Job { return Job{Kind: KindSweepPhotos} }

// CompletePhotos is the job of KindCompletePhotos.
func CompletePhotos() Job { return Job{Kind: KindCompletePhotos} }

// Expire is the job of KindExpire.
func Expire() Job { return Job{Kind: KindExpire} }

// Mail is the job of KindMail.
func Mail() Job { return Job{Kind: KindMail} }

// Proof is the job of KindProof.
func Proof() Job { return Job{Kind: KindProof} }

// SendCheckpoint is the job of KindSendCheckpoint.
func SendCheckpoint() Job { return Job{Kind: KindSendCheckpoint} }

// Check is the job of KindCheck.
func Check() Job { return Job{Kind: KindCheck} }

// Decode reads the arguments of a job.
func Decode[A any](j Job) (args A, err error) {
	if err := json.Unmarshal(j.Args, &args); err != nil {
		return args, fmt.Errorf("decode the arguments of job %s %q: %w", j.Kind, j.Key, err)
	}
	return args, nil
}

// encoded panics where the edits of a Change are no JSON; nothing else here can fail.
func encoded(args any) json.RawMessage {
	text, err := json.Marshal(args)
	if err != nil {
		panic(err)
	}
	return text
}
