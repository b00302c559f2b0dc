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

// changeOfAccount names the texts of a letter about what has become of an account. then is what to do next where somebody else has done
// it, who is named with the reason; empty: the person did it.
type changeOfAccount struct{ subject, text, then string }

var changesOfAccount = map[review.LetterKind]changeOfAccount{
	review.LetterPassword:         {subject: "letter.password-subject", text: "letter.password-set"},
	review.LetterProviderLinked:   {subject: "letter.museum-linked-subject", text: "letter.museum-linked"},
	review.LetterProviderUnlinked: {subject: "letter.museum-unlinked-subject", text: "letter.museum-unlinked"},
	review.LetterProviderTakenOff: {"letter.museum-unlinked-subject", "letter.museum-taken-off", "letter.museum-other-ways"},
	review.LetterFactorAdded:      {subject: "letter.factor-added-subject", text: "letter.factor-added"},
	review.LetterFactorRemoved:    {subject: "letter.factor-removed-subject", text: "letter.factor-removed"},
	review.LetterFactorsTakenOff:  {"letter.factor-removed-subject", "letter.factors-taken-off", "letter.factor-anew"},
	review.LetterRecoveryRenewed:  {subject: "letter.recovery-renewed-subject", text: "letter.recovery-renewed"},
}

// AccountLetter tells what has become of an account.
func AccountLetter(ctx context.Context, site LetterSite, d service.LetterData) (subject, text, unsubscribe string) {
	told := changesOfAccount[d.Letter.Kind]
	values := []any{"At", Minute(ctx, d.Letter.MadeAt), "Address", site.URL}
	if told.then != "" {
		values = append(values, "Name", typed(named(ctx, d.Account.By)))
	}
	lines := []string{words.T(ctx, "letter.hello", "Name", typed(d.Actor.Name)), "", words.T(ctx, told.text, values...)}
	if told.then != "" {
		lines = append(lines, words.T(ctx, "letter.taken-off-reason", "Reason", typed(d.Account.Reason)), "", words.T(ctx, told.then))
	}
	lines = append(lines, "", words.T(ctx, "letter.password-else"))
	return words.T(ctx, told.subject), PlainText(strings.Join(lines, "\n")) + letterEnd(ctx), ""
}
