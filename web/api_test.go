package web

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

func TestSessions(t *testing.T) {
	club := newAPIClub(t)
	got := club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "ADA", "password": clubPassword}).is(http.StatusCreated)
	require.Equal(t, "no-store", got.header.Get("Cache-Control"))
	session := decoded[Session](got)
	require.Equal(t, review.Person{ID: club.people["ada"], Name: "Name of ada", Role: review.RoleMember}, session.Person)
	require.WithinDuration(t, time.Now().Add(15*time.Minute), session.ExpiresAt, time.Minute)

	club.tokens["new"] = session.Token
	require.Equal(t, session.Person, decoded[review.Person](club.call("new", "GET", "/api/v1/me", nil).is(http.StatusOK)))
	club.call("", "GET", "/api/v1/me", nil, "Authorization", "bearer "+session.Token).is(http.StatusOK)
	club.call("", "GET", "/api/v1/me", nil, "Cookie", "revidit="+session.Token).is(http.StatusUnauthorized)
	club.call("", "GET", "/api/v1/me", nil, "Cookie", club.cookie("ada")).is(http.StatusOK)
	club.call("", "GET", "/api/v1/me", nil, "Authorization", "Bearer "+strings.TrimPrefix(club.cookie("ada"), "revidit=")).is(http.StatusUnauthorized)
	club.call("", "GET", "/api/v1/me", nil, "Authorization", "Basic "+session.Token).is(http.StatusUnauthorized)
	club.call("", "GET", "/api/v1/me", nil, "Authorization", "Bearer nonsense", "Cookie", "revidit="+session.Token).is(http.StatusUnauthorized)

	refresh := func(token string, status int) Session {
		return decoded[Session](club.call("", "POST", "/api/v1/sessions/refresh", map[string]any{"refresh_token": token}).is(status))
	}
	next := refresh(session.RefreshToken, http.StatusCreated)
	require.NotEqual(t, session.RefreshToken, next.RefreshToken)
	require.Equal(t, session.Person, next.Person)
	refresh("rr_AAAAAAAAAAAAAAAAAAAAAAAAAA", http.StatusUnauthorized)
	club.tokens["next"] = next.Token
	club.call("next", "GET", "/api/v1/me", nil).is(http.StatusOK)
	refresh(session.RefreshToken, http.StatusUnauthorized)
	club.call("next", "GET", "/api/v1/me", nil).is(http.StatusUnauthorized)
	require.Contains(t, club.log.String(), "refresh token used twice")
	require.Contains(t, club.page("ada", "/account", 200), "was used a second time")
	require.NotContains(t, club.page("ben", "/account", 200), "was used a second time")
	require.Contains(t, club.page("cora", "/people/"+club.people["ada"]+"/account", 200), "was used a second time")
	require.NotContains(t, club.page("cora", "/people/"+club.people["ben"]+"/account", 200), "was used a second time")
	club.tokens["new"] = decoded[Session](club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "ada", "password": clubPassword})).Token

	copied := club.cookie("ada")
	club.call("ada", "GET", "/api/v1/me", nil).is(http.StatusOK)
	club.call("new", "DELETE", "/api/v1/sessions", nil).is(http.StatusNoContent)
	club.call("new", "GET", "/api/v1/me", nil).is(http.StatusUnauthorized)
	club.call("ada", "GET", "/api/v1/me", nil).is(http.StatusUnauthorized)
	gone := club.call("", "GET", "/api/v1/me", nil, "Cookie", copied).is(http.StatusUnauthorized)
	require.Contains(t, gone.header.Get("Set-Cookie"), "revidit=;", "the browser forgets it")

	wrong := club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "ada", "password": "another one"}).is(http.StatusUnauthorized)
	unknown := club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "nobody", "password": clubPassword}).is(http.StatusUnauthorized)
	require.Equal(t, wrong.problem().Detail, unknown.problem().Detail)
	require.ElementsMatch(t, []string{"login", "password"}, club.call("", "POST", "/api/v1/sessions", map[string]any{}).is(http.StatusBadRequest).fields())
}

func TestLoginsAreLimited(t *testing.T) {
	club := newAPIClub(t, func(_ *Config, o *auth.Options) { o.Limits.PerAddress = auth.Limit{Burst: 6, Every: 90 * time.Second} })
	// The club itself has logged in from another address.
	for range 6 {
		club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "eve", "password": "guess"}).is(http.StatusUnauthorized)
	}
	got := club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "eve", "password": "guess"}).is(http.StatusTooManyRequests)
	wait, err := strconv.Atoi(got.header.Get("Retry-After"))
	require.NoError(t, err)
	require.True(t, wait > 30 && wait <= 90, "%d: what is left of the 90 s since the first try, on a machine however slow", wait)
	// Nobody's X-Forwarded-For is believed, so that it does not help.
	club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "eve", "password": "guess"}, "X-Forwarded-For", "198.51.100.9").is(http.StatusTooManyRequests)
}

