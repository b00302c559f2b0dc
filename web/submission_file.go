package web

import (
	"context"

	"github.com/gin-gonic/gin"

	"revidit/review/service"
	"revidit/web/pages"
)

var submissionColumns = []string{"id", "status", "group", "family", "qualifier", "scientific_name", "catalogue_number", "specimen", "trip", "drawer", "owner", "owner_name",
	"confidence", "leading", "contradictions", "reviewers", "opened_at", "changed_at", "sealed", "blind"}

// submissionCells are what a list tells of a submission; numbers that are sealed are left empty.
func submissionCells(l *service.SubmissionLine) []any {
	numbers := []any{l.Confidence, l.Leading, l.Contradictions}
	if l.Sealed {
		numbers = []any{"", "", ""}
	}
	return append(append([]any{l.ID, string(l.Status), l.Group, l.Family, string(l.Qualifier), l.ScientificName, l.CatalogueNumber, l.Specimen, l.Trip, l.Drawer, l.Owner, l.OwnerName},
		numbers...), l.Reviewers, l.OpenedAt, l.ChangedAt, l.Sealed, l.Blind)
}

func (s *Server) submissionsFile(c *gin.Context, filter service.SubmissionFilter) {
	sendFile(s, c, "submissions", submissionColumns, func(cursor string) ([]service.SubmissionLine, string, error) {
		return s.Service.Find(c.Request.Context(), actorOf(c), filter, service.Page{Size: filePage, Cursor: cursor})
	}, submissionCells)
}

func (s *Server) queueFile(c *gin.Context, filter service.QueueFilter) {
	columns := append(append([]string{}, submissionColumns...), "gain", "region", "waits_since", "reason", "why")
	ctx := c.Request.Context()
	site, err := s.siteOfAll(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	sendFile(s, c, "queue", columns, func(cursor string) ([]service.QueueLine, string, error) {
		lines, next, err := s.Service.Queue(ctx, actorOf(c), filter, service.Page{Size: filePage, Cursor: cursor})
		return queueInWords(ctx, site, lines), next, err
	}, func(l *service.QueueLine) []any {
		return append(submissionCells(&l.SubmissionLine), l.Gain, l.Region, l.WaitsSince, l.Reason, string(l.Why))
	})
}

// queueInWords says of each line why it stands where it stands.
func queueInWords(ctx context.Context, site pages.Site, lines []service.QueueLine) []service.QueueLine {
	for i := range lines {
		lines[i].Reason = pages.QueueReason(ctx, site, lines[i])
	}
	return lines
}

func (s *Server) changesFile(c *gin.Context, which service.Came, read func(cursor string) ([]service.ChangeLine, string, error)) {
	columns := append([]string{"at", "which", "before", "after", "follower"}, submissionColumns...)
	sendFile(s, c, "changes", columns, read, func(l *service.ChangeLine) []any {
		follower := ""
		if l.Follower != nil {
			follower = l.Follower.Family
		}
		return append([]any{l.At, string(which), string(l.Before), string(l.After), follower}, submissionCells(&l.SubmissionLine)...)
	})
}
