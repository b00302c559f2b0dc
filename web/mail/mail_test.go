package mail

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"io"
	"math/big"
	"net"
	netmail "net/mail"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// server is a real mail server on the loopback: github.com/emersion/go-smtp, which is not what letters are sent with.
type server struct {
	address string
	roots   *x509.CertPool
	taken   chan []byte
	refuse  *smtp.SMTPError // of every recipient
	hangUp  bool            // right after a letter was taken
	open    bool            // no login is asked for
}

type session struct {
	server *server
	conn   *smtp.Conn
	in     bool
}

func (s *server) NewSession(c *smtp.Conn) (smtp.Session, error) {
	return &session{server: s, conn: c, in: s.open}, nil
}

func (s *session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (s *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != "club" || password != "secret" {
			return smtp.ErrAuthFailed
		}
		s.in = true
		return nil
	}), nil
}

func (s *session) Mail(string, *smtp.MailOptions) error {
	if !s.in {
		return smtp.ErrAuthRequired
	}
	return nil
}

func (s *session) Rcpt(string, *smtp.RcptOptions) error {
	if s.server.refuse != nil {
		return s.server.refuse
	}
	return nil
}

func (s *session) Data(r io.Reader) error {
	data, err := io.ReadAll(r)
	if err == nil {
		s.server.taken <- data
	}
	if s.server.hangUp {
		time.AfterFunc(50*time.Millisecond, func() { s.conn.Close() })
	}
	return err
}

func (s *session) Reset()        {}
func (s *session) Logout() error { return nil }

// certified is a certificate for the loopback that a pool knows.
func certified(t *testing.T) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "a mail server"}, NotBefore: time.Now().Add(-time.Hour),
		NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageDigitalSignature}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	require.NoError(t, err)
	known, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	pool := x509.NewCertPool()
	pool.AddCert(known)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, pool
}

func started(t *testing.T, security Security) *server {
	t.Helper()
	certificate, roots := certified(t)
	s := &server{roots: roots, taken: make(chan []byte, 9)}
	config := &tls.Config{Certificates: []tls.Certificate{certificate}}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s.address = listener.Addr().String()
	mailServer := smtp.NewServer(s)
	mailServer.Domain, mailServer.ReadTimeout, mailServer.WriteTimeout = "mail.example", 10*time.Second, 10*time.Second
	switch security {
	case TLS:
		listener = tls.NewListener(listener, config)
	case StartTLS:
		mailServer.TLSConfig = config
	}
	s.open = security == Open
	go func() { _ = mailServer.Serve(listener) }() // ends with an error when it is closed
	t.Cleanup(func() { _ = mailServer.Close() })
	return s
}

var site = Site{URL: "https://beetles.example/", From: "revidit@beetles.example"}

func (s *server) sender(security Security) SMTP {
	sender := SMTP{Site: site, Server: s.address, Security: security, Roots: &tls.Config{RootCAs: s.roots}}
	if security != Open {
		sender.User, sender.Password = "club", "secret"
	}
	return sender
}

func letter() service.Message {
	return service.Message{ID: "letter-1", To: "ada@example.org", Subject: "Käfer: the name stands", Text: "Hello Ada,\n.\nthe name of Größe 1 stands.\n",
		At: time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC), Unsubscribe: "https://beetles.example/unsubscribe/token"}
}

// parsed reads a letter as the standard library does, which is not what wrote it.
func parsed(t *testing.T, data []byte) *netmail.Message {
	t.Helper()
	m, err := netmail.ReadMessage(bytes.NewReader(data))
	require.NoError(t, err)
	return m
}

