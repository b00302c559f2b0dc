package service

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"revidit/review"
	"revidit/review/jobs"
)

// Post writes letters at the edge, where words are made, and sends them.
type Post struct {
	// Write makes a letter of what there is to tell.
	Write func(LetterData) (Message, error)
	// Send hands a message over, so that whoever has taken it answers for it. A KindInvalid error is one for good: it is refused
	// however often it is tried. Sent twice under one ID it is one message.
	Send func(ctx context.Context, m Message) error
}

// Message is a letter in words.
type Message struct {
	ID      string // of its letter
	To      string // one address
	Subject string
	Text    string
	At      time.Time
	// Unsubscribe is the path and query within the site that ends letters of the kind by one press; empty where there are none to end.
	Unsubscribe string
}

// LetterData is what there is to tell in a letter.
type LetterData struct {
	Letter  review.Letter
	Actor   review.Actor // who reads it
	Address string
	// Language is the tag that the reader has chosen; empty: none.
	Language string
	Lines    []NewsLine
	Names    map[string]string // of persons, by id
	// Token confirms the address, or ends the letters.
	Token string
	// Account is what a letter about accounts tells; nil in others.
	Account *AccountLetter
}

// DueMailbox is a mailbox with who it is of.
type DueMailbox struct {
	review.Mailbox
	Actor review.Actor
}

// MailView is what somebody has chosen to be sent.
type MailView struct {
	Address   string            `json:"address,omitempty"`
	Confirmed bool              `json:"confirmed" doc:"Who reads mail of the address has said so; until then nothing but that question is sent there"`
	Rhythm    review.MailRhythm `json:"rhythm" enum:"never,weekly,daily,at-once"`
	Codes     []review.NewsCode `json:"codes" nullable:"false"`
	// Offered are those of which the person is told at all.
	Offered []review.NewsCode `json:"offered" nullable:"false"`
	// Sends: this club sends mail.
	Sends bool `json:"sends"`
	// Fault says what has become of the last letter, where it did not go.
	Fault review.LetterFault `json:"fault,omitempty" enum:"delayed,refused"`
}

// Mail is what an actor has chosen.
func (s *Service) Mail(ctx context.Context, actor review.Actor) (MailView, error) {
	box, err := s.store.Mailbox(ctx, actor.Person)
	if err != nil {
		return MailView{}, err
	}
	v := MailView{Address: box.Address, Confirmed: box.ConfirmedAt != nil, Rhythm: box.Rhythm, Codes: append([]review.NewsCode{}, box.Codes...), Offered: review.NewsFor(actor), Sends: s.post != nil}
	if box.Version == 0 {
		v.Rhythm, v.Codes = review.MailNever, v.Offered
	}
	last, err := s.store.LastLetter(ctx, actor.Person)
	if review.KindOf(err) == review.KindNotFound {
		return v, nil
	}
	v.Fault = last.Fault
	return v, err
}

// ChooseMail changes what an actor is sent. To an address that is new its reader is sent a question first.
func (s *Service) ChooseMail(ctx context.Context, actor review.Actor, form review.MailForm) error {
	return s.changeMailbox(ctx, actor, func(box review.Mailbox, m review.Moment) (review.Mailbox, bool, error) {
		return box.Choose(actor.Person, form, m.Now)
	})
}

// changeMailbox changes the mailbox of a person as it is by then.
func (s *Service) changeMailbox(ctx context.Context, actor review.Actor, change func(review.Mailbox, review.Moment) (review.Mailbox, bool, error)) error {
	_, err := again(ctx, func() (Done, error) {
		former, err := s.store.Mailbox(ctx, actor.Person)
		if err != nil {
			return Done{}, err
		}
		stream := review.MailboxStream(actor.Person)
		events, err := s.store.Events(ctx, stream)
		if err != nil {
			return Done{}, err
		}
		m := s.moment(actor)
		if n := len(events); n > 0 {
			m = m.NotBefore(events[n-1].At)
		}
		w := review.NewWriter(m)
		box, ask, err := change(former, w.Moment)
		if err != nil {
			return Done{}, err
		}
		w.Batch.Mailbox = &box
		w.Batch.Events = []review.Event{w.Event(stream, len(events)+1, box.ChangedFrom(former))}
		if ask && s.post != nil {
			w.Batch.Letters = []review.Letter{{ID: w.Moment.NewID(), Person: actor.Person, Kind: review.LetterConfirm, MadeAt: w.Moment.Now, NextAt: &w.Moment.Now}}
			w.Batch.Jobs = []jobs.Job{jobs.Mail()}
		}
		return Done{}, s.commit(ctx, w)
	})
	return err
}

