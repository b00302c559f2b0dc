package web

import (
	"net/http"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

func TestTheAPITellsHowItStood(t *testing.T) {
	t.Parallel()
	club := newAPIClub(t)
	v := club.submitted()
	then := decoded[service.Then](club.call("ada", "GET", at(v, "/as-of"), nil).is(http.StatusOK))
	require.Equal(t, review.StatusOpen, then.View.Submission.Status)
	require.True(t, then.Remade.Again)
	club.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusOK)
	club.call("ada", "POST", at(v, "/withdrawal"), reason).is(http.StatusOK)

	first := strconv.FormatInt(then.Position, 10)
	d := decoded[service.Difference](club.call("ada", "GET", at(v, "/difference?from="+first), nil).is(http.StatusOK))
	require.Equal(t, review.StatusWithdrawn, d.Changed.Status.After)
	require.Len(t, d.Changed.Opinions, 1)
	again := decoded[service.Then](club.call("ada", "GET", at(v, "/as-of?position="+first), nil).is(http.StatusOK))
	require.Equal(t, then.View.Assessment, again.View.Assessment)
	require.Positive(t, again.Later)

	require.Equal(t, []string{"before"}, club.call("ada", "GET", at(v, "/as-of?before=yesterday"), nil).is(http.StatusBadRequest).fields())
	club.call("ada", "GET", at(v, "/as-of?before=1999-01-01"), nil).is(http.StatusNotFound)
	club.call("ada", "GET", at(v, "/as-of?before=2999-01-01T00:00:00Z"), nil).is(http.StatusOK)
	club.call("ada", "GET", at(v, "/as-of?position=999999"), nil).is(http.StatusNotFound)
}

func TestPagesShowHowItStood(t *testing.T) {
	t.Parallel()
	club := newAPIClub(t)
	v := club.submitted()
	then := decoded[service.Then](club.call("ada", "GET", at(v, "/as-of"), nil).is(http.StatusOK))
	club.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusOK)
	club.call("ada", "POST", at(v, "/withdrawal"), reason).is(http.StatusOK)
	path := "/submissions/" + v.Submission.ID
	first := strconv.FormatInt(then.Position, 10)
	require.Contains(t, club.page("ada", path+"/history", 200), "/as-of?position="+first)
	stood := club.page("ada", path+"/as-of?position="+first, 200)
	require.Contains(t, stood, "This is how it stood at")
	require.Contains(t, stood, "equal to twelve digits")
	require.NotContains(t, stood, `method="post" action="`+path, "nothing can be done to the past")
	require.Contains(t, club.page("ada", path+"/as-of?day=2999-01-01", 200), "Withdrawn.")
	club.page("ada", path+"/as-of?day=nonsense", 400)
	club.page("ada", path+"/as-of?position=nonsense", 400)
	last := decoded[service.Then](club.call("ada", "GET", at(v, "/as-of"), nil).is(http.StatusOK)).Position
	require.Contains(t, club.page("ada", path+"/difference?from="+first+"&to="+strconv.FormatInt(last, 10), 200), "<del>open</del>")
	specimen := club.page("ada", "/specimens/"+v.Specimen.ID, 200)
	require.Contains(t, specimen, "As the slips stand on the pin")
	require.Contains(t, specimen, "Confidence over time")
}
