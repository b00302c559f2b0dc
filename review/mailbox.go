package review

import (
	"regexp"
	"slices"
	"strings"
	"time"
)

// Mailbox is where and how often somebody is sent what they are told. It is personal data: it stands outside the events and goes
// with its person. The zero value is of somebody who has never chosen: nothing is sent.
type Mailbox struct {
	Person  string
	Version int    // how often it was changed; 0: never
	Address string // empty: none
	// ConfirmedAt is when who reads mail of the address has said so; nil: nothing but that question is sent there.
	ConfirmedAt *time.Time
	Rhythm      MailRhythm
	Codes       []NewsCode // what is sent
	// Upto is the time of the latest news that was looked at for a letter, and LookedAt when that was.
	Upto, LookedAt time.Time
}

// MailboxChanged is what of a mailbox is told to the history: the address, which is erasable, stands in no event.
type MailboxChanged struct {
	Address   bool       `json:"address"`           // there is one
	Another   bool       `json:"another,omitempty"` // it is another than before
	Confirmed bool       `json:"confirmed,omitempty"`
	Rhythm    MailRhythm `json:"rhythm"`
	Codes     []NewsCode `json:"codes"`
}

// EventKind implements Change.
func (*MailboxChanged) EventKind() string { return "mailbox-changed" }

func init() { newChange["mailbox-changed"] = func() Change { return &MailboxChanged{} } }

// MailboxStream is the stream of what a person chose to be sent.
func MailboxStream(person string) string { return "mailbox/" + person }

// ChangedFrom is the change that made a mailbox of a former one.
func (m Mailbox) ChangedFrom(former Mailbox) *MailboxChanged {
	return &MailboxChanged{Address: m.Address != "", Another: m.Address != former.Address, Confirmed: m.ConfirmedAt != nil, Rhythm: m.Rhythm, Codes: append([]NewsCode{}, m.Codes...)}
}

// MailRhythm is how often somebody is sent what they are told.
type MailRhythm string

const (
	MailNever MailRhythm = "never"
	// MailAtOnce: what waits for the person at once, the rest with it or once a day.
	MailAtOnce MailRhythm = "at-once"
	MailDaily  MailRhythm = "daily"
	MailWeekly MailRhythm = "weekly"
)

// MailRhythms are all of them, the quietest first.
var MailRhythms = []MailRhythm{MailNever, MailWeekly, MailDaily, MailAtOnce}

// Every is how much lies between two letters, but for what waits for its reader with MailAtOnce.
func (r MailRhythm) Every() time.Duration {
	if r == MailWeekly {
		return 7 * 24 * time.Hour
	}
	return 24 * time.Hour
}

// MailForm is what somebody chooses.
type MailForm struct {
	Address string     `json:"address" maxLength:"254" doc:"Empty: none"`
	Rhythm  MailRhythm `json:"rhythm" enum:"never,weekly,daily,at-once"`
	Codes   []NewsCode `json:"codes" nullable:"false" maxItems:"40" doc:"Codes of news to send"`
}

// MaxAddress is how many bytes an address may have (RFC 5321 section 4.5.3.1.3, without the brackets).
const MaxAddress = 254

// mailAddress is the production "valid email address" of WHATWG HTML, section "Email state", with two labels of a host at least:
// browsers take the same. No character of it ends a line or stands for another address.
var mailAddress = regexp.MustCompile("^[a-zA-Z0-9.!#$%&'*+/=?^_`{|}~-]+@[a-zA-Z0-9](?:[a-zA-Z0-9-]{0,61}[a-zA-Z0-9])?(?:\\.[a-zA-Z0-9](?:[a-zA-Z0-9-]{0,61}[a-zA-Z0-9])?)+$")

// CheckAddress adds what is wrong with an address for mail: it is one address and nothing else, of characters that cannot end a
// line of a letter.
func CheckAddress(p *Problems, field, address string) {
	if len(address) > MaxAddress {
		p.Addf(field, "must be at most %d letters", MaxAddress)
		return
	}
	if !mailAddress.MatchString(address) {
		p.Addf(field, "is no address for mail; it should look like name@example.org")
	}
}

