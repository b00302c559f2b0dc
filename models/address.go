package models

import (
	"crypto/tls"
	"errors"
	"fmt"
	"net/netip"
	"net/url"
	"regexp"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// IsPostgres says whether Open takes the text for a PostgreSQL URL, not for the path of an SQLite file.
func IsPostgres(url string) bool {
	return strings.HasPrefix(url, "postgres://") || strings.HasPrefix(url, "postgresql://")
}

// settings is what a line of settings looks like, such as "host=… password=…".
var settings = regexp.MustCompile(`(?i)(^|\s)(password|host|user|dbname)\s*=`)

// account is how an address begins that has a password but no scheme.
var account = regexp.MustCompile(`^[^/\\]+:[^/\\]*@`)

// CheckURL is nil where Open takes the text for a database, and says otherwise which ones there are. It does not repeat the
// text, which may hold a password.
func CheckURL(text string) error {
	const known = "Nothing was made. Give a PostgreSQL URL (postgres://user@host/name) or the path of an SQLite file"
	if IsPostgres(text) {
		return nil
	}
	if scheme, _, found := strings.Cut(text, "://"); found {
		return fmt.Errorf("databases of the kind %q are not known here. %s", scheme, known)
	}
	if settings.MatchString(text) || account.MatchString(text) {
		return errors.New("the database is given as a line of settings, which is not known here. " + known)
	}
	return nil
}

// CheckLine is nil where what goes to and from a database can be read by nobody on the way, and nobody else can answer in its place: an
// SQLite file, a PostgreSQL server on this machine, or one whose certificate is checked (sslmode=verify-full or verify-ca). The settings
// are those that Open connects by, of the environment (PGSSLMODE) too. It does not repeat the text, which may hold a password.
func CheckLine(text string) error {
	if !IsPostgres(text) {
		return nil
	}
	config, err := pgx.ParseConfig(text)
	if err != nil {
		return fmt.Errorf("open the database: %w", err)
	}
	if !guarded(config.Host, config.TLSConfig) {
		return openLine(config.Host)
	}
	for _, other := range config.Fallbacks { // further hosts, and what is tried where TLS does not come about
		if !guarded(other.Host, other.TLSConfig) {
			return openLine(other.Host)
		}
	}
	return nil
}

// guarded says whether a host is this machine, or has to show a certificate that is checked.
func guarded(host string, by *tls.Config) bool {
	if network, _ := pgconn.NetworkAddress(host, 0); network == "unix" || host == "localhost" {
		return true
	}
	if ip, err := netip.ParseAddr(host); err == nil && ip.Unmap().IsLoopback() {
		return true
	}
	return by != nil && (!by.InsecureSkipVerify || by.VerifyPeerCertificate != nil) // verify-ca checks by itself
}

func openLine(host string) error {
	return fmt.Errorf("the line to the PostgreSQL server on %s is open: without sslmode=verify-full, whoever stands between can read passwords and data, or answer in its place. "+
		"Nothing was sent. Add ?sslmode=verify-full&sslrootcert=FILE to the URL, or say with --private-line that nobody else is on that line", host)
}

// placeOf is where a database is, as people read it: without a password.
func placeOf(text string) string {
	if !IsPostgres(text) {
		return text
	}
	parsed, err := url.Parse(text)
	if err != nil {
		return "a PostgreSQL database"
	}
	parsed.RawQuery = ""
	if parsed.User != nil {
		parsed.User = url.User(parsed.User.Username())
	}
	return parsed.String()
}

// Place is where the database is, as people read it: without a password.
func (db *DB) Place() string { return db.place }
