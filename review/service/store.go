package service

import (
	"context"
	"io"
	"time"

	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/judgement"
	"revidit/review/proof"
)

// Store keeps events and the rows projected from them. One suite of tests (models/modelstest) holds every
// implementation to these comments. "Not found" is a KindNotFound error, never an empty value.
type Store interface {
	Reader
	// Commit writes a batch in one transaction: all of it or nothing. It returns ErrRace when an event's
	// (stream, seq) or its idempotency key is taken, where something has moved that it rests on (review.Rests), or a draft is
	// another one than the act has read.
	Commit(ctx context.Context, batch review.Batch) error
	// CompleteTestimonies makes some testimonies of specimens that were closed before there were any, and returns of how
	// many specimens; 0: none is left.
	CompleteTestimonies(ctx context.Context) (int, error)
	// CompleteGrounds makes some grounds of specimens of the time before there were any, and returns of how many; 0: none is left.
	CompleteGrounds(ctx context.Context) (int, error)
	// CompleteExtracts makes some extracts of specimens of the time before there were any, and returns of how many; 0: none is left.
	CompleteExtracts(ctx context.Context) (int, error)
	// RemoveIntake removes an intake that was not accepted, with its rows.
	RemoveIntake(ctx context.Context, id string) error
	// Expire removes some of what is past its time, and returns how many rows; 0: none is left, but for rows that somebody
	// is changing.
	Expire(ctx context.Context, past Expiry) (int, error)
	// BeginLetter notes that a letter is being sent (Letter.Begin), and says whether it is for the caller to do so: nobody else has
	// begun, and it is time. EndLetter notes what has become of it.
	BeginLetter(ctx context.Context, letter review.Letter, at time.Time) (bool, error)
	EndLetter(ctx context.Context, letter review.Letter) error
	// MailLink stores a link of an account with the digest of the token that a letter brings. An invitation that is not there any more is
	// a KindNotFound error.
	MailLink(ctx context.Context, l review.AccountLink) error
	// ReadNews notes that a person has read news, and returns it. ReadNewsUntil notes it of all that is not later than a time.
	ReadNews(ctx context.Context, person, id string, at time.Time) (review.News, error)
	ReadNewsUntil(ctx context.Context, person string, until, at time.Time) error
	// ReadNewsOf notes it of all that is of a submission and not later than a time.
	ReadNewsOf(ctx context.Context, person, submission string, until, at time.Time) error
	// KeepForm keeps a form of somebody, and the latest review.MostKept of that person alone.
	KeepForm(ctx context.Context, form review.KeptForm) error
	// SetLanguage notes in which language an actor with an account reads, with its event; a KindNotFound error where there is none.
	SetLanguage(ctx context.Context, by review.Actor, tag string) error
	// SaveSearch keeps a search of a person, who may have review.MostSavedSearches, or returns the one with the same name and query; RemoveSearch removes one, a KindNotFound error
	// where that person has none with this id.
	SaveSearch(ctx context.Context, s review.SavedSearch) (review.SavedSearch, error)
	RemoveSearch(ctx context.Context, person, id string) error
	// StoreVisit notes how far a person has come in the first visit; what was finished stays finished.
	StoreVisit(ctx context.Context, v review.Visit) error
}

// ErrRace is what Commit returns where somebody else was quicker. A KindConflict error of another kind, such as of a photo
// that another specimen has taken, stays a conflict however often the act is tried.
var ErrRace = review.Errorf(review.KindConflict, "This has just been changed by another request. Nothing of this one was stored: look at the present version and send it again.")

