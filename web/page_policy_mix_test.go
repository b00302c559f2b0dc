package web

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/judgement"
)

// In the Mark there are 25 species of the one and 16 of the other family: 5 and 4 parts of what "none of them" leaves.
func TestMixInTheAPI(t *testing.T) {
	club := newAPIClub(t)
	faunas := decoded[struct{ Items []FaunaView }](club.call("ben", "GET", "/api/v1/faunas", nil).is(http.StatusOK)).Items
	require.Len(t, faunas, 1)
	require.Equal(t, "mark", faunas[0].ID)
	require.Equal(t, "As this file.", faunas[0].Licence)
	require.Equal(t, "Buprestidae", faunas[0].Families[0].Family)
	require.Equal(t, "read", faunas[0].Families[0].Basis)
	require.Equal(t, "memory", faunas[0].Families[1].Basis)
	require.InDelta(t, 0.98*4/9, faunas[0].Families[0].P, 1e-6)

	put := func(mix any) review.Policy {
		body := policyBody()
		if mix != nil {
			body["mix"] = mix
		}
		return decoded[review.Policy](club.call("cora", "PUT", "/api/v1/policy", body).is(http.StatusOK))
	}
	wanted := map[string]float64{"mark": 0.75, judgement.MixWorld: 0.25}
	require.Equal(t, wanted, put(wanted).Mix)
	require.Equal(t, wanted, put(nil).Mix, "left out, it stays")
	v := club.submitted()
	require.Equal(t, 2, v.Assessment.Policy, "the prior is the policy's")
	require.Empty(t, put(map[string]float64{}).Mix)
	for field, mix := range map[string]map[string]float64{
		"mix.moor": {"moor": 1}, "mix": {"mark": 0.5}, "mix.list": {judgement.MixList: 1},
	} {
		require.Equal(t, []string{field}, club.call("cora", "PUT", "/api/v1/policy", policyBody("mix", mix)).is(http.StatusBadRequest).fields())
	}
}

func TestMixOnAPage(t *testing.T) {
	club := newAPIClub(t)
	text := club.page("ben", "/policy", 200)
	require.Contains(t, text, "follows the numbers of described species")
	require.Contains(t, text, "read: Another made-up list (with strays)")
	require.Contains(t, text, `data-label="Prior by this region alone">54 %`)
	fields := url.Values{"version": {"0"}, "reviewers": {"2"}, "confidence": {"0.9"}, "hold_minutes": {"20"}, "holds_at_once": {"3"}, "reason": {"what is found here"},
		"blind_rate": {"0.2"}, "recheck_rate": {"0"}, "panel": {"5"}, "mix.mark": {"0,6"}, "mix.world": {"0.3"}}
	for _, do := range []string{"", "try"} {
		fields.Set("do", do)
		text = club.shown(club.post("cora", "/policy", fields), 400)
		require.Contains(t, text, "The shares must sum to 1, and sum to 0.9")
		require.Contains(t, text, `value="0,6"`, "what was typed stays")
	}
	fields.Set("mix.mark", "many")
	fields.Del("do")
	require.Contains(t, club.shown(club.post("cora", "/policy", fields), 400), "Must be a share above 0")

	fields.Set("mix.mark", "1")
	fields.Set("mix.world", "")
	fields.Set("do", "try")
	require.Contains(t, club.shown(club.post("cora", "/policy", fields), 200), `data-label="With what is typed above">54 %`)
	require.Contains(t, club.page("cora", "/policy", 200), "Version 0", "nothing was put in force")
	fields.Del("do")
	club.post("cora", "/policy", fields).goesTo()
	require.Contains(t, club.page("ben", "/policy", 200), "is mixed: 1 of what occurs in the Mark")
	require.Contains(t, club.page("cora", "/policy", 200), `name="mix.mark" value="1"`)
}
