package modelstest

import (
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
)

var providerLogins = map[string]func(fixture){
	"an account is linked with a provider once, and a way in is left": providerLinked,
	"an invitation makes a linked account, or none":                   invitationLinked,
}

const museum = "https://login.museum.example"

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
	require.NoError(f, f.db.LinkProvider(ctx, ada, l))
	requireKind(f.T, review.KindConflict, f.db.LinkProvider(ctx, ada, auth.ProviderLogin{Issuer: museum, Subject: "s2", Person: "p1", MadeAt: noon}))
	requireKind(f.T, review.KindConflict, f.db.LinkProvider(ctx, ben, auth.ProviderLogin{Issuer: museum, Subject: "s1", Person: "p2", MadeAt: noon}))
	require.NoError(f, f.db.LinkProvider(ctx, ben, auth.ProviderLogin{Issuer: museum, Subject: "S1", Person: "p2", MadeAt: noon}), "subjects are told apart by case")
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
	requireKind(f.T, review.KindConflict, f.db.UnlinkProvider(ctx, ben, museum))
	_, err = f.db.AddPasskey(ctx, ben, key, nil)
	require.NoError(f, err)
	require.NoError(f, f.db.UnlinkProvider(ctx, ben, museum), "a passkey is a way in")
	requireKind(f.T, review.KindNotFound, f.db.UnlinkProvider(ctx, ben, museum))
	requireKind(f.T, review.KindConflict, f.db.RemoveFactor(ctx, ben, "p2", review.FactorPasskey, "k1", ""))
	require.NoError(f, f.db.RemoveFactor(ctx, cora, "p2", review.FactorAll, "", "lost"), "a curator hands over a link")
	require.NoError(f, f.db.UnlinkProvider(ctx, ada, museum), "a password is a way in")
	require.Equal(f, []string{"account-added by program", "provider-linked by p1", "provider-unlinked by p1"}, f.accountKinds("p1"))
	require.Equal(f, []string{"account-added by program", "provider-linked by p2", "second-factor-added by p2", "provider-unlinked by p2", "second-factor-removed by cora"}, f.accountKinds("p2"))

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
	require.NoError(f, f.db.LinkProvider(ctx, review.Actor{Person: "p1", Role: review.RoleMember}, auth.ProviderLogin{Issuer: museum, Subject: "taken", Person: "p1", MadeAt: noon}))
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