func TestLettersOverSMTP(t *testing.T) {
	for _, security := range []Security{StartTLS, TLS, Open} {
		t.Run(string(security), func(t *testing.T) {
			s := started(t, security)
			sender := s.sender(security)
			require.NoError(t, sender.Check())
			require.NoError(t, sender.Send(t.Context(), letter()))
			m := parsed(t, <-s.taken)
			require.Equal(t, "<letter-1@beetles.example>", m.Header.Get("Message-ID"))
			require.Equal(t, "Thu, 14 May 2026 12:00:00 +0000", m.Header.Get("Date"))
			// RFC 8058 sections 3.1 and 8.1: both headers, these very words.
			require.Equal(t, "<https://beetles.example/unsubscribe/token>", m.Header.Get("List-Unsubscribe"))
			require.Equal(t, "List-Unsubscribe=One-Click", m.Header.Get("List-Unsubscribe-Post"))
			require.Equal(t, "auto-generated", m.Header.Get("Auto-Submitted"))
			to, err := m.Header.AddressList("To")
			require.NoError(t, err)
			require.Len(t, to, 1)
			require.Equal(t, "ada@example.org", to[0].Address)
		})
	}
}

func TestLettersThatAreNotTaken(t *testing.T) {
	s := started(t, StartTLS)
	wrong := s.sender(StartTLS)
	wrong.Password = "another"
	err := wrong.Send(t.Context(), letter())
	require.Error(t, err)
	require.NotEqual(t, review.KindInvalid, review.KindOf(err), "that is no fault of the address: it is tried again")
	unknown := s.sender(StartTLS)
	unknown.Roots = nil
	require.Error(t, unknown.Send(t.Context(), letter()), "a server that nobody vouches for")
	plain := started(t, Open)
	downgraded := plain.sender(StartTLS)
	require.Error(t, downgraded.Send(t.Context(), letter()), "a server without TLS is sent no password")
	require.Empty(t, s.taken)
	require.Empty(t, plain.taken)

	s.refuse = &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no such mailbox"}
	require.Equal(t, review.KindInvalid, review.KindOf(s.sender(StartTLS).Send(t.Context(), letter())), "for good")
	s.refuse = &smtp.SMTPError{Code: 450, EnhancedCode: smtp.EnhancedCode{4, 2, 1}, Message: "later"}
	err = s.sender(StartTLS).Send(t.Context(), letter())
	require.Error(t, err)
	require.NotEqual(t, review.KindInvalid, review.KindOf(err), "later")
	s.refuse, s.hangUp = nil, true
	require.NoError(t, s.sender(StartTLS).Send(t.Context(), letter()), "it was taken: a connection that breaks afterwards takes nothing back")
	require.Len(t, s.taken, 1)

	gone := s.sender(StartTLS)
	gone.Server = "127.0.0.1:1"
	require.Error(t, gone.Send(t.Context(), letter()))
}

// Whatever people have typed, nothing of it begins a header of its own.
func TestNothingTypedBecomesAHeader(t *testing.T) {
	folder := Folder{Site: site, Dir: filepath.Join(t.TempDir(), "letters")}
	for _, typed := range []string{"AB\r\nBcc: eve@example.org", "AB\nBcc: eve@example.org\n\nbody", "AB\rBcc: eve@example.org", "AB\u2028Bcc: x", "AB\x00\x0bBcc: y", strings.Repeat("long ", 200)} {
		m := letter()
		m.Subject = oneLine(typed)
		require.NoError(t, folder.Send(t.Context(), m))
		data, err := os.ReadFile(filepath.Join(folder.Dir, "letter-1.eml"))
		require.NoError(t, err)
		read := parsed(t, data)
		require.Empty(t, read.Header.Get("Bcc"), "%q", typed)
		require.Len(t, read.Header["Subject"], 1)
		m.To = "ada@example.org\r\nBcc: eve@example.org"
		require.Equal(t, review.KindInvalid, review.KindOf(folder.Send(t.Context(), m)))
	}
	files, err := os.ReadDir(folder.Dir)
	require.NoError(t, err)
	require.Len(t, files, 1, "sent again it is the same file, and nothing half-written is left")
}