// Reader is the reading half of Store.
type Reader interface {
	// Answers is nil where the store answers a question that costs nothing.
	Answers(ctx context.Context) error
	// CheckPart reads the next part of what is stored, behind one or from the first, and says what is wrong with it.
	// part is its name, empty at the end, or where the database sees to itself.
	CheckPart(ctx context.Context, after string) (part string, damages []review.Coded, err error)
	// Basis reads what a decision about a specimen rests on, in one snapshot.
	Basis(ctx context.Context, asked Asked) (Basis, error)
	Submission(ctx context.Context, id string) (review.Submission, error)
	// Draft is one of a person, that has not been submitted.
	Draft(ctx context.Context, owner, id string) (review.Draft, error)
	Specimen(ctx context.Context, id string) (review.Specimen, error)
	// SubmissionsOf are all of one specimen, the oldest first.
	SubmissionsOf(ctx context.Context, specimen string) ([]review.Submission, error)
	// Openings are the events of all that persons have been shown of a specimen, by person and in order.
	Openings(ctx context.Context, specimen string) ([]review.Event, error)
	// OpenedBy says of which of some specimens a person has been shown anything.
	OpenedBy(ctx context.Context, person string, specimens []string) (map[string]bool, error)
	// Events of a stream in order, from the first; empty where there are none.
	Events(ctx context.Context, stream string) ([]review.Event, error)
	// History is the events of several streams in the order in which they were stored: by their positions among all events,
	// which never change. Events that have none yet, since others that are under way may come before them, are the last, by
	// time. Within each stream they are in order.
	History(ctx context.Context, streams ...string) ([]review.Placed, error)
	// FindHandovers lists archives that were handed over, the latest first.
	FindHandovers(ctx context.Context, most int) ([]review.Handover, error)
	// SeqAt is the number of the last event of a stream until a position, 0 where there is none.
	SeqAt(ctx context.Context, stream string, position int64) (int, error)
	// PositionBefore is the position of the last event of an earlier time, 0 where there is none. Where a clock was set back, it is
	// one behind which an event is not.
	PositionBefore(ctx context.Context, at time.Time) (int64, error)
	// FindSubmissions lists submissions, and drafts of the Viewer where that is the Owner, the latest changed first. next is the cursor of the next page, empty at the end.
	FindSubmissions(ctx context.Context, filter SubmissionFilter, page Page) (lines []SubmissionLine, next string, err error)
	// FindQueue lists what waits for a look, in the order of QueueLine.
	FindQueue(ctx context.Context, filter QueueFilter, page Page) (lines []QueueLine, next string, err error)
	// Holdings are the open submissions that a person holds at a time, the one that runs out first first.
	Holdings(ctx context.Context, person string, at time.Time) ([]review.Holding, error)
	// CountByStatus counts submissions, drafts only of that owner. It stops at MostCounted: one more stands for any number
	// above.
	CountByStatus(ctx context.Context, owner string) (map[review.Status]int, error)
	// Withheld returns the withheld label data with these ids, without those that were erased.
	Withheld(ctx context.Context, ids []string) (map[string]review.WithheldRecord, error)
	// People returns the persons with these ids; one whose name was erased has an empty Name.
	People(ctx context.Context, ids []string) (map[string]review.Person, error)
	// FindPeople lists persons with an account, by name: the first ones, at most 200.
	FindPeople(ctx context.Context, filter PeopleFilter, most int) ([]review.Person, error)
	// Curators are the ids of those who act as curators: whose account is not disabled.
	Curators(ctx context.Context) ([]string, error)
	// Policy is the one in force, DefaultPolicy when none was set.
	Policy(ctx context.Context) (review.Policy, error)
	// Uploads returns the uploaded photos with these ids, without those that there are not.
	Uploads(ctx context.Context, ids []string) (map[string]review.Upload, error)
	// Upload returns an uploaded photo, whether a specimen has it yet or not.
	Upload(ctx context.Context, id string) (review.Upload, error)
	// KnownPhotos says which of these SHA-256, in hex, are of uploaded photos, and AnyPhoto whether there is one at all.
	KnownPhotos(ctx context.Context, digests []string) (map[string]bool, error)
	AnyPhoto(ctx context.Context) (bool, error)
	// SeenPhotos are uploads of an original, by its SHA-256, and of others that look nearly the same (photo.Likeness; empty: none), the
	// latest first, at most twenty.
	SeenPhotos(ctx context.Context, sha256, look string) ([]review.Upload, error)
	LookReader
	// CurrentRelease is the hash of the release that was published last for a group, or "" where none was.
	CurrentRelease(ctx context.Context, group string) (hash string, err error)
	// Release returns a published release with its files.
	Release(ctx context.Context, hash string) (review.Release, error)
	// Releases of a group without their files, the latest first.
	Releases(ctx context.Context, group string) ([]review.Release, error)
	// Reliability is the latest snapshot of a group; of version 0 where nothing was learnt yet.
	Reliability(ctx context.Context, group string) (review.Reliability, error)
	// ReliabilityAt is the snapshot of a version, as it was then.
	ReliabilityAt(ctx context.Context, group string, version int) (review.Reliability, error)
	// ReliabilityOf is Reliability with nobody in it but these persons.
	ReliabilityOf(ctx context.Context, group string, persons []string) (review.Reliability, error)
	// EachSpecimen calls visit for every specimen of which a submission of the group has come before reviewers, with all
	// its submissions, the oldest first, in no certain order of specimens. It stops at the first error and returns it.
	EachSpecimen(ctx context.Context, group string, visit func(review.Specimen, []review.Submission) error) error
	// FindTestimonies lists what was said of closed specimens (Closed.Testimony; ids of observations are only theirs), in
	// order of closing. The size of a page has no upper bound.
	FindTestimonies(ctx context.Context, filter TestimonyFilter, page Page) (closed []review.Closed, next string, err error)
	// FindClosings are what acts of a period have left, the latest first. The size of a page has no upper bound. FewClosings says
	// whether there are at most so many, without counting more.
	FindClosings(ctx context.Context, filter ClosingFilter, page Page) (found []Closing, next string, err error)
	FewClosings(ctx context.Context, filter ClosingFilter, most int) (bool, error)
	// TestimonyWaits says whether there is one from which nothing was learnt yet, or one to complete.
	TestimonyWaits(ctx context.Context, group string) (bool, error)
	// FewTestimonies says whether there are at most so many, without counting more.
	FewTestimonies(ctx context.Context, group string, most int) (bool, error)
	CountTestimonies(ctx context.Context, group string) (TestimonyCount, error)
	// Rechecks are the submissions of a group that were drawn for a recheck, the latest drafted first, at most limit of them and
	// with no more than ID, Group, Status and Recheck; closed is how many of the group stand confirmed or undetermined. One
	// that cannot be read is left out, and unread is called with its stream; nil: it is an error.
	Rechecks(ctx context.Context, group string, limit int, unread func(stream string)) (drawn []review.Submission, closed int, err error)
	// FindDeterminations lists those that EachDetermination visits, in order of their ids, without Closed where Waiting is
	// asked for. The size of a page has no upper bound.
	FindDeterminations(ctx context.Context, filter DeterminationFilter, page Page) (found []Determined, next string, err error)
	// CountDeterminations counts them by family.
	CountDeterminations(ctx context.Context, group string) (map[string]int, error)
	// FindGrounds lists the grounds of specimens behind one, in the order of their ids: each specimen's first, then those of its
	// submissions, all of them. next is the last specimen; empty at the end. The size of a page, in rows, has no upper bound.
	FindGrounds(ctx context.Context, after string, size int) (found []review.Grounds, next string, err error)
	// Intake is one by its id, FindIntakes the latest ones, FindPlanned the rows of one behind a number: only those of which something is
	// told, or all.
	Intake(ctx context.Context, id string) (review.Intake, error)
	FindIntakes(ctx context.Context, most int) ([]review.Intake, error)
	FindPlanned(ctx context.Context, intake string, faulty bool, after, size int) ([]review.PlannedRow, error)
	// KnownSources are the specimens that are here, by the identifiers under which archives know them; what was taken back is not.
	KnownSources(ctx context.Context, sources []string) (map[string]string, error)
	// KnownNumbers are the specimens that are here, by their catalogue numbers without regard to case; what was taken back is not.
	KnownNumbers(ctx context.Context, numbers []string) (map[string]string, error)
	// IntakeFile is the file of an intake that can be read again; nil of others.
	IntakeFile(ctx context.Context, id string) ([]byte, error)
	// FindExtracts lists the extracts of specimens behind one, in the order of their ids: each specimen's first, with what is withheld of
	// it, then those of its submissions. Size bounds how many; of one specimen all come together. next is the last specimen, empty at the end.
	FindExtracts(ctx context.Context, after string, size int) (found []Extracted, next string, err error)
	// CountExtracts is how many specimens FindExtracts goes through.
	CountExtracts(ctx context.Context) (int, error)
	// CountGrounds is how many rows FindGrounds goes through.
	CountGrounds(ctx context.Context) (int, error)
	// FindTouched lists which determinations a change would touch in one way for one cause, behind one, in the order of their ids.
	FindTouched(ctx context.Context, change string, effect review.Touch, cause, after string, size int) ([]review.Touched, error)
	// CountTouchedOpened is of how many of each group a review was opened.
	CountTouchedOpened(ctx context.Context, change string) (map[review.TouchGroup]int, error)
	// FindFound lists what was found of a kind, the latest touched first.
	FindFound(ctx context.Context, kind review.FoundKind, group string, most int) ([]review.Found, error)
	// Job is how far a job has come; a KindNotFound error where nobody has ever asked for it. Jobs are those that something
	// has happened to last, the latest first, at most 200.
	Job(ctx context.Context, kind jobs.Kind, key string) (jobs.Progress, error)
	Jobs(ctx context.Context) ([]jobs.Progress, error)
	// Found is what was found last, empty where nothing was.
	Found(ctx context.Context, kind review.FoundKind, group, key string) (review.Found, error)
	CellProposal(ctx context.Context, id string) (review.CellProposal, error)
	// FindCellProposals lists those of a group, the latest first; an empty status is any.
	FindCellProposals(ctx context.Context, group string, status review.ProposalStatus) ([]review.CellProposal, error)
	// WaitingProposals are proposed changes of all groups that wait for a decision and that somebody else than a person has
	// proposed, the first proposed first, at most so many.
	WaitingProposals(ctx context.Context, notBy string, most int) ([]review.CellProposal, error)
	// SubmissionsWith are those with these ids, by id, without those that there are not. One that cannot be read is left out, and
	// unread is called with its stream; nil: it is an error.
	SubmissionsWith(ctx context.Context, ids []string, unread func(stream string)) (map[string]review.Submission, error)
	// CatalogueNumbers are those of the specimens with these ids, by id, without those that there are not.
	CatalogueNumbers(ctx context.Context, ids []string) (map[string]string, error)
	// LeftHolds are holds of open submissions that ran out before a time, the first first, at most so many.
	LeftHolds(ctx context.Context, before time.Time, most int) ([]LeftHold, error)
	// ReadBelow is what is known of some persons who read below what their role begins with (review.PersonKnown.ReadsBelow), by
	// person, at most so many.
	ReadBelow(ctx context.Context, group string, most int) (map[string]review.PersonKnown, error)
	// Series is one with the count of its submissions.
	Series(ctx context.Context, id string) (review.Series, review.SeriesCount, error)
	// SeriesOf are those of which a person is the member or the mentor, the latest changed first, at most 50.
	SeriesOf(ctx context.Context, person string) ([]review.Series, error)
	// WaitingSeries are those that wait for a mentor, the first begun first, at most so many.
	WaitingSeries(ctx context.Context, most int) ([]review.Series, error)
	// LateSeries are open submissions of series that came before their mentors before a time, the first first, at most so many.
	LateSeries(ctx context.Context, before time.Time, most int) ([]LateAnswer, error)
	// Sheet is one of labels that was printed. FindSheets are the latest of a person, of everybody where that is empty, at most so
	// many; SheetsOf are the ids of those with a label of a specimen.
	Sheet(ctx context.Context, id string) (review.Sheet, error)
	FindSheets(ctx context.Context, person string, most int) ([]review.Sheet, error)
	SheetsOf(ctx context.Context, specimen string) ([]string, error)
	// Printed says of the labels of some specimens how often they were printed, without those that never were.
	Printed(ctx context.Context, specimens []string) (map[review.PinLabel]review.Printed, error)
	// SubmittedBy is how many submissions of a person have ever come before reviewers, counted no further than most.
	SubmittedBy(ctx context.Context, person string, most int) (int, error)
	// DisabledOwners are persons whose account is disabled and of whom submissions are open or returned, by id, at most so many.
	DisabledOwners(ctx context.Context, most int) ([]string, error)
	// EachDetermination calls visit for every open, returned or confirmed submission of a group, with its specimen and all submissions of that specimen, in no certain order.
	// It stops at the first error and returns it.
	EachDetermination(ctx context.Context, group string, visit func(review.Submission, review.Specimen, []review.Submission) error) error
	// LastPosition is the highest position of an event, 0 where there is none. HeadsAfter are the next events behind one, in order.
	LastPosition(ctx context.Context) (int64, error)
	HeadsAfter(ctx context.Context, position int64, most int) ([]EventHead, error)
	// LogTree is the tree of all events as far as it goes; LeavesAfter are events as leaves of it, in order behind a position, and
	// LeafOf is one of them. Checkpoints are those of more events than a number, the shortest tree first, at most so many;
	// NewestCheckpoint is that of the longest.
	LogTree(ctx context.Context) (proof.Tree, error)
	LeavesAfter(ctx context.Context, position int64, most int) ([]proof.Leaf, error)
	LeafOf(ctx context.Context, stream string, seq int) (proof.Leaf, error)
	Checkpoints(ctx context.Context, after int64, most int) ([]review.SignedCheckpoint, error)
	NewestCheckpoint(ctx context.Context) (review.SignedCheckpoint, error)
	// FindNews lists what a person is told, the latest first.
	FindNews(ctx context.Context, filter NewsFilter, page Page) (lines []NewsLine, next string, err error)
	// CountNews is how much of it is not read, and stops at MostNewsCounted: one more stands for any number above.
	CountNews(ctx context.Context, filter NewsFilter) (int, error)
	// Mailbox is that of a person; the zero value with the person where there is none.
	Mailbox(ctx context.Context, person string) (review.Mailbox, error)
	// DueMailboxes are some of which a letter may be due: confirmed, of an account that is not disabled, with news that was not
	// looked through yet, is not read and no later than settled.
	DueMailboxes(ctx context.Context, at, settled time.Time, most int) ([]DueMailbox, error)
	// WaitingLetters are some that are to be sent, the oldest first.
	WaitingLetters(ctx context.Context, at time.Time, most int) ([]review.Letter, error)
	// LastLetter is the latest one of a person; a KindNotFound error where there is none.
	LastLetter(ctx context.Context, person string) (review.Letter, error)
	// ResetRequest is what somebody has typed who asks for another password, by the id of the letter. Reachable are accounts with that
	// login or that confirmed address, at most so many. CountResets are how many links for another password of a person can be followed.
	ResetRequest(ctx context.Context, id string) (typed string, err error)
	Reachable(ctx context.Context, typed string, most int) ([]Reachable, error)
	CountResets(ctx context.Context, person string, now time.Time) (int, error)
	// InvitationOf is the open invitation of somebody who has no account yet.
	InvitationOf(ctx context.Context, person string, now time.Time) (review.AccountLink, error)
	// Language is the tag of the language that a person has chosen; empty where none was.
	Language(ctx context.Context, person string) (string, error)
	// KeptForm is one that was kept for a person.
	KeptForm(ctx context.Context, person, id string) (review.KeptForm, error)
	// SavedSearches are those of a person, the oldest first.
	SavedSearches(ctx context.Context, person string) ([]review.SavedSearch, error)
	// FindTurns are events of some kinds of a period, the latest first; CountTurns counts them, at most so many. Kinds are of those by which a
	// submission stands otherwise: submitted, confirmed, redetermined, undetermined, withdrawn, reopened. TurnsOf are all of
	// some submissions, in order.
	FindTurns(ctx context.Context, kinds []string, period review.Period, page Page) (found []Turn, next string, err error)
	CountTurns(ctx context.Context, kinds []string, period review.Period, most int) (int, error)
	TurnsOf(ctx context.Context, submissions []string) (map[string][]Turn, error)
	// CountFamilies are how many submissions were confirmed in a period, by group and family, of the latest so many acts. SettledBefore says
	// whether one of a family was confirmed before a time.
	CountFamilies(ctx context.Context, period review.Period, most int) ([]FamilyCount, error)
	SettledBefore(ctx context.Context, group, family string, before time.Time) (bool, error)
	// CountOfPerson counts what a person has determined and said, each at most so many.
	CountOfPerson(ctx context.Context, person string, most int) (PersonCount, error)
	// Visit is how far a person has come in the first visit; of step 0 where it was not begun.
	Visit(ctx context.Context, person string) (review.Visit, error)
	// HasActed says whether a person has a submission or a draft, has judged any, or has proposed a change of the tables.
	HasActed(ctx context.Context, person string) (bool, error)
	// Served returns what a person's idempotency key has made (Batch.Made), and the digest of the request.
	Served(ctx context.Context, person, key string) (made, digest string, err error)
}

