package web

import (
	"bytes"
	"encoding/json"
	"image/jpeg"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/iiif"
	"revidit/review/service"
)

// published publishes the first photo of a submission.
func (c *apiClub) published(v service.SubmissionView) {
	c.t.Helper()
	c.call("cora", "POST", apiPrefix+"/specimens/"+v.Submission.Specimen+"/publication", publishBody(v.Submission.Photos[0])).is(http.StatusOK)
}

// stranger asks without a login, as a browser does that was logged in once: its cookies count for nothing.
func (c *apiClub) stranger(path string, headers ...string) *reply {
	c.t.Helper()
	r := c.call("", "GET", path, nil, append(headers, "Cookie", c.cookie("cora")+"; revidit-language=de")...)
	require.Empty(c.t, r.header.Values("Set-Cookie"), path)
	return r
}

// settledAndPublished is a specimen of Ada's whose name is settled, with a photo that is published.
func settledAndPublished(t testing.TB) (*apiClub, service.SubmissionView) {
	club := newAPIClub(t)
	club.policy(map[string][]string{"Elateridae": {club.people["rita"]}})
	v := club.submitted()
	club.call("rita", "POST", at(v, "/settlement"), reason).is(http.StatusOK)
	club.published(v)
	return club, v
}

func TestNobodySeesWhatIsNotPublished(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	photo, specimen := v.Submission.Photos[0], v.Submission.Specimen
	addresses := []string{"/published/" + specimen, "/iiif/specimens/" + specimen + "/manifest", "/iiif/images/" + photo, "/iiif/images/" + photo + "/info.json", "/iiif/images/" + photo + "/full/max/0/default.jpg"}
	for _, address := range addresses {
		require.Equal(t, http.StatusNotFound, club.stranger(address).status, address)
	}
	club.published(v)
	for _, address := range addresses[1:] {
		require.Less(t, club.stranger(address).status, 400, address)
	}
	page := club.stranger(addresses[0])
	require.Equal(t, http.StatusOK, page.status)
	require.Contains(t, string(page.body), "not settled", "what reviewers are still to judge is told to nobody")
	require.NotContains(t, string(page.body), "Elateridae")
	club.call("cora", "POST", apiPrefix+"/specimens/"+specimen+"/publication/end", map[string]any{"photos": []string{photo}, "reason": "asked back"}).is(http.StatusOK)
	for _, address := range addresses {
		gone := club.stranger(address)
		require.Equal(t, http.StatusNotFound, gone.status, address)
		require.Equal(t, "no-store", gone.header.Get("Cache-Control"))
	}
	require.Equal(t, http.StatusNotFound, club.stranger("/published/none").status)
}

func TestThePublicViewIsCoarseAndNamesNobody(t *testing.T) {
	club, v := settledAndPublished(t)
	for _, address := range []string{"/published/" + v.Submission.Specimen, "/iiif/specimens/" + v.Submission.Specimen + "/manifest"} {
		r := club.stranger(address)
		require.Equal(t, http.StatusOK, r.status)
		text := string(r.body)
		for _, told := range []string{"Elateridae", "47.1", "15.5", "The club", "AB-1", "Austria"} {
			require.Contains(t, text, told, address)
		}
		for _, kept := range []string{"47.12", "15.456", "A meadow", "Name of ", "May trip", "Drawer 7", club.people["ada"], club.people["rita"]} {
			require.NotContains(t, text, kept, address)
		}
		require.Equal(t, publicCaching, r.header.Get("Cache-Control"))
		require.NotContains(t, text, "<script")
		require.Contains(t, r.header.Get("Content-Security-Policy"), "default-src 'none'")
		require.Equal(t, http.StatusNotModified, club.stranger(address, "If-None-Match", r.header.Get("ETag")).status)
	}
	require.Contains(t, string(club.stranger("/published/"+v.Submission.Specimen+"?language=de").body), "Exemplar")
	require.NotContains(t, string(club.stranger("/published/"+v.Submission.Specimen).body), "Exemplar", "no cookie chooses the language")
}

func TestPublishingIsHeldToItsRules(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	path := apiPrefix + "/specimens/" + v.Submission.Specimen + "/publication"
	for field, change := range map[string]map[string]any{
		"license": {"license": "https://example.org/mine"}, "holder": {"holder": " "}, "reason": {"reason": ""}, "photos": {"photos": []string{"none"}},
		"side": {"side": 3200, "license": review.RightsReserved},
	} {
		body := publishBody(v.Submission.Photos[0])
		for name, value := range change {
			body[name] = value
		}
		require.Contains(t, strings.Join(club.call("cora", "POST", path, body).is(http.StatusBadRequest).fields(), " "), field)
	}
}