// changeMailboxByLink is changeMailbox for whoever holds a link that was made for a person. Where that person was erased there is nobody.
func (s *Service) changeMailboxByLink(ctx context.Context, person string, change func(review.Mailbox, review.Moment) (review.Mailbox, bool, error)) error {
	people, err := s.store.People(ctx, []string{person})
	if err != nil {
		return err
	}
	known := people[person]
	if known.Role == "" {
		return badLink()
	}
	return s.changeMailbox(ctx, review.Actor{Person: person, Role: known.Role}, change)
}

// ConfirmAddress notes that who reads mail of an address has followed the link of a letter that was sent there.
func (s *Service) ConfirmAddress(ctx context.Context, token string) error {
	person, said, ok := readLink(token)
	if !ok {
		return badLink()
	}
	return s.changeMailboxByLink(ctx, person, func(box review.Mailbox, m review.Moment) (review.Mailbox, bool, error) {
		asked, err := strconv.ParseInt(said, 10, 64)
		if err != nil || day(m.Now)-asked > confirmFor || box.Address == "" || !s.links.holds(token, linkConfirm, box.Address) {
			return box, false, badLink()
		}
		if box.ConfirmedAt == nil {
			box.ConfirmedAt = &m.Now
		}
		box.Version++
		return box, false, nil
	})
}

// Unsubscribe ends the letters of the person for whom a link was made.
func (s *Service) Unsubscribe(ctx context.Context, token string) error {
	person, _, _ := readLink(token)
	if !s.links.holds(token, linkUnsubscribe, "") {
		return badLink()
	}
	return s.changeMailboxByLink(ctx, person, func(box review.Mailbox, _ review.Moment) (review.Mailbox, bool, error) {
		if box.Version == 0 { // erased
			return box, false, badLink()
		}
		box.Rhythm = review.MailNever
		box.Version++
		return box, false, nil
	})
}

// newsSettle is how old news is when it is looked at for a letter: an act that began before may still be on its way into the
// database, and must not be passed over.
const newsSettle = time.Minute

// lettersAtOnce is how many letters one slice makes or sends.
const lettersAtOnce = 20

// mailDue: a letter is to be made or sent.
func (s *Service) mailDue(ctx context.Context) ([]jobs.Job, error) {
	if s.post == nil {
		return nil, nil
	}
	due, err := s.store.DueMailboxes(ctx, s.now(), s.now().Add(-newsSettle), 1)
	if err != nil {
		return nil, err
	}
	waiting, err := s.store.WaitingLetters(ctx, s.now(), 1)
	if err != nil || len(due)+len(waiting) == 0 {
		return nil, err
	}
	return []jobs.Job{jobs.Mail()}, nil
}

// mailSlice makes letters, whose batch is stored with the slice, as long as any is due, and sends them afterwards. A letter is
// begun, handed over and ended one by one, past the batch, since what was handed over cannot be taken back with a transaction.
func (s *Service) mailSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	step := JobStep{Done: slice.Done}
	if s.post == nil {
		return step, nil
	}
	now := s.moment(itself)
	due, err := s.store.DueMailboxes(ctx, now.Now, now.Now.Add(-newsSettle), lettersAtOnce)
	if err != nil {
		return step, err
	}
	for _, box := range due {
		if err := s.makeLetter(ctx, now, box, &step.Batch); err != nil {
			return step, err
		}
	}
	if len(due) > 0 {
		step.More = true
		return step, nil
	}
	waiting, err := s.store.WaitingLetters(ctx, now.Now, lettersAtOnce)
	if err != nil {
		return step, err
	}
	for i := range waiting {
		if err := s.sendLetter(ctx, waiting[i]); err != nil {
			return step, err
		}
		step.Done++
		if slice.Enough() {
			break
		}
	}
	step.More = len(waiting) == lettersAtOnce
	return step, nil
}

