package modelstest

import (
	"errors"
	"fmt"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

var accountLinks = map[string]func(fixture){
	"an invitation makes one account, once":                invitationAccepted,
	"an invitation goes to its address with a new token":   invitationMailed,
	"an invitation is taken back, renewed and expires":     invitationEnds,
	"a reset goes to a confirmed address and ends logins":  resetMailed,
	"asking for a reset stores the same whoever is meant":  resetAskedAlike,
	"logins are seen once in a while, and end unless used": sessionsIdle,
	"a person has so many logins at a time and no more":    sessionsBounded,
	"second factors come and go with recovery codes":       factorsKept,
	"a login that is half done is ended once":              stepsTaken,
}

var cora = review.Actor{Person: "cora", Name: "Cora", Role: review.RoleCurator}

func (f fixture) invited(id, digest, address string) review.AccountLink {
	f.Helper()
	l := review.AccountLink{ID: id, Purpose: review.LinkInvites, Person: "person-" + id, Name: "Ivo", Role: review.RoleReviewer, Address: address, Digest: digest,
		By: cora.Person, MadeAt: noon, ExpiresAt: noon.Add(review.InvitationLife)}
	var letter *review.Letter
	if address != "" {
		now := noon
		letter = &review.Letter{ID: "letter-" + id, Person: l.Person, Kind: review.LetterInvitation, MadeAt: noon, NextAt: &now}
	}
	require.NoError(f, f.db.StoreInvitation(f.Context(), cora, l, letter))
	return l
}

// accountKinds are the kinds of events of an account, each with who acted.
func (f fixture) accountKinds(person string) (kinds []string) {
	f.Helper()
	events, err := f.db.Events(f.Context(), review.AccountStream(person))
	require.NoError(f, err)
	for _, e := range events {
		kinds = append(kinds, e.Change.EventKind()+" by "+e.Actor)
	}
	return kinds
}

func invitationAccepted(f fixture) {
	l := f.invited("i1", "digest", "")
	found, err := f.db.LinkOf(f.Context(), review.LinkInvites, "digest", noon)
	require.NoError(f, err)
	require.Equal(f, l, found)
	open, err := f.db.Invitations(f.Context(), noon)
	require.NoError(f, err)
	require.Equal(f, []review.AccountLink{l}, open)
	for _, c := range []struct {
		purpose review.LinkPurpose
		digest  string
		at      time.Time
	}{{review.LinkResets, "digest", noon}, {review.LinkInvites, "other", noon}, {review.LinkInvites, "", noon}, {review.LinkInvites, "digest", l.ExpiresAt}} {
		_, err := f.db.LinkOf(f.Context(), c.purpose, c.digest, c.at)
		requireKind(f.T, review.KindNotFound, err)
	}

	a := account(l.Person, "ivo", "Ivo Beetle")
	a.Role = l.Role
	taken := account("p2", "ivo", "Another Ivo")
	require.NoError(f, f.db.CreateAccount(f.Context(), taken))
	requireKind(f.T, review.KindConflict, f.db.AcceptInvitation(f.Context(), l, a, nil))
	a.Login = "ivo2"
	require.NoError(f, f.db.AcceptInvitation(f.Context(), l, a, nil), "what was refused has not used the link up")
	stored, err := f.db.AccountByLogin(f.Context(), "ivo2")
	require.NoError(f, err)
	require.Equal(f, a, stored)
	b := account("p3", "ivo3", "Third Ivo")
	requireKind(f.T, review.KindNotFound, f.db.AcceptInvitation(f.Context(), l, b, nil))
	require.Equal(f, []string{"invited by cora", "account-added by " + l.Person}, f.accountKinds(l.Person))
	box, err := f.db.Mailbox(f.Context(), l.Person)
	require.NoError(f, err)
	require.Zero(f, box.Version, "the link was handed over, which proves no address")
}

func invitationMailed(f fixture) {
	o := f.postOffice()
	l := f.invited("i1", "", "ivo@example.org")
	o.fault = errors.New("connection refused")
	o.passes(0)
	o.fault = nil
	o.passes(time.Hour)
	require.Len(f, o.taken, 1)
	require.Equal(f, "ivo@example.org", o.taken[0].To)
	require.Len(f, o.links, 2, "each try has a token of its own")
	require.NotEqual(f, o.links[0].Token, o.links[1].Token)
	_, err := f.db.LinkOf(f.Context(), review.LinkInvites, review.SecretDigest(o.links[0].Token), o.now)
	requireKind(f.T, review.KindNotFound, err)
	mailed, err := f.db.LinkOf(f.Context(), review.LinkInvites, review.SecretDigest(o.links[1].Token), o.now)
	require.NoError(f, err)
	a := account(l.Person, "ivo", "Ivo")
	a.CreatedAt = o.now
	require.NoError(f, f.db.AcceptInvitation(f.Context(), mailed, a, nil))
	box, err := f.db.Mailbox(f.Context(), l.Person)
	require.NoError(f, err)
	require.Equal(f, "ivo@example.org", box.Address)
	require.NotNil(f, box.ConfirmedAt, "whoever has the link reads mail there")
	require.Equal(f, review.MailNever, box.Rhythm)
	o.passes(24 * time.Hour)
	require.Len(f, o.taken, 1)
}

func invitationEnds(f fixture) {
	o := f.postOffice()
	l := f.invited("i1", "", "ivo@example.org")
	require.NoError(f, f.db.TakeBackInvitation(f.Context(), cora, l, noon))
	requireKind(f.T, review.KindNotFound, f.db.TakeBackInvitation(f.Context(), cora, l, noon))
	o.passes(0)
	require.Empty(f, o.taken, "it was taken back before it went")
	l = f.invited("i2", "first", "")
	l.Digest, l.ExpiresAt = "second", noon.Add(8*24*time.Hour)
	require.NoError(f, f.db.HandOverLink(f.Context(), cora, l))
	_, err := f.db.LinkOf(f.Context(), review.LinkInvites, "first", noon)
	requireKind(f.T, review.KindNotFound, err)
	found, err := f.db.LinkOf(f.Context(), review.LinkInvites, "second", noon.Add(7*24*time.Hour))
	require.NoError(f, err)
	require.Equal(f, l, found)
	require.Equal(f, []string{"invited by cora", "invitation-taken-back by cora"}, f.accountKinds("person-i1"))
	require.Equal(f, []string{"invited by cora", "account-link-handed-over by cora"}, f.accountKinds("person-i2"))
	require.Zero(f, f.expire(service.Expiry{Links: l.ExpiresAt}))
	require.Equal(f, 1, f.expire(service.Expiry{Links: l.ExpiresAt.Add(time.Second)}))
}

// asks asks for another password.
func (o *postOffice) asks(id, typed string) {
	o.Helper()
	at := o.now
	require.NoError(o, o.db.AskForReset(o.Context(), typed, review.Letter{ID: id, Kind: review.LetterReset, MadeAt: at, NextAt: &at}))
}

func resetMailed(f fixture) {
	o := f.chosen(review.MailNever)
	f.logIn("s1", "ada")
	o.asks("r1", "ADA")
	o.asks("r2", "Ada@Example.org")
	o.asks("r3", "nobody")
	o.taken = nil
	o.passes(0)
	require.Equal(f, []string{"reset", "reset"}, o.texts())
	require.Len(f, o.links, 2)
	require.Equal(f, "ada", o.links[1].Login)
	link, err := f.db.LinkOf(f.Context(), review.LinkResets, review.SecretDigest(o.links[1].Token), o.now)
	require.NoError(f, err)
	now := o.now
	told := review.Letter{ID: "told", Person: "ada", Kind: review.LetterPassword, MadeAt: o.now, NextAt: &now}
	require.NoError(f, f.db.ResetPassword(f.Context(), link, "new hash", told))
	requireKind(f.T, review.KindNotFound, f.db.ResetPassword(f.Context(), link, "newer hash", told))
	_, err = f.db.LinkOf(f.Context(), review.LinkResets, review.SecretDigest(o.links[0].Token), o.now)
	requireKind(f.T, review.KindNotFound, err)
	require.False(f, f.loggedIn("s1", noon), "all logins end")
	stored, err := f.db.AccountByLogin(f.Context(), "ada")
	require.NoError(f, err)
	require.Equal(f, "new hash", stored.PasswordHash)
	o.passes(time.Minute)
	require.Equal(f, []string{"reset", "reset", "password-set"}, o.texts(), "the letter tells")
	kinds := f.accountKinds("ada")
	require.Equal(f, "password-set by ada", kinds[len(kinds)-1])
	require.NoError(f, f.db.CreateAccount(f.Context(), auth.Account{Person: cora.Person, Name: cora.Name, Login: "cora", Role: cora.Role, CreatedAt: noon}))
	museums := letterAtNoon("museum", "ada", review.LetterProviderTakenOff)
	require.NoError(f, f.db.LinkProvider(f.Context(), o.ada, auth.ProviderLogin{Issuer: museum, Subject: "s1", Person: "ada", MadeAt: noon}, letterAtNoon("linked", "ada", review.LetterProviderLinked)))
	require.NoError(f, f.db.UnlinkProvider(f.Context(), auth.ProviderUnlink{By: cora, Person: "ada", Reason: "has left", Letter: museums}))
	lost := auth.FactorChange{By: cora, Person: "ada", Reason: "lost at sea", Letter: letterAtNoon("sea", "ada", review.LetterFactorsTakenOff)}
	require.NoError(f, f.db.RemoveFactor(f.Context(), lost, review.FactorAll, ""))
	o.passes(time.Minute)
	require.ElementsMatch(f, []string{"museum-login-linked", "museum-login-taken-off by Cora: has left", "second-factors-taken-off by Cora: lost at sea"}, o.texts()[3:],
		"a letter names who has taken something off, and why")
	for range 5 { // whoever asks again and again fills nobody's letter box
		o.asks("again-"+time.Duration(len(o.links)).String()+o.now.String(), "ada")
		o.passes(time.Minute)
	}
	require.Len(f, o.links, 5)
}

// resetAskedAlike: the same rows stand there whoever is meant, so that the same was done; what was typed goes when it was looked up.
func resetAskedAlike(f fixture) {
	o := f.chosen(review.MailNever)
	for _, typed := range []string{"ada", "nobody", "cora"} {
		o.asks("of-"+typed, typed)
		found, err := f.db.ResetRequest(f.Context(), "of-"+typed)
		require.NoError(f, err)
		require.Equal(f, typed, found)
	}
	waiting, err := f.db.WaitingLetters(f.Context(), o.now, 9)
	require.NoError(f, err)
	require.Len(f, waiting, 3)
	o.passes(0)
	for _, typed := range []string{"ada", "nobody", "cora"} {
		_, err := f.db.ResetRequest(f.Context(), "of-"+typed)
		requireKind(f.T, review.KindNotFound, err)
	}
	require.Len(f, o.links, 1)
}

func sessionsIdle(f fixture) {
	require.NoError(f, f.db.CreateAccount(f.Context(), account("p1", "ada", "Ada")))
	f.logIn("s1", "p1")
	f.logIn("s2", "p1")
	found := func(idle time.Time) (ids []string) {
		sessions, err := f.db.Sessions(f.Context(), "p1", noon, idle)
		require.NoError(f, err)
		for _, s := range sessions {
			ids = append(ids, s.ID)
		}
		return ids
	}
	require.Equal(f, []string{"s1", "s2"}, found(noon))
	at := noon.Add(10 * time.Minute)
	require.NoError(f, f.db.SeeSession(f.Context(), auth.Session{ID: "s2", Person: "p1"}, at, noon))
	require.NoError(f, f.db.SeeSession(f.Context(), auth.Session{ID: "s2", Person: "p1"}, at.Add(time.Minute), noon))
	require.Equal(f, []string{"s2", "s1"}, found(noon))
	require.Equal(f, []string{"s2"}, found(at), "noted once")
	require.Empty(f, found(at.Add(time.Second)))
	_, _, err := f.db.AccountBySession(f.Context(), "s1", noon, at)
	requireKind(f.T, review.KindNotFound, err)
	a, s, err := f.db.AccountBySession(f.Context(), "s2", noon, at)
	require.NoError(f, err)
	require.Equal(f, at, s.SeenAt)
	require.Equal(f, at, *a.SeenAt)
	require.NoError(f, f.db.EndSessions(f.Context(), "p1", "s2"))
	require.Equal(f, []string{"s2"}, found(noon))
	require.NoError(f, f.db.EndSessionsBy(f.Context(), cora, "p1", "a lost telephone"))
	require.Empty(f, found(noon))
	require.Equal(f, []string{"account-added by program", "sessions-ended by cora"}, f.accountKinds("p1"))
}

func sessionsBounded(f fixture) {
	require.NoError(f, f.db.CreateAccount(f.Context(), account("p1", "ada", "Ada")))
	require.NoError(f, f.db.CreateAccount(f.Context(), account("p2", "ben", "Ben")))
	f.logIn("of-ben", "p2")
	for i := range auth.MostSessions {
		at := noon.Add(time.Duration(i) * time.Second)
		s := auth.Session{ID: fmt.Sprint("s", i), Person: "p1", CreatedAt: at, SeenAt: at, ExpiresAt: noon.AddDate(0, 0, 1)}
		require.NoError(f, f.db.CreateSession(f.Context(), s, 1))
	}
	require.NoError(f, f.db.SeeSession(f.Context(), auth.Session{ID: "s0", Person: "p1"}, noon.Add(time.Hour), noon))
	require.NoError(f, f.db.CreateSession(f.Context(), auth.Session{ID: "last", Person: "p1", CreatedAt: noon.Add(time.Hour), ExpiresAt: noon.AddDate(0, 0, 1)}, 1))
	sessions, err := f.db.Sessions(f.Context(), "p1", noon, noon)
	require.NoError(f, err)
	require.Len(f, sessions, auth.MostSessions)
	var ids []string
	for _, s := range sessions {
		ids = append(ids, s.ID)
	}
	require.Contains(f, ids, "s0", "it was used since")
	require.Contains(f, ids, "last")
	require.NotContains(f, ids, "s1")
	others, err := f.db.Sessions(f.Context(), "p2", noon, noon)
	require.NoError(f, err)
	require.Len(f, others, 1)
}

// factorChanges makes changes of somebody's own second factors, each with a letter of its own.
func factorChanges(by review.Actor) func(review.LetterKind) auth.FactorChange {
	n := 0
	return func(told review.LetterKind) auth.FactorChange {
		n++
		return auth.FactorChange{By: by, Person: by.Person, Letter: letterAtNoon(fmt.Sprintf("%s-%02d", by.Person, n), by.Person, told)}
	}
}

func factorsKept(f fixture) {
	ctx := f.Context()
	require.NoError(f, f.db.CreateAccount(ctx, account("p1", "ada", "Ada")))
	ada := review.Actor{Person: "p1", Role: review.RoleMember}
	none, err := f.db.Factors(ctx, "p1")
	require.NoError(f, err)
	require.False(f, none.Any())
	change := factorChanges(ada)
	require.NoError(f, f.db.BeginCodes(ctx, "p1", []byte("first"), noon))
	require.NoError(f, f.db.BeginCodes(ctx, "p1", []byte{0, 255, 1}, noon), "begun once more")
	used, err := f.db.UseCode(ctx, "p1", 5)
	require.NoError(f, err)
	require.False(f, used, "it counts for nothing yet")
	given, err := f.db.ConfirmCodes(ctx, change(review.LetterFactorAdded), 5, []string{"a", "b"})
	require.NoError(f, err)
	require.True(f, given)
	_, err = f.db.ConfirmCodes(ctx, change(review.LetterFactorAdded), 6, []string{"c"})
	requireKind(f.T, review.KindNotFound, err)
	for step, want := range map[int64]bool{5: false, 4: false} {
		used, err := f.db.UseCode(ctx, "p1", step)
		require.NoError(f, err)
		require.Equal(f, want, used)
	}
	used, err = f.db.UseCode(ctx, "p1", 6)
	require.NoError(f, err)
	require.True(f, used)
	for _, want := range []bool{true, false} {
		used, err := f.db.UseRecovery(ctx, "p1", "a")
		require.NoError(f, err)
		require.Equal(f, want, used)
	}
	key := auth.Passkey{ID: "k1", Person: "p1", Name: "telephone", MadeAt: noon}
	key.Record.ID, key.Record.PublicKey = []byte{1, 2}, []byte{3}
	given, err = f.db.AddPasskey(ctx, change(review.LetterFactorAdded), key, []string{"c"})
	require.NoError(f, err)
	require.False(f, given, "there are some")
	_, err = f.db.AddPasskey(ctx, change(review.LetterFactorAdded), key, nil)
	requireKind(f.T, review.KindConflict, err)
	key.UsedAt, key.Record.Authenticator.SignCount = new(noon.Add(time.Hour)), 7
	require.NoError(f, f.db.UsePasskey(ctx, key))
	stored, err := f.db.Passkey(ctx, "k1")
	require.NoError(f, err)
	require.Equal(f, key, stored)
	all, err := f.db.Factors(ctx, "p1")
	require.NoError(f, err)
	require.Equal(f, auth.Factors{Passkeys: []auth.Passkey{key}, Sealed: []byte{0, 255, 1}, LastStep: 6, Codes: true, Recovery: 1}, all)
	requireKind(f.T, review.KindNotFound, f.db.RemoveFactor(ctx, change(review.LetterFactorRemoved), review.FactorPasskey, "none"))
	require.NoError(f, f.db.RemoveFactor(ctx, change(review.LetterFactorRemoved), review.FactorCodes, ""))
	second := func() bool {
		a, err := f.db.AccountByPerson(ctx, "p1")
		require.NoError(f, err)
		return a.SecondFactor
	}
	require.True(f, second())
	require.NoError(f, f.db.ReplaceRecovery(ctx, change(review.LetterRecoveryRenewed), []string{"x", "y", "z"}))
	require.NoError(f, f.db.RemoveFactor(ctx, change(review.LetterFactorRemoved), review.FactorPasskey, "k1"))
	require.False(f, second())
	none, err = f.db.Factors(ctx, "p1")
	require.NoError(f, err)
	require.Zero(f, none.Recovery)
	require.Equal(f, []string{"account-added by program", "second-factor-added by p1", "second-factor-added by p1", "second-factor-removed by p1",
		"recovery-codes-renewed by p1", "second-factor-removed by p1"}, f.accountKinds("p1"))
	waiting, err := f.db.WaitingLetters(ctx, noon, 9)
	require.NoError(f, err)
	var told []review.LetterKind
	for _, l := range waiting {
		require.Equal(f, "p1", l.Person)
		told = append(told, l.Kind)
	}
	require.Equal(f, []review.LetterKind{review.LetterFactorAdded, review.LetterFactorAdded, review.LetterFactorRemoved, review.LetterRecoveryRenewed, review.LetterFactorRemoved}, told,
		"a letter for each change, and none for what was refused")
}

func stepsTaken(f fixture) {
	ctx := f.Context()
	s := auth.LoginStep{Digest: "d", Kind: auth.StepSecond, Person: "p1", Version: 3, ExpiresAt: noon.Add(time.Minute)}
	require.NoError(f, f.db.StoreStep(ctx, s))
	s.Data = `{"challenge":"c"}`
	require.NoError(f, f.db.StoreStep(ctx, s), "in its place")
	_, err := f.db.ReadStep(ctx, auth.StepPasskey, "d", noon)
	requireKind(f.T, review.KindNotFound, err)
	_, err = f.db.TakeStep(ctx, auth.StepSecond, "d", s.ExpiresAt)
	requireKind(f.T, review.KindNotFound, err)
	for _, read := range []func() (auth.LoginStep, error){func() (auth.LoginStep, error) { return f.db.ReadStep(ctx, auth.StepSecond, "d", noon) },
		func() (auth.LoginStep, error) { return f.db.TakeStep(ctx, auth.StepSecond, "d", noon) }} {
		found, err := read()
		require.NoError(f, err)
		require.Equal(f, s, found)
	}
	_, err = f.db.TakeStep(ctx, auth.StepSecond, "d", noon)
	requireKind(f.T, review.KindNotFound, err)
	require.NoError(f, f.db.StoreStep(ctx, s))
	require.Equal(f, 1, f.expire(service.Expiry{Sessions: s.ExpiresAt.Add(time.Second)}))
}
