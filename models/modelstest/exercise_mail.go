package modelstest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models/blob"
	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

var mails = map[string]func(fixture){
	"a letter is sent once for its news, where and when that was chosen": letterSentOnce,
	"nothing is sent to an address that nobody has confirmed":            addressConfirmed,
	"what waits is sent at once, the rest once a day":                    waitingSentAtOnce,
	"no letter is lost or made twice where a process is killed":          killedBetween,
	"a letter that cannot be sent is tried again, or refused for good":   lettersTriedAgain,
	"letters end by their link alone, and with their person":             lettersEnd,
	"two who change a mailbox undo nothing of each other":                mailboxesRace,
}

// postOffice is a club with a fake clock in which letters are handed over to a list. That a mail server takes them is tested in web/mail.
type postOffice struct {
	fixture
	now     time.Time
	service *service.Service
	ada     review.Actor
	taken   []service.Message // by the other side, of which some may be one message twice
	tokens  []string
	links   []service.LetterLink
	fault   error
	after   func() // called when a letter has been taken
}

func (f fixture) postOffice() *postOffice {
	f.Helper()
	o := &postOffice{fixture: f, now: noon.Add(10 * time.Hour), ada: review.Actor{Person: "ada", Name: "Ada", Role: review.RoleMember}}
	o.service = service.NewService(f.db, &blob.Mem{}, service.NewLibrary(Tables(f.T)), service.Options{Now: func() time.Time { return o.now },
		Post: &service.Post{Write: o.write, Send: o.send}})
	require.NoError(f, f.db.CreateAccount(f.Context(), auth.Account{Person: "ada", Name: "Ada", Login: "ada", Role: review.RoleMember, CreatedAt: noon}))
	return o
}

func (o *postOffice) write(d service.LetterData) (service.Message, error) {
	o.tokens = append(o.tokens, d.Token)
	if d.Account != nil {
		o.links = append(o.links, d.Account.Links...)
	}
	text := string(d.Letter.Kind)
	for _, l := range d.Lines {
		text += " " + string(l.Code)
	}
	if d.Account != nil && d.Account.Reason != "" {
		text += " by " + d.Account.By + ": " + d.Account.Reason
	}
	return service.Message{Text: text}, nil
}

func (o *postOffice) send(_ context.Context, m service.Message) error {
	if o.fault != nil {
		return o.fault
	}
	o.taken = append(o.taken, m)
	if o.after != nil {
		o.after()
	}
	return nil
}

// texts are the letters that the other side has, each once.
func (o *postOffice) texts() (texts []string) {
	known := map[string]bool{}
	for _, m := range o.taken {
		if !known[m.ID] {
			texts = append(texts, m.Text)
		}
		known[m.ID] = true
	}
	return texts
}

// passes lets time pass, and does what is due.
func (o *postOffice) passes(d time.Duration) {
	o.Helper()
	o.now = o.now.Add(d)
	due, err := o.service.DueJobs(o.Context())
	require.NoError(o, err)
	if slices.ContainsFunc(due, func(j jobs.Job) bool { return j.Kind == jobs.KindMail }) {
		require.NoError(o, o.service.Do(o.Context(), jobs.Mail(), nil))
	}
}

// chosen is a post office in which Ada has chosen to be sent everything.
func (f fixture) chosen(rhythm review.MailRhythm) *postOffice {
	f.Helper()
	o := f.postOffice()
	require.NoError(f, o.service.ChooseMail(f.Context(), o.ada, review.MailForm{Address: "ada@example.org", Rhythm: rhythm, Codes: review.NewsCodes}))
	o.passes(0)
	require.Equal(f, []string{"confirm"}, o.texts())
	require.NoError(f, o.service.ConfirmAddress(f.Context(), o.tokens[0]))
	return o
}

// happens tells Ada something of a kind.
func (o *postOffice) happens(code review.NewsCode) {
	o.Helper()
	o.now = o.now.Add(time.Second)
	n := review.News{ID: fmt.Sprint(code, o.now.UnixNano()), Person: "ada", Code: code, Actor: "rita", At: o.now}
	require.NoError(o, o.db.Commit(o.Context(), review.Batch{News: []review.News{n}}))
}

