package review

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"revidit/review/judgement"
)

// SeriesLength is how many submissions a beginner's series takes: the first fifty that are sent to the mentor.
const SeriesLength = 50

// Series is a beginner's first fifty submissions, which go to one mentor, without quorum or scores, and end in one message. A member
// has one in life.
type Series struct {
	ID        string       `json:"id"`
	Seq       int          `json:"seq"`
	Member    string       `json:"member"`
	Mentor    string       `json:"mentor,omitempty"` // person; empty while it waits for one
	Status    SeriesStatus `json:"status" enum:"waiting,running,ended,left"`
	BegunAt   time.Time    `json:"begun_at"`
	ChangedAt time.Time    `json:"changed_at"`
	// Message is what it ended in.
	Message *SeriesMessage `json:"message,omitempty"`
}

// SeriesStatus is where a series stands.
type SeriesStatus string

const (
	// SeriesWaiting: for a mentor. What the member submits meanwhile goes the usual way. Entered by begin and give back; left by take
	// up, hand over and leave.
	SeriesWaiting SeriesStatus = "waiting"
	// SeriesRunning: what the member submits goes to the mentor. Left by end, give back and leave.
	SeriesRunning SeriesStatus = "running"
	// SeriesEnded: the mentor has sent the message.
	SeriesEnded SeriesStatus = "ended"
	// SeriesLeft: the member goes on without.
	SeriesLeft SeriesStatus = "left"
)

// SeriesMessage is what a mentor tells at the end: ids of what was seen well, of confusions that came again and of what to practise, and
// words of the mentor's own.
type SeriesMessage struct {
	Group    string        `json:"group"` // of tables
	Well     []string      `json:"well"`  // regions of the body
	Mixed    []MixedStates `json:"mixed"`
	Practise []string      `json:"practise"` // characters
	Text     string        `json:"text"`
	By       string        `json:"by"`
	At       time.Time     `json:"at"`
}

// MixedStates are a state that was stated and another that was seen in its place.
type MixedStates struct {
	Character string `json:"character" maxLength:"60"`
	Stated    string `json:"stated" maxLength:"60"`
	Seen      string `json:"seen" maxLength:"60"`
}

// MostMixed is how many confusions a message names: two can be practised, more are a list of faults.
const MostMixed = 2

// SeriesForm is a message as a mentor sends it.
type SeriesForm struct {
	Group    string        `json:"group,omitempty" maxLength:"60" doc:"Group of tables that the ids are of; empty: the first"`
	Well     []string      `json:"well" required:"false" maxItems:"20" doc:"Regions of the body that were seen well"`
	Mixed    []MixedStates `json:"mixed" required:"false" maxItems:"2" doc:"Confusions that came again, two at most"`
	Practise []string      `json:"practise" required:"false" maxItems:"10" doc:"Characters to practise"`
	Text     string        `json:"text" minLength:"1" maxLength:"2000" doc:"The mentor's own words"`
}

// Changes of a series, in its own stream.
type (
	// SeriesBegun: a member asks for a mentor.
	SeriesBegun struct {
		ID string `json:"id"`
	}
	// SeriesTaken: somebody mentors it from now on, who took it up or was given it by a curator.
	SeriesTaken struct {
		Mentor string `json:"mentor"`
	}
	// SeriesGivenBack: it waits for another mentor.
	SeriesGivenBack struct{}
	// SeriesLeaving: the member goes on without.
	SeriesLeaving struct{}
	// SeriesClosed: the mentor ends it with a message.
	SeriesClosed struct {
		Message SeriesMessage `json:"message"`
	}
)

func (*SeriesBegun) EventKind() string     { return "series-begun" }
func (*SeriesTaken) EventKind() string     { return "series-taken" }
func (*SeriesGivenBack) EventKind() string { return "series-given-back" }
func (*SeriesLeaving) EventKind() string   { return "series-left" }
func (*SeriesClosed) EventKind() string    { return "series-ended" }