// Expiry says from which time on what only somebody once waited for is kept.
type Expiry struct {
	Uploads  time.Time // that no specimen and no draft took
	Keys     time.Time // idempotency keys
	Forms    time.Time // that were sent after the login had run out
	News     time.Time // read or not
	Letters  time.Time // by when they were made
	Links    time.Time // of accounts, that could not be followed any more by then
	Jobs     time.Time // how far jobs have come that are done or given up
	Sessions time.Time // logins that had run out by then, and attempts to log in that no longer count
}

// Blobs keeps photo bytes under names that never change what they stand for.
type Blobs interface {
	// Put stores bytes under a name, durably before it returns. Storing the same name again is no error, and mends what has
	// been damaged since.
	Put(ctx context.Context, name string, data []byte) error
	// Open returns a reader that the caller closes, or a KindNotFound error. It finds what was set aside, too.
	Open(ctx context.Context, name string) (io.ReadCloser, error)
	Sweeper
}

// Sweeper takes away bytes that nothing names, in two steps: what was set aside is still found, and can be put back until
// it is discarded. Names that are not there (any more) are passed over; each method returns with how many names it has
// done something, also where it stops at an error.
type Sweeper interface {
	// Stored lists names, in an order that stays the same: at most so many after one, from the first where that is empty.
	// Names that no bytes can be opened by are rests of writing that was cut short.
	Stored(ctx context.Context, after string, most int) ([]string, error)
	// StoredAside does so with those that were set aside.
	StoredAside(ctx context.Context, after string, most int) ([]string, error)
	// SetAside sets aside what was put last before a time.
	SetAside(ctx context.Context, names []string, before time.Time) (int, error)
	// PutBack undoes SetAside.
	PutBack(ctx context.Context, names []string) (int, error)
	// Discard removes for good what was set aside before a time.
	Discard(ctx context.Context, names []string, before time.Time) (int, error)
}

