package auth

import (
	_ "embed"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"revidit/review"
)

// MinPassword is the least length of a new password, in letters: what makes guessing online hopeless under the limits on
// attempts (common practice, no source). Passwords that were set when it was less go on working.
const MinPassword = 12

// leastVaried is how many different letters a new password has at least (our own choice).
const leastVaried = 6

//go:embed common_passwords.txt
var commonText string

// houseWords are words of this house and its trade, in English and German: whoever guesses at a beetle club begins with them. A password
// made of one alone, with digits and signs, is refused; a sentence with several of them is not.
var houseWords = []string{"revidit", "beetle", "beetles", "coleoptera", "insect", "insects", "museum", "curator", "collection", "specimen", "specimens", "entomology", "determination",
	"käfer", "kaefer", "insekt", "insekten", "kurator", "kuratorin", "sammlung", "exemplar", "entomologie", "bestimmung"}

// commonPasswords are those of common_passwords.txt.
var commonPasswords = sync.OnceValue(func() map[string]bool {
	common := map[string]bool{}
	for _, word := range houseWords {
		common[word] = true
	}
	for line := range strings.Lines(commonText) {
		if word := strings.TrimSpace(line); word != "" && !strings.HasPrefix(word, "#") {
			common[word] = true
		}
	}
	return common
})

// rows are what fingers run along: the alphabet, the digits and the letters of common keyboards. A password that runs along
// one of them from end to end goes on at its beginning.
var rows = []string{"abcdefghijklmnopqrstuvwxyz", "0123456789", "qwertyuiopasdfghjklzxcvbnm", "qwertzuiopasdfghjklyxcvbnm", "azertyuiopqsdfghjklmwxcvbn"}

// checkPassword holds a new password, as preparePassword returns it, to the rules. They are those of NIST SP 800-63B
// section 5.1.1.2 (from memory): long rather than of several kinds of signs, none of the common ones, no repeated or
// sequential letters, nothing that follows from the login.
func checkPassword(password, login string) error {
	if n := utf8.RuneCountInString(password); n < MinPassword {
		return review.Invalidf("password", "must have at least %d letters; a sentence that only you would write is easy to keep in mind", MinPassword)
	}
	folded := strings.ToLower(password)
	words := strings.Map(onlyLetters, folded)
	switch {
	case login != "" && (isRepeated(folded, login) || isRepeated(words, strings.Map(onlyLetters, login))):
		return review.Invalidf("password", "must not be the login")
	case varied(folded) < leastVaried || alongRow(folded):
		return review.Invalidf("password", "must not be letters that repeat or follow each other; write a sentence instead")
	case words == "":
		return review.Invalidf("password", "must not be digits alone; write a sentence instead")
	case isCommon(folded) || isCommon(words):
		return review.Invalidf("password", "is one of the commonest, or is made of one; write a sentence instead")
	}
	return nil
}

func onlyLetters(r rune) rune {
	if unicode.IsLetter(r) || unicode.IsMark(r) {
		return r
	}
	return -1
}

// isRepeated says whether a text is a part, written once or several times.
func isRepeated(text, part string) bool {
	return part != "" && len(text)%len(part) == 0 && strings.Repeat(part, len(text)/len(part)) == text && text != ""
}

// isCommon says whether a text is a common password, written once or several times.
func isCommon(text string) bool {
	for length := len(text); length > 0; length-- {
		if commonPasswords()[text[:length]] && isRepeated(text, text[:length]) {
			return true
		}
	}
	return false
}

// varied is how many different letters a text has.
func varied(text string) int {
	letters := []rune(text)
	slices.Sort(letters)
	return len(slices.Compact(letters))
}

// alongRow says whether a text runs along a row, forwards or backwards.
func alongRow(text string) bool {
	letters := []rune(text)
	slices.Reverse(letters)
	for _, row := range rows {
		if round := strings.Repeat(row, len(text)/len(row)+2); strings.Contains(round, text) || strings.Contains(round, string(letters)) {
			return true
		}
	}
	return false
}
