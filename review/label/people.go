package label

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

func firstRune(s string) rune { r, _ := utf8.DecodeRuneInString(s); return r }
func lastRune(s string) rune  { r, _ := utf8.DecodeLastRuneInString(s); return r }

func wordRune(r rune) bool {
	return r != utf8.RuneError && (unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.Is(unicode.Mn, r))
}

// between are what stands between the names of several people.
var between = regexp.MustCompile(` *(?:[;|,&]|\b(?:and|und|et)\b) *`)

// initials shortens the given names of people to their first letters: "Karl-Heinz von Au" is "K.-H. von Au".
func initials(people string) string {
	separators := between.FindAllString(people, -1)
	short := ""
	for i, one := range between.Split(people, -1) {
		if i > 0 {
			short += separators[i-1]
		}
		short += initialsOf(one)
	}
	return short
}

func initialsOf(name string) string {
	space := " "
	if strings.Contains(name, hard) {
		space = hard
	}
	parts := strings.Split(name, space)
	for i := range parts[:len(parts)-1] {
		first := firstRune(parts[i])
		if !unicode.IsUpper(first) {
			break // a particle: what follows is the family's
		}
		parts[i] = initial(parts[i])
	}
	return strings.Join(parts, space)
}

func initial(given string) string {
	var letters []string
	for _, part := range strings.Split(given, "-") {
		if first := firstRune(part); unicode.IsLetter(first) {
			letters = append(letters, string(first)+".")
		}
	}
	return strings.Join(letters, "-")
}

// firstAndOthers names the first of more than two people.
func firstAndOthers(people string) string {
	all := between.Split(people, -1)
	if len(all) < 3 {
		return people
	}
	return all[0] + " & al."
}