func TestTrustedProxy(t *testing.T) {
	// httptest sends from 192.0.2.1.
	club := newAPIClub(t, func(c *Config, o *auth.Options) {
		c.TrustedProxies, o.Limits.PerAddress = []string{"192.0.2.1"}, auth.Limit{Burst: 6, Every: time.Minute}
	})
	try := func(from string) *reply {
		return club.call("", "POST", "/api/v1/sessions", map[string]any{"login": "eve" + from, "password": "guess"}, "X-Forwarded-For", from)
	}
	for range 6 {
		try("198.51.100.9").is(http.StatusUnauthorized)
	}
	try("198.51.100.9").is(http.StatusTooManyRequests)
	try("198.51.100.10").is(http.StatusUnauthorized)
}

func TestPhotos(t *testing.T) {
	club := newAPIClub(t)
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	require.NoError(t, w.WriteField("remark", "not looked at"))
	part, err := w.CreateFormFile("photo", "beetle.jpg")
	require.NoError(t, err)
	_, err = part.Write(picture(t, 1))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	whole := form.String()
	made := club.call("ada", "POST", "/api/v1/photos", whole, "Content-Type", w.FormDataContentType()).is(http.StatusCreated)
	up := decoded[Uploaded](made).Photo
	require.Equal(t, [2]int{40, 30}, [2]int{up.Width, up.Height})

	got := club.call("ada", "GET", made.header.Get("Location"), nil).is(http.StatusOK)
	require.Equal(t, "image/jpeg", got.header.Get("Content-Type"))
	require.Equal(t, "nosniff", got.header.Get("X-Content-Type-Options"))
	require.Contains(t, got.header.Get("Cache-Control"), "private")
	require.Contains(t, got.header.Get("Cache-Control"), "no-cache")
	require.NotEmpty(t, got.body)
	club.call("ada", "GET", made.header.Get("Location"), nil, "If-None-Match", got.header.Get("ETag")).is(http.StatusNotModified)
	club.call("ada", "GET", made.header.Get("Location"), nil, "If-None-Match", "nonsense").is(http.StatusBadRequest)
	club.call("ben", "GET", made.header.Get("Location"), nil).is(http.StatusNotFound)
	for _, size := range []string{"display", "thumb"} {
		other := club.call("ada", "GET", "/api/v1/photos/"+up.ID+"/"+size, nil).is(http.StatusOK)
		require.NotEqual(t, got.header.Get("ETag"), other.header.Get("ETag"))
	}

	for name, c := range map[string]struct {
		body, kind string
		want       int
	}{
		"no photo":       {"this is text", "image/jpeg", 400},
		"empty":          {"", "image/jpeg", 400},
		"another type":   {string(picture(t, 1)), "text/html", 415},
		"no type":        {string(picture(t, 1)), "", 415},
		"broken off":     {whole[:len(whole)-200], w.FormDataContentType(), 400},
		"no boundary":    {whole, "multipart/form-data", 400},
		"part missing":   {"--x\r\nContent-Disposition: form-data; name=\"other\"\r\n\r\ny\r\n--x--\r\n", "multipart/form-data; boundary=x", 400},
		"far too large":  {strings.Repeat("x", 34_000_000), "image/jpeg", 413},
		"large in parts": {"--x\r\nContent-Disposition: form-data; name=\"other\"\r\n\r\n" + strings.Repeat("y", 34_000_000) + "\r\n--x--\r\n", "multipart/form-data; boundary=x", 413},
	} {
		t.Run(name, func(t *testing.T) {
			r := club.call("ada", "POST", "/api/v1/photos", c.body, "Content-Type", c.kind).is(c.want)
			if c.want == 400 {
				require.Equal(t, []string{"photo"}, r.fields())
			}
		})
	}
}

