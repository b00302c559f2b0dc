package mail

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"strconv"
	"time"

	gomail "github.com/wneessen/go-mail"

	"revidit/review"
	"revidit/review/service"
)

// Security is how the way to a mail server is kept from others.
type Security string

const (
	StartTLS Security = "starttls" // begun in the open, then TLS or nothing (RFC 3207)
	TLS      Security = "tls"      // from the first byte (RFC 8314)
	Open     Security = "none"     // for a server on the same machine
)

// SMTP hands letters to a mail server, a connection each.
type SMTP struct {
	Site
	Server         string // host and port
	Security       Security
	User, Password string      // empty: nobody logs in
	Roots          *tls.Config // nil: the system's; a test has its own
}

// smtpTime is how long handing over one letter may take.
const smtpTime = 20 * time.Second

// client is made for each letter: it keeps the state of a connection.
func (s SMTP) client() (*gomail.Client, error) {
	host, port, err := net.SplitHostPort(s.Server)
	if err != nil {
		return nil, fmt.Errorf("%q is no mail server; it should look like mail.example:587: %w", s.Server, err)
	}
	number, err := strconv.Atoi(port)
	if err != nil {
		return nil, fmt.Errorf("%q is no port of a mail server: %w", port, err)
	}
	config := &tls.Config{ServerName: host, MinVersion: tls.VersionTLS12}
	if s.Roots != nil {
		config.RootCAs = s.Roots.RootCAs
	}
	options := []gomail.Option{gomail.WithPort(number), gomail.WithTimeout(smtpTime), gomail.WithTLSConfig(config), gomail.WithoutSMTPUTF8()}
	switch s.Security {
	case StartTLS:
		options = append(options, gomail.WithTLSPolicy(gomail.TLSMandatory))
	case TLS:
		options = append(options, gomail.WithSSL())
	case Open:
		options = append(options, gomail.WithTLSPolicy(gomail.NoTLS))
	default:
		return nil, fmt.Errorf("%q is no way to a mail server; choose starttls, tls or none", s.Security)
	}
	if s.User != "" {
		options = append(options, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(s.User), gomail.WithPassword(s.Password))
	}
	client, err := gomail.NewClient(host, options...)
	if err != nil {
		return nil, fmt.Errorf("the mail server: %w", err)
	}
	return client, nil
}

// Check returns what is wrong with what was configured, without a connection.
func (s SMTP) Check() error {
	if s.User != "" && s.Security == Open {
		return errors.New("a password is not sent to a mail server in the open; use starttls or tls")
	}
	_, err := s.client()
	return errors.Join(err, s.Site.Check())
}

// Send hands a letter over. Once the server has taken it, it is sent, whatever becomes of the connection.
func (s SMTP) Send(ctx context.Context, m service.Message) error {
	msg, err := s.message(m)
	if err != nil {
		return err
	}
	client, err := s.client()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, smtpTime)
	defer cancel()
	connection, err := client.DialToSMTPClientWithContext(ctx)
	if err != nil {
		return fmt.Errorf("reach the mail server: %w", err)
	}
	sent := client.SendWithSMTPClient(connection, msg)
	closed := client.CloseWithSMTPClient(connection)
	if msg.IsDelivered() {
		return nil // neither a failed RSET nor a failed QUIT takes it back
	}
	return refusal(errors.Join(sent, closed))
}

// refusal is a KindInvalid error where the server refuses the letter for good: a reply of 5yz to it or to its address (RFC 5321 section 4.2.1).
func refusal(err error) error {
	var refused *gomail.SendError
	if errors.As(err, &refused) && refused.ErrorCode() >= 500 && refused.Reason != gomail.ErrSMTPMailFrom {
		return fmt.Errorf("%w: %w", review.Invalidf("address", "is refused by the mail server"), err)
	}
	if err == nil {
		err = errors.New("the mail server has not taken it")
	}
	return fmt.Errorf("hand a letter to the mail server: %w", err)
}
