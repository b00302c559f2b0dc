package review

import (
	"net/url"
	"strings"
	"time"
	"unicode/utf8"
)

const (
	// MostSavedSearches is how many searches a person keeps.
	MostSavedSearches = 50
	mostSearchName    = 80
	mostSearchQuery   = 1000
)

// SavedSearch is a search of the list of submissions that somebody wants to make again. It is in no event, and goes with its person.
type SavedSearch struct {
	ID     string    `json:"id"`
	Person string    `json:"-"`
	Name   string    `json:"name"`
	Query  string    `json:"query" doc:"What stands behind the question mark of the list's address"`
	At     time.Time `json:"at"`
}

// NewSavedSearch checks name and query, and leaves out of the query what is of one page or of one form of the list.
func NewSavedSearch(m Moment, name, query string) (SavedSearch, error) {
	var problems Problems
	name = strings.TrimSpace(name)
	if name == "" {
		problems.Addf("name", "give the search a name")
	}
	if utf8.RuneCountInString(name) > mostSearchName {
		problems.Addf("name", "must have at most %d characters", mostSearchName)
	}
	values, err := url.ParseQuery(query)
	if err != nil || len(query) > mostSearchQuery || !utf8.ValidString(query) {
		problems.Addf("query", "must be the part of the list's address behind the question mark, of at most %d characters", mostSearchQuery)
	}
	if err := problems.Err(); err != nil {
		return SavedSearch{}, err
	}
	for field, texts := range values {
		if field == "cursor" || field == "as" || len(texts) == 0 || texts[0] == "" {
			values.Del(field)
		}
	}
	return SavedSearch{ID: m.NewID(), Person: m.Actor.Person, Name: name, Query: values.Encode(), At: m.Now}, nil
}