func TestSpecimens(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := "/api/v1/specimens/" + v.Specimen.ID
	got := club.call("ada", "GET", path, nil).is(http.StatusOK)
	require.Equal(t, "AB-1", decoded[service.SpecimenView](got).Specimen.Label.CatalogueNumber)
	club.call("ada", "GET", path, nil, "If-None-Match", got.header.Get("ETag")).is(http.StatusNotModified)

	label := map[string]any{"label": map[string]any{"catalogue_number": "AB-2"}, "withheld": map[string]any{"locality": "A wood"}, "reason": "typing error"}
	changed := club.call("ada", "PUT", path+"/label", label, "If-Match", got.header.Get("ETag")).is(http.StatusOK)
	after := decoded[service.SpecimenView](changed)
	require.Equal(t, "AB-2", after.Specimen.Label.CatalogueNumber)
	require.Equal(t, "A wood", after.Withheld.Locality)
	club.call("ada", "PUT", path+"/label", label, "If-Match", got.header.Get("ETag")).is(http.StatusPreconditionFailed)
	club.call("ada", "PUT", path+"/label", label, "If-Match", changed.header.Get("ETag")).is(http.StatusOK)

	require.ElementsMatch(t, []string{"label", "withheld", "reason"}, club.call("ada", "PUT", path+"/label", map[string]any{}).is(http.StatusBadRequest).fields())
	label["withheld"] = map[string]any{"latitude": 91}
	require.Equal(t, []string{"withheld.latitude"}, club.call("ada", "PUT", path+"/label", label).is(http.StatusBadRequest).fields())
	label["withheld"] = map[string]any{"latitude": 47}
	require.Equal(t, []string{"withheld.longitude"}, club.call("ada", "PUT", path+"/label", label).is(http.StatusBadRequest).fields())
}

func TestPolicy(t *testing.T) {
	club := newAPIClub(t)
	first := club.call("ben", "GET", "/api/v1/policy", nil).is(http.StatusOK)
	require.Equal(t, `"0"`, first.header.Get("ETag"))
	club.call("ben", "GET", "/api/v1/policy", nil, "If-None-Match", `"0"`).is(http.StatusNotModified)
	policy := policyBody("reviewers", 3, "excluded_needs_reason", false, "experts", map[string]any{"Elateridae": []string{club.people["rita"]}},
		"blind_rate", 0.25, "recheck_rate", 0, "panel", 5, "list", map[string]any{"Elateridae": 12.5})
	changed := club.call("cora", "PUT", "/api/v1/policy", policy, "If-Match", `"0"`).is(http.StatusOK)
	require.Equal(t, `"1"`, changed.header.Get("ETag"))
	got := decoded[review.Policy](changed)
	require.Equal(t, 3, got.Reviewers)
	require.InDelta(t, 0.25, got.BlindRate, 0)
	require.Zero(t, got.RecheckRate)
	require.Equal(t, 5, got.Panel)
	require.Equal(t, map[string]float64{"Elateridae": 12.5}, got.List)
	// Version 0 is a version like another, although the service takes 0 for any.
	club.call("cora", "PUT", "/api/v1/policy", policy, "If-Match", `"0"`).is(http.StatusPreconditionFailed)
	club.call("cora", "PUT", "/api/v1/policy", policy, "If-Match", "*").is(http.StatusOK)

	policy["experts"] = map[string]any{"Elateridae": []string{club.people["ben"]}, "Nonidae": []string{}}
	require.ElementsMatch(t, []string{"experts.Elateridae", "experts.Nonidae"}, club.call("cora", "PUT", "/api/v1/policy", policy).is(http.StatusBadRequest).fields())
	policy["confidence"], policy["reviewers"] = 1, 11
	require.ElementsMatch(t, []string{"confidence", "reviewers"}, club.call("cora", "PUT", "/api/v1/policy", policy).is(http.StatusBadRequest).fields())
	require.Len(t, club.call("cora", "PUT", "/api/v1/policy", map[string]any{}).is(http.StatusBadRequest).fields(), 11, "nothing is taken for granted")
	for _, wrong := range []struct {
		field  string
		value  any
		fields []string
	}{
		{"holds_at_once", 0, []string{"holds_at_once"}}, {"holds_at_once", 51, []string{"holds_at_once"}}, {"blind_rate", 0.6, []string{"blind_rate"}}, {"recheck_rate", -0.1, []string{"recheck_rate"}}, {"panel", 2, []string{"panel"}},
		{"panel", 4, []string{"panel"}}, {"list", map[string]any{"Nonidae": 1, "Elateridae": 0}, []string{"list.Elateridae"}},
		{"list", map[string]any{"Nonidae": 1}, []string{"list.Nonidae"}},
	} {
		require.Equal(t, wrong.fields, club.call("cora", "PUT", "/api/v1/policy", policyBody(wrong.field, wrong.value)).is(http.StatusBadRequest).fields(), wrong.field)
	}
}

