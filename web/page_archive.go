package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"os"
	"strconv"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/darwincore"
	"revidit/review/service"
	"revidit/web/pages"
)

func (s *Server) registerArchivePages(p *gin.RouterGroup) {
	p.GET("/archive", s.archivePage)
	p.GET("/archive/file", s.archiveFile)
	p.POST("/archive/intakes", s.planIntake)
	p.GET("/archive/intakes/:id", s.intakePage)
	p.POST("/archive/intakes/:id/accept", s.acceptIntake)
	p.POST("/archive/intakes/:id/undo", s.undoIntake)
	p.POST("/specimens/:id/vouching", s.vouch)
}

func (s *Server) archivePage(c *gin.Context) {
	s.showArchive(c, http.StatusOK, pages.NewForm(nil))
}

func (s *Server) showArchive(c *gin.Context, status int, form pages.Form) {
	ctx, actor := c.Request.Context(), actorOf(c)
	if !review.May(actor, review.ActHandOver, "") {
		s.fail(c, review.Forbidden(actor, review.ActHandOver, ""))
		return
	}
	d := pages.ArchiveData{Form: form}
	policy, err := s.Service.Policy(ctx)
	if err == nil {
		d.Places = policy.Places
		d.Intakes, err = s.Service.Intakes(ctx, actor)
	}
	if err == nil {
		d.HandedOver, d.Names, err = s.Service.Handovers(ctx, actor)
	}
	if err == nil {
		err = knownFile(c)
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	if status == http.StatusOK && fileAsked(c) {
		if c.Query("of") == "handed-over" {
			s.handoversFile(c, d.HandedOver, d.Names)
			return
		}
		s.intakesFile(c, d.Intakes)
		return
	}
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Archive(site, d) })
}

// archiveOptions are those that an address asks for.
func archiveOptions(c *gin.Context) darwincore.Options {
	return darwincore.Options{Title: c.Query("title"), Organization: c.Query("organization"), Contact: c.Query("contact"), License: c.Query("license"), RightsHolder: c.Query("rights_holder"),
		Institution: c.Query("institution"), Collection: c.Query("collection"), Collectors: c.Query("collectors") != "", Media: c.Query("media") != "", Unsettled: c.Query("unsettled") != ""}
}

// archiveFile sends an archive when it is whole: an error is a page, and never a file that breaks off.
func (s *Server) archiveFile(c *gin.Context) {
	err := s.sendArchive(c, archiveOptions(c))
	switch {
	case err == nil:
	case again(err):
		s.showArchive(c, pageStatus(err), pages.NewForm(c.Request.URL.Query()).Failed(c.Request.Context(), err, nil))
	default:
		s.fail(c, err)
	}
}

func (s *Server) sendArchive(c *gin.Context, o darwincore.Options) (err error) {
	file, err := os.CreateTemp("", "revidit-archive-")
	if err != nil {
		return fmt.Errorf("make room for an archive: %w", err)
	}
	defer func() { err = errors.Join(err, file.Close(), os.Remove(file.Name())) }()
	made, err := s.Service.HandOver(service.Unhurried(c.Request.Context()), actorOf(c), o, file, nil)
	if err != nil {
		return err
	}
	for _, stream := range made.Unread {
		s.Log.Error("an archive leaves out what cannot be read", "stream", stream)
	}
	size, err := file.Seek(0, io.SeekEnd)
	if err == nil {
		_, err = file.Seek(0, io.SeekStart)
	}
	if err != nil {
		return fmt.Errorf("read an archive: %w", err)
	}
	c.Header("Cache-Control", "no-store")
	c.DataFromReader(http.StatusOK, size, archiveMedia, file, map[string]string{"Content-Disposition": mime.FormatMediaType("attachment", map[string]string{"filename": service.FormatArchive + ".zip"})})
	return nil
}

// received is a file of somebody, on this machine's disk until close.
type received struct {
	*os.File
	size int64
}

func (r *received) close() error { return errors.Join(r.Close(), os.Remove(r.Name())) }