// makeLetter adds to a batch the letter of what a mailbox wants, if there is anything, and that it was looked through.
func (s *Service) makeLetter(ctx context.Context, m review.Moment, box DueMailbox, batch *review.Batch) error {
	settled := m.Now.Add(-newsSettle)
	found, _, err := s.store.FindNews(ctx, NewsFilter{Person: box.Person, Codes: review.NewsCodes, Unread: true, After: &box.Upto, Before: &settled}, Page{Size: largestPage})
	if err != nil || len(found) == 0 {
		return err // it was read meanwhile
	}
	told := review.NewsFor(box.Actor)
	letter := review.Letter{ID: m.NewID(), Person: box.Person, Kind: review.LetterDigest, MadeAt: m.Now, NextAt: &m.Now}
	for _, l := range found {
		if slices.Contains(box.Codes, l.Code) && slices.Contains(told, l.Code) {
			letter.News = append(letter.News, l.ID)
		}
	}
	if len(letter.News) > 0 {
		batch.Letters = append(batch.Letters, letter)
	}
	batch.Looked = append(batch.Looked, review.LookedThrough{Person: box.Person, From: box.Upto, Upto: found[0].At, At: m.Now})
	return nil
}

// sendLetter sends one letter, unless another process does so.
func (s *Service) sendLetter(ctx context.Context, letter review.Letter) error {
	letter = letter.Begin(s.moment(itself).Now)
	mine, err := s.store.BeginLetter(ctx, letter, s.now())
	if err != nil || !mine {
		return err
	}
	message, say, err := s.message(ctx, letter)
	if err != nil {
		return err
	}
	if say {
		err = s.post.Send(ctx, message)
	}
	now := s.moment(itself).Now
	switch {
	case err == nil:
		letter.NextAt, letter.SentAt, letter.Fault = nil, &now, review.LetterFine
	case review.KindOf(err) == review.KindInvalid || letter.Tries >= review.MostTries:
		s.log.Error("a letter is given up", "letter", letter.ID, "tries", letter.Tries, "error", err)
		letter.NextAt, letter.Fault = nil, review.LetterRefused
	default:
		s.log.Warn("a letter could not be sent and is tried again", "letter", letter.ID, "tries", letter.Tries, "error", err)
		letter.Fault = review.LetterDelayed
	}
	return s.store.EndLetter(context.WithoutCancel(ctx), letter)
}

// message is a letter in words. say is false where there is nothing to say any more: its reader has read it all here, or wants no
// letters now.
func (s *Service) message(ctx context.Context, letter review.Letter) (m Message, say bool, err error) {
	if letter.Kind.OfAccount() {
		return s.accountMessage(ctx, letter)
	}
	box, err := s.store.Mailbox(ctx, letter.Person)
	if err != nil || box.Address == "" || letter.Kind == review.LetterDigest && (box.ConfirmedAt == nil || box.Rhythm == review.MailNever) {
		return m, false, err
	}
	people, err := s.store.People(ctx, []string{letter.Person})
	if err != nil {
		return m, false, err
	}
	person, known := people[letter.Person]
	if !known || person.Name == "" {
		return m, false, nil // erased
	}
	d := LetterData{Letter: letter, Actor: review.Actor{Person: person.ID, Name: person.Name, Role: person.Role}, Address: box.Address}
	if d.Language, err = s.store.Language(ctx, person.ID); err != nil {
		return m, false, err
	}
	if letter.Kind == review.LetterConfirm {
		if box.ConfirmedAt != nil {
			return m, false, nil
		}
		d.Token = s.links.sign(linkConfirm, person.ID, strconv.FormatInt(day(s.now()), 10), box.Address)
		m, err = s.write(d)
		return m, true, err
	}
	d.Token = s.links.sign(linkUnsubscribe, person.ID, "", "")
	found, _, err := s.store.FindNews(ctx, NewsFilter{Person: person.ID, Codes: review.NewsFor(d.Actor), Unread: true, IDs: letter.News}, Page{Size: largestPage})
	if err != nil || len(found) == 0 {
		return m, false, err
	}
	var persons []string
	for _, l := range found {
		d.Lines = append(d.Lines, l.seenBy(d.Actor))
		persons = append(persons, l.Actor)
	}
	if d.Names, err = s.names(ctx, persons); err != nil {
		return m, false, err
	}
	m, err = s.write(d)
	return m, true, err
}

// write puts a letter into words. An error is a fault of the program, and no reason to give up the letter at once.
func (s *Service) write(d LetterData) (Message, error) {
	m, err := s.post.Write(d)
	if err != nil {
		return m, fmt.Errorf("write letter %s: %w", d.Letter.ID, err)
	}
	m.ID, m.To, m.At = d.Letter.ID, d.Address, d.Letter.MadeAt
	return m, nil
}
