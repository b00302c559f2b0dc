package modelstest

import (
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

var providerLogins = map[string]func(fixture){
	"an account is linked with a provider once, and a way in is left": providerLinked,
	"an invitation makes a linked account, or none":                   invitationLinked,
	"a curator takes a museum's login off, and the person is told":    providerTakenOff,
}

const museum = "https://login.museum.example"

// letterAtNoon tells a person of what has become of the account.
func letterAtNoon(id, person string, kind review.LetterKind) review.Letter {
	return review.Letter{ID: id, Person: person, Kind: kind, MadeAt: noon, NextAt: new(noon)}
}

// ownUnlink is that of somebody's own museum's login.
func ownUnlink(by review.Actor) auth.ProviderUnlink {
	return auth.ProviderUnlink{By: by, Person: by.Person, Issuer: museum, Letter: letterAtNoon("unlinked-"+by.Person, by.Person, review.LetterProviderUnlinked)}
}

func providerLinked(f fixture) {
	ctx := f.Context()
	require.NoError(f, f.db.CreateAccount(ctx, account("p1", "ada", "Ada")))
	without := account("p2", "ben", "Ben")
	without.PasswordHash = ""
	require.NoError(f, f.db.CreateAccount(ctx, without))
	ada, ben := review.Actor{Person: "p1", Role: review.RoleMember}, review.Actor{Person: "p2", Role: review.RoleMember}
	_, err := f.db.AccountByProvider(ctx, museum, "s1", noon)
	requireKind(f.T, review.KindNotFound, err)
	l := auth.ProviderLogin{Issuer: museum, Subject: "s1", Person: "p1", MadeAt: noon}
	require.NoError(f, f.db.LinkProvider(ctx, ada, l, letterAtNoon("linked", "p1", review.LetterProviderLinked)))
	requireKind(f.T, review.KindConflict, f.db.LinkProvider(ctx, ada, auth.ProviderLogin{Issuer: museum, Subject: "s2", Person: "p1", MadeAt: noon}, letterAtNoon("none", "p1", review.LetterProviderLinked)))
	requireKind(f.T, review.KindConflict, f.db.LinkProvider(ctx, ben, auth.ProviderLogin{Issuer: museum, Subject: "s1", Person: "p2", MadeAt: noon}, letterAtNoon("none", "p2", review.LetterProviderLinked)))
	require.NoError(f, f.db.LinkProvider(ctx, ben, auth.ProviderLogin{Issuer: museum, Subject: "S1", Person: "p2", MadeAt: noon}, letterAtNoon("linked-p2", "p2", review.LetterProviderLinked)), "subjects are told apart by case")
	for _, c := range []struct{ issuer, subject string }{{museum + "/", "s1"}, {museum, "s1 "}, {museum, "s\x00"}} {
		_, err := f.db.AccountByProvider(ctx, c.issuer, c.subject, noon)
		requireKind(f.T, review.KindNotFound, err)
	}
	found, err := f.db.AccountByProvider(ctx, museum, "s1", noon.Add(time.Hour))
	require.NoError(f, err)
	require.Equal(f, "p1", found.Person)
	stored, err := f.db.ProviderLogin(ctx, museum, "p1")
	require.NoError(f, err)
	l.UsedAt = new(noon.Add(time.Hour))
	require.Equal(f, l, stored)

	key := auth.Passkey{ID: "k1", Person: "p2", Name: "telephone", MadeAt: noon}
	change := factorChanges(ben)
	requireKind(f.T, review.KindConflict, f.db.UnlinkProvider(ctx, ownUnlink(ben)))
	_, err = f.db.AddPasskey(ctx, change(review.LetterFactorAdded), key, nil)
	require.NoError(f, err)
	require.NoError(f, f.db.UnlinkProvider(ctx, ownUnlink(ben)), "a passkey is a way in")
	requireKind(f.T, review.KindNotFound, f.db.UnlinkProvider(ctx, ownUnlink(ben)))
	requireKind(f.T, review.KindConflict, f.db.RemoveFactor(ctx, change(review.LetterFactorRemoved), review.FactorPasskey, "k1"))
	lost := auth.FactorChange{By: cora, Person: "p2", Reason: "lost", Letter: letterAtNoon("lost", "p2", review.LetterFactorsTakenOff)}
	require.NoError(f, f.db.RemoveFactor(ctx, lost, review.FactorAll, ""), "a curator hands over a link")
	require.NoError(f, f.db.UnlinkProvider(ctx, ownUnlink(ada)), "a password is a way in")
	require.Equal(f, []string{"account-added by program", "provider-linked by p1", "provider-unlinked by p1"}, f.accountKinds("p1"))
	require.Equal(f, []string{"account-added by program", "provider-linked by p2", "second-factor-added by p2", "provider-unlinked by p2", "second-factor-removed by cora"}, f.accountKinds("p2"))

	waiting, err := f.db.WaitingLetters(ctx, noon, 9)
	require.NoError(f, err)
	var told []string
	for _, l := range waiting {
		told = append(told, l.ID+" "+string(l.Kind))
	}
	require.Equal(f, []string{"linked museum-login-linked", "linked-p2 museum-login-linked", "lost second-factors-taken-off", "p2-01 second-factor-added", "unlinked-p1 museum-login-unlinked", "unlinked-p2 museum-login-unlinked"}, told, "each tells what was done, and what was refused is told by none")

	s := auth.Session{ID: "s1", Person: "p1", CreatedAt: noon, ExpiresAt: noon.Add(time.Hour), SeenAt: noon, Way: auth.BySecondProvider, ProvenAt: new(noon)}
	a, err := f.db.AccountByPerson(ctx, "p1")
	require.NoError(f, err)
	require.NoError(f, f.db.CreateSession(ctx, s, a.Version))
	_, read, err := f.db.AccountBySession(ctx, "s1", noon, noon)
	require.NoError(f, err)
	require.Equal(f, s, read)
}

func invitationLinked(f fixture) {
	ctx := f.Context()
	require.NoError(f, f.db.CreateAccount(ctx, account("p1", "ada", "Ada")))
	require.NoError(f, f.db.LinkProvider(ctx, review.Actor{Person: "p1", Role: review.RoleMember}, auth.ProviderLogin{Issuer: museum, Subject: "taken", Person: "p1", MadeAt: noon}, letterAtNoon("linked", "p1", review.LetterProviderLinked)))
	l := f.invited("i1", "digest", "")
	a := account(l.Person, "ivo", "Ivo")
	a.PasswordHash = ""
	requireKind(f.T, review.KindConflict, f.db.AcceptInvitation(ctx, l, a, &auth.ProviderLogin{Issuer: museum, Subject: "taken", Person: l.Person, MadeAt: noon}))
	_, err := f.db.AccountByPerson(ctx, l.Person)
	requireKind(f.T, review.KindNotFound, err)
	require.NoError(f, f.db.AcceptInvitation(ctx, l, a, &auth.ProviderLogin{Issuer: museum, Subject: "ivo", Person: l.Person, MadeAt: noon}), "nothing was half stored")
	found, err := f.db.AccountByProvider(ctx, museum, "ivo", noon)
	require.NoError(f, err)
	require.Equal(f, l.Person, found.Person)
}

func providerTakenOff(f fixture) {
	ctx := f.Context()
	a := account("p1", "ada", "Ada")
	a.PasswordHash = ""
	require.NoError(f, f.db.CreateAccount(ctx, a))
	ada := review.Actor{Person: "p1", Role: review.RoleMember}
	off := auth.ProviderUnlink{By: cora, Person: "p1", Reason: "has left", Letter: letterAtNoon("off", "p1", review.LetterProviderTakenOff)}
	requireKind(f.T, review.KindConflict, f.db.UnlinkProvider(ctx, off))
	require.NoError(f, f.db.LinkProvider(ctx, ada, auth.ProviderLogin{Issuer: museum, Subject: "s1", Person: "p1", MadeAt: noon}, letterAtNoon("linked", "p1", review.LetterProviderLinked)))
	requireKind(f.T, review.KindConflict, f.db.UnlinkProvider(ctx, off))
	logins, err := f.db.ProviderLogins(ctx, "p1")
	require.NoError(f, err)
	require.Len(f, logins, 1, "the last way in stays")
	require.NoError(f, f.db.ChangeAccount(ctx, "p1", auth.AccountChange{PasswordHash: new("hash")}))
	a, err = f.db.AccountByPerson(ctx, "p1")
	require.NoError(f, err)
	for id, way := range map[string]string{"by-password": "", "by-museum": auth.ByProvider, "by-both": auth.BySecondProvider} {
		require.NoError(f, f.db.CreateSession(ctx, auth.Session{ID: id, Person: "p1", CreatedAt: noon, ExpiresAt: noon.Add(time.Hour), SeenAt: noon, Way: way}, a.Version))
	}
	require.NoError(f, f.db.UnlinkProvider(ctx, off))
	logins, err = f.db.ProviderLogins(ctx, "p1")
	require.NoError(f, err)
	require.Empty(f, logins)
	sessions, err := f.db.Sessions(ctx, "p1", noon, noon)
	require.NoError(f, err)
	require.Len(f, sessions, 1)
	require.Equal(f, "by-password", sessions[0].ID, "what has begun by the museum has ended")
	require.Equal(f, []string{"account-added by program", "provider-linked by p1", "password-set by program", "provider-unlinked by cora"}, f.accountKinds("p1"))
	news, _, err := f.db.FindNews(ctx, service.NewsFilter{Person: "p1", Codes: review.NewsCodes}, service.Page{Size: 9})
	require.NoError(f, err)
	require.Len(f, news, 1, "what was refused is told by none")
	require.Equal(f, review.NewsLoginTakenOff, news[0].Code)
	require.Equal(f, "cora", news[0].Actor)
	waiting, err := f.db.WaitingLetters(ctx, noon, 9)
	require.NoError(f, err)
	require.Len(f, waiting, 2)
}
