// Package mail puts letters into words and hands them over: to a mail server, or for a trial to a folder. It is an edge like the
// pages, whose words it uses; what a letter tells, to whom and when, is decided in review/service.
package mail

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	gomail "github.com/wneessen/go-mail"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
)

// Site is from where letters come.
type Site struct {
	// URL is where the pages are found, such as https://beetles.example.
	URL string
	// From is the address from which letters come.
	From string
	// Tables give words to ids.
	Books []pages.Book
}

// Check returns what is wrong with it.
func (s Site) Check() error {
	var p review.Problems
	review.CheckAddress(&p, "the address from which letters come", s.From)
	if err := p.Err(); err != nil {
		return err
	}
	at, err := url.Parse(s.URL)
	if err != nil || at.Scheme != "http" && at.Scheme != "https" || at.Host == "" || at.RawQuery != "" || at.Fragment != "" || strings.ContainsFunc(s.URL, unicode.IsSpace) {
		return fmt.Errorf("%q is no address of the pages; it should look like https://beetles.example", s.URL)
	}
	return nil
}

func (s Site) base() string { return strings.TrimSuffix(s.URL, "/") }

// Write puts a letter into words, of the language that its reader has chosen; English where none was.
func (s Site) Write(d service.LetterData) (service.Message, error) {
	letter := pages.DigestLetter
	switch d.Letter.Kind {
	case review.LetterConfirm:
		letter = pages.ConfirmLetter
	case review.LetterInvitation:
		letter = pages.InvitationLetter
	case review.LetterReset:
		letter = pages.ResetLetter
	case review.LetterPassword, review.LetterProviderLinked, review.LetterProviderUnlinked, review.LetterProviderTakenOff,
		review.LetterFactorAdded, review.LetterFactorRemoved, review.LetterFactorsTakenOff, review.LetterRecoveryRenewed:
		letter = pages.AccountLetter
	}
	tag, _ := words.Of(d.Language)
	ctx := words.In(context.Background(), tag)
	site := pages.Site{Actor: d.Actor}
	for _, b := range s.Books {
		site.Books = append(site.Books, pages.BookIn(ctx, b.Tables))
	}
	subject, text, unsubscribe := letter(ctx, pages.LetterSite{URL: s.base(), Site: site}, d)
	return service.Message{Subject: oneLine(subject), Text: text, Unsubscribe: unsubscribe}, nil
}

// oneLine is a text that cannot end a header: whatever people have typed, a name stays within its line.
func oneLine(text string) string {
	return strings.Join(strings.FieldsFunc(text, func(r rune) bool { return unicode.IsControl(r) || unicode.IsSpace(r) }), " ")
}

// message is a message as it goes over the wire (RFC 5322). Unsubscribing takes one press of a button of the reader's program (RFC 8058).
func (s Site) message(m service.Message) (*gomail.Msg, error) {
	var p review.Problems
	review.CheckAddress(&p, "address", m.To)
	if err := p.Err(); err != nil {
		return nil, err
	}
	msg := gomail.NewMsg()
	if err := msg.FromFormat("Revidit", s.From); err != nil {
		return nil, fmt.Errorf("the address from which letters come: %w", err)
	}
	if err := msg.To(m.To); err != nil {
		return nil, review.Invalidf("address", "cannot be written to")
	}
	_, domain, _ := strings.Cut(s.From, "@")
	msg.SetMessageIDWithValue(m.ID + "@" + domain)
	msg.SetDateWithValue(m.At)
	msg.Subject(oneLine(m.Subject))
	msg.SetUserAgent("Revidit")
	msg.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: nobody's program answers it
	if m.Unsubscribe != "" {
		msg.SetGenHeaderPreformatted("List-Unsubscribe", "<"+m.Unsubscribe+">")
		msg.SetGenHeaderPreformatted("List-Unsubscribe-Post", "List-Unsubscribe=One-Click")
	}
	msg.SetBodyString(gomail.TypeTextPlain, m.Text)
	return msg, nil
}

// Folder puts letters into a folder as files that programs for mail open (.eml), for a trial without a mail server.
type Folder struct {
	Site
	Dir string
}

// Send writes the file of a letter whole, or not at all. Sent twice it is one file.
func (f Folder) Send(_ context.Context, m service.Message) error {
	msg, err := f.message(m)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(f.Dir, 0o700); err != nil {
		return fmt.Errorf("make the folder of letters: %w", err)
	}
	part, err := os.CreateTemp(f.Dir, "*.part")
	if err != nil {
		return fmt.Errorf("write a letter: %w", err)
	}
	defer os.Remove(part.Name()) // gone where it was renamed
	_, err = msg.WriteTo(part)
	if err == nil {
		err = part.Sync()
	}
	if closed := part.Close(); err == nil {
		err = closed
	}
	if err == nil {
		err = os.Rename(part.Name(), filepath.Join(f.Dir, filepath.Base(m.ID)+".eml"))
	}
	if err != nil {
		return fmt.Errorf("write a letter: %w", err)
	}
	return nil
}