// SubmissionFilter narrows FindSubmissions; empty fields do not narrow. What was never opened appears only where Owner
// is the Viewer.
type SubmissionFilter struct {
	Viewer   string // person who asks
	Owner    string
	Specimen string
	// Specimens: only submissions of these specimens; nil does not narrow.
	Specimens []string
	// IDs: only these submissions; nil does not narrow.
	IDs    []string
	Status review.Status
	Group  string
	Family string
	// Text is looked for, without regard to case, in catalogue number, family and scientific name; one of fewer than
	// SearchAnywhere characters only at their beginning.
	Text string
	// Doubtful: only submissions with a contradiction, of those that are closed or the viewer's own: whether an open
	// one is contradicted may give away what other reviewers have said.
	Doubtful bool
	// Parted: only closed determinations that a panel does not bear out, and that no curator has upheld since
	// (review.Submission.Parted).
	Parted bool
	// Series: only submissions of this beginner's series.
	Series string
	// Determiner: only submissions that have come before reviewers, of a name that this person gave.
	Determiner string
	// Judge and Said: only closed submissions of which this person said that; what is said of others is sealed.
	Judge string
	Said  Said
	// Against: only submissions with a contradiction of this kind, of those that Doubtful is of.
	Against judgement.ContradictionKind
	// Release: only submissions that were last judged with the tables of this hash.
	Release string
	// From and Until bound when they were last changed: not before From, and before Until; zero times do not.
	From, Until time.Time
	// Slips: only drafts of the Owner of a name that stands on an old slip: it is worded there, or somebody else gave it.
	Slips bool
}