func TestLettersInWords(t *testing.T) {
	news := review.News{ID: "n1", Code: review.NewsReturned, Submission: "s", Actor: "rita", At: time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC), About: review.NewsAbout{Want: review.WantSpecimen}}
	d := service.LetterData{Letter: review.Letter{ID: "l", Kind: review.LetterDigest}, Actor: review.Actor{Person: "ada", Name: "Ada"}, Token: "token",
		Names: map[string]string{"rita": "Rita\r\nBcc: eve@example.org"}, Lines: []service.NewsLine{{News: news, CatalogueNumber: "AB-1", Family: "Elateridae", Waits: true}}}
	m, err := site.Write(d)
	require.NoError(t, err)
	require.NotContains(t, m.Subject, "\n")
	require.Contains(t, m.Subject, "AB-1")
	for _, told := range []string{"Hello Ada", "AB-1, Elateridae", "asks for the specimen itself", "waits for you", "https://beetles.example/news/n1\n", "https://beetles.example/mail\n"} {
		require.Contains(t, m.Text, told)
	}
	require.Equal(t, "https://beetles.example/unsubscribe/token", m.Unsubscribe)
	german := d
	german.Language = "de"
	m, err = site.Write(german)
	require.NoError(t, err)
	for _, told := range []string{"Guten Tag Ada", "bittet um: das Exemplar selbst", "(wartet auf Sie)", "14. Mai 2026", "https://beetles.example/mail\n"} {
		require.Contains(t, m.Text, told)
	}
	d.Letter.Kind = review.LetterConfirm
	m, err = site.Write(d)
	require.NoError(t, err)
	require.Contains(t, m.Text, "https://beetles.example/mail/confirm/token\n")
	require.Empty(t, m.Unsubscribe)
}

func TestLettersOfAnAccount(t *testing.T) {
	d := service.LetterData{Letter: review.Letter{ID: "l", MadeAt: time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)}, Actor: review.Actor{Person: "ada", Name: "Ada"},
		Account: &service.AccountLetter{By: "Cora\r\nBcc: eve@example.org", Reason: "has left the museum"}}
	for kind, says := range map[review.LetterKind][2]string{
		review.LetterPassword:         {"another password was set", "ein anderes Kennwort"},
		review.LetterProviderLinked:   {"was linked with your account on", "mit Ihrem Konto verknüpft"},
		review.LetterProviderUnlinked: {"was taken off your account on", "wurde am 14. Mai 2026"},
		review.LetterProviderTakenOff: {"The reason given: has left the museum", "Der angegebene Grund: has left the museum"},
		review.LetterFactorAdded:      {"were added to your login on", "ein Passkey oder Einmalcodes eingerichtet"},
		review.LetterFactorRemoved:    {"were removed from your login on", "oder die Einmalcodes entfernt"},
		review.LetterFactorsTakenOff:  {"The reason given: has left the museum", "wird nicht mehr gefragt"},
		review.LetterRecoveryRenewed:  {"all former ones count no more", "alle früheren gelten nicht mehr"},
	} {
		d.Letter.Kind = kind
		for i, language := range []string{"en", "de"} {
			d.Language = language
			m, err := site.Write(d)
			require.NoError(t, err)
			require.Contains(t, m.Text, says[i])
			require.Contains(t, m.Text, "2026")
			byOthers := kind == review.LetterProviderTakenOff || kind == review.LetterFactorsTakenOff
			require.Equal(t, byOthers, strings.Contains(m.Text, "Cora"), "somebody else is named where they did it")
			require.Empty(t, m.Unsubscribe, "security is no news that one can end")
		}
	}
}

func TestWhatIsConfiguredIsChecked(t *testing.T) {
	good := SMTP{Site: site, Server: "mail.example:587", Security: StartTLS}
	require.NoError(t, good.Check())
	for name, change := range map[string]func(*SMTP){
		"no port":           func(s *SMTP) { s.Server = "mail.example" },
		"a port in words":   func(s *SMTP) { s.Server = "mail.example:smtp" },
		"another way":       func(s *SMTP) { s.Security = "ssl" },
		"no sender":         func(s *SMTP) { s.From = "revidit" },
		"no address":        func(s *SMTP) { s.URL = "beetles.example" },
		"an address inside": func(s *SMTP) { s.URL = "https://beetles.example/?a" },
		"an open password":  func(s *SMTP) { s.Security, s.User = Open, "club" },
	} {
		s := good
		change(&s)
		require.Error(t, s.Check(), name)
	}
}
