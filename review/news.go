package review

import (
	"crypto/sha256"
	"encoding/base32"
	"fmt"
	"slices"
	"strings"
	"time"
)

// News is what happened to something that concerns a person, told to that person alone. It is made of an event, and holds ids and
// codes: words are made where it is shown. Who is told may be shown the same on the page of the submission; who reviews is told by
// news no more than a list of submissions tells everybody, since what others said is recorded when it is shown, and news is not.
type News struct {
	ID         string     `json:"id"`
	Person     string     `json:"-"` // who is told
	Code       NewsCode   `json:"code"`
	Group      string     `json:"group,omitempty"`      // of tables
	Submission string     `json:"submission,omitempty"` // id
	Specimen   string     `json:"specimen,omitempty"`   // id
	Proposal   string     `json:"proposal,omitempty"`   // id, of a cell
	Actor      string     `json:"actor"`                // person id
	At         time.Time  `json:"at"`
	About      NewsAbout  `json:"about"`
	ReadAt     *time.Time `json:"read_at,omitempty"` // nil: not read yet
}

// NewsAbout is what there is to tell beside the code; most of it is empty.
type NewsAbout struct {
	Disputed int            `json:"disputed,omitempty"` // characters of which somebody sees another state
	Name     OpinionKind    `json:"name,omitempty"`     // what was said of the name
	Want     Want           `json:"want,omitempty"`     // what is asked for
	View     string         `json:"view,omitempty"`     // of the photo that is asked for
	Decision ProposalStatus `json:"decision,omitempty"`
	Release  string         `json:"release,omitempty"` // hash of tables
}

// NewsCode says what has happened.
type NewsCode string

const (
	// NewsReturned: a reviewer asks the owner for something.
	NewsReturned NewsCode = "returned"
	// NewsAnswered: the owner has added something, told to who asked and to who has looked.
	NewsAnswered NewsCode = "answered"
	// NewsProposalWaits: a curator proposes a change of the tables, told to the others.
	NewsProposalWaits NewsCode = "proposal-waits"
	// NewsDisputed: a reviewer sees other states than the owner, or gives another name.
	NewsDisputed NewsCode = "disputed"
	// NewsLookedAt: a reviewer has looked at the owner's submission.
	NewsLookedAt NewsCode = "looked-at"
	// NewsConfirmed: the name stands, told to the owner and to who has looked, as are the next three.
	NewsConfirmed    NewsCode = "confirmed"
	NewsRedetermined NewsCode = "redetermined"
	NewsUndetermined NewsCode = "undetermined"
	NewsReopened     NewsCode = "reopened"
	// NewsDoubted: tables in force put a name in doubt that stands, told to the owner once for the tables that it was closed with.
	NewsDoubted NewsCode = "doubted"
	// NewsRelabelled: somebody else has corrected the label of a specimen.
	NewsRelabelled NewsCode = "relabelled"
	// NewsProposalDecided: another curator has decided, told to who proposed it.
	NewsProposalDecided NewsCode = "proposal-decided"
	// NewsLoginTakenOff: a curator has taken the museum's login off the account.
	NewsLoginTakenOff NewsCode = "museum-login-taken-off"
)

// NewsCodes are all codes, those first that wait for the person who is told.
var NewsCodes = []NewsCode{NewsReturned, NewsAnswered, NewsProposalWaits, NewsDisputed, NewsLookedAt, NewsConfirmed, NewsRedetermined, NewsUndetermined,
	NewsReopened, NewsDoubted, NewsRelabelled, NewsProposalDecided, NewsLoginTakenOff}

// Waits says whether news of the kind wait for something that the person does.
func (c NewsCode) Waits() bool {
	return c == NewsReturned || c == NewsAnswered || c == NewsProposalWaits
}

// Valid says whether the code is one of NewsCodes.
func (c NewsCode) Valid() bool { return slices.Contains(NewsCodes, c) }