// Said is what somebody said of a submission.
type Said string

const (
	SaidAnything  Said = ""
	SaidConfirmed Said = "confirmed" // an observation, at least
	SaidDisputed  Said = "disputed"
	SaidAgrees    Said = "agrees" // with the name
	SaidAnother   Said = "another"
)

// AllSaid are what a list can be narrowed by.
var AllSaid = []Said{SaidConfirmed, SaidDisputed, SaidAgrees, SaidAnother}

// OfOpened says whether the filter asks for something that no draft has.
func (f SubmissionFilter) OfOpened() bool {
	return f.Determiner != "" || f.Judge != "" || f.Against != "" || f.Release != ""
}

// LateAnswer is an open submission of a series, and since when it waits for its mentor.
type LateAnswer struct {
	Mentor, Submission string
	Since              time.Time
}

// LeftHold is a hold that has run out, of a submission that is open still.
type LeftHold struct {
	Person, Submission string
	Until              time.Time
}

// PeopleFilter narrows FindPeople; empty fields do not narrow.
type PeopleFilter struct {
	// Name is what the name, or a later word of it, begins with, without regard to case.
	Name  string
	Roles []review.Role  // any of them
	After *review.Person // only whom the order by name puts behind; not together with Name
}

// QueueFilter narrows the queue; empty fields do not narrow. A submission of which the viewer has given the name to the
// specimen in another one stands in it with OwnName.
type QueueFilter struct {
	AsOf time.Time // holds that have run out by then are left out of the lines
	// Viewer is who asks: submissions that this person owns or determined are left out, those that the person has judged
	// until there is something new to see (Submission.Evidence), and of the rechecks those that the person knows
	// (Submission.KnownTo).
	Viewer string
	// Rechecks: closed submissions whose panel is not complete take part, unless the filter names a family.
	Rechecks bool
	// Weights are what a look by the viewer tells, by region of the body, in units of what it tells by a reviewer of whom
	// nothing else is known; 1 where a region is not named.
	Weights map[string]float64
	Group   string
	Family  string
	Trip    string
	Drawer  string // storage place
	// Families are those that the viewer is named for; empty: all.
	Families review.Families
	// Machines are those that the viewer has given a token: what they own or determined is left out as the viewer's own.
	Machines review.Machines
}

