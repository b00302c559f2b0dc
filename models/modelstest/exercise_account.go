package modelstest

import (
	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

var accounts = map[string]func(fixture){
	"an account comes back equal":              accountComesBack,
	"a login is taken once, whatever its case": loginOnce,
	"an account changes by single columns":     accountChanged,
	"a language is chosen and goes again":      languageChosen,
	"people with an account are listed":        peopleListed,
	"an erased person keeps only the id":       personErased,
}

func account(person, login, name string) auth.Account {
	return auth.Account{Person: person, Name: name, Login: login, Role: review.RoleMember, PasswordHash: "$argon2id$v=19$…",
		Version: 1, CreatedAt: noon}
}

func accountComesBack(f fixture) {
	ada := account("p1", "ada", "Ada")
	ada.Disabled, ada.Version, ada.Role = true, 7, review.RoleCurator
	require.NoError(f, f.db.CreateAccount(f.Context(), ada))
	for _, login := range []string{"ada", "ADA"} {
		stored, err := f.db.AccountByLogin(f.Context(), login)
		require.NoError(f, err)
		require.Equal(f, ada, stored)
	}
	stored, err := f.db.AccountByPerson(f.Context(), "p1")
	require.NoError(f, err)
	require.Equal(f, ada, stored)
	people, err := f.db.People(f.Context(), []string{"p1"})
	require.NoError(f, err)
	require.Equal(f, review.Person{ID: "p1", Name: "Ada", Role: review.RoleCurator}, people["p1"])
	for _, unknown := range []string{"", "none", "ada\x00"} {
		_, err := f.db.AccountByLogin(f.Context(), unknown)
		requireKind(f.T, review.KindNotFound, err)
		_, err = f.db.AccountByPerson(f.Context(), unknown)
		requireKind(f.T, review.KindNotFound, err)
	}
}

func loginOnce(f fixture) {
	require.NoError(f, f.db.CreateAccount(f.Context(), account("p1", "Ágnes", "Ágnes")))
	stored, err := f.db.AccountByPerson(f.Context(), "p1")
	require.NoError(f, err)
	require.Equal(f, "ágnes", stored.Login)
	for _, login := range []string{"ágnes", "ÁGNES", "A\u0301gnes"} {
		requireKind(f.T, review.KindConflict, f.db.CreateAccount(f.Context(), account("p2", login, "Other")))
	}
	people, err := f.db.People(f.Context(), []string{"p2"})
	require.NoError(f, err)
	require.Empty(f, people, "the person of a refused account is not stored")
	requireKind(f.T, review.KindConflict, f.db.CreateAccount(f.Context(), account("p1", "second", "Ágnes again")))
	stored, err = f.db.AccountByPerson(f.Context(), "p1")
	require.NoError(f, err)
	require.Equal(f, "Ágnes", stored.Name, "a refused account leaves the name alone")
	require.Error(f, f.db.CreateAccount(f.Context(), account("p3", "", "No login")))
	nobody := account("p3", "p3", "No role")
	nobody.Role = "stranger"
	require.Error(f, f.db.CreateAccount(f.Context(), nobody))
}

func accountChanged(f fixture) {
	want := account("p1", "ada", "Ada")
	require.NoError(f, f.db.CreateAccount(f.Context(), want))
	hash, curator := "new", review.RoleCurator
	for _, step := range []struct {
		change auth.AccountChange
		leaves func()
	}{
		{auth.AccountChange{PasswordHash: &hash}, func() { want.PasswordHash = hash }},
		{auth.AccountChange{Disabled: new(true)}, func() { want.Disabled = true }},
		{auth.AccountChange{Role: &curator}, func() { want.Role = curator }},
		{auth.AccountChange{Disabled: new(false)}, func() { want.Disabled = false }},
	} {
		require.NoError(f, f.db.ChangeAccount(f.Context(), "p1", step.change))
		step.leaves()
		want.Version++
		stored, err := f.db.AccountByLogin(f.Context(), "ada")
		require.NoError(f, err)
		require.Equal(f, want, stored)
	}
	requireKind(f.T, review.KindNotFound, f.db.ChangeAccount(f.Context(), "p9", auth.AccountChange{Disabled: new(true)}))
}

func languageChosen(f fixture) {
	require.NoError(f, f.db.CreateAccount(f.Context(), account("p1", "ada", "Ada")))
	ada := review.Actor{Person: "p1", Role: review.RoleMember}
	chosen := func() string {
		tag, err := f.db.Language(f.Context(), "p1")
		require.NoError(f, err)
		return tag
	}
	require.Empty(f, chosen())
	for _, tag := range []string{"de", "de-CH", ""} {
		require.NoError(f, f.db.SetLanguage(f.Context(), ada, tag))
		require.Equal(f, tag, chosen())
		stored, err := f.db.AccountByPerson(f.Context(), "p1")
		require.NoError(f, err)
		require.Equal(f, tag, stored.Language)
		require.Equal(f, 1, stored.Version, "nobody is logged out by it")
	}
	require.NoError(f, f.db.SetLanguage(f.Context(), ada, "de"))
	require.NoError(f, f.db.SetLanguage(f.Context(), ada, "de"), "nothing changes")
	events, err := f.db.Events(f.Context(), review.AccountStream("p1"))
	require.NoError(f, err)
	var told []string
	for _, e := range events[1:] {
		require.Equal(f, "p1", e.Actor)
		told = append(told, e.Change.(*review.LanguageChosen).Language)
	}
	require.Equal(f, []string{"de", "de-CH", "", "de"}, told, "each change is an event of its person")
	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, "p1", "left the club"))
	require.Empty(f, chosen())
	requireKind(f.T, review.KindNotFound, f.db.SetLanguage(f.Context(), review.Actor{Person: "p9", Role: review.RoleMember}, "de"))
}

