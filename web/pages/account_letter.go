package pages

import (
	"context"
	"strings"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/words"
)

// Paths of links of accounts; a token stands behind them.
const (
	JoinPath  = "/join/"
	ResetPath = "/password/"
)

// InvitationLetter brings the link of an invitation.
func InvitationLetter(ctx context.Context, site LetterSite, d service.LetterData) (subject, text, unsubscribe string) {
	link := d.Account.Links[0]
	hello := words.T(ctx, "letter.confirm-hello")
	if d.Actor.Name != "" {
		hello = words.T(ctx, "letter.hello", "Name", typed(d.Actor.Name))
	}
	lines := []string{hello, "", words.T(ctx, "letter.invited", "Name", typed(named(ctx, d.Account.By)), "Address", site.URL, "Role", roleWord(ctx, link.Role)), "",
		words.T(ctx, "letter.invited-open", "Until", Minute(ctx, link.ExpiresAt)), site.URL + JoinPath + link.Token, "",
		words.T(ctx, "letter.invited-else")}
	return words.T(ctx, "letter.invited-subject"), PlainText(strings.Join(lines, "\n")) + letterEnd(ctx), ""
}

// ResetLetter brings links for another password.
func ResetLetter(ctx context.Context, site LetterSite, d service.LetterData) (subject, text, unsubscribe string) {
	lines := []string{words.T(ctx, "letter.confirm-hello"), "", words.T(ctx, "letter.reset-asked", "Address", site.URL), "", words.T(ctx, "letter.reset-open")}
	for _, link := range d.Account.Links {
		lines = append(lines, "", words.T(ctx, "letter.reset-login", "Login", typed(link.Login), "Until", Minute(ctx, link.ExpiresAt)), site.URL+ResetPath+link.Token)
	}
	lines = append(lines, "", words.T(ctx, "letter.reset-ends"), "", words.T(ctx, "letter.reset-else"))
	return words.T(ctx, "letter.reset-subject"), PlainText(strings.Join(lines, "\n")) + letterEnd(ctx), ""
}

// PasswordLetter tells that another password was set.
func PasswordLetter(ctx context.Context, site LetterSite, d service.LetterData) (subject, text, unsubscribe string) {
	lines := []string{words.T(ctx, "letter.hello", "Name", typed(d.Actor.Name)), "",
		words.T(ctx, "letter.password-set", "At", Minute(ctx, d.Letter.MadeAt), "Address", site.URL), "", words.T(ctx, "letter.password-else")}
	return words.T(ctx, "letter.password-subject"), PlainText(strings.Join(lines, "\n")) + letterEnd(ctx), ""
}

// MuseumLoginLetter tells what has become of the museum's login of an account.
func MuseumLoginLetter(ctx context.Context, site LetterSite, d service.LetterData) (subject, text, unsubscribe string) {
	at, lines := Minute(ctx, d.Letter.MadeAt), []string{words.T(ctx, "letter.hello", "Name", typed(d.Actor.Name)), ""}
	switch d.Letter.Kind {
	case review.LetterProviderLinked:
		subject = words.T(ctx, "letter.museum-linked-subject")
		lines = append(lines, words.T(ctx, "letter.museum-linked", "At", at, "Address", site.URL))
	case review.LetterProviderUnlinked:
		subject = words.T(ctx, "letter.museum-unlinked-subject")
		lines = append(lines, words.T(ctx, "letter.museum-unlinked", "At", at, "Address", site.URL))
	default:
		subject = words.T(ctx, "letter.museum-unlinked-subject")
		lines = append(lines, words.T(ctx, "letter.museum-taken-off", "At", at, "Address", site.URL, "Name", typed(named(ctx, d.Account.By))),
			words.T(ctx, "letter.taken-off-reason", "Reason", typed(d.Account.Reason)), "", words.T(ctx, "letter.museum-other-ways"))
	}
	lines = append(lines, "", words.T(ctx, "letter.password-else"))
	return subject, PlainText(strings.Join(lines, "\n")) + letterEnd(ctx), ""
}

// FactorLetter tells what has become of the second factors of a login.
func FactorLetter(ctx context.Context, site LetterSite, d service.LetterData) (subject, text, unsubscribe string) {
	at, lines := Minute(ctx, d.Letter.MadeAt), []string{words.T(ctx, "letter.hello", "Name", typed(d.Actor.Name)), ""}
	switch d.Letter.Kind {
	case review.LetterFactorAdded:
		subject = words.T(ctx, "letter.factor-added-subject")
		lines = append(lines, words.T(ctx, "letter.factor-added", "At", at, "Address", site.URL))
	case review.LetterRecoveryRenewed:
		subject = words.T(ctx, "letter.recovery-renewed-subject")
		lines = append(lines, words.T(ctx, "letter.recovery-renewed", "At", at, "Address", site.URL))
	case review.LetterFactorRemoved:
		subject = words.T(ctx, "letter.factor-removed-subject")
		lines = append(lines, words.T(ctx, "letter.factor-removed", "At", at, "Address", site.URL))
	default:
		subject = words.T(ctx, "letter.factor-removed-subject")
		lines = append(lines, words.T(ctx, "letter.factors-taken-off", "At", at, "Address", site.URL, "Name", typed(named(ctx, d.Account.By))),
			words.T(ctx, "letter.taken-off-reason", "Reason", typed(d.Account.Reason)), "", words.T(ctx, "letter.factor-anew"))
	}
	lines = append(lines, "", words.T(ctx, "letter.password-else"))
	return subject, PlainText(strings.Join(lines, "\n")) + letterEnd(ctx), ""
}