// NewsFor are the codes of which a role is told: what is said to reviewers and to curators is kept from who is neither any more.
func NewsFor(actor Actor) []NewsCode {
	return slices.DeleteFunc(slices.Clone(NewsCodes), func(c NewsCode) bool {
		switch c {
		case NewsAnswered:
			return !May(actor, ActReadQueue, "")
		case NewsProposalWaits, NewsProposalDecided:
			return !May(actor, ActEditTables, "")
		}
		return false
	})
}

// SeenBy is news as the actor may read it. What others said of a specimen is told to those of whom it is recorded by the page
// that shows it, and by nothing before.
func (n News) SeenBy(actor Actor) News {
	if n.Code == NewsDisputed || n.Code == NewsLookedAt {
		if RecordsOpening(actor) {
			n.Code, n.About = NewsLookedAt, NewsAbout{}
		}
	}
	return n
}

// newsID names news: the same event tells a person the same thing once, however often it is worked out. of tells two things apart
// that one event tells.
func newsID(person string, e Event, of string) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%s\x00%s\x00%d\x00%s", person, e.Stream, e.Seq, of))
	return strings.ToLower(base32.HexEncoding.WithPadding(base32.NoPadding).EncodeToString(sum[:16]))
}

// DoubtedNews tells the owner that the tables in force put a submission in doubt that was closed with other tables.
func DoubtedNews(s *Submission, release string, at time.Time) News {
	n := News{Person: s.Owner, Code: NewsDoubted, Group: s.Group, Submission: s.ID, Specimen: s.Specimen, Actor: ProgramActor, At: at, About: NewsAbout{Release: release}}
	n.ID = newsID(n.Person, Event{Stream: SubmissionStream(s.ID)}, string(NewsDoubted)+s.Assessment.TablesHash)
	return n
}

// LoginTakenOffNews tells a person that somebody else has taken the museum's login off the account.
func LoginTakenOffNews(e Event, person string) News {
	return News{ID: newsID(person, e, ""), Person: person, Code: NewsLoginTakenOff, Actor: e.Actor, At: e.At}
}

// NewsOf is what a batch tells: of its events, which are those of an act or whole streams, and what it tells itself.
func NewsOf(batch *Batch) []News {
	t := newsTeller{batch: batch, made: slices.Clone(batch.News), looks: map[string]int{}}
	for i := range batch.Submissions {
		t.submission(&batch.Submissions[i])
	}
	for i := range batch.Specimens {
		t.specimen(&batch.Specimens[i])
	}
	for i := range batch.Proposals {
		t.proposal(&batch.Proposals[i])
	}
	return t.made
}

// TellsCurators says whether news of a batch are for all curators, whom it then has to name.
func (b *Batch) TellsCurators() bool {
	return slices.ContainsFunc(b.Events, func(e Event) bool { _, proposed := e.Change.(*CellProposed); return proposed })
}

type newsTeller struct {
	batch *Batch
	made  []News
	looks map[string]int // places in made, by who looked, at what and when
}

// tell adds news for a person, but for who did it.
func (t *newsTeller) tell(person string, e Event, n News) {
	if person == "" || person == e.Actor {
		return
	}
	n.ID, n.Person, n.Actor, n.At = newsID(person, e, ""), person, e.Actor, e.At
	t.made = append(t.made, n)
}

// parties are who is told of a submission: who asked for something last, and who has looked.
type parties struct {
	asked  string
	looked []string
}

// partiesBefore are those before an act; the act's own persons are told nothing of it.
func partiesBefore(s *Submission, events []Event) parties {
	var p parties
	if events[0].Seq == 1 { // a whole stream: nobody yet
		return p
	}
	for _, v := range s.Verdicts {
		p.look(v.By)
	}
	for _, o := range s.Opinions {
		p.look(o.By)
	}
	for _, r := range s.Returns {
		if r.By != s.Owner { // what nobody asked for is a return of its owner's
			p.asked = r.By
		}
	}
	return p
}