// Choose is the mailbox with what its person chooses. ask: the address is new, and its reader is to be asked.
func (m Mailbox) Choose(person string, form MailForm, now time.Time) (chosen Mailbox, ask bool, err error) {
	form.Address = strings.TrimSpace(form.Address)
	if err := form.check(); err != nil {
		return m, false, err
	}
	chosen = m
	chosen.Person, chosen.Rhythm, chosen.Version = person, form.Rhythm, m.Version+1
	chosen.Codes = slices.DeleteFunc(slices.Clone(NewsCodes), func(c NewsCode) bool {
		return !slices.Contains(form.Codes, c) && !(form.Rhythm == MailAtOnce && c.Waits())
	})
	if m.Version == 0 || m.Rhythm == MailNever {
		chosen.Upto, chosen.LookedAt = now, now // what happened before was not asked for
	}
	if form.Address != m.Address {
		chosen.Address, chosen.ConfirmedAt = form.Address, nil
	}
	return chosen, chosen.Address != "" && chosen.ConfirmedAt == nil, nil
}

func (form *MailForm) check() error {
	var p Problems
	if form.Address != "" {
		CheckAddress(&p, "address", form.Address)
	}
	if !slices.Contains(MailRhythms, form.Rhythm) {
		p.Addf("rhythm", "must be never, weekly, daily or at-once")
	}
	for _, code := range form.Codes {
		if !code.Valid() {
			p.Addf("codes", "%q is no kind of news", code)
		}
	}
	if form.Rhythm != MailNever && form.Address == "" {
		p.Addf("address", "is needed where something is to be sent")
	}
	return p.Err()
}

// Letter is one that is to be sent, or was. It is put into words when it is sent, so that it holds none, and no address.
type Letter struct {
	ID     string // of the message, too: sent again after a process was killed in the middle, it is the same message
	Person string
	Kind   LetterKind
	News   []string // ids, of a digest
	MadeAt time.Time
	Tries  int // how often its sending has begun
	// NextAt is when it is tried next, also while it is being sent; nil: not any more.
	NextAt *time.Time
	SentAt *time.Time
	Fault  LetterFault
}

// LetterKind says what a letter is about.
type LetterKind string

const (
	// LetterDigest tells news. Made by a job, once for each news.
	LetterDigest LetterKind = "digest"
	// LetterConfirm asks the reader of an address whether it is theirs. Made where somebody chooses an address.
	LetterConfirm LetterKind = "confirm"
	// LetterInvitation brings the link of an invitation to the address that stands with it. Made where somebody invites.
	LetterInvitation LetterKind = "invitation"
	// LetterReset brings links for another password to where somebody has asked for them. Made for whatever was typed there, with the
	// id of what was asked and of no person: whether anybody is meant is looked up when it is sent.
	LetterReset LetterKind = "reset"
	// LetterPassword tells a person that another password was set.
	LetterPassword LetterKind = "password-set"
	// LetterProviderLinked tells a person that a museum's login was linked with the account, LetterProviderUnlinked that the person has
	// unlinked it, and LetterProviderTakenOff that a curator has taken it off.
	LetterProviderLinked   LetterKind = "museum-login-linked"
	LetterProviderUnlinked LetterKind = "museum-login-unlinked"
	LetterProviderTakenOff LetterKind = "museum-login-taken-off"
	// LetterFactorAdded tells a person that a passkey or one-time codes were added to the login, LetterFactorRemoved that the person has
	// removed one, and LetterFactorsTakenOff that a curator has removed all. LetterRecoveryRenewed tells of new recovery codes.
	LetterFactorAdded     LetterKind = "second-factor-added"
	LetterFactorRemoved   LetterKind = "second-factor-removed"
	LetterFactorsTakenOff LetterKind = "second-factors-taken-off"
	LetterRecoveryRenewed LetterKind = "recovery-codes-renewed"
)

// OfAccount says whether a letter is about an account, and so is sent whatever its person has chosen to be sent.
func (k LetterKind) OfAccount() bool {
	switch k {
	case LetterInvitation, LetterReset, LetterPassword, LetterProviderLinked, LetterProviderUnlinked, LetterProviderTakenOff,
		LetterFactorAdded, LetterFactorRemoved, LetterFactorsTakenOff, LetterRecoveryRenewed:
		return true
	}
	return false
}

// LetterFault says why a letter was not sent; the words of the mail server go to the log.
type LetterFault string

const (
	LetterFine    LetterFault = ""
	LetterDelayed LetterFault = "delayed" // it is tried again
	LetterRefused LetterFault = "refused" // for good
)

// MostTries is how often a letter is tried, within about a day and a half.
const MostTries = 12

// Begin is the letter as it is while it is being sent: where that is not heard of again, as the process was killed, it is tried
// again later.
func (l Letter) Begin(now time.Time) Letter {
	l.Tries++
	next := now.Add(min(2*time.Minute<<min(l.Tries-1, 10), 8*time.Hour))
	l.NextAt = &next
	return l
}