// Extracted is an extract as it is stored, with the salt and the sealed text of what is withheld of its specimen; both are empty where
// that was erased.
type Extracted struct {
	review.Extract
	Salt   []byte
	Sealed string
}

// SubmissionLine is a submission in a list.
type SubmissionLine struct {
	ID              string           `json:"id"`
	Status          review.Status    `json:"status"`
	Group           string           `json:"group"`
	Family          string           `json:"family"`
	Qualifier       review.Qualifier `json:"qualifier,omitempty"`
	ScientificName  string           `json:"scientific_name,omitempty"`
	Doubted         review.Rank      `json:"doubted,omitempty"` // word of ScientificName before which Qualifier stands
	Specimen        string           `json:"specimen"`
	CatalogueNumber string           `json:"catalogue_number"`
	Trip            string           `json:"trip,omitempty"`
	Drawer          string           `json:"drawer,omitempty"`
	Owner           string           `json:"owner"`
	OwnerName       string           `json:"owner_name"`
	// Sealed: the three numbers below are left out, since they would give away what others have said.
	Sealed         bool       `json:"sealed,omitempty"`
	Confidence     float64    `json:"confidence"`
	Leading        string     `json:"leading"` // family that leads the ranking
	Contradictions int        `json:"contradictions"`
	Photo          string     `json:"photo,omitempty"` // first photo
	Series         string     `json:"series,omitempty" doc:"The beginner's series that it is part of; its member is shown no numbers"`
	Reviewers      int        `json:"reviewers"` // how many have looked
	OpenedAt       *time.Time `json:"opened_at,omitempty"`
	ChangedAt      time.Time  `json:"changed_at"`
	HeldBy         string     `json:"held_by,omitempty"`
	HeldUntil      *time.Time `json:"held_until,omitempty"`
	// Blind: the viewer is to look at it, or at another submission of the specimen, before anything else of it is shown;
	// name, owner and drawer are left out. Look is the submission to look at; empty while it waits for its owner.
	Blind bool   `json:"blind,omitempty"`
	Look  string `json:"look,omitempty"`
	// What decides on Blind; not for people.
	Draw    *review.Draw `json:"-"`
	KnownTo []string     `json:"-"`
	// What decides whether Photo is shown; not for people.
	LabelPhotos   []string `json:"-"` // of the specimen, those that show its labels
	SpecimenOwner string   `json:"-"`
	RecheckOpen   bool     `json:"-"` // closed, drawn for a recheck, and the panel is not complete
}