func letterSentOnce(f fixture) {
	o := f.chosen(review.MailWeekly)
	o.passes(time.Hour)
	o.happens(review.NewsConfirmed)
	o.passes(24 * time.Hour)
	require.Equal(f, []string{"confirm"}, o.texts(), "a week has not passed")
	o.happens(review.NewsReturned)
	o.passes(7 * 24 * time.Hour)
	require.Equal(f, []string{"confirm", "digest returned confirmed"}, o.texts())
	require.Equal(f, "ada@example.org", o.taken[1].To)
	o.passes(8 * 24 * time.Hour)
	require.Len(f, o.taken, 2, "told once")
	o.happens(review.NewsUndetermined)
	require.NoError(f, o.service.ReadNewsUntil(f.Context(), o.ada, o.now))
	o.passes(8 * 24 * time.Hour)
	require.Len(f, o.taken, 2, "what was read here is not sent")

	require.NoError(f, o.service.ChooseMail(f.Context(), o.ada, review.MailForm{Address: "ada@example.org", Rhythm: review.MailDaily, Codes: []review.NewsCode{review.NewsReturned}}))
	o.happens(review.NewsConfirmed)
	o.passes(49 * time.Hour)
	require.Len(f, o.taken, 2, "not of a kind that was chosen")
	require.Empty(f, o.due(), "and it is looked through once")
	o.happens(review.NewsReturned)
	o.passes(25 * time.Hour)
	require.Equal(f, "digest returned", o.texts()[2])
}

func (o *postOffice) due() []service.DueMailbox {
	o.Helper()
	due, err := o.db.DueMailboxes(o.Context(), o.now, o.now, 9)
	require.NoError(o, err)
	return due
}

func addressConfirmed(f fixture) {
	o := f.postOffice()
	choose := func(address string) error {
		return o.service.ChooseMail(f.Context(), o.ada, review.MailForm{Address: address, Rhythm: review.MailAtOnce})
	}
	for _, bad := range []string{"", "ada", "ada@example.org\r\nBcc: all@example.org", "Ada <ada@example.org>", "ada@example.org, ben@example.org", "a b@example.org"} {
		require.Equal(f, review.KindInvalid, review.KindOf(choose(bad)), "%q", bad)
	}
	require.NoError(f, choose("ada@example.org"))
	o.happens(review.NewsReturned)
	o.passes(time.Hour)
	require.Equal(f, []string{"confirm"}, o.texts())
	view, err := o.service.Mail(f.Context(), o.ada)
	require.NoError(f, err)
	require.False(f, view.Confirmed)
	require.Contains(f, view.Codes, review.NewsReturned, "at once sends what waits in any case")

	require.NoError(f, choose("other@example.org"))
	require.Equal(f, review.KindNotFound, review.KindOf(o.service.ConfirmAddress(f.Context(), o.tokens[0])), "a link for another address")
	o.passes(time.Minute)
	require.Equal(f, "other@example.org", o.taken[1].To)
	for _, bad := range []string{"", "x", o.tokens[1] + "A", "." + o.tokens[1]} {
		require.Equal(f, review.KindNotFound, review.KindOf(o.service.ConfirmAddress(f.Context(), bad)), bad)
	}
	require.Equal(f, review.KindNotFound, review.KindOf(o.service.Unsubscribe(f.Context(), o.tokens[1])), "a link does what it was made for")
	o.now = o.now.Add(5 * 24 * time.Hour)
	require.Equal(f, review.KindNotFound, review.KindOf(o.service.ConfirmAddress(f.Context(), o.tokens[1])), "too old")
	o.now = o.now.Add(-5 * 24 * time.Hour)
	require.NoError(f, o.service.ConfirmAddress(f.Context(), o.tokens[1]))
	o.passes(2 * time.Minute)
	require.Equal(f, "digest returned", o.texts()[2])
}

func waitingSentAtOnce(f fixture) {
	o := f.chosen(review.MailAtOnce)
	o.passes(time.Minute)
	o.happens(review.NewsConfirmed)
	o.passes(2 * time.Minute)
	require.Len(f, o.texts(), 1, "it can wait")
	o.happens(review.NewsReturned)
	o.passes(2 * time.Minute)
	require.Equal(f, "digest returned confirmed", o.texts()[1])
	o.happens(review.NewsReopened)
	o.passes(25 * time.Hour)
	require.Equal(f, "digest reopened", o.texts()[2])
}