func init() {
	for _, make := range []func() Change{
		func() Change { return &SeriesBegun{} }, func() Change { return &SeriesTaken{} }, func() Change { return &SeriesGivenBack{} },
		func() Change { return &SeriesLeaving{} }, func() Change { return &SeriesClosed{} },
	} {
		newChange[make().EventKind()] = make
	}
}

// SeriesStream is the stream of a series.
func SeriesStream(id string) string { return "series/" + id }

// ReplaySeries returns the series that its events make, in order from the first.
func ReplaySeries(events []Event) (Series, error) {
	var s Series
	for _, e := range events {
		if err := s.apply(e); err != nil {
			return Series{}, err
		}
	}
	return s, nil
}

func (s *Series) apply(e Event) error {
	if e.Seq != s.Seq+1 {
		return fmt.Errorf("%s: event %d follows event %d", e.Stream, e.Seq, s.Seq)
	}
	switch c := e.Change.(type) {
	case *SeriesBegun:
		*s = Series{ID: c.ID, Member: e.Actor, Status: SeriesWaiting, BegunAt: e.At}
	case *SeriesTaken:
		s.Status, s.Mentor = SeriesRunning, c.Mentor
	case *SeriesGivenBack:
		s.Status, s.Mentor = SeriesWaiting, ""
	case *SeriesLeaving:
		s.Status = SeriesLeft
	case *SeriesClosed:
		message := c.Message
		s.Status, s.Message = SeriesEnded, &message
	default:
		return fmt.Errorf("%s: event %d is %T, not a series'", e.Stream, e.Seq, e.Change)
	}
	s.Seq, s.ChangedAt = e.Seq, e.At
	return nil
}

// Series changes a series and collects the event; the first event begins it.
func (w *Writer) Series(s *Series, c Change) error {
	id := s.ID
	if begun, ok := c.(*SeriesBegun); ok {
		id = begun.ID
	}
	e := w.Event(SeriesStream(id), s.Seq+1, c)
	if err := s.apply(e); err != nil {
		return err
	}
	w.Batch.Events = append(w.Batch.Events, e)
	w.Batch.Series = append(w.Batch.Series, *s)
	return nil
}

// SeriesCount is how many submissions a series has, and how many of them are open or returned.
type SeriesCount struct {
	All     int `json:"all"`
	Waiting int `json:"waiting"`
}

// DecideBeginSeries asks for a mentor. known are the member's series, submitted is how many submissions the member has put before
// reviewers, counted to SeriesLength.
func DecideBeginSeries(m Moment, known []Series, submitted int) (Change, error) {
	switch {
	case !May(m.Actor, ActBeginSeries, ""):
		return nil, Forbidden(m.Actor, ActBeginSeries, "")
	case len(known) > 0:
		return nil, Errorf(KindConflict, "You have begun a series before, and a person has one. Nothing was stored.")
	case submitted >= SeriesLength:
		return nil, Errorf(KindConflict, "You have submitted %d specimens, so that the first ones are behind you. Nothing was stored.", SeriesLength)
	}
	return &SeriesBegun{ID: m.NewID()}, nil
}

// DecideMentor gives a series to a mentor: a reviewer takes up one that waits, a curator gives it to whomever they have asked.
func DecideMentor(m Moment, s *Series, mentor Person) (Change, error) {
	own := mentor.ID == m.Actor.Person
	switch {
	case !May(m.Actor, ActMentor, s.Member) || !own && m.Actor.Role != RoleCurator:
		return nil, Forbidden(m.Actor, ActMentor, s.Member)
	case s.Status != SeriesWaiting && s.Status != SeriesRunning:
		return nil, s.over()
	case s.Status == SeriesRunning && m.Actor.Role != RoleCurator:
		return nil, Errorf(KindConflict, "Somebody else mentors this series already. Nothing was changed; a curator can hand it over.")
	case !mentor.Role.Reviews() || len(mentor.Families) > 0 || mentor.ID == s.Member:
		return nil, Invalidf("mentor", "must be a reviewer of all families, and not the member")
	case mentor.ID == s.Mentor:
		return nil, Invalidf("mentor", "mentors this series already")
	}
	return &SeriesTaken{Mentor: mentor.ID}, nil
}