func TestImagesByTheStandard(t *testing.T) {
	club, v := settledAndPublished(t)
	image := "/iiif/images/" + v.Submission.Photos[0]
	base := club.stranger(image)
	require.Equal(t, http.StatusSeeOther, base.status)
	require.Equal(t, image+"/info.json", base.header.Get("Location"))
	require.Equal(t, "*", base.header.Get("Access-Control-Allow-Origin"))
	info := club.stranger(image+"/info.json", "Accept", "application/ld+json")
	require.Equal(t, iiif.ImageMedia, info.header.Get("Content-Type"))
	var described iiif.Info
	require.NoError(t, json.Unmarshal(info.body, &described))
	require.Equal(t, "http://example.com"+image, described.ID)
	require.Equal(t, []int{40, 30}, []int{described.Width, described.Height})
	require.Equal(t, "http://creativecommons.org/licenses/by/4.0/", described.Rights)
	for path, want := range map[string]struct {
		status, w, h int
		canonical    string
	}{
		"full/max/0/default.jpg":               {200, 40, 30, "full/max/0/default.jpg"},
		"10,5,100,100/max/0/color.jpg":         {200, 30, 25, "10,5,30,25/max/0/default.jpg"},
		"square/15,/0/default.jpg":             {200, 15, 15, "5,0,30,30/15,15/0/default.jpg"},
		"pct:50,50,50,50/!10,10/0/default.jpg": {200, 10, 8, "20,15,20,15/10,8/0/default.jpg"},
		"full/41,/0/default.jpg":               {400, 0, 0, ""},
		"full/^80,/0/default.jpg":              {501, 0, 0, ""},
		"full/max/90/default.jpg":              {501, 0, 0, ""},
		"full/max/0/default.png":               {501, 0, 0, ""},
		"40,0,5,5/max/0/default.jpg":           {400, 0, 0, ""},
		"full/max/0/sepia.jpg":                 {400, 0, 0, ""},
	} {
		r := club.stranger(image + "/" + path)
		require.Equal(t, want.status, r.status, path)
		require.Equal(t, "*", r.header.Get("Access-Control-Allow-Origin"))
		if want.status != http.StatusOK {
			continue
		}
		require.Contains(t, r.header.Get("Link"), "<http://example.com"+image+"/"+want.canonical+`>;rel="canonical"`)
		config, err := jpeg.DecodeConfig(bytes.NewReader(r.body))
		require.NoError(t, err)
		require.Equal(t, []int{want.w, want.h}, []int{config.Width, config.Height}, path)
		require.Equal(t, r.body, club.stranger(image+"/"+path).body)
	}
	require.Empty(t, club.call("ada", "GET", apiPrefix+"/photos/"+v.Submission.Photos[0]+"/thumb", nil).header.Get("Access-Control-Allow-Origin"), "nothing else is shared")
	require.Equal(t, http.StatusNoContent, club.call("", "OPTIONS", image+"/info.json", nil).status)
}

func TestManifestHasOurRegions(t *testing.T) {
	club, v := settledAndPublished(t)
	r := club.stranger("/iiif/specimens/" + v.Submission.Specimen + "/manifest")
	var m iiif.Manifest
	require.NoError(t, json.Unmarshal(r.body, &m))
	require.Len(t, m.Items, 1)
	canvas := m.Items[0]
	require.Equal(t, []int{40, 30}, []int{canvas.Width, canvas.Height})
	require.Contains(t, canvas.RequiredStatement.Value["de"][0], "The club")
	require.Len(t, canvas.Annotations, 1)
	text, err := json.Marshal(canvas.Annotations[0].Items[0].Target)
	require.NoError(t, err)
	target, err := iiif.ReadTarget(text)
	require.NoError(t, err)
	require.Equal(t, iiif.Target{Source: canvas.ID, Fragment: "xywh=4,3,20,15"}, target)
	// The image that it points to is the one that is described.
	var body struct {
		ID      string
		Service []struct{ ID string }
	}
	text, err = json.Marshal(canvas.Items[0].Items[0].Body)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &body))
	require.Equal(t, http.StatusOK, club.stranger(strings.TrimPrefix(body.Service[0].ID, "http://example.com")+"/info.json").status)
	require.Equal(t, http.StatusOK, club.stranger(strings.TrimPrefix(body.ID, "http://example.com")).status)
}

// TestOtherSizesArePublished: 800 and 3200 pixels are made of the original.
func TestOtherSizesArePublished(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	for _, side := range []int{800, 3200} {
		body := publishBody(v.Submission.Photos[0])
		body["side"] = side
		club.call("cora", "POST", apiPrefix+"/specimens/"+v.Submission.Specimen+"/publication", body).is(http.StatusOK)
		r := club.stranger("/iiif/images/" + v.Submission.Photos[0] + "/full/max/0/default.jpg")
		require.Equal(t, http.StatusOK, r.status)
		config, err := jpeg.DecodeConfig(bytes.NewReader(r.body))
		require.NoError(t, err)
		require.Equal(t, 40, config.Width, "a smaller picture is not enlarged")
	}
}

// TestAPhotoSeenBeforeIsPointedOut to whoever may see it, and to nobody else.
func TestAPhotoSeenBeforeIsPointedOut(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	again := func(who string) []service.SeenPhoto {
		r := club.call(who, "POST", apiPrefix+"/photos", picture(t, 1), "Content-Type", "image/jpeg").is(http.StatusCreated)
		return decoded[Uploaded](r).Offer.Seen
	}
	require.Equal(t, []service.SeenPhoto{{Photo: v.Submission.Photos[0], Specimen: v.Submission.Specimen, CatalogueNumber: "AB-1", Same: true}}, again("ben"))
	seen := again("ben")
	require.Len(t, seen, 2, "and his own that he has not submitted")
	draft := club.form("ada")
	draft["draft"] = true
	draft["photos"] = []any{map[string]any{"photo": decoded[Uploaded](club.call("ada", "POST", apiPrefix+"/photos", picture(t, 7), "Content-Type", "image/jpeg").is(http.StatusCreated)).Photo.ID, "view": "below"}}
	draft["observations"] = []any{}
	club.call("ada", "POST", apiPrefix+"/submissions", draft).is(http.StatusCreated)
	other := decoded[Uploaded](club.call("ben", "POST", apiPrefix+"/photos", picture(t, 7), "Content-Type", "image/jpeg").is(http.StatusCreated)).Offer.Seen
	require.Empty(t, other, "what stands in another's draft is told of to nobody")
}