func killedBetween(f fixture) {
	o := f.chosen(review.MailDaily)
	o.passes(time.Minute)
	o.happens(review.NewsConfirmed)
	o.now = o.now.Add(25 * time.Hour)
	// Killed before what the slice has made is stored.
	step, err := o.service.DoSlice(f.Context(), jobs.Slice{Job: jobs.Mail()})
	require.NoError(f, err)
	require.Len(f, step.Batch.Letters, 1)
	again, err := o.service.DoSlice(f.Context(), jobs.Slice{Job: jobs.Mail()})
	require.NoError(f, err)
	require.NoError(f, f.db.Commit(f.Context(), again.Batch))
	require.ErrorIs(f, f.db.Commit(f.Context(), step.Batch), service.ErrRace, "made once for its news")
	// Killed when it has been begun, and nothing was handed over.
	waiting, err := f.db.WaitingLetters(f.Context(), o.now, 9)
	require.NoError(f, err)
	require.Len(f, waiting, 1)
	begun := waiting[0].Begin(o.now)
	for _, first := range []bool{true, false} {
		mine, err := f.db.BeginLetter(f.Context(), begun, o.now)
		require.NoError(f, err)
		require.Equal(f, first, mine, "by one process")
	}
	o.passes(time.Minute)
	require.Len(f, o.taken, 1, "it may still be under way")
	// Killed when it has been handed over, and nobody has noted that.
	o.after = func() { panic("killed") }
	require.Panics(f, func() { o.passes(2 * time.Minute) })
	require.Len(f, o.taken, 2)
	o.after = nil
	o.passes(time.Hour)
	require.Len(f, o.taken, 3)
	require.Equal(f, []string{"confirm", "digest confirmed"}, o.texts(), "the same message")
	o.passes(48 * time.Hour)
	require.Len(f, o.taken, 3)
}

func lettersTriedAgain(f fixture) {
	o := f.chosen(review.MailDaily)
	o.fault = errors.New("connection refused")
	o.happens(review.NewsConfirmed)
	o.passes(25 * time.Hour)
	view, err := o.service.Mail(f.Context(), o.ada)
	require.NoError(f, err)
	require.Equal(f, review.LetterDelayed, view.Fault)
	o.fault = nil
	o.passes(time.Hour)
	require.Equal(f, []string{"confirm", "digest confirmed"}, o.texts())
	o.fault = review.Invalidf("address", "is refused")
	o.happens(review.NewsReopened)
	o.passes(25 * time.Hour)
	o.fault = nil
	o.passes(25 * time.Hour)
	require.Len(f, o.taken, 2, "given up")
	view, err = o.service.Mail(f.Context(), o.ada)
	require.NoError(f, err)
	require.Equal(f, review.LetterRefused, view.Fault)
}

func lettersEnd(f fixture) {
	o := f.chosen(review.MailDaily)
	o.happens(review.NewsConfirmed)
	o.passes(25 * time.Hour)
	token := o.tokens[len(o.tokens)-1]
	require.Equal(f, review.KindNotFound, review.KindOf(o.service.Unsubscribe(f.Context(), o.tokens[0])), "another purpose")
	o.happens(review.NewsReopened)
	require.NoError(f, o.service.Unsubscribe(f.Context(), token))
	require.NoError(f, o.service.Unsubscribe(f.Context(), token), "as often as it is pressed")
	o.passes(50 * time.Hour)
	require.Len(f, o.taken, 2)
	events, err := f.db.Events(f.Context(), review.MailboxStream("ada"))
	require.NoError(f, err)
	var told []string
	for _, e := range events {
		require.Equal(f, "ada", e.Actor)
		c := e.Change.(*review.MailboxChanged)
		told = append(told, fmt.Sprintln(c.Rhythm, c.Another, c.Confirmed))
		_, data, err := review.EncodeChange(c)
		require.NoError(f, err)
		require.NotContains(f, data, "example.org", "an address goes with its person")
	}
	require.Equal(f, []string{"daily true false\n", "daily false true\n", "never false true\n", "never false true\n"}, told, "each choice is an event")
	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, "ada", "left the club"))
	box, err := f.db.Mailbox(f.Context(), "ada")
	require.NoError(f, err)
	require.Equal(f, review.Mailbox{Person: "ada"}, box)
	_, err = f.db.LastLetter(f.Context(), "ada")
	require.Equal(f, review.KindNotFound, review.KindOf(err))
	require.Equal(f, review.KindNotFound, review.KindOf(o.service.Unsubscribe(f.Context(), token)), "nothing is made of an old link")
}

func mailboxesRace(f fixture) {
	box := review.Mailbox{Person: "ada", Version: 1, Address: "ada@example.org", Rhythm: review.MailDaily, Codes: []review.NewsCode{review.NewsReturned}, Upto: noon, LookedAt: noon}
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Mailbox: &box}))
	require.ErrorIs(f, f.db.Commit(f.Context(), review.Batch{Mailbox: &box}), service.ErrRace)
	box.Version, box.Rhythm = 2, review.MailNever
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Mailbox: &box}))
	require.ErrorIs(f, f.db.Commit(f.Context(), review.Batch{Mailbox: &box}), service.ErrRace)
	found, err := f.db.Mailbox(f.Context(), "ada")
	require.NoError(f, err)
	require.Equal(f, box, found)
}
