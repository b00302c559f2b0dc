package web

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
)

// newsFileLine is news with the name of who did it.
type newsFileLine struct {
	service.NewsLine
	ActorName string `json:"actor_name"`
}

func (s *Server) newsFile(c *gin.Context) {
	columns := []string{"at", "code", "actor", "actor_name", "submission", "specimen", "catalogue_number", "family", "status", "group", "proposal", "proposal_status", "waits", "read_at"}
	sendFile(s, c, "news", columns, func(cursor string) ([]newsFileLine, string, error) {
		list, err := s.Service.News(c.Request.Context(), actorOf(c), false, service.Page{Size: filePage, Cursor: cursor})
		lines := make([]newsFileLine, 0, len(list.Lines))
		for _, l := range list.Lines {
			lines = append(lines, newsFileLine{l, list.Names[l.Actor]})
		}
		return lines, list.Next, err
	}, func(l *newsFileLine) []any {
		return []any{l.At, string(l.Code), l.Actor, l.ActorName, l.Submission, l.Specimen, l.CatalogueNumber, l.Family, string(l.Status), l.Group, l.Proposal,
			string(l.ProposalStatus), l.Waits, l.ReadAt}
	})
}

func (s *Server) peopleFile(c *gin.Context, name string) {
	sendFile(s, c, "people", []string{"id", "name", "role"}, func(cursor string) ([]review.Person, string, error) {
		return s.Service.ListPeople(c.Request.Context(), actorOf(c), name, service.Page{Size: filePage, Cursor: cursor})
	}, func(p *review.Person) []any { return []any{p.ID, p.Name, string(p.Role)} })
}

func (s *Server) proposalsFile(c *gin.Context, proposals []review.CellProposal, names map[string]string) {
	columns := []string{"id", "status", "family", "form", "character", "proposed", "reason", "by", "by_name", "at", "decided_by", "decided_by_name", "decided_at", "decision_reason",
		"own_approval", "base", "release"}
	sendAll(s, c, "changes", columns, changeViews(proposals, names), func(p *ChangeView) []any {
		return []any{p.ID, string(p.Status), p.Edit.Family, p.Edit.Form, p.Edit.Character, asJSON(p.Edit), p.Reason, p.By, p.ByName, p.At, p.DecidedBy, p.DecidedByName, p.DecidedAt,
			p.DecisionReason, p.OwnApproval, p.BaseHash, p.Release}
	})
}

// asJSON is what has no column of its own, in one cell.
func asJSON(v any) string {
	text, err := json.Marshal(v)
	if err != nil {
		panic(err) // it was read from JSON
	}
	return string(text)
}

// seriesFileLine is a series with the names of its two.
type seriesFileLine struct {
	review.Series
	MemberName string `json:"member_name"`
	MentorName string `json:"mentor_name,omitempty"`
}

func (s *Server) seriesFile(c *gin.Context, l service.SeriesLists) {
	var lines []seriesFileLine
	for _, one := range l.All() {
		lines = append(lines, seriesFileLine{one, l.Names[one.Member], l.Names[one.Mentor]})
	}
	columns := []string{"id", "status", "member", "member_name", "mentor", "mentor_name", "begun_at", "changed_at"}
	sendAll(s, c, "series", columns, lines, func(l *seriesFileLine) []any {
		return []any{l.ID, string(l.Status), l.Member, l.MemberName, l.Mentor, l.MentorName, l.BegunAt, l.ChangedAt}
	})
}

func (s *Server) releasesFile(c *gin.Context, releases []review.Release, names map[string]string) {
	lines := make([]ReleaseView, 0, len(releases))
	for _, r := range releases {
		lines = append(lines, ReleaseView{Release: r, ByName: names[r.By]})
	}
	columns := []string{"group", "version", "hash", "notes", "by", "by_name", "at", "changes", "own_approvals"}
	sendAll(s, c, "releases", columns, lines, func(r *ReleaseView) []any {
		return []any{r.Group, r.Version, r.Hash, r.Notes, r.By, r.ByName, r.At, len(r.Proposals), len(r.OwnApprovals)}
	})
}

func (s *Server) reassessmentsFile(c *gin.Context, all []review.Reassessment) {
	columns := []string{"key", "group", "from_tables", "from_policy", "from_reliability", "to_tables", "to_policy", "to_reliability", "looked", "same", "touched", "new_contradiction",
		"below_confidence", "no_such_family", "contradiction_gone", "made_at"}
	sendAll(s, c, "reassessments", columns, all, func(r *review.Reassessment) []any {
		return []any{r.Key, r.Of.Group, r.Of.From.Release, r.Of.From.Policy, r.Of.From.Reliability, r.Of.To.Release, r.Of.To.Policy, r.Of.To.Reliability, r.Looked, r.Same, r.Touched,
			r.Counts[review.TouchNew], r.Counts[review.TouchBelow], r.Counts[review.TouchNameless], r.Counts[review.TouchGone], r.MadeAt}
	})
}

