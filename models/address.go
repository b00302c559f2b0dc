package models

import (
	"errors"
	"fmt"
	"net/url"
	"regexp"
	"strings"
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
