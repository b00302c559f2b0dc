package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"revidit/review"
	"revidit/review/service"
)

func TestSubmitWithAPage(t *testing.T) {
	club := newAPIClub(t)
	fields := club.submissionFields("ada")
	for name, value := range map[string]string{"photo": fields.Get("photos[0].photo"), "left": "10", "top": "12,5", "width": "50", "height": "40"} {
		fields.Set("obs[ventrites]."+name, value)
	}
	id := idIn(t, club.postFiles("ada", "/submissions", fields).goesTo())
	v := club.viewOf("ada", id)
	require.Equal(t, review.StatusOpen, v.Submission.Status)
	require.Equal(t, "AB-7", v.Specimen.Label.CatalogueNumber)
	require.InDelta(t, 47.123, *v.Withheld.Latitude, 0)
	require.Equal(t, &review.Region{X: 0.1, Y: 0.125, W: 0.5, H: 0.4}, v.Specimen.Observations[0].Region)
	require.Equal(t, review.FairlySure, v.Specimen.Observations[0].Sureness)

	require.Equal(t, "/submissions/"+id, club.postFiles("ada", "/submissions", fields).goesTo(), "a form sent twice makes one submission")
}

func TestFormComesBackWithEverythingTyped(t *testing.T) {
	club := newAPIClub(t)
	fields := club.submissionFields("ada")
	fields.Set("withheld.latitude", "north")
	fields.Set("label.count", "two")
	fields.Set("label.collected_from", "yesterday")
	fields.Set("family", "Nosuchidae <em>")
	fields.Set("remarks", "first line\nsecond <b>line</b>")
	fields.Set("obs[ventrites].state", "99")
	text := club.shown(club.postFiles("ada", "/submissions", fields), http.StatusBadRequest)

	for _, kept := range []string{`value="north"`, `value="two"`, `value="yesterday"`, `value="Nosuchidae &lt;em&gt;"`, "second &lt;b&gt;line&lt;/b&gt;", `value="99"`,
		`value="` + fields.Get("photos[0].photo") + `"`, `value="below" selected`, `value="fairly-sure" selected`, `value="key-of-ada"`} {
		require.Contains(t, text, kept)
	}
	for _, field := range []string{"withheld-latitude", "label-count", "label-collected-from", "family", "obs-ventrites--state"} {
		require.Contains(t, text, `href="#f-`+field+`"`, "the summary leads to the field")
		require.Contains(t, text, `id="f-`+field+`-wrong"`, "the message stands beside the field")
	}
	require.Regexp(t, `id="f-family"[^>]*aria-describedby="f-family-hint f-family-wrong"[^>]*aria-invalid="true"`, text)
	require.Empty(t, club.linesOf("ada"), "nothing was stored")
}

func (c *apiClub) linesOf(who string) []service.SubmissionLine {
	c.t.Helper()
	lines, _, err := c.server.Service.Find(c.t.Context(), c.actor(who), service.SubmissionFilter{Owner: c.people[who]}, service.Page{})
	require.NoError(c.t, err)
	return lines
}

func TestPhotosAreKeptWhenAnotherFieldFails(t *testing.T) {
	club := newAPIClub(t)
	fields := url.Values{"label.catalogue_number": {"AB-8"}, "family": {"Elateridae"}, "obs[ventrites].state": {"5"}, "do": {"submit"}, "key": {"k"}}
	text := club.shown(club.postFiles("ada", "/submissions", fields, file{"above.jpg", picture(t, 1)}, file{"notes.txt", []byte("no picture")}, file{"below.jpg", picture(t, 2)}), http.StatusBadRequest)
	ids := regexp.MustCompile(`name="photos\[\d\]\.photo" value="([^"]+)"`).FindAllStringSubmatch(text, -1)
	require.Len(t, ids, 2, "both photos are kept")
	require.Contains(t, text, "notes.txt", "the refused one is named")
	require.Contains(t, text, `href="#f-photos-0--view"`, "the view is still wanted")

	for i, id := range ids {
		fields.Set("photos["+string(rune('0'+i))+"].photo", id[1])
		fields.Set("photos["+string(rune('0'+i))+"].view", "below")
	}
	fields.Set("photos[1].out", "yes")
	v := club.viewOf("ada", idIn(t, club.postFiles("ada", "/submissions", fields).goesTo()))
	require.Equal(t, []string{ids[0][1]}, v.Submission.Photos, "the one left out is left out")
}