func peopleListed(f fixture) {
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{People: []review.Person{{ID: "slip", Name: "Anon"}, {ID: "p3", Name: "old"}}}))
	for _, a := range []auth.Account{account("p1", "zoe", "bea"), account("p2", "Max", "Čeněk"), account("p3", "ann", "Ada"), account("p4", "bob", "Bea")} {
		require.NoError(f, f.db.CreateAccount(f.Context(), a))
	}
	found := func(filter service.PeopleFilter, most int) []string {
		people, err := f.db.FindPeople(f.Context(), filter, most)
		require.NoError(f, err)
		ids := []string{}
		for _, p := range people {
			ids = append(ids, p.ID)
			require.Equal(f, review.RoleMember, p.Role)
		}
		return ids
	}
	require.Equal(f, []string{"p3", "p1", "p4", "p2"}, found(service.PeopleFilter{}, 200))
	require.Equal(f, []string{"p3", "p1"}, found(service.PeopleFilter{}, 2))
	require.Equal(f, []string{"p4", "p2"}, found(service.PeopleFilter{After: &review.Person{ID: "p1", Name: "bea"}}, 2), "behind the last of them")
	require.Equal(f, []string{"p1", "p4"}, found(service.PeopleFilter{Name: "  BE "}, 5))
	require.Equal(f, []string{"p2"}, found(service.PeopleFilter{Name: "C\u030cen"}, 5))
	require.Empty(f, found(service.PeopleFilter{Name: "%"}, 5))
	require.Empty(f, found(service.PeopleFilter{Name: "Anon"}, 5), "without an account")
	require.Empty(f, found(service.PeopleFilter{Roles: []review.Role{review.RoleCurator}}, 5))
	changed := review.Person{ID: "p4", Name: "Maria Grazia  Beatrice ß", Role: review.RoleMember}
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{People: []review.Person{changed}}))
	require.Equal(f, []string{"p1", "p4"}, found(service.PeopleFilter{Name: "bea"}, 5), "by a later word of the name")
	require.Equal(f, []string{"p4"}, found(service.PeopleFilter{Name: "grazia b", Roles: []review.Role{review.RoleMember}}, 5))
	require.Equal(f, []string{"p4"}, found(service.PeopleFilter{Name: "SS"}, 5))
	for _, bad := range []int{0, 201} {
		_, err := f.db.FindPeople(f.Context(), service.PeopleFilter{}, bad)
		requireKind(f.T, review.KindInvalid, err)
	}
	_, err := f.db.FindPeople(f.Context(), service.PeopleFilter{Name: "\xff"}, 1)
	requireKind(f.T, review.KindInvalid, err)

	all, err := f.db.FindAccounts(f.Context())
	require.NoError(f, err)
	var logins []string
	for _, a := range all {
		logins = append(logins, a.Login)
	}
	require.Equal(f, []string{"ann", "bob", "max", "zoe"}, logins)
}

func personErased(f fixture) {
	require.NoError(f, f.db.CreateAccount(f.Context(), account("p1", "ada", "Ada")))
	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, "p1", "left the club"))
	people, err := f.db.People(f.Context(), []string{"p1"})
	require.NoError(f, err)
	require.Equal(f, map[string]review.Person{"p1": {ID: "p1"}}, people)
	_, err = f.db.AccountByLogin(f.Context(), "ada")
	requireKind(f.T, review.KindNotFound, err)
	listed, err := f.db.FindPeople(f.Context(), service.PeopleFilter{}, 5)
	require.NoError(f, err)
	require.Empty(f, listed)
	requireKind(f.T, review.KindNotFound, f.db.ErasePerson(f.Context(), review.Actor{}, "none", "left the club"))
}
