package modelstest

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models"
	"revidit/review"
	"revidit/review/darwincore"
	"revidit/review/service"
)

// Erased: a curator who has done everything that anybody can is erased. No table holds name, login or address any more, and
// nothing that is shown, printed or handed over tells them; what was done stays, under the pseudonym, and the projections are what the
// events make. holding are the tables of which any column of any row holds one of some texts, in whatever case.
func Erased(t *testing.T, db *models.DB, holding func(texts ...string) []string) {
	f := fixture{t, db}
	m := newMeeting(f, easy())
	const id, name, login, address = "p-77", "Quilla Featherstonehaugh", "quillaf", "quilla@featherstonehaugh.example"
	texts := []string{"quilla", "featherstonehaugh"}
	a := account(id, login, name)
	a.Role = review.RoleCurator
	require.NoError(f, f.db.CreateAccount(f.Context(), a))
	quilla, cora := review.Actor{Person: id, Name: name, Role: review.RoleCurator}, m.actors["cora"]
	m.actors[id] = quilla
	ctx, s := f.Context(), m.service

	foreign := new(bytes.Buffer) // before there is anything of hers
	m.submit("ben", "Elateridae", "5")
	options := darwincore.Options{Title: "All", Organization: "Club", License: darwincore.Licences[0], Collectors: true, Media: true, Unsettled: true}
	_, err := s.HandOver(ctx, cora, options, foreign, nil)
	require.NoError(f, err)
	form := m.form(id, "Elateridae", "5")
	form.Withheld = review.Withheld{Locality: "Kauns", District: "Landeck"}
	own, err := s.SubmitNew(ctx, quilla, form, "")
	require.NoError(f, err)
	theirs := m.submit("ada", "Elateridae", "5")
	agrees := review.ReviewForm{Opinion: &review.OpinionForm{Kind: review.OpinionAgrees, Basis: review.BasisSpecimen}}
	m.reviewed("rita", own.ID, agrees)
	m.reviewed("rolf", own.ID, agrees)
	m.reviewed(id, theirs.ID, agrees)
	m.reviewed("rolf", theirs.ID, agrees)
	draft := review.SubmissionForm{Family: "Elateridae", Label: review.Label{CatalogueNumber: "A-2"}, Withheld: review.Withheld{Collector: name},
		Observations: []review.ObservationForm{{Character: "ventrites", State: "6"}}}
	_, err = s.Draft(ctx, quilla, draft, "")
	require.NoError(f, err)
	sheet := m.printed(id, order(m.plan(id, service.SetSlips, own.Specimen)))
	m.printed("cora", order(m.plan("cora", service.SetLocality, own.Specimen)))
	in, err := s.PlanArchive(ctx, quilla, service.IntakeFile{Name: "a.zip", From: bytes.NewReader(foreign.Bytes()), Size: int64(foreign.Len())})
	require.NoError(f, err)
	_, err = s.SaveSearch(ctx, quilla, "of "+name, "person="+login)
	require.NoError(f, err)
	require.NoError(f, s.ChooseMail(ctx, quilla, review.MailForm{Address: address, Rhythm: review.MailDaily, Codes: review.NewsCodes}))
	_, err = s.KeepForm(ctx, id, "/submissions", map[string][]string{"collector": {name}})
	require.NoError(f, err)
	require.NoError(f, s.GoOnVisit(ctx, quilla, 2))
	require.NoError(f, f.db.CreateSession(ctx, auth.Session{ID: "login-of-hers", Person: id, CreatedAt: noon, ExpiresAt: noon.AddDate(0, 0, 1)}, 1))
	require.NoError(f, f.db.HandOverLink(ctx, cora, review.AccountLink{ID: "link-of-hers", Purpose: review.LinkResets, Person: id, Digest: "d", By: "cora", MadeAt: noon, ExpiresAt: noon.AddDate(0, 0, 1)}))
	for i, typed := range []string{login, address} {
		require.NoError(f, f.db.AskForReset(ctx, strings.ToUpper(typed), review.Letter{ID: fmt.Sprint("asked-", i), Kind: review.LetterReset, MadeAt: noon}))
	}
	_, err = f.db.AddPasskey(ctx, factorChanges(quilla)(review.LetterFactorAdded), auth.Passkey{ID: "passkey-of-hers", Person: id, Name: name, MadeAt: noon}, []string{"code"})
	require.NoError(f, err)
	require.NoError(f, f.db.BeginCodes(ctx, id, []byte("sealed"), noon))
	require.NoError(f, f.db.LinkProvider(ctx, quilla, auth.ProviderLogin{Issuer: "https://museum.example", Subject: login, Person: id, MadeAt: noon},
		review.Letter{ID: "letter-of-hers", Person: id, Kind: review.LetterProviderLinked, MadeAt: noon}))
	require.NoError(f, f.db.StoreStep(ctx, auth.LoginStep{Digest: "d", Kind: auth.StepSecond, Person: id, ExpiresAt: noon.AddDate(0, 0, 1)}))
	require.NoError(f, f.db.AddRefresh(ctx, auth.Refresh{Digest: "refresh-of-hers", Session: "login-of-hers", CreatedAt: noon}))
	machine := auth.Account{Person: "p-78", Login: "machine-" + login, Name: name + "'s scanner", Role: review.RoleMachine, Version: 1, CreatedAt: noon}
	require.NoError(f, f.db.CreateMachine(ctx, cora, machine, auth.MachineToken{ID: "token-of-a-machine", Person: machine.Person, Digest: "d", Purpose: "drawers", CreatedBy: "cora",
		CreatedAt: noon, ExpiresAt: noon.AddDate(0, 0, 1)}))
	archive := func() string {
		var out bytes.Buffer
		_, err := s.HandOver(ctx, cora, options, &out, nil)
		require.NoError(f, err)
		return out.String()
	}
	require.Contains(f, unzipped(f, archive()), name)
	for _, table := range []string{"accounts", "people", "person_names", "mailboxes", "saved_searches", "kept_forms", "reset_requests", "passkeys", "provider_logins"} {
		require.Contains(f, holding(texts...), table, "else the search finds nothing")
	}
	curators, err := f.db.Curators(ctx)
	require.NoError(f, err)
	require.Contains(f, curators, id)

	require.Contains(f, holding("refresh-of-hers"), "refresh_tokens")
	require.Contains(f, holding("token-of-a-machine"), "machine_tokens")
	require.NoError(f, f.db.ErasePerson(ctx, review.Actor{}, id, "asked for it"))
	require.NoError(f, f.db.ErasePerson(ctx, review.Actor{}, machine.Person, "named after her"))
	require.NotContains(f, holding("refresh-of-hers"), "refresh_tokens")
	require.NotContains(f, holding("token-of-a-machine"), "machine_tokens")

	require.Empty(f, holding(texts...))
	for _, table := range []string{"accounts", "sessions", "mailboxes", "saved_searches", "kept_forms", "drafts", "visits", "letters", "person_names", "account_links", "passkeys", "code_secrets",
		"recovery_codes", "login_steps", "provider_logins"} {
		require.NotContains(f, holding(id), table, "nothing there is of anybody else's concern")
	}
	require.NotContains(f, strings.ToLower(unzipped(f, archive())), "featherstonehaugh")
	curators, err = f.db.Curators(ctx)
	require.NoError(f, err)
	require.NotContains(f, curators, id)
	m.requireNamedErased(id, own, sheet, in)
	differences, err := f.db.RebuildCompared(ctx)
	require.NoError(f, err)
	for _, d := range differences {
		require.True(f, d.None(), "%+v", d)
	}
	require.Empty(f, holding(texts...), "nor do events make it again")
}

