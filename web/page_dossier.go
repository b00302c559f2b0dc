package web

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// dossierPage shows all of a specimen on one page, or one of its tables as a file.
func (s *Server) dossierPage(c *gin.Context) {
	err := knownFile(c)
	table, known := dossierTables[c.Query("table")]
	if err == nil && fileAsked(c) && !known {
		err = review.Invalidf("table", "must be one of label, determinations, characters, opinions, contradictions, history")
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	d, err := s.Service.Dossier(c.Request.Context(), actorOf(c), c.Param("id"))
	if err != nil {
		s.fail(c, err)
		return
	}
	site, err := s.siteOfAll(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	for i := range d.Submissions {
		site = s.withFormer(c.Request.Context(), site, &d.Submissions[i].Assessment)
	}
	if fileAsked(c) {
		s.sendTable(c, "specimen-"+c.Query("table"), table.columns, table.rows(c.Request.Context(), site, &d), false)
		return
	}
	s.page(c, http.StatusOK, pages.Dossier(site, d))
}

// dossierTable is a table of a dossier as a file.
type dossierTable struct {
	columns []string
	rows    func(context.Context, pages.Site, *service.SpecimenDossier) [][]any
}

var dossierTables = map[string]dossierTable{
	"label": {[]string{"field", "text"}, labelRows},
	"determinations": {[]string{"submission", "status", "family", "qualifier", "scientific_name", "wording", "determiner", "determined_on", "owner",
		"sealed", "confidence", "contradictions", "opened_at", "closed_at"}, determinationRows},
	"characters": {[]string{"submission", "family", "observation", "character", "state", "sureness", "observed_by", "observed_at", "withdrawn",
		"verdict", "better", "note", "verdict_by", "verdict_at", "after_opening"}, characterRows},
	"opinions":       {[]string{"submission", "family", "opinion", "another", "rank", "basis", "note", "by", "at", "after_opening"}, opinionRows},
	"contradictions": {[]string{"submission", "family", "kind", "character", "state", "reason", "reply", "reply_by", "reply_at"}, contradictionRows},
	"history":        {[]string{"position", "at", "actor", "role", "machine", "kind", "stream", "seq", "hidden", "change", "signed_in", "signed_at"}, historyRows},
}

func labelRows(_ context.Context, _ pages.Site, d *service.SpecimenDossier) (rows [][]any) {
	for _, l := range append(d.Specimen.Label.Lines(), d.Withheld.Lines()...) {
		if l.Text != "" {
			rows = append(rows, []any{l.Path, l.Text})
		}
	}
	return rows
}

func determinationRows(_ context.Context, _ pages.Site, d *service.SpecimenDossier) (rows [][]any) {
	for i := range d.Submissions {
		v := &d.Submissions[i]
		sub, name := &v.Submission, v.Submission.Determination
		var confidence, contradictions any = v.Assessment.Confidence, len(v.Assessment.Contradictions)
		if v.Unscored {
			confidence, contradictions = "", ""
		}
		rows = append(rows, []any{sub.ID, string(sub.Status), name.Family, string(name.Qualifier), name.ScientificName, name.Wording, v.Names[name.Determiner],
			name.DeterminedOn, v.Names[sub.Owner], v.Sealed, confidence, contradictions, sub.OpenedAt, sub.ClosedAt})
	}
	return rows
}

// characterRows has a row for each verdict, and one for a character of which there is none.
func characterRows(ctx context.Context, _ pages.Site, d *service.SpecimenDossier) (rows [][]any) {
	for i := range d.Submissions {
		v := &d.Submissions[i]
		for _, o := range pages.ShownOf(*v) {
			stated := []any{v.Submission.ID, v.Submission.Determination.Family, o.ID, o.Character, o.State, string(o.Sureness), v.Names[o.By], o.At, pages.Given(ctx, o.Withdrawn)}
			if len(o.Verdicts)+len(o.Blind) == 0 {
				rows = append(rows, append(stated, "", "", "", "", "", ""))
			}
			for _, look := range o.Blind {
				rows = append(rows, append(stated[:len(stated):len(stated)], strings.TrimSpace("blind "+string(look.Kind)), look.State, look.Note, v.Names[look.By], look.At, false))
			}
			for _, said := range o.Verdicts {
				rows = append(rows, append(stated[:len(stated):len(stated)], string(said.Kind), said.Better, said.Note, v.Names[said.By], said.At, said.AfterOpening))
			}
		}
	}
	return rows
}

func opinionRows(_ context.Context, _ pages.Site, d *service.SpecimenDossier) (rows [][]any) {
	for i := range d.Submissions {
		v := &d.Submissions[i]
		for _, o := range v.Submission.Opinions {
			rows = append(rows, []any{v.Submission.ID, v.Submission.Determination.Family, string(o.Kind), o.Family, string(o.Rank), string(o.Basis), o.Note,
				v.Names[o.By], o.At, o.AfterOpening})
		}
	}
	return rows
}

func contradictionRows(ctx context.Context, site pages.Site, d *service.SpecimenDossier) (rows [][]any) {
	for i := range d.Submissions {
		v := &d.Submissions[i]
		for _, c := range v.Assessment.Contradictions {
			row := []any{v.Submission.ID, v.Submission.Determination.Family, string(c.Kind), c.Character, c.State, pages.Reason(ctx, site, v.Assessment, v.Specimen.Label.Sex, c)}
			if r := pages.ReplyTo(*v, c); r != nil {
				rows = append(rows, append(row, r.Reason, v.Names[r.By], r.At))
				continue
			}
			rows = append(rows, append(row, "", "", ""))
		}
	}
	return rows
}

func historyRows(_ context.Context, _ pages.Site, d *service.SpecimenDossier) (rows [][]any) {
	for _, e := range d.History {
		change := ""
		if e.Change != nil {
			text, err := json.Marshal(e.Change)
			if err != nil {
				panic(err) // it was read from JSON
			}
			change = string(text)
		}
		var signed any = ""
		if e.SignedIn > 0 {
			signed = e.SignedIn
		}
		rows = append(rows, []any{e.Position, e.At, d.Names[e.Actor], string(e.Role), e.Machine, e.Kind, e.Stream, e.Seq, e.Hidden, change, signed, e.SignedAt})
	}
	return rows
}

// tableLine is a row of a table whose columns are named by the table alone.
type tableLine struct {
	columns []string
	cells   []any
}

// MarshalJSON makes an object of it, by column.
func (l tableLine) MarshalJSON() ([]byte, error) {
	named := map[string]any{}
	for i, column := range l.columns {
		named[column] = l.cells[i]
	}
	return json.Marshal(named)
}

// sendTable sends a table of a page as a file; cut: there is more than the page has.
func (s *Server) sendTable(c *gin.Context, name string, columns []string, rows [][]any, cut bool) {
	f, err := beginFile(c, name, columns)
	for i := 0; err == nil && i < len(rows); i++ {
		err = f.add(tableLine{columns, rows[i]}, rows[i])
	}
	if err == nil {
		err = f.end(cut)
	}
	if err != nil {
		s.Log.Warn("a table broke off while it was sent", "table", name, "error", err)
		panic(http.ErrAbortHandler)
	}
}