func (p *parties) look(person string) {
	if !slices.Contains(p.looked, person) {
		p.looked = append(p.looked, person)
	}
}

func (t *newsTeller) submission(s *Submission) {
	stream := SubmissionStream(s.ID)
	var events []Event
	for _, e := range t.batch.Events {
		if e.Stream == stream {
			events = append(events, e)
		}
	}
	if len(events) == 0 {
		return
	}
	p := partiesBefore(s, events)
	for _, e := range events {
		t.happened(s, &p, e)
	}
}

func (t *newsTeller) happened(s *Submission, p *parties, e Event) {
	n := News{Group: s.Group, Submission: s.ID, Specimen: s.Specimen}
	switch c := e.Change.(type) {
	case *VerdictsGiven:
		p.look(e.Actor)
		n.About.Disputed = len(slices.DeleteFunc(slices.Clone(c.Verdicts), func(v Verdict) bool { return v.Kind != VerdictDispute }))
		t.lookedAt(s, e, n)
	case *OpinionGiven:
		p.look(e.Actor)
		n.About.Name = c.Opinion.Kind
		t.lookedAt(s, e, n)
	case *Returned:
		p.asked = c.Return.By
		n.Code, n.About = NewsReturned, NewsAbout{Want: c.Return.Want, View: c.Return.View}
		t.tell(s.Owner, e, n)
	case *Answered:
		n.Code = NewsAnswered
		t.tell(p.asked, e, n)
		for _, person := range p.looked {
			if person != p.asked {
				t.tell(person, e, n)
			}
		}
	case *Confirmed, *Redetermined, *Undetermined, *Reopened:
		n.Code = closingNews[e.Change.EventKind()]
		t.tell(s.Owner, e, n)
		for _, person := range p.looked {
			if person != s.Owner {
				t.tell(person, e, n)
			}
		}
	}
}

var closingNews = map[string]NewsCode{(*Confirmed)(nil).EventKind(): NewsConfirmed, (*Redetermined)(nil).EventKind(): NewsRedetermined,
	(*Undetermined)(nil).EventKind(): NewsUndetermined, (*Reopened)(nil).EventKind(): NewsReopened}

// lookedAt tells the owner of a look: what one act says of characters and of the name is told as one.
func (t *newsTeller) lookedAt(s *Submission, e Event, n News) {
	look := fmt.Sprint(s.ID, " ", e.Actor, " ", e.At.UnixMicro())
	i, known := t.looks[look]
	if !known {
		before := len(t.made)
		t.tell(s.Owner, e, n)
		if len(t.made) == before {
			return
		}
		i = before
		t.looks[look] = i
	}
	told := &t.made[i].About
	told.Disputed = max(told.Disputed, n.About.Disputed)
	if n.About.Name != "" {
		told.Name = n.About.Name
	}
	t.made[i].Code = NewsLookedAt
	if told.Disputed > 0 || told.Name == OpinionAnother {
		t.made[i].Code = NewsDisputed
	}
}

func (t *newsTeller) specimen(spec *Specimen) {
	for _, e := range t.batch.Events {
		if _, relabelled := e.Change.(*LabelCorrected); relabelled && e.Stream == SpecimenStream(spec.ID) {
			t.tell(spec.Owner, e, News{Code: NewsRelabelled, Specimen: spec.ID})
		}
	}
}

func (t *newsTeller) proposal(p *CellProposal) {
	n := News{Group: p.Group, Proposal: p.ID}
	for _, e := range t.batch.Events {
		if e.Stream != ProposalStream(p.ID) {
			continue
		}
		switch c := e.Change.(type) {
		case *CellProposed:
			n.Code, n.About = NewsProposalWaits, NewsAbout{}
			for _, curator := range t.batch.Curators {
				t.tell(curator, e, n)
			}
		case *CellProposalDecided:
			n.Code, n.About = NewsProposalDecided, NewsAbout{Decision: c.Status}
			t.tell(p.By, e, n)
		}
	}
}