// touchedFileLine is a determination that a change would touch.
type touchedFileLine struct {
	Effect  review.Touch  `json:"effect"`
	Cause   review.Cause  `json:"cause"`
	ID      string        `json:"submission"`
	Number  string        `json:"catalogue_number,omitempty"`
	Family  string        `json:"family"`
	Status  review.Status `json:"status"`
	Before  float64       `json:"before"`
	After   float64       `json:"after"`
	Details [][3]string   `json:"details,omitempty"`
	Opened  bool          `json:"opened"`
}

// touchedFile is of one group of a reassessment, or of all that it holds where none is named.
func (s *Server) touchedFile(c *gin.Context, r review.Reassessment, of *review.TouchGroup) {
	groups := []review.TouchGroup{}
	if of != nil {
		groups = append(groups, *of)
	} else {
		for _, g := range r.Groups {
			groups = append(groups, review.TouchGroup{Effect: g.Effect, Cause: g.Cause.Key()})
		}
	}
	columns := []string{"effect", "cause", "cause_family", "cause_character", "cause_person", "submission", "catalogue_number", "family", "status", "before", "after", "details", "opened"}
	at := 0
	sendFile(s, c, "touched", columns, func(cursor string) ([]touchedFileLine, string, error) {
		if at == len(groups) {
			return nil, "", nil
		}
		lines, next, err := s.touchedPage(c.Request.Context(), actorOf(c), r, groups[at], cursor)
		if next == "" {
			if at++; at < len(groups) {
				next = beginning
			}
		}
		return lines, next, err
	}, func(l *touchedFileLine) []any {
		return []any{string(l.Effect), string(l.Cause.Kind), l.Cause.Family, l.Cause.Character, l.Cause.Person, l.ID, l.Number, l.Family, string(l.Status), l.Before, l.After,
			asJSON(append([][3]string{}, l.Details...)), l.Opened}
	})
}

// beginning is a cursor before the first id of a group.
const beginning = " "

func (s *Server) touchedPage(ctx context.Context, actor review.Actor, r review.Reassessment, of review.TouchGroup, cursor string) ([]touchedFileLine, string, error) {
	if cursor == beginning {
		cursor = ""
	}
	found, next, err := s.Service.Touched(ctx, actor, r.Of.Group, r.Key, of, cursor)
	lines := make([]touchedFileLine, 0, len(found))
	for _, t := range found {
		lines = append(lines, touchedFileLine{Effect: t.Effect, Cause: review.ParseCause(t.Cause), ID: t.Submission, Number: t.CatalogueNumber, Family: t.Family, Status: t.Status,
			Before: t.Before, After: t.After, Details: t.Details(), Opened: t.Opened})
	}
	return lines, next, err
}

// sheetFileLine is a printed sheet with the name of who printed it.
type sheetFileLine struct {
	ID     string `json:"id"`
	At     any    `json:"at"`
	By     string `json:"by"`
	ByName string `json:"by_name"`
	Size   string `json:"size"`
	Paper  string `json:"paper"`
	Labels int    `json:"labels"`
}

func (s *Server) sheetsFile(c *gin.Context) {
	sheets, names, err := s.Service.Sheets(c.Request.Context(), actorOf(c))
	if err != nil {
		s.fail(c, err)
		return
	}
	lines := make([]sheetFileLine, 0, len(sheets))
	for _, sheet := range sheets {
		lines = append(lines, sheetFileLine{sheet.ID, sheet.At, sheet.By, names[sheet.By], sheet.Size, sheet.Paper, len(sheet.Labels)})
	}
	sendAll(s, c, "sheets", []string{"id", "at", "by", "by_name", "size", "paper", "labels"}, lines, func(l *sheetFileLine) []any {
		return []any{l.ID, l.At, l.By, l.ByName, l.Size, l.Paper, l.Labels}
	})
}