func TestUploadButtonStoresPhotosOnly(t *testing.T) {
	club := newAPIClub(t)
	text := club.shown(club.postFiles("ada", "/submissions", url.Values{"do": {"upload"}, "remarks": {"kept words"}}, file{"a.jpg", picture(t, 1)}), http.StatusOK)
	require.Contains(t, text, "kept words")
	require.Contains(t, text, "Photo 1 shows")
	require.Empty(t, club.linesOf("ada"))

	r := club.postFiles("ada", "/photos", url.Values{"start": {"3"}}, file{"b.jpg", picture(t, 2)})
	require.Equal(t, http.StatusOK, r.status)
	require.Contains(t, string(r.body), `name="photos[3].photo"`)
	require.NotContains(t, string(r.body), "<html", "a part of a form, not a page")
}

func TestOfferOfAPhotoIsTaken(t *testing.T) {
	club := newAPIClub(t)
	fields := club.submissionFields("ada")
	for name, value := range map[string]string{"latitude": "46.5", "longitude": "8.25", "uncertainty": "12", "elevation": "910", "date": "2026-05-14", "useplace": "yes", "usedate": "yes"} {
		fields.Set("photos[0]."+name, value)
	}
	v := club.viewOf("ada", idIn(t, club.postFiles("ada", "/submissions", fields).goesTo()))
	require.InDelta(t, 46.5, *v.Withheld.Latitude, 0)
	require.InDelta(t, 8.25, *v.Withheld.Longitude, 0)
	require.InDelta(t, 12, *v.Withheld.UncertaintyM, 0)
	require.InDelta(t, 910, *v.Withheld.ElevationM, 0)
	require.Equal(t, "2026-05-14", v.Specimen.Label.CollectedFrom)
}

func TestDraftGoesOn(t *testing.T) {
	club := newAPIClub(t)
	fields := club.submissionFields("ada")
	fields.Set("do", "draft")
	fields.Set("withheld.verbatim_label", "Graz\r\n14.v.2026")
	id := idIn(t, club.postFiles("ada", "/submissions", fields).goesTo())
	require.Equal(t, review.StatusDraft, club.viewOf("ada", id).Submission.Status)

	text := club.page("ada", "/submissions/"+id+"/edit", 200)
	require.Contains(t, text, `value="AB-7"`)
	require.Contains(t, text, "Graz\n14.v.2026")
	version := regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(text)[1]
	fields.Set("do", "submit")
	fields.Set("version", version)
	fields.Set("label.habitat", "oak wood")
	observed := club.viewOf("ada", id).Submission.Cites
	require.Equal(t, "/submissions/"+id, club.postFiles("ada", "/submissions/"+id+"/edit", fields).goesTo())
	v := club.viewOf("ada", id)
	require.Equal(t, review.StatusOpen, v.Submission.Status)
	require.Equal(t, "oak wood", v.Specimen.Label.Habitat)
	require.Equal(t, observed, v.Submission.Cites, "what the form repeats is the same observation")
}

func TestStaleDraftKeepsWhatWasTyped(t *testing.T) {
	club := newAPIClub(t)
	draft := club.draft()
	path := "/submissions/" + draft.Submission.ID + "/edit"
	fields := club.submissionFields("ada")
	fields.Set("do", "draft")
	fields.Set("version", strconv.Itoa(draft.Version))
	club.postFiles("ada", path, fields).goesTo()
	fields.Set("remarks", "typed in the other window")
	text := club.shown(club.postFiles("ada", path, fields), http.StatusConflict)
	require.Contains(t, text, "typed in the other window")
	require.Contains(t, text, "has changed since you opened it")
	version := regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(text)[1]
	fields.Set("version", version)
	require.Equal(t, "/submissions/"+draft.Submission.ID, club.postFiles("ada", path, fields).goesTo(), "saving again takes it")
}