// DecideGiveBack lets a mentor give a series back. What waits for the mentor would wait for nobody then.
func DecideGiveBack(m Moment, s *Series, n SeriesCount) (Change, error) {
	if err := s.mentoredBy(m.Actor); err != nil {
		return nil, err
	}
	if n.Waiting > 0 {
		return nil, Errorf(KindConflict, "%d of its submissions are not closed yet. Nothing was changed: answer them first, or ask a curator to hand the series over.", n.Waiting)
	}
	return &SeriesGivenBack{}, nil
}

// DecideLeaveSeries lets a member go on without a mentor.
func DecideLeaveSeries(m Moment, s *Series, n SeriesCount) (Change, error) {
	switch {
	case m.Actor.Person != s.Member:
		return nil, Errorf(KindForbidden, "This is another member's series. Nothing was changed.")
	case s.Status != SeriesWaiting && s.Status != SeriesRunning:
		return nil, s.over()
	case n.Waiting > 0:
		return nil, Errorf(KindConflict, "%d of your submissions are with your mentor. Nothing was changed: wait for the answers, or withdraw them.", n.Waiting)
	}
	return &SeriesLeaving{}, nil
}

// DecideEndSeries ends a series with a message.
func DecideEndSeries(m Moment, s *Series, n SeriesCount, form SeriesForm, judge *judgement.Judge) (Change, error) {
	if err := s.mentoredBy(m.Actor); err != nil {
		return nil, err
	}
	if n.Waiting > 0 || n.All == 0 {
		return nil, Errorf(KindConflict, "%d of its %d submissions are not closed yet. Nothing was stored: answer them first, since the message is about all of them.", n.Waiting, n.All)
	}
	if err := form.check(judge); err != nil {
		return nil, err
	}
	return &SeriesClosed{Message: SeriesMessage{Group: judge.Tables().Group.ID, Well: NonNil(form.Well), Mixed: append([]MixedStates{}, form.Mixed...), Practise: NonNil(form.Practise),
		Text: strings.TrimSpace(form.Text), By: m.Actor.Person, At: m.Now}}, nil
}

func (f SeriesForm) check(judge *judgement.Judge) error {
	var p Problems
	t := judge.Tables()
	for i, region := range f.Well {
		if !slices.Contains(t.Regions(), region) {
			p.Addf(FieldOf("well", i), "is not a region of these tables")
		}
	}
	if len(f.Mixed) > MostMixed {
		p.Addf("mixed", "name %d at most: more are a list of faults", MostMixed)
	}
	for i, mixed := range f.Mixed {
		for _, state := range []string{mixed.Stated, mixed.Seen} {
			if err := judge.CheckState(mixed.Character, state); err != nil {
				p.Addf(FieldOf("mixed", i), "%s", err)
			}
		}
	}
	for i, id := range f.Practise {
		if _, ok := t.Character(id); !ok {
			p.Addf(FieldOf("practise", i), "is not a character of these tables")
		}
	}
	CheckText(&p, "text", f.Text, 1, MaxNote)
	return p.Err()
}

// mentoredBy refuses whoever does not mentor a running series.
func (s *Series) mentoredBy(actor Actor) error {
	if actor.Person != s.Mentor {
		return Errorf(KindForbidden, "You do not mentor this series. Nothing was changed.")
	}
	if s.Status != SeriesRunning {
		return s.over()
	}
	return nil
}

func (s *Series) over() error {
	return Errorf(KindConflict, "This series is over. Nothing was changed.")
}

// MayReadSeries says whether an actor may know of a series: its member, its mentor, curators, and of one that waits whoever may
// take it up.
func MayReadSeries(actor Actor, s *Series) bool {
	return actor.Person == s.Member || actor.Person == s.Mentor || actor.Role == RoleCurator ||
		s.Status == SeriesWaiting && May(actor, ActMentor, s.Member)
}