func TestPeople(t *testing.T) {
	club := newAPIClub(t)
	people := decoded[struct{ Items []review.Person }](club.call("ben", "GET", "/api/v1/people", nil).is(http.StatusOK)).Items
	require.Len(t, people, len(clubRoles))
	require.Equal(t, review.Person{ID: club.people["ada"], Name: "Name of ada", Role: review.RoleMember}, people[0])
	people = decoded[struct{ Items []review.Person }](club.call("ben", "GET", "/api/v1/people?name=OF+RI", nil).is(http.StatusOK)).Items
	require.Equal(t, []review.Person{{ID: club.people["rita"], Name: "Name of rita", Role: review.RoleReviewer}}, people)
}

func TestKnowledge(t *testing.T) {
	club := newAPIClub(t)
	families := decoded[struct {
		Tables TablesView
		Items  []FamilyLine
	}](club.call("ben", "GET", "/api/v1/families", nil).is(http.StatusOK))
	require.Equal(t, "small-test-group", families.Tables.Group)
	require.Len(t, families.Tables.Hash, 64)
	require.Len(t, families.Items, 2)

	got := decoded[FamilyView](club.call("ben", "GET", "/api/v1/families/Elateridae", nil))
	require.Equal(t, "Elateroidea", got.Superfamily)
	require.Equal(t, []OldName{{Name: "Drilidae", Remark: "Included today."}}, got.OldNames)
	antenna := got.Diagnosis[0]
	require.Equal(t, "antenna-form", antenna.Character)
	require.Equal(t, "page 7", antenna.Source.Place)
	require.NotEmpty(t, antenna.Source.Citation)
	total := 0.0
	for _, share := range antenna.States {
		total += share.P
	}
	require.InDelta(t, 1, total, 1e-9)
	require.Len(t, got.Forms, 2)
	require.Empty(t, got.Forms[0].Diagnosis)
	require.Equal(t, "ventrites", got.Forms[1].Diagnosis[0].Character, "only what differs from the family")
	length := got.Diagnosis[len(got.Diagnosis)-1]
	require.Equal(t, &LengthView{Min: 1.5, UsualMin: 5, UsualMax: 25, Max: 75}, length.Length)

	old := decoded[FamilyView](club.call("ben", "GET", "/api/v1/families/Drilidae", nil).is(http.StatusOK))
	require.Equal(t, "Elateridae", old.Name)
	require.Equal(t, "Included today.", old.Remark)

	characters := decoded[struct{ Items []CharacterView }](club.call("ben", "GET", "/api/v1/characters", nil)).Items
	require.Equal(t, "antenna-form", characters[0].ID)
	require.Equal(t, StateView{ID: "filiform", Label: "thread-like", Hint: "like a thread"}, characters[0].States[0])
	require.InDelta(t, 3, *characters[2].Max, 0)
}

func TestAssess(t *testing.T) {
	club := newAPIClub(t)
	assess := func(body any) *reply { return club.call("ben", "POST", "/api/v1/assessments", body) }
	got := decoded[judgement.Assessment](assess(map[string]any{"family": "Drilidae", "sex": "male",
		"observations": map[string]any{"ventrites": 9, "length": 7.5, "antenna-form": "serrate"}}).is(http.StatusOK))
	require.Equal(t, "Elateridae", got.Family)
	require.NotEmpty(t, got.Remark)
	require.NotEmpty(t, got.Ranking)
	kinds := []judgement.ContradictionKind{}
	for _, c := range got.Contradictions {
		kinds = append(kinds, c.Kind)
	}
	require.Contains(t, kinds, judgement.Excluded)
	require.NotContains(t, kinds, judgement.Unseen, "photos are no part of the question")
	asText := decoded[judgement.Assessment](assess(map[string]any{"family": "Drilidae", "sex": "male",
		"observations": map[string]any{"ventrites": "9", "length": "7.50", "antenna-form": "serrate"}}))
	require.InDelta(t, got.Confidence, asText.Confidence, 0, "a number is what its text is")

	require.ElementsMatch(t, []string{"family", "observations.colour", "observations.ventrites"}, assess(map[string]any{"family": "Nonidae",
		"observations": map[string]any{"ventrites": 5.5, "colour": "red"}}).is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"observations.ventrites"}, assess(map[string]any{"observations": map[string]any{"ventrites": true}}).is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"sex"}, assess(map[string]any{"sex": "both", "observations": map[string]any{}}).is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"observations"}, assess(map[string]any{}).is(http.StatusBadRequest).fields())
}