// requireNamedErased asks for what tells names, as a curator.
func (m *meeting) requireNamedErased(id string, own service.Done, sheet review.Sheet, in review.Intake) {
	m.Helper()
	ctx, s, cora := m.Context(), m.service, m.actors["cora"]
	named := func(what string, names map[string]string, err error) {
		m.Helper()
		require.NoError(m, err, what)
		require.Equal(m, service.ErasedName, names[id], what)
	}
	dossier, err := s.Dossier(ctx, cora, own.Specimen)
	named("dossier", dossier.Names, err)
	_, names, err := s.Sheets(ctx, cora)
	named("sheets", names, err)
	intake, err := s.Intake(ctx, cora, in.ID, false, 0)
	named("intake", intake.Names, err)
	year, err := s.Year(ctx, cora, m.submission(own.ID).Group, m.clock.Year())
	require.NoError(m, err)
	require.Contains(m, []string{"", service.ErasedName}, year.Names[id], "by name only where the policy shows names")
	settled, err := s.Settled(ctx, cora, service.ByPerson, review.Period{From: noon.AddDate(-1, 0, 0), Until: noon.AddDate(1, 0, 0)})
	require.NoError(m, err)
	require.True(m, slices.ContainsFunc(settled.Groups, func(g service.SettledGroup) bool { return g.Name == service.ErasedName }), "%+v", settled.Groups)
	plan := m.plan("cora", service.SetSlips, own.Specimen)
	require.NotContains(m, strings.ToLower(fmt.Sprint(said(plan))), "featherstonehaugh")
	require.True(m, slices.ContainsFunc(plan.LeftOut, func(o service.LeftOutSpecimen) bool { return o.Why == service.LeftOutErased }), "%+v", plan.LeftOut)
	found, err := s.People(ctx, service.PeopleFilter{Name: "Quilla"})
	require.NoError(m, err)
	require.Empty(m, found)
	view, err := s.Person(ctx, cora, id)
	require.NoError(m, err)
	require.Equal(m, "asked for it", view.ErasedWhy)
	require.WithinDuration(m, time.Now(), *view.ErasedAt, time.Hour)
	require.NotEmpty(m, sheet.Labels)
}

// unzipped is all that an archive holds, one file behind the other.
func unzipped(f fixture, archive string) string {
	f.Helper()
	packed, err := zip.NewReader(strings.NewReader(archive), int64(len(archive)))
	require.NoError(f, err)
	var all strings.Builder
	for _, file := range packed.File {
		from, err := file.Open()
		require.NoError(f, err)
		text, err := io.ReadAll(from)
		require.NoError(f, err)
		all.Write(text)
		require.NoError(f, from.Close())
	}
	return all.String()
}
