package web

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// sendTable sends a file by the form of the page.
func (c *apiClub) sendTable(who, name, text string) *reply {
	c.t.Helper()
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	part, err := w.CreateFormFile("file", name)
	require.NoError(c.t, err)
	_, err = part.Write([]byte(text))
	require.NoError(c.t, err)
	require.NoError(c.t, w.Close())
	return c.call(who, http.MethodPost, "/inventory", form.Bytes(), "Content-Type", w.FormDataContentType(), "Sec-Fetch-Site", "same-origin")
}

// field is the value of a hidden field of a page.
func fieldOf(t testing.TB, page, name string) string {
	t.Helper()
	m := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(page)
	require.NotNil(t, m, name)
	return m[1]
}

// TestAnOldCollectionComesIn: a curator sends a table, sees every problem, answers what is asked, accepts, and takes it all back.
func TestAnOldCollectionComesIn(t *testing.T) {
	club := newAPIClub(t)
	table := "Nr.;Familie;Name;det.;Datum;Fundort;<b>Bemerkung</b>\n7;Bruchidae;Bruchus pisorum;A. Lattich 31;5.6.30;Hintertal;\"=1+1\"\n8;Carabidae;Carabus auratus;;31.ii.1930;;\n8;Carabidae;Carabus nitens;;;Anderswo;\n"
	require.Equal(t, http.StatusForbidden, club.sendTable("rita", "old.csv", table).status)
	require.Contains(t, club.page("cora", "/inventory", http.StatusOK), "Old collection")
	club.page("rita", "/inventory", http.StatusForbidden)
	wrong := club.sendTable("cora", "old.xls", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
	require.Equal(t, http.StatusBadRequest, wrong.status)
	require.Contains(t, string(wrong.body), "save it as .xlsx")

	path := club.sendTable("cora", "old.csv", table).goesTo()
	page := club.page("cora", path, http.StatusOK)
	for _, said := range []string{"another row has the same identifier", "Take in 2 specimens", "UTF-8, cells cut at each semicolon; names of columns in row 1", "1 date can be read both ways", "from which year on?",
		"3 questions are open", "31.ii.1930", "&lt;b&gt;Bemerkung&lt;/b&gt;"} {
		require.Contains(t, page, said)
	}
	require.NotContains(t, page, "<b>Bemerkung")
	club.page("rita", path, http.StatusForbidden)
	club.page("cora", "/inventory/none", http.StatusNotFound)
	german := string(club.call("cora", http.MethodGet, path, nil, "Accept-Language", "de").body)
	require.Contains(t, german, "Tag oder Monat zuerst?")

	answers := url.Values{"key": {fieldOf(t, page, "key")}, "encoding": {"utf-8"}, "separator": {";"}, "header": {"1"}}
	for i, means := range []string{"label.catalogue_number", "slip.1.family", "slip.1.name", "slip.1.determiner", "collected", "withheld.locality", "keep"} {
		answers.Set(fmt.Sprintf("columns.%d.means", i), means)
	}
	answers.Set("columns.4.century", "next")
	back := club.post("cora", path+"/reading", answers)
	require.Equal(t, http.StatusBadRequest, back.status)
	require.Contains(t, string(back.body), "must be a year from 1700 to 2100")
	require.Contains(t, string(back.body), "Datum</a>", "the summary names the column")
	answers.Set("columns.4.century", "1900")
	answers.Set("columns.4.order", "day")
	answers.Set("columns.3.century", "1900")
	require.Equal(t, path, club.post("cora", path+"/reading", answers).goesTo())
	seen := club.page("cora", path+"?all=yes", http.StatusOK)
	require.NotContains(t, seen, "question")

	stale := url.Values{"plan": {"1"}}
	require.Equal(t, http.StatusConflict, club.post("cora", path+"/accept", stale).status)
	require.Equal(t, http.StatusBadRequest, club.post("cora", path+"/accept", url.Values{}).status)
	require.Equal(t, path, club.post("cora", path+"/accept", url.Values{"plan": {fieldOf(t, seen, "plan")}}).goesTo())
	require.Contains(t, club.page("cora", path, http.StatusOK), "Being taken in", "a job does it")
	require.NotContains(t, club.page("cora", "/archive", http.StatusOK), "old.csv")
	require.Contains(t, club.page("cora", "/inventory", http.StatusOK), "old.csv")
}

// TestWhatCameInIsShownAndTakenBack: the page of a specimen tells its earlier determinations and how things were written; taking back asks
// for a reason.
func TestWhatCameInIsShownAndTakenBack(t *testing.T) {
	club := newAPIClub(t)
	s, table := club.server.Service, "no,family,name,det,date,remarks\n7,Bruchidae,Bruchus pisorum,A. Lattich 1931,5.vi.1930,=1+1\n"
	in, err := s.PlanInventory(t.Context(), club.actor("cora"), service.IntakeFile{Name: "old.csv", From: strings.NewReader(table), Size: int64(len(table))}, nil)
	require.NoError(t, err)
	job, err := s.AcceptIntake(t.Context(), club.actor("cora"), in.ID, in.Plan)
	require.NoError(t, err)
	require.NoError(t, s.Do(t.Context(), job, nil))
	path := "/inventory/" + in.ID
	require.Contains(t, club.page("cora", path+"?all=yes", http.StatusOK), "Taken in")
	v, err := s.Intake(t.Context(), club.actor("cora"), in.ID, false, 0)
	require.NoError(t, err)
	specimen := club.page("cora", "/specimens/"+v.Rows[0].Specimen, http.StatusOK)
	for _, said := range []string{"Bruchus pisorum", "A. Lattich", "1931", "1930-06-05", "5.vi.1930", "=1+1"} {
		require.Contains(t, specimen, said)
	}
	require.Equal(t, http.StatusBadRequest, club.post("cora", path+"/undo", url.Values{"reason": {""}}).status)
	require.Equal(t, path, club.post("cora", path+"/undo", url.Values{"reason": {"the wrong table"}}).goesTo())
	require.Contains(t, club.page("cora", path, http.StatusOK), "Being taken back")
}

// TestATableByTheAPI: the media type tells a table from an archive; how it is read can be said; a plan that is not the one seen is refused.
func TestATableByTheAPI(t *testing.T) {
	club := newAPIClub(t)
	in := decoded[review.Intake](club.call("cora", "POST", apiPrefix+"/intakes?name=t.csv", []byte("no,date\n1,5/6/87\n2,6/25/87\n"), "Content-Type", "text/csv; charset=utf-8").is(http.StatusCreated))
	require.Equal(t, []any{service.FormatInventory, 1, "t.csv", 2}, []any{in.Format, in.Plan, in.File, in.Told.Rows})
	require.Equal(t, &review.ColumnsDates{Either: 1, MonthFirst: 1, TwoDigits: 2}, in.Reading.Columns[1].Dates)
	club.call("cora", "POST", apiPrefix+"/intakes", []byte("PK\x03\x04"), "Content-Type", workbookMedia).is(http.StatusBadRequest)
	club.call("cora", "POST", apiPrefix+"/intakes", []byte("no"), "Content-Type", "text/plain").is(http.StatusUnsupportedMediaType)
	at := apiPrefix + "/intakes/" + in.ID
	body := map[string]any{"header": 1, "columns": []map[string]any{{"means": "label.catalogue_number"}, {"means": "collected", "order": "month", "century": 1900}}}
	v := decoded[service.IntakeView](club.call("cora", "POST", at+"/reading", body).is(http.StatusOK))
	require.Equal(t, []string{"1987-05-06", "1987-06-25"}, []string{v.Rows[0].Incoming.Label.CollectedFrom, v.Rows[1].Incoming.Label.CollectedFrom})
	club.call("cora", "POST", at+"/reading", map[string]any{"columns": []map[string]any{{"means": "collected"}, {"means": "collected"}}}).is(http.StatusBadRequest)
	club.call("cora", "POST", at+"/accept?plan=1", nil).is(http.StatusConflict)
	club.call("cora", "POST", at+"/accept?plan=2", nil).is(http.StatusOK)
	club.call("cora", "POST", at+"/reading", body).is(http.StatusConflict)
}