// sumOf is the SHA-256 of a file, in hex.
func sumOf(file *received) (string, error) {
	sum := sha256.New()
	if _, err := io.Copy(sum, io.NewSectionReader(file, 0, file.size)); err != nil {
		return "", fmt.Errorf("read a file: %w", err)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// receiveFile takes a file in as far as one may be.
func receiveFile(from io.Reader, most int64) (r *received, err error) {
	file, err := os.CreateTemp("", "revidit-intake-")
	if err != nil {
		return nil, fmt.Errorf("make room for a file: %w", err)
	}
	r = &received{File: file}
	r.size, err = io.Copy(file, io.LimitReader(from, most+1))
	if err == nil && r.size > most {
		err = review.Invalidf("file", "is larger than %d MiB", most>>20)
	}
	if err != nil {
		return nil, errors.Join(err, r.close())
	}
	return r, nil
}

// planIntake tells what a file would bring.
func (s *Server) planIntake(c *gin.Context) {
	if actor := actorOf(c); !review.May(actor, review.ActTakeIn, "") { // before anything is read
		s.fail(c, review.Forbidden(actor, review.ActTakeIn, ""))
		return
	}
	in, err := s.sentFile(c, s.planFile)
	switch {
	case err == nil:
		seeOther(c, "/archive/intakes/"+in.ID)
	case again(err):
		s.showArchive(c, pageStatus(err), pages.NewForm(nil).Failed(c.Request.Context(), err, nil))
	default:
		s.fail(c, err)
	}
}

// sentFile plans the file of a form.
func (s *Server) sentFile(c *gin.Context, plan func(ctx context.Context, actor review.Actor, name string, from io.Reader) (review.Intake, error)) (in review.Intake, err error) {
	parts, err := c.Request.MultipartReader()
	if err != nil {
		return in, review.Invalidf("file", "choose a file")
	}
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			return in, review.Invalidf("file", "choose a file")
		}
		if err != nil {
			return in, review.Invalidf("form", "cannot be read; send it again")
		}
		if part.FormName() != "file" || part.FileName() == "" {
			continue
		}
		return plan(c.Request.Context(), actorOf(c), part.FileName(), part)
	}
}

func (s *Server) planFile(ctx context.Context, actor review.Actor, name string, from io.Reader) (in review.Intake, err error) {
	file, err := receiveFile(from, service.MostIntake)
	if err != nil {
		return in, err
	}
	defer func() { err = errors.Join(err, file.close()) }()
	return s.Service.PlanArchive(service.Unhurried(ctx), actor, service.IntakeFile{Name: name, From: file, Size: file.size})
}

func (s *Server) intakePage(c *gin.Context) { s.showIntake(c, http.StatusOK, pages.NewForm(nil)) }

func (s *Server) showIntake(c *gin.Context, status int, form pages.Form) {
	after, err := strconv.Atoi(c.DefaultQuery("after", "0"))
	if err != nil || after < 0 {
		after = 0
	}
	all := c.Query("all") != ""
	v, err := s.Service.Intake(c.Request.Context(), actorOf(c), c.Param("id"), !all, after)
	if err != nil {
		s.fail(c, err)
		return
	}
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Intake(site, v, form, all) })
}

func (s *Server) acceptIntake(c *gin.Context) {
	s.moveIntake(c, func(ctx context.Context, _ *sentForm) error {
		_, err := s.Service.AcceptIntake(ctx, actorOf(c), c.Param("id"), review.AnyPlan)
		return err
	})
}

func (s *Server) undoIntake(c *gin.Context) {
	s.moveIntake(c, func(ctx context.Context, sent *sentForm) error {
		_, err := s.Service.UndoIntake(ctx, actorOf(c), c.Param("id"), sent.text("reason"))
		return err
	})
}

func (s *Server) moveIntake(c *gin.Context, do func(context.Context, *sentForm) error) {
	sent, err := s.textForm(c)
	if err == nil {
		_, err = s.once(c, sent, func(ctx context.Context) error { return do(ctx, sent) })
	}
	switch {
	case err == nil:
		seeOther(c, "/archive/intakes/"+c.Param("id"))
	case again(err) && sent != nil:
		s.showIntake(c, pageStatus(err), pages.NewForm(sent.values).Failed(c.Request.Context(), err, nil))
	default:
		s.fail(c, err)
	}
}

// vouch stores what a curator vouches for.
func (s *Server) vouch(c *gin.Context) {
	sent, err := s.textForm(c)
	if err == nil {
		form := review.VouchForm{Determination: sent.get("determination"), Verification: sent.get("verification"), TypeStatus: sent.text("type_status"), Reason: sent.text("reason")}
		_, err = s.once(c, sent, func(ctx context.Context) error {
			_, err := s.Service.Vouch(ctx, actorOf(c), c.Param("id"), service.AnyVersion, form)
			return err
		})
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	seeOther(c, "/specimens/"+c.Param("id"))
}