func (s *Server) intakesFile(c *gin.Context, all []review.Intake) {
	columns := []string{"id", "state", "file", "format", "sha256", "rows", "refused", "by", "at", "accepted_by", "accepted_at", "undone_by", "undone_at", "undone_why", "kept", "whole"}
	sendAll(s, c, "intakes", columns, all, func(in *review.Intake) []any {
		return []any{in.ID, string(in.State), in.File, in.Format, in.SHA256, in.Told.Rows, in.Told.Refused, in.By, in.At, in.AcceptedBy, in.AcceptedAt, in.UndoneBy, in.UndoneAt,
			in.UndoneWhy, in.Kept, in.Whole}
	})
}

// HandoverView is an archive that was handed over, with the name of who did it.
type HandoverView struct {
	review.Handover
	ByName string `json:"by_name"`
}

func handoverLines(made []review.Handover, names map[string]string) []HandoverView {
	lines := make([]HandoverView, 0, len(made))
	for _, h := range made {
		lines = append(lines, HandoverView{h, names[h.By]})
	}
	return lines
}

func (s *Server) handoversFile(c *gin.Context, made []review.Handover, names map[string]string) {
	columns := []string{"id", "at", "by", "by_name", "format", "sha256", "license", "policy", "collectors", "occurrences", "identifications", "media"}
	sendAll(s, c, "handed-over", columns, handoverLines(made, names), func(h *HandoverView) []any {
		return []any{h.ID, h.At, h.By, h.ByName, h.Format, h.SHA256, h.License, h.Policy, h.Collectors, h.Occurrences, h.Identifications, h.Media}
	})
}

// ledgerFileLine is one thing that waits for a curator.
type ledgerFileLine struct {
	Waits      string     `json:"waits"`
	Group      string     `json:"group,omitempty"`
	Proposal   string     `json:"proposal,omitempty"`
	Submission string     `json:"submission,omitempty"`
	Number     string     `json:"catalogue_number,omitempty"`
	Family     string     `json:"family,omitempty"`
	Person     string     `json:"person,omitempty"`
	PersonName string     `json:"person_name,omitempty"`
	Why        string     `json:"why,omitempty"`
	Count      int        `json:"count,omitempty"`
	Since      *time.Time `json:"since,omitempty"`
}

// ledgerLines are those of the ledger as the page shows it, list by list.
func ledgerLines(l service.Ledger) (lines []ledgerFileLine) {
	for _, p := range l.Proposals {
		lines = append(lines, ledgerFileLine{Waits: "proposal", Group: p.Group, Proposal: p.ID, Family: p.Edit.Family, Person: p.By, PersonName: l.Names[p.By], Why: p.Reason, Since: &p.At})
	}
	for _, d := range l.Doubts {
		for _, a := range d.List {
			lines = append(lines, ledgerFileLine{Waits: "doubt", Group: d.Group, Submission: a.Submission, Number: a.CatalogueNumber, Family: a.Family, Since: &d.MadeAt})
		}
	}
	for _, s := range l.Parted {
		lines = append(lines, ledgerOf("panel", s))
	}
	for _, s := range l.Slips {
		lines = append(lines, ledgerOf("slip", s))
	}
	for _, a := range l.People {
		lines = append(lines, ledgerFileLine{Waits: "person", Group: a.Group, Submission: a.Submission, Person: a.Person, PersonName: l.Names[a.Person], Why: string(a.Why), Count: a.Count, Since: a.Since})
	}
	for _, why := range slices.Sorted(maps.Keys(l.Unnamed)) {
		lines = append(lines, ledgerFileLine{Waits: "persons", Why: string(why), Count: l.Unnamed[why]})
	}
	return lines
}

func ledgerOf(waits string, s service.SubmissionLine) ledgerFileLine {
	return ledgerFileLine{Waits: waits, Group: s.Group, Submission: s.ID, Number: s.CatalogueNumber, Family: s.Family, Person: s.Owner, PersonName: s.OwnerName, Since: s.OpenedAt}
}

func (s *Server) ledgerFile(c *gin.Context) {
	l, err := s.Service.Ledger(c.Request.Context(), actorOf(c))
	if err != nil {
		s.fail(c, err)
		return
	}
	columns := []string{"waits", "group", "proposal", "submission", "catalogue_number", "family", "person", "person_name", "why", "count", "since"}
	sendAll(s, c, "ledger", columns, ledgerLines(l), func(l *ledgerFileLine) []any {
		return []any{l.Waits, l.Group, l.Proposal, l.Submission, l.Number, l.Family, l.Person, l.PersonName, l.Why, l.Count, l.Since}
	})
}

func (s *Server) searchesFile(c *gin.Context, saved []review.SavedSearch) {
	sendAll(s, c, "searches", []string{"id", "name", "query", "at"}, saved, func(l *review.SavedSearch) []any { return []any{l.ID, l.Name, l.Query, l.At} })
}