func TestFormLimits(t *testing.T) {
	club := newAPIClub(t)
	long := url.Values{"remarks": {strings.Repeat("x", maxFieldBytes+1)}}
	club.shown(club.postFiles("ada", "/submissions", long), http.StatusBadRequest)
	many := url.Values{"a": make([]string, maxFormFields+1)}
	club.shown(club.postFiles("ada", "/submissions", many), http.StatusBadRequest)
	club.shown(club.post("ada", "/submissions", url.Values{"remarks": {"a\x00b"}}), http.StatusBadRequest)
	club.shown(club.call("ada", http.MethodPost, "/submissions", "--b\r\ncut", "Content-Type", "multipart/form-data; boundary=b", "Sec-Fetch-Site", "same-origin"), http.StatusBadRequest)
	club.shown(club.call("ada", http.MethodPost, "/login", strings.Repeat("x", maxTextBody+1), "Content-Type", "application/x-www-form-urlencoded"), http.StatusRequestEntityTooLarge)
}

func TestRegionOfPerCent(t *testing.T) {
	require.Nil(t, regionOf("", "", "", ""))
	require.Equal(t, &review.Region{X: 0, Y: 0, W: 1, H: 1}, regionOf("0", "0", "100", "100"))
	require.InDelta(t, -1, regionOf("10", "", "5", "5").Y, 0, "a side that is missing lies on no photo")
	rapid.Check(t, func(t *rapid.T) {
		side := func(name string) string { return percent(float64(rapid.IntRange(0, 100000).Draw(t, name)) / 100000) }
		a, b, c, d := side("left"), side("top"), side("width"), side("height")
		r := regionOf(a, b, c, d)
		require.Equal(t, []string{a, b, c, d}, []string{percent(r.X), percent(r.Y), percent(r.W), percent(r.H)}, "shown again as it was typed")
	})
}

// A qualifier stands before the word that is doubted, which the form asks for; an old slip keeps its wording, and no date.
func TestNamesAsTheyStandOnPins(t *testing.T) {
	club := newAPIClub(t)
	fields := club.submissionFields("ada")
	for name, value := range map[string]string{"scientific_name": "Agriotes lineatus", "qualifier": "cf.", "doubted": "species", "determiner_name": "A. Erichson",
		"wording": "Elater lineatus <L.>", "determined_on": ""} {
		fields.Set(name, value)
	}
	id := idIn(t, club.postFiles("ada", "/submissions", fields).goesTo())
	require.Empty(t, club.viewOf("ada", id).Submission.Determination.DeterminedOn)
	name := `<i>Agriotes</i>\s+cf\.\s+<i>lineatus</i>`
	text := club.page("ben", "/submissions/"+id, 200)
	require.Regexp(t, name, text)
	require.Contains(t, text, "undated")
	require.Contains(t, text, "Elater lineatus &lt;L.&gt;")
	require.Contains(t, text, "A. Erichson (no account)")
	require.Regexp(t, name, club.page("ben", "/submissions", 200))
	require.Regexp(t, name, club.page("ben", "/specimens/"+club.viewOf("ada", id).Specimen.ID, 200))

	path := "/submissions/" + id
	bench := club.page("rita", path+"/review", 200)
	require.Contains(t, bench, "species: Agriotes cf. lineatus")
	require.Contains(t, bench, "prints no slip")
	opinion := url.Values{"version": {strconv.Itoa(club.viewOf("rita", id).Version)}, "opinion.kind": {"agrees"}, "opinion.basis": {"specimen"}, "opinion.rank": {"genus"}, "sure": {"partly"}}
	club.post("rita", path+"/review", opinion).goesTo()
	require.Contains(t, club.page("rita", path, 200), "on a slip: conf. Agriotes</i>)")

	draft := club.submissionFields("ben")
	for name, value := range map[string]string{"determiner_name": "A. Erichson", "wording": "Elater", "do": "draft"} {
		draft.Set(name, value)
	}
	kept := idIn(t, club.postFiles("ben", "/submissions", draft).goesTo())
	require.Contains(t, club.page("ben", "/submissions/"+kept+"/edit", 200), `value="A. Erichson"`, "as it was written")
}
