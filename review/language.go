package review

import "regexp"

// languageTag is a language and what narrows it, of the form of BCP 47 (RFC 5646 section 2.1) and no longer than section 4.4.1 wants room for.
var languageTag = regexp.MustCompile(`^[a-z]{2,3}(-[A-Za-z0-9]{2,8}){0,3}$`)

// CheckLanguage is what is wrong with a language that somebody chooses; empty is none.
func CheckLanguage(tag string) error {
	var p Problems
	if tag != "" && !languageTag.MatchString(tag) {
		p.Addf("language", "must be a tag such as en or de")
	}
	return p.Err()
}