// QueueLine is a submission in the queue. Of five places four go by Gain, the largest first, and the fifth to the one that
// has waited longest, so that nothing waits for ever because it is obvious; where nothing is left of which a look tells
// anything, all go by how long they have waited. Of equal ones the lower id comes first. A recheck has no gain, and waits
// from the day on which it was drawn.
type QueueLine struct {
	SubmissionLine
	// Gain is the expected information of one more look by the viewer, in bits: the largest of Submission.Gains, each
	// rounded to a millionth and times the viewer's weight for the region. Region is the one it is for; empty where nothing
	// is expected. Both, and LongestWaiting, are left out of a line that is Blind.
	Gain       float64   `json:"gain"`
	Region     string    `json:"region,omitempty"`
	Recheck    bool      `json:"recheck,omitempty"`
	WaitsSince time.Time `json:"waits_since"`
	// LongestWaiting: it has its place because it has waited longest, not by its gain.
	LongestWaiting bool `json:"longest_waiting,omitempty"`
	// OwnName: the viewer has given this name to the specimen, so that only what others observed is theirs to judge.
	OwnName bool `json:"own_name,omitempty"`
	// DaysWaited are whole days since WaitsSince.
	DaysWaited int `json:"days_waited"`
	// Why it stands where it stands, as a code; the other fields are what it goes by. Reason is the same in words, which the API fills in.
	Why    QueueWhy `json:"why" enum:"recheck,blind,others,longest,waited,gain" doc:"Why it stands where it stands: drawn for a blind recheck; drawn for a blind look; others have looked, and what they say is closed; waited longest of those left; waited; what a look is expected to tell"`
	Reason string   `json:"reason" doc:"why, in words"`
}
